"""What the press stamps on a blank: the words that the cut file has on MARK, at the same places."""

from __future__ import annotations

import numpy as np

from railgen.data.plant import Press
from railgen.formats.cut_entities import Text
from railgen.formats.cut_file import NO_FEET, stamp_place
from railgen.formats.stamp import stamp_entities
from railgen.holes.shapes import cores_of
from railgen.holes.table import FloatArray
from railgen.shop.hits import Stamp
from railgen.shop.part_work import PartWork


def blank_stamps(work: PartWork, press: Press, feet: FloatArray = NO_FEET) -> list[Stamp]:
    """The stamped text of a part's blank: its name, and FRONT with a sign that points at the front end.

    ``feet``: boxes (n, 4) as ``feet.web_feet`` gives them. Nothing where there is no room for text.
    """
    text = f"{work.plan.serial} {work.side} {work.part.upper()}"
    cores = cores_of(work.holes, np.full(len(work.holes), work.thickness))
    place = stamp_place(work.rail, work.holes, cores, work.part, feet, text)
    if place is None:
        return []
    mirrored = work.blank_length if work.side == "RH" else None
    drawn = [entity for entity in stamp_entities(text, place, mirrored) if isinstance(entity, Text)]
    sign = front_sign(work.side, press.gauge_edge)
    return [Stamp(entity.x, entity.y, entity.height, entity.text if entity.text == text else sign) for entity in drawn]


def front_sign(side: str, gauge_edge: str) -> str:
    """FRONT with a sign that points at the front end of a side's blank as it lies on the press.

    Letters stand upright as seen along the press's x; a blank that lies turned has its front end the other way.
    """
    to_the_left = (side == "LH") != (gauge_edge == "top")
    return "< FRONT" if to_the_left else "FRONT >"
