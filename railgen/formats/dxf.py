"""Entities to DXF, R12 or R2018, and back. ezdxf is loaded when first needed: ``railgen --help`` must stay quick."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any, Literal

from railgen.data.messages import InputError, Problem, one_of
from railgen.formats.cut_entities import LAYERS, Circle, Entity, Line, Path, Point, Text

if TYPE_CHECKING:
    from ezdxf.document import Drawing

DxfVersion = Literal["R12", "R2018"]
_LARGEST_FILE = 50_000_000  # bytes


def dxf_bytes(entities: Iterable[Entity], version: DxfVersion) -> bytes:
    """Entities as a DXF file; the same entities always give the same bytes."""
    if version == "R12":
        from railgen.formats.dxf_r12 import r12_bytes

        return r12_bytes(entities)
    from railgen.formats.dxf_r2018 import r2018_bytes

    return r2018_bytes(entities)


def read_dxf(file: FilePath) -> list[Entity]:
    """All entities of a DXF file's modelspace, in its order.

    Raises InputError when the file cannot be read, fails ezdxf's audit, or holds layers or kinds of entity that no cut
    file has.
    """
    document = _document(file)
    problems: list[Problem] = []
    entities: list[Entity] = []
    for entity in document.modelspace():
        convert, layer = _FROM_DXF.get(entity.dxftype()), str(entity.dxf.layer)
        key = f"entity #{entity.dxf.handle}"
        if convert is None:
            problems.append(Problem(str(file), key, entity.dxftype(), one_of(_FROM_DXF)))
        elif layer not in LAYERS:
            problems.append(Problem(str(file), key, f"layer {layer!r}", one_of(LAYERS)))
        else:
            try:
                entities.append(convert(entity, layer))
            except (AttributeError, TypeError, ValueError) as error:  # coordinates that a damaged file has lost
                problems.append(Problem(str(file), key, f"{entity.dxftype()}: {error}"[:120], "a whole entity"))
    if problems:
        raise InputError(problems)
    return entities


def _document(file: FilePath) -> Drawing:
    from ezdxf.filemanagement import readfile

    try:
        size = file.stat().st_size
        if size > _LARGEST_FILE:
            raise InputError([Problem(str(file), "", f"{size} bytes", f"at most {_LARGEST_FILE} bytes")])
        document = readfile(file)
        errors = document.audit().errors
    except InputError:
        raise
    except OSError as error:
        # ezdxf raises it without a number for a file that is no DXF at all.
        found = error.strerror or "no DXF in it"
        raise InputError([Problem(str(file), "", found, "a DXF file that can be read", "Check the path.")]) from None
    except Exception as error:  # a damaged file can trip the parser anywhere
        found = f"{type(error).__name__}: {error}".splitlines()[0][:120]
        raise InputError([Problem(str(file), "", found, "an undamaged DXF file", "Write it again.")]) from None
    if errors:
        raise InputError([Problem(str(file), "", error.message, "a DXF file without errors") for error in errors])
    return document


def _circle(entity: Any, layer: str) -> Circle:
    x, y, _ = entity.dxf.center
    return Circle(layer, x, y, entity.dxf.radius)


def _line(entity: Any, layer: str) -> Line:
    (x1, y1, _), (x2, y2, _) = entity.dxf.start, entity.dxf.end
    return Line(layer, x1, y1, x2, y2)


def _point(entity: Any, layer: str) -> Point:
    x, y, _ = entity.dxf.location
    return Point(layer, x, y)


def _text(entity: Any, layer: str) -> Text:
    align, (x, y, _), _ = entity.get_placement()
    return Text(layer, x, y, entity.dxf.height, entity.dxf.text, centred=align.name == "MIDDLE_CENTER")


def _lwpolyline(entity: Any, layer: str) -> Path:
    vertices = tuple((float(x), float(y), float(bulge)) for x, y, bulge in entity.get_points("xyb"))
    return Path(layer, vertices, bool(entity.closed))


def _polyline(entity: Any, layer: str) -> Path:
    vertices = tuple((v.dxf.location.x, v.dxf.location.y, float(v.dxf.bulge)) for v in entity.vertices)
    return Path(layer, vertices, bool(entity.is_closed))


_FROM_DXF: dict[str, Callable[[Any, str], Entity]] = {
    "CIRCLE": _circle,
    "LINE": _line,
    "POINT": _point,
    "TEXT": _text,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
}
