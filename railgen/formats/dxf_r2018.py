"""DXF R2018 by a full ezdxf document, with everything that a clock or a random number would put in it fixed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from io import StringIO

from ezdxf import options  # type: ignore[attr-defined]
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from railgen.formats.cut_entities import Circle, Entity, Line, Path, Point
from railgen.formats.dxf_layers import COLOURS, DASHED_LAYERS

_MILLIMETRES = 4  # $INSUNITS
_METRIC = 1  # $MEASUREMENT
_CENTRE_LINE = [50.0, 32.0, -6.0, 6.0, -6.0]


def r2018_bytes(entities: Iterable[Entity]) -> bytes:
    """Entities as a DXF R2018 file in millimetres."""
    with fixed_metadata():
        document = _new_document()
        space = document.modelspace()
        for entity in entities:
            _add(space, entity)
        return document_bytes(document)


def document_bytes(document: Drawing) -> bytes:
    """A document made under `fixed_metadata`, as a file; the same document always gives the same bytes."""
    # Left to itself, ezdxf lists the classes in use in the order of a set, which changes from run to run.
    for dxftype in sorted(document.entitydb.dxf_types_in_use()):
        document.classes.add_class(dxftype)
    stream = StringIO()
    document.write(stream)
    return stream.getvalue().encode("utf-8")


def millimetre_document() -> Drawing:
    """A new R2018 document whose unit is the millimetre."""
    document = new("R2018")
    document.header["$INSUNITS"] = _MILLIMETRES
    document.header["$MEASUREMENT"] = _METRIC
    return document


@contextmanager
def fixed_metadata() -> Iterator[None]:
    """ezdxf puts the time of day and random ids into every document unless this option is on."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _new_document() -> Drawing:
    document = millimetre_document()
    document.linetypes.add("CENTER", _CENTRE_LINE, description="Center line")
    for name, colour in COLOURS.items():
        document.layers.add(name, color=colour, linetype="CENTER" if name in DASHED_LAYERS else "Continuous")
    return document


def _add(space: Modelspace, entity: Entity) -> None:
    attributes = {"layer": entity.layer}
    if isinstance(entity, Circle):
        space.add_circle((entity.x, entity.y), entity.radius, attributes)
    elif isinstance(entity, Path):
        space.add_lwpolyline(entity.vertices, "xyb", close=entity.closed, dxfattribs=attributes)
    elif isinstance(entity, Line):
        space.add_line((entity.x1, entity.y1), (entity.x2, entity.y2), attributes)
    elif isinstance(entity, Point):
        space.add_point((entity.x, entity.y), attributes)
    else:
        align = TextEntityAlignment.MIDDLE_CENTER if entity.centred else TextEntityAlignment.LEFT
        text = space.add_text(entity.text, height=entity.height, dxfattribs=attributes)
        text.set_placement((entity.x, entity.y), align=align)
