"""DXF R12 as plain text, the few kinds of entity that cut files have.

Written without a CAD library: a document takes longer to build than a serial to check, and the library to load longer
than both. It reads every file back in the tests and in ``railgen verify``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from railgen.formats.cut_entities import Circle, Entity, Line, Path, Point, Text
from railgen.formats.dxf_layers import COLOURS, DASHED_LAYERS

_ENCODING = "cp1252"
_TEXT_DECIMALS = 6
"""Of texts' places and heights; everything else has the hole table's nine."""


def r12_bytes(entities: Iterable[Entity]) -> bytes:
    """Entities as a DXF R12 file with a layer table."""
    body = "".join(_WRITERS[type(entity)](entity) for entity in entities)
    return f"{_PREFACE}0\nSECTION\n2\nENTITIES\n{body}0\nENDSEC\n0\nEOF\n".encode(_ENCODING)


def _circle(entity: Circle) -> str:
    layer, x, y, radius = entity
    return f"0\nCIRCLE\n8\n{layer}\n10\n{x:.9f}\n20\n{y:.9f}\n40\n{radius:.9f}\n"


def _point(entity: Point) -> str:
    layer, x, y = entity
    return f"0\nPOINT\n8\n{layer}\n10\n{x:.9f}\n20\n{y:.9f}\n"


def _line(entity: Line) -> str:
    layer, x1, y1, x2, y2 = entity
    return f"0\nLINE\n8\n{layer}\n10\n{x1:.9f}\n20\n{y1:.9f}\n11\n{x2:.9f}\n21\n{y2:.9f}\n"


def _path(entity: Path) -> str:
    layer = entity.layer
    vertices = "".join(
        f"0\nVERTEX\n8\n{layer}\n70\n0\n10\n{x:.9f}\n20\n{y:.9f}\n" + (f"42\n{bulge:.12f}\n" if bulge else "")
        for x, y, bulge in entity.vertices
    )
    return f"0\nPOLYLINE\n8\n{layer}\n66\n1\n70\n{int(entity.closed)}\n{vertices}0\nSEQEND\n"


def _text(entity: Text) -> str:
    """A line of text; 72 and 73: centred both ways, or from the start of its baseline."""
    x, y, height = (round(value, _TEXT_DECIMALS) for value in (entity.x, entity.y, entity.height))
    across, up = (1, 2) if entity.centred else (0, 0)
    place = f"0\nTEXT\n8\n{entity.layer}\n10\n{x}\n20\n{y}\n1\n{entity.text}\n40\n{height}\n"
    return f"{place}72\n{across}\n73\n{up}\n11\n{x}\n21\n{y}\n"


_WRITERS: dict[type, Callable[[Any], str]] = {
    Circle: _circle,
    Point: _point,
    Line: _line,
    Path: _path,
    Text: _text,
}


def _preface() -> str:
    """Header and tables: the version, two line types, the layers with their colours, one text style."""
    layers = "".join(
        f"0\nLAYER\n2\n{name}\n70\n0\n62\n{colour}\n6\n{'CENTER' if name in DASHED_LAYERS else 'CONTINUOUS'}\n"
        for name, colour in COLOURS.items()
    )
    return (
        "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1009\n9\n$DWGCODEPAGE\n3\nANSI_1252\n0\nENDSEC\n"
        "0\nSECTION\n2\nTABLES\n"
        "0\nTABLE\n2\nLTYPE\n70\n2\n"
        "0\nLTYPE\n2\nCONTINUOUS\n70\n0\n3\nSolid line\n72\n65\n73\n0\n40\n0.0\n"
        "0\nLTYPE\n2\nCENTER\n70\n0\n3\nCenter line\n72\n65\n73\n4\n40\n50.0\n49\n32.0\n49\n-6.0\n49\n6.0\n49\n-6.0\n"
        "0\nENDTAB\n"
        f"0\nTABLE\n2\nLAYER\n70\n{len(COLOURS)}\n{layers}0\nENDTAB\n"
        "0\nTABLE\n2\nSTYLE\n70\n1\n"
        "0\nSTYLE\n2\nSTANDARD\n70\n0\n40\n0.0\n41\n1.0\n50\n0.0\n71\n0\n42\n2.5\n3\ntxt\n4\n\n"
        "0\nENDTAB\n0\nENDSEC\n"
    )


_PREFACE = _preface()
