"""Names of the files in a serial's folder; the one place where they are put together."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Literal

MANIFEST = "manifest.json"

Side = Literal["LH", "RH"]
Part = Literal["rail", "liner"]
Piece = Literal["formed", "blank"]
"""What a ``.nc1`` file describes: the part as formed, or its flat blank."""

_NO_FILE_NAME = re.compile(r"[^A-Za-z0-9._-]+")


def cut_file_name(serial: str, side: Side, part: Part) -> str:
    """The cut file of one blank: ``P-1001-LH-rail.dxf``."""
    return f"{serial}-{side}-{part}.dxf"


def taper_name(serial: str, side: Side) -> str:
    """The taper template of one hand: ``P-1001-LH-taper.dxf``."""
    return f"{serial}-{side}-taper.dxf"


def holes_name(serial: str) -> str:
    """The hole table: ``P-1001-holes.csv``."""
    return f"{serial}-holes.csv"


def findings_name(serial: str) -> str:
    """The findings: ``P-1001-findings.json``."""
    return f"{serial}-findings.json"


def drawing_name(serial: str, ending: str = "pdf", sheet: int | None = None) -> str:
    """The drawing: ``P-1001-drawing.pdf``; a picture of one sheet of it: ``P-1001-drawing-2.png``."""
    return _of_sheet(serial, "drawing", ending, sheet)


def route_card_name(serial: str) -> str:
    """The route card: ``P-1001-route-card.pdf``."""
    return f"{serial}-route-card.pdf"


def kit_table_name(serial: str) -> str:
    """The fastener kit as a table: ``P-1001-kit.csv``."""
    return f"{serial}-kit.csv"


def kit_card_name(serial: str) -> str:
    """The fastener kit as a paper, with the tightening order: ``P-1001-kit.pdf``."""
    return f"{serial}-kit.pdf"


def jig_sheet_name(serial: str) -> str:
    """What the assembly jig is set to: ``P-1001-jig.pdf``."""
    return f"{serial}-jig.pdf"


def strength_name(serial: str, ending: str = "pdf", sheet: int | None = None) -> str:
    """The strength diagrams: ``P-1001-strength.pdf``; a picture of one sheet of them: ``P-1001-strength-2.png``."""
    return _of_sheet(serial, "strength", ending, sheet)


def free_zone_name(serial: str, ending: str, sheet: int | None = None) -> str:
    """Where one more hole may go: ``P-1001-freezone.pdf``; a picture of one sheet: ``P-1001-freezone-2.png``."""
    return _of_sheet(serial, "freezone", ending, sheet)


def _of_sheet(serial: str, paper: str, ending: str, sheet: int | None) -> str:
    """A paper, or a picture of one of its sheets."""
    return f"{serial}-{paper}{'' if sheet is None else f'-{sheet}'}.{ending}"


def papers_name(serial: str = "", part: str = "", what: str = "papers") -> str:
    """Papers merged: ``P-1001-papers.pdf``, ``P-1001-RH-rail-papers.pdf`` of one part, ``papers.pdf`` of several.

    what: ``slips``, or ``slips-forming`` of one work station, where nothing else is in it.
    """
    return "-".join(word for word in (serial, part, f"{what}.pdf") if word)


def dstv_name(serial: str, side: Side, part: Part, piece: Piece) -> str:
    """The DSTV file of one part or of its blank: ``P-1001-LH-rail-blank.nc1``."""
    return f"{serial}-{side}-{part}-{piece}.nc1"


def tool_file_name(serial: str, side: Side, part: Part, tool: str) -> str:
    """The cut file of what one tool makes of a blank: ``P-1001-LH-rail-tool-R-17.dxf``; tool as in ``tool_words``."""
    return f"{serial}-{side}-{part}-tool-{tool}.dxf"


def tool_words(tools: Iterable[str], last: str | None = None) -> dict[str, str]:
    """How each tool's name stands in file names: what no file name may hold is a hyphen, and no two are alike.

    ``last``: one more tool, which changes no other's word.
    """
    words: dict[str, str] = {}
    named = sorted(set(tools))
    for tool in named if last is None or last in named else [*named, last]:
        plain = word = _NO_FILE_NAME.sub("-", tool)
        number = 1
        while word.lower() in (taken.lower() for taken in words.values()):
            number += 1
            word = f"{plain}-{number}"
        words[tool] = word
    return words


def purpose_file_name(serial: str, side: Side, part: Part, layer: str) -> str:
    """The cut file of one layer of a blank: ``P-1001-LH-rail-layer-HOLES.dxf``."""
    return f"{serial}-{side}-{part}-layer-{layer}.dxf"


def step_name(serial: str, side: Side, part: Part) -> str:
    """The solid of one part: ``P-1001-LH-rail.step``."""
    return f"{serial}-{side}-{part}.step"


def archive_name(serial: str) -> str:
    """All files of a serial in one: ``P-1001.zip``."""
    return f"{serial}.zip"


def program_name(serial: str, side: str, part: Part, ending: str) -> str:
    """The press's program for one blank: ``P-1001-LH-rail.nc``, with the post-processor's own ending."""
    return f"{serial}-{side}-{part}.{ending}"


def press_name(serial: str) -> str:
    """The press and the post-processor that the programs were written for: ``P-1001-press.json``."""
    return f"{serial}-press.json"


def setup_sheet_name(serial: str) -> str:
    """The setup sheets of all blanks of a serial: ``P-1001-setup-sheet.pdf``."""
    return f"{serial}-setup-sheet.pdf"
