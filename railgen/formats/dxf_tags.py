"""DXF read tag by tag: the entities of files as this program writes them, R12 or R2018, and nothing else.

ezdxf is the reader of cut files. It builds a whole document for each, which takes longer than a check of all of a
serial's files may. This reader goes through the ENTITIES section alone and refuses whatever the writers here do not
write: another entity, a group code that changes what is drawn, a file without its end. Both give the same entities
(tests hold them to each other).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import pairwise
from math import isfinite
from pathlib import Path as FilePath

from railgen.data.messages import InputError, Problem, one_of, shown
from railgen.data.reading import Source, read_bytes
from railgen.formats.cut_entities import LAYERS, Circle, Entity, Line, Path, Point, Text

_PLAIN = frozenset(("5", "330", "100", "6", "62"))
"""Codes that change no geometry: handle, owner, subclass, line type, colour."""
_FLAT = frozenset(("30", "31"))
"""Codes that must be 0: heights above the drawing's plane."""
_WHOLE = frozenset(("62", "66", "70", "72", "73", "90"))
"""Codes whose value is a whole number."""
_NUMBERS: dict[str, tuple[str, ...]] = {
    "CIRCLE": ("10", "20", "40"),
    "POINT": ("10", "20"),
    "LINE": ("10", "20", "11", "21"),
    "TEXT": ("10", "20", "40"),
    "VERTEX": ("10", "20"),
}
_OTHERS: dict[str, frozenset[str]] = {
    "TEXT": frozenset(("1", "7", "11", "21", "72", "73")),
    "VERTEX": frozenset(("42", "70")),
    "POLYLINE": frozenset(("66", "70")),
    "LWPOLYLINE": frozenset(("90", "70", "10", "20", "42")),
}

_NEEDED = {kind: frozenset(("8", *_NUMBERS.get(kind, ()))) for kind in (*_NUMBERS, *_OTHERS)}
"""Codes that say where an entity is and nothing else."""

Tags = Sequence[tuple[str, str]]
"""Group codes and values of one entity, its name left out."""


def read_dxf_tags(file: FilePath) -> list[Entity]:
    """All entities of a DXF file that this program wrote, in its order.

    Raises InputError, naming the line, for a file that cannot be read or holds anything else.
    """
    source = read_bytes(file)
    # Both versions keep to ASCII but for the text of notes.
    lines = source.content.decode("utf-8", errors="replace").split("\n")
    codes, values = [line.strip() for line in lines[0::2]], [line.rstrip("\r") for line in lines[1::2]]
    first, last = _entities_section(source, codes, values)
    entities: list[Entity] = []
    at, starts = first, [index for index in range(first, last) if codes[index] == "0"] + [last]
    step = iter(starts[1:])
    while at < last:
        end = next(step)
        name, tags = values[at], list(zip(codes[at + 1 : end], values[at + 1 : end], strict=True))
        place = _Place(source.file, 2 * at + 1)
        if name == "POLYLINE":
            vertices = []
            while end < last and values[end] == "VERTEX":
                at, end = end, next(step)
                vertices.append(list(zip(codes[at + 1 : end], values[at + 1 : end], strict=True)))
            if end >= last or values[end] != "SEQEND":
                raise place.error("a polyline without its end", "SEQEND after the last vertex")
            end = next(step)
            entities.append(_polyline(place, tags, vertices))
        elif name in _READ:
            entities.append(_READ[name](place, tags))
        else:
            raise place.error(shown(name), one_of((*_READ, "POLYLINE")))
        at = end
    return entities


def _entities_section(source: Source, codes: list[str], values: list[str]) -> tuple[int, int]:
    """Numbers of the first tag of the ENTITIES section and of the one that ends it."""
    if len(values) < 2 or codes[len(values) - 1] != "0" or values[-1].strip() != "EOF":
        raise InputError([Problem(source.file, "end of file", "no EOF", "a complete DXF file", "Write it again.")])
    first = next(
        (i + 2 for i, v in enumerate(values[1:]) if v == "ENTITIES" and codes[i + 1] == "2" and values[i] == "SECTION"),
        None,
    )
    if first is None:
        raise InputError([Problem(source.file, "", "no ENTITIES section", "a DXF file of this program")])
    for index in range(first, len(values)):
        if values[index] == "ENDSEC" and codes[index] == "0":
            return first, index
    raise InputError([Problem(source.file, f"line {2 * first + 1}", "a section without ENDSEC", "a complete DXF file")])


class _Place:
    """Where an entity begins, for messages."""

    def __init__(self, file: str, line: int) -> None:
        self.file, self.line = file, line

    def error(self, found: str, allowed: str) -> InputError:
        return InputError([Problem(self.file, f"line {self.line}", found, allowed)])

    def number(self, code: str, text: str) -> float:
        """A finite number; raises InputError for anything else."""
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not isfinite(value):
            raise self.error(f"{shown(text)} in group {code}", "a finite number")
        return value


def _known(place: _Place, kind: str, tags: Tags) -> tuple[str, dict[str, str]]:
    """The layer and the other tags by code, each once, none unknown; raises InputError."""
    found = dict(tags)
    layer = found.get("8", "")
    # As the R12 writer writes them there is nothing to look at but the layer.
    if layer in LAYERS and len(found) == len(tags) and found.keys() <= _NEEDED[kind]:
        return layer, found
    if len(found) != len(tags) - sum(code == "100" for code, _ in tags) + ("100" in found):
        raise place.error(f"a {kind} with a group code twice", "each group code once")
    found.pop("8", "")
    _check(place, kind, layer, found)
    return layer, found


def _check(place: _Place, kind: str, layer: str, found: Mapping[str, str]) -> None:
    if layer not in LAYERS:
        raise place.error(f"layer {shown(layer)}", one_of(LAYERS))
    for code, value in found.items():
        if code in _WHOLE and not value.strip().isdecimal():
            raise place.error(f"{shown(value)} in group {code}", "a whole number")
        if code in _NUMBERS.get(kind, ()) or code in _OTHERS.get(kind, ()) or code in _PLAIN:
            continue
        if code not in _FLAT or place.number(code, value) != 0.0:
            raise place.error(f"group {code} in a {kind}: {shown(value)}", "what a cut file of this program holds")


def _numbers(place: _Place, kind: str, tags: Tags) -> tuple[str, list[float], dict[str, str]]:
    """Layer, the numbers that this kind needs, and all tags."""
    layer, found = _known(place, kind, tags)
    try:
        return layer, [place.number(code, found[code]) for code in _NUMBERS[kind]], found
    except KeyError as missing:
        raise place.error(f"a {kind} without group {missing.args[0]}", "a whole entity") from None


def _circle(place: _Place, tags: Tags) -> Entity:
    layer, numbers, _ = _numbers(place, "CIRCLE", tags)
    return Circle(layer, *numbers)


def _point(place: _Place, tags: Tags) -> Entity:
    layer, numbers, _ = _numbers(place, "POINT", tags)
    return Point(layer, *numbers)


def _line(place: _Place, tags: Tags) -> Entity:
    layer, numbers, _ = _numbers(place, "LINE", tags)
    return Line(layer, *numbers)


def _text(place: _Place, tags: Tags) -> Entity:
    layer, (x, y, height), found = _numbers(place, "TEXT", tags)
    centred = found.get("72", "0").strip() == "1"
    if centred:
        x, y = place.number("11", found.get("11", "")), place.number("21", found.get("21", ""))
    return Text(layer, x, y, height, found.get("1", ""), centred)


def _polyline(place: _Place, tags: Tags, vertices: Sequence[Tags]) -> Entity:
    layer, found = _known(place, "POLYLINE", tags)
    points = []
    for vertex in vertices:
        on, (x, y), others = _numbers(place, "VERTEX", vertex)
        if on != layer:
            raise place.error(f"a vertex on {on}", f"all of a polyline on one layer, here {layer}")
        points.append((x, y, place.number("42", others.get("42", "0"))))
    return _path(place, layer, points, found)


def _lwpolyline(place: _Place, tags: Tags) -> Entity:
    found = {code: value for code, value in tags if code not in ("10", "20", "42")}
    layer = found.pop("8", "")
    _check(place, "LWPOLYLINE", layer, found)
    return _path(place, layer, list(_vertices(place, tags)), found)


def _vertices(place: _Place, tags: Tags) -> Iterator[tuple[float, float, float]]:
    """Vertices of a light polyline: x, y and, where it leaves on an arc, its bulge, one after the other."""
    numbers = [(code, place.number(code, value)) for code, value in tags if code in ("10", "20", "42")]
    starts = [index for index, (code, _) in enumerate(numbers) if code == "10"] + [len(numbers)]
    if starts[0] != 0:
        raise place.error("a polyline's vertex without group 10", "a whole entity")
    for start, end in pairwise(starts):
        codes = [code for code, _ in numbers[start:end]]
        if codes not in (["10", "20"], ["10", "20", "42"]):
            raise place.error("a polyline's vertex that is not x, y and bulge", "a whole entity")
        yield numbers[start][1], numbers[start + 1][1], numbers[end - 1][1] if len(codes) == 3 else 0.0


def _path(place: _Place, layer: str, points: list[tuple[float, float, float]], found: Mapping[str, str]) -> Path:
    flags = found.get("70", "0").strip()
    if flags not in ("0", "1") or len(points) < 2:
        raise place.error(f"a polyline of {len(points)} vertices, flags {flags}", "a plain polyline, open or closed")
    return Path(layer, tuple(points), flags == "1")


_READ: dict[str, Callable[[_Place, Tags], Entity]] = {
    "CIRCLE": _circle,
    "POINT": _point,
    "LINE": _line,
    "TEXT": _text,
    "LWPOLYLINE": _lwpolyline,
}
