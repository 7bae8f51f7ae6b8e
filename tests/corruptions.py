"""Corruptions of a serial's folder: each changes one thing and says what must be found."""

from __future__ import annotations

import hashlib
import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from railgen.formats.cut_entities import HOLES, MARK, SECOND, SLOTS, Circle, Entity, Line, Point, Text
from railgen.formats.cut_entities import Path as DrawnPath
from railgen.formats.dxf import dxf_bytes
from railgen.formats.dxf_tags import read_dxf_tags
from railgen.formats.manifest import manifest_json, read_manifest
from railgen.holes.table import SIDES

FEATURE_LAYERS = (HOLES, SLOTS, SECOND)


# --- changing files --------------------------------------------------------------------------------------------------


def redigest(folder: Path) -> None:
    """Make the manifest vouch for the folder as it is now: what is wrong must be found in the files themselves."""
    manifest = read_manifest(folder / "manifest.json")
    names = sorted(entry.name for entry in folder.iterdir() if entry.name != "manifest.json")
    digests = {name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in names}
    (folder / "manifest.json").write_bytes(manifest_json(replace(manifest, files=digests)))


def rewrite(file: Path, change: Callable[[list[Entity]], list[Entity]]) -> None:
    version = "R12" if b"AC1009" in file.read_bytes()[:200] else "R2018"
    file.write_bytes(dxf_bytes(change(read_dxf_tags(file)), version))


def is_feature(entity: Entity) -> bool:
    if isinstance(entity, DrawnPath):
        return entity.layer in FEATURE_LAYERS and entity.closed
    return isinstance(entity, Circle | Point)


def moved(entity: Entity, dx: float, dy: float) -> Entity:
    if isinstance(entity, DrawnPath):
        return entity._replace(vertices=tuple((x + dx, y + dy, bulge) for x, y, bulge in entity.vertices))
    assert isinstance(entity, Circle | Point)
    return entity._replace(x=entity.x + dx, y=entity.y + dy)


def resized(entity: Entity, by: float) -> Entity:
    """Larger by a length: a circle's diameter, a contour's longest extent."""
    if isinstance(entity, Circle):
        return entity._replace(radius=entity.radius + by / 2)
    assert isinstance(entity, DrawnPath)
    xs, ys = [v[0] for v in entity.vertices], [v[1] for v in entity.vertices]
    x, y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    scale = 1 + by / 9  # the narrowest slot is 9 wide
    return entity._replace(vertices=tuple((x + (a - x) * scale, y + (b - y) * scale, c) for a, b, c in entity.vertices))


def one_changed(
    rng: random.Random, change: Callable[[Entity], list[Entity]], sized: bool = False
) -> Callable[[list[Entity]], list[Entity]]:
    def work(entities: list[Entity]) -> list[Entity]:
        chosen = [i for i, e in enumerate(entities) if is_feature(e) and not (sized and isinstance(e, Point))]
        at = rng.choice(chosen)
        return [*entities[:at], *change(entities[at]), *entities[at + 1 :]]

    return work


def turned_over(entities: list[Entity], end_for_end: bool) -> list[Entity]:
    """All features mirrored within the blank, edge and stamp left as they are."""
    edge = next(e for e in entities if isinstance(e, DrawnPath) and e.layer == "OUTLINE")
    length, width = max(x for x, _, _ in edge.vertices), max(y for _, y, _ in edge.vertices)

    def mirrored(entity: Entity) -> Entity:
        if not is_feature(entity):
            return entity
        if isinstance(entity, DrawnPath):
            points = [
                (length - x if end_for_end else x, y if end_for_end else width - y) for x, y, _ in entity.vertices
            ]
            return entity._replace(vertices=tuple((*p, -v[2]) for p, v in zip(points, entity.vertices, strict=True)))
        x, y = (length - entity.x, entity.y) if end_for_end else (entity.x, width - entity.y)
        return entity._replace(x=x, y=y)

    return [mirrored(entity) for entity in entities]


def swap(first: Path, second: Path) -> None:
    a, b = first.read_bytes(), second.read_bytes()
    first.write_bytes(b)
    second.write_bytes(a)


# --- corruptions: each changes a folder and says what must be found --------------------------------------------------


@dataclass(frozen=True)
class Meant:
    """Kinds of which one must be found, beside a file of which the name begins so."""

    kinds: tuple[str, ...]
    file: str


def cut_file_of(rng: random.Random, folder: Path, part: str = "rail") -> Path:
    return folder / f"{folder.name}-{rng.choice(('LH', 'RH'))}-{part}.dxf"


def flip(rng: random.Random, folder: Path) -> Meant:
    file, way = cut_file_of(rng, folder), rng.random() < 0.5
    rewrite(file, lambda entities: turned_over(entities, way))
    return Meant(("wrong hand",), file.name)


def shift(rng: random.Random, folder: Path) -> Meant:
    file, step = cut_file_of(rng, folder), rng.choice(((0.02, 0), (-0.02, 0), (0, 0.02), (0, -0.02), (3.0, 4.0)))
    rewrite(file, one_changed(rng, lambda e: [moved(e, *step)]))
    return Meant(("hole moved",), file.name)


def shift_all(rng: random.Random, folder: Path) -> Meant:
    file = cut_file_of(rng, folder)
    rewrite(file, lambda entities: [moved(e, 0.02, 0) if is_feature(e) else e for e in entities])
    return Meant(("hole moved",), file.name)


def drop(rng: random.Random, folder: Path) -> Meant:
    file = cut_file_of(rng, folder)
    rewrite(file, one_changed(rng, lambda e: []))
    return Meant(("hole missing",), file.name)


def duplicate(rng: random.Random, folder: Path) -> Meant:
    file, step = cut_file_of(rng, folder), rng.choice((0.0, 0.01, 60.0))
    rewrite(file, one_changed(rng, lambda e: [e, moved(e, step, 0)]))
    return Meant(("hole added",), file.name)


def resize(rng: random.Random, folder: Path) -> Meant:
    file, by = cut_file_of(rng, folder), rng.choice((0.02, -0.02, 3.0))
    rewrite(file, one_changed(rng, lambda e: [resized(e, by)], sized=True))
    return Meant(("wrong size",), file.name)


def retag(rng: random.Random, folder: Path) -> Meant:
    file = cut_file_of(rng, folder)

    def relayer(entity: Entity) -> list[Entity]:
        now = {HOLES: SECOND, SLOTS: SECOND, SECOND: HOLES if isinstance(entity, Circle) else SLOTS}
        return [entity._replace(layer=now[entity.layer])]

    rewrite(file, one_changed(rng, relayer, sized=True))
    return Meant(("wrong layer",), file.name)


def swap_hands(rng: random.Random, folder: Path) -> Meant:
    swap(*(folder / f"{folder.name}-{side}-rail.dxf" for side in ("LH", "RH")))
    return Meant(("wrong hand",), f"{folder.name}-LH-rail.dxf")


def swap_formed(rng: random.Random, folder: Path) -> Meant:
    piece = rng.choice(("formed", "blank"))
    swap(*(folder / f"{folder.name}-{side}-rail-{piece}.nc1" for side in ("LH", "RH")))
    return Meant(("wrong hand",), f"{folder.name}-RH-rail-{piece}.nc1")


def change_serial(rng: random.Random, folder: Path) -> Meant:
    file = cut_file_of(rng, folder)
    rename = (folder.name, "Z-99")
    texts = lambda e: e._replace(text=e.text.replace(*rename)) if isinstance(e, Text) else e  # noqa: E731
    rewrite(file, lambda entities: [texts(e) for e in entities])
    return Meant(("wrong serial",), file.name)


def bend_line(rng: random.Random, folder: Path) -> Meant:
    file = cut_file_of(rng, folder)

    def work(entities: list[Entity]) -> list[Entity]:
        at = rng.choice([i for i, e in enumerate(entities) if isinstance(e, Line) and e.layer == "BEND"])
        bend = entities[at]
        assert isinstance(bend, Line)
        across = abs(bend.x1 - bend.x2) < 1
        dx, dy = (0.02, 0.0) if across else (0.0, 0.02)
        entities[at] = Line(bend.layer, bend.x1 + dx, bend.y1 + dy, bend.x2 + dx, bend.y2 + dy)
        return entities

    rewrite(file, work)
    return Meant(("wrong bend",), folder.name)


def edge_vertex(rng: random.Random, folder: Path) -> Meant:
    file = cut_file_of(rng, folder)

    def work(entities: list[Entity]) -> list[Entity]:
        at = next(i for i, e in enumerate(entities) if isinstance(e, DrawnPath) and e.layer == "OUTLINE")
        edge = entities[at]
        assert isinstance(edge, DrawnPath)
        vertices = list(edge.vertices)
        corner = rng.randrange(len(vertices))
        x, y, bulge = vertices[corner]
        vertices[corner] = (x + 0.02, y + 0.02, bulge)
        entities[at] = edge._replace(vertices=tuple(vertices))
        return entities

    rewrite(file, work)
    return Meant(("wrong edge",), folder.name)


def hole_lines(file: Path) -> tuple[list[str], list[int]]:
    lines = file.read_text().splitlines()
    first = lines.index("BO")
    stop = next(i for i in range(first, len(lines)) if lines[i] == "AK")
    return lines, [i for i in range(first, stop) if lines[i] != "BO"]


def dstv_line(rng: random.Random, folder: Path) -> Meant:
    """A line of BO lost, doubled, moved by 0.02, resized or put on another face."""
    piece = rng.choice(("formed", "blank"))
    file = folder / f"{folder.name}-{rng.choice(('LH', 'RH'))}-rail-{piece}.nc1"
    lines, holes = hole_lines(file)
    at = rng.choice(holes)
    line = lines[at]
    x, diameter = float(line[3:14]), float(line[26:36])
    change, kinds = rng.choice(
        (
            ([], ("hole missing",)),
            ([line, line], ("hole added",)),
            ([f"{line[:3]}{x + 0.02:11.3f}{line[14:]}"], ("hole moved",)),
            ([f"{line[:26]}{diameter + 0.02:10.3f}{line[36:]}"], ("wrong size",)),
            ([line.replace(line[2], "h", 1)], ("wrong face",)),
        )
    )
    lines[at : at + 1] = change
    file.write_text("\n".join(lines) + "\n")
    return Meant(kinds, file.name)


def other_tool(rng: random.Random, folder: Path) -> Meant:
    """A hole put into another tool's file, or lost from its own."""
    files = sorted(folder.glob("*-rail-tool-*.dxf"))
    source = rng.choice([file for file in files if any(is_feature(e) for e in read_dxf_tags(file))])
    stem = source.name.split("-tool-")[0]
    target = rng.choice([file for file in files if file != source and file.name.startswith(stem)])
    strays = [e for e in read_dxf_tags(source) if is_feature(e)]
    rewrite(target, lambda entities: [*entities, rng.choice(strays)])
    return Meant(("wrong tool",), target.name)


def other_tool_in_table(rng: random.Random, folder: Path) -> Meant:
    """A row of the hole table given to another tool of the same blank."""
    file = folder / f"{folder.name}-holes.csv"
    rows = [line.split(",") for line in file.read_text().splitlines()]
    tools = sorted({row[13] for row in rows[1:] if row[1:3] == ["LH", "rail"] and row[13]})
    at = rng.choice([i for i, row in enumerate(rows) if row[1:3] == ["LH", "rail"] and row[13]])
    rows[at][13] = rng.choice([tool for tool in tools if tool != rows[at][13]])
    file.write_text("\n".join(map(",".join, rows)) + "\n")
    return Meant(("wrong tool", "hole missing"), f"{folder.name}-LH-rail-tool-")


def table_cell(rng: random.Random, folder: Path) -> Meant:
    """A place in the hole table moved by 0.02."""
    file = folder / f"{folder.name}-holes.csv"
    rows = [line.split(",") for line in file.read_text().splitlines()]
    at = rng.randrange(1, len(rows))
    column = rng.choice((7, 8))
    rows[at][column] = f"{float(rows[at][column]) + 0.02:.9f}"
    file.write_text("\n".join(map(",".join, rows)) + "\n")
    return Meant(("hole moved",), folder.name)


def template(rng: random.Random, folder: Path) -> Meant:
    file = folder / f"{folder.name}-{rng.choice(('LH', 'RH'))}-taper.dxf"

    def work(entities: list[Entity]) -> list[Entity]:
        at = next(i for i, e in enumerate(entities) if isinstance(e, DrawnPath) and e.layer == SECOND)
        cut = entities[at]
        assert isinstance(cut, DrawnPath)
        entities[at] = cut._replace(vertices=tuple((x + 0.02, y, b) for x, y, b in cut.vertices))
        return entities

    rewrite(file, work)
    return Meant(("wrong cut",), file.name)


def tool_stamp(rng: random.Random, folder: Path) -> Meant:
    """The stamped text lost from the marking tool's file, changed there, or put into another tool's file too."""
    marker = folder / f"{folder.name}-{rng.choice(SIDES)}-rail-tool-marker.dxf"
    words = [e for e in read_dxf_tags(marker) if e.layer == MARK and isinstance(e, Text)]
    others = sorted(set(folder.glob(marker.name.replace("marker", "*"))) - {marker})
    file, change = rng.choice(
        (
            (marker, lambda entities: [e for e in entities if e not in words]),
            (marker, lambda entities: [e._replace(x=e.x + 0.02) if e in words else e for e in entities]),
            (rng.choice(others), lambda entities: [*entities, *words]),
        )
    )
    rewrite(file, change)
    return Meant(("wrong cut",), file.name)


def layer_file(rng: random.Random, folder: Path) -> Meant:
    file = folder / f"{folder.name}-LH-rail-layer-HOLES.dxf"
    rewrite(file, one_changed(rng, lambda e: [moved(e, 0.02, 0)]))
    return Meant(("hole moved",), file.name)


def lost_file(rng: random.Random, folder: Path) -> Meant:
    file = cut_file_of(rng, folder)
    file.unlink()
    return Meant(("file missing",), file.name)


def broken_byte(rng: random.Random, folder: Path) -> Meant:
    file = rng.choice(sorted(entry for entry in folder.iterdir() if entry.name != "manifest.json"))
    content = bytearray(file.read_bytes())
    at = rng.randrange(len(content))
    content[at] ^= 1 << rng.randrange(8)
    file.write_bytes(content)
    return Meant(("file changed",), file.name)


def added_file(rng: random.Random, folder: Path) -> Meant:
    (folder / f"{folder.name}-LH-rail-old.dxf").write_bytes(b"0\nEOF\n")
    return Meant(("file added",), f"{folder.name}-LH-rail-old.dxf")


def swapped_row(rng: random.Random, folder: Path) -> Meant:
    file = folder / f"{folder.name}-holes.csv"
    lines = file.read_text().splitlines()
    at = rng.randrange(1, len(lines) - 1)
    lines[at], lines[at + 1] = lines[at + 1], lines[at]
    file.write_text("\n".join(lines) + "\n")
    return Meant(("file changed",), file.name)
