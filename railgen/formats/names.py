"""Names of the files in a serial's folder; the one place where they are put together."""

from __future__ import annotations

from typing import Literal

MANIFEST = "manifest.json"

Side = Literal["LH", "RH"]
Part = Literal["rail", "liner"]


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
    number = "" if sheet is None else f"-{sheet}"
    return f"{serial}-drawing{number}.{ending}"


def route_card_name(serial: str) -> str:
    """The route card: ``P-1001-route-card.pdf``."""
    return f"{serial}-route-card.pdf"
