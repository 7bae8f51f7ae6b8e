"""DXF R12 by ezdxf's stream writer, which builds no document."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from io import StringIO
from typing import Any

from ezdxf.addons.r12writer import R12FastStreamWriter

from railgen.formats.cut_entities import Circle, Entity, Line, Path, Point, Text
from railgen.formats.dxf_layers import COLOURS, DASHED_LAYERS

_ENCODING = "cp1252"


class _Stream(R12FastStreamWriter):
    """The stream writer with the hole table's nine decimals, where ezdxf's own rounds to six."""

    def circle(self, entity: Circle) -> None:
        layer, x, y, radius = entity
        self.stream.write(f"0\nCIRCLE\n8\n{layer}\n10\n{x:.9f}\n20\n{y:.9f}\n40\n{radius:.9f}\n")

    def point(self, entity: Point) -> None:
        layer, x, y = entity
        self.stream.write(f"0\nPOINT\n8\n{layer}\n10\n{x:.9f}\n20\n{y:.9f}\n")

    def line(self, entity: Line) -> None:
        layer, x1, y1, x2, y2 = entity
        self.stream.write(f"0\nLINE\n8\n{layer}\n10\n{x1:.9f}\n20\n{y1:.9f}\n11\n{x2:.9f}\n21\n{y2:.9f}\n")

    def path(self, entity: Path) -> None:
        layer = entity.layer
        vertices = "".join(
            f"0\nVERTEX\n8\n{layer}\n70\n0\n10\n{x:.9f}\n20\n{y:.9f}\n" + (f"42\n{bulge:.12f}\n" if bulge else "")
            for x, y, bulge in entity.vertices
        )
        self.stream.write(f"0\nPOLYLINE\n8\n{layer}\n66\n1\n70\n{int(entity.closed)}\n{vertices}0\nSEQEND\n")

    def text(self, entity: Text) -> None:
        align = "MIDDLE_CENTER" if entity.centred else "LEFT"
        self.add_text(entity.text, (entity.x, entity.y), entity.height, align=align, layer=entity.layer)


def r12_bytes(entities: Iterable[Entity]) -> bytes:
    """Entities as a DXF R12 file with a layer table."""
    stream = StringIO()
    stream.write(_PREFACE)
    writer = _Stream(stream)
    write: dict[type, Callable[[Any], None]] = {
        Circle: writer.circle,
        Point: writer.point,
        Line: writer.line,
        Path: writer.path,
        Text: writer.text,
    }
    for entity in entities:
        write[type(entity)](entity)
    writer.close()
    return stream.getvalue().encode(_ENCODING)


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
