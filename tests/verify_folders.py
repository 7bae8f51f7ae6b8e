"""Serials' folders for the tests of verify and compare: random patterns on all kinds of rail, without papers."""

from __future__ import annotations

import random
import tomllib
from dataclasses import replace
from pathlib import Path

from builders import Hole, no_placements, rail_shape, rail_table, resolved_order
from shop_plans import PRESS, shop_library

from railgen.data.plant import Press
from railgen.data.post import PostProcessor
from railgen.formats.cut_file import cut_file
from railgen.formats.dstv_piece import dstv_file
from railgen.formats.dxf import DxfVersion
from railgen.formats.findings_file import findings_json
from railgen.formats.folder import write_folder
from railgen.formats.hole_table import hole_table_csv
from railgen.formats.manifest import inputs_of, manifest_json, manifest_of
from railgen.formats.names import MANIFEST, cut_file_name, dstv_name, findings_name, holes_name, taper_name
from railgen.formats.nc_files import blank_orders, program_files
from railgen.formats.split_files import purpose_files, tool_files
from railgen.formats.taper_template import taper_file
from railgen.holes.table import SIDES
from railgen.layout.plan import ResolvedOrder, SerialPlan

RAILS = {
    "plain": rail_shape(),
    "liner": rail_shape(liner=True),
    "cut later": rail_shape("after-forming"),
    "cut in blank": rail_shape("in-blank", liner=True),
}
MORE = ("dstv", "tools", "layers", "nc")
POSTS = Path(__file__).resolve().parents[1] / "hole_libraries" / "posts"
TOOLS = (
    *({"id": f"R {d:g}", "shape": "round", "diameter": float(d)} for d in (13, 17, 20)),
    {"id": "R 12", "shape": "round", "diameter": 12.0, "strings": True},
    {"id": "S 11x30", "shape": "slot", "diameter": 11.0, "length": 30.0},
    {"id": "S 9x22", "shape": "slot", "diameter": 9.0, "length": 22.0},
    {"id": "Q 20x30", "shape": "rectangle", "diameter": 20.0, "length": 30.0},
    {"id": "marker", "shape": "mark"},
)


def press(habit: str) -> Press:
    """One that goes both ways, with clamps that are moved, or one of top edge and rear end that cannot go back."""
    both = {
        "post": "gantry-absolute",
        "clamps": [{"station": 700.0, "width": 150.0}, {"station": 4000.0, "width": 99.0}],
    }
    forward = {"post": "feed-line-incremental", "feed_may_return": False, "gauge_edge": "top", "gauge_end": "rear"}
    habits = {"both ways": both, "forward": forward}
    return Press.model_validate(PRESS.model_dump() | {"tools": TOOLS} | habits[habit])


def random_holes(rng: random.Random, tapered: bool, count: int = 24) -> list[Hole]:
    """Holes of all kinds, stations far enough apart that each is itself; some on one side alone."""
    holes = []
    for number in range(count):
        station = round(-900 + number * 5800 / count + rng.uniform(0, 40), 4)
        face = rng.choice(("web", "web", "web", "top", "bottom"))
        highest = 150 if tapered and station > 3600 else 240
        across = round(rng.uniform(60, highest) if face == "web" else rng.uniform(50, 70), 4)
        if tapered and 3700 < station < 3950:
            continue
        holes.append(_hole(rng, number, station, across, face))
    if tapered:
        holes += [
            Hole(4300, 250.5, diameter=17, tool="R 17", feature="t1"),
            Hole(4500, 238, diameter=9, shape="slot", length=22, angle=175, tool="S 9x22", feature="t2"),
            Hole(4250, 60, diameter=13, face="top", tool="R 13", feature="t3"),
        ]
    return holes


def _hole(rng: random.Random, number: int, station: float, across: float, face: str) -> Hole:
    kind = rng.choice(("round", "round", "round", "slot", "rectangle", "mark", "drill", "stud", "passage"))
    sides = rng.choice((SIDES, SIDES, SIDES, ("LH",), ("RH",)))
    rest = {"face": face, "component": rng.choice(("bracket", "hanger", "tank")), "feature": f"f{number}"}
    if kind in ("mark", "stud"):
        operation = "stud" if kind == "stud" else "punch"
        return Hole(station, across, shape="mark", operation=operation, tool="marker", sides=sides, **rest)
    if kind == "passage" and face == "web":
        size = {"diameter": 40, "length": 60, "corner_radius": 8.0, "tool": "R 12"}
        return Hole(station, min(across, 220.0), shape="rectangle", angle=90.0, sides=sides, **size, **rest)
    if kind == "drill":
        return Hole(station, across, diameter=9, operation="drill", sides=sides, **rest)
    if kind in ("round", "passage"):
        size = rng.choice((13, 17, 20))
        return Hole(station, across, diameter=size, tool=f"R {size}", sides=sides, **rest)
    angle, tool = rng.choice((0.0, 90.0, 33.25)), {"slot": "S 11x30", "rectangle": "Q 20x30"}[kind]
    width = 11 if kind == "slot" else 20
    return Hole(station, across, diameter=width, length=30, shape=kind, angle=angle, tool=tool, sides=sides, **rest)


def serial_folder(
    output: Path, serial: str, rail: str, holes: list[Hole], version: DxfVersion = "R12", more: tuple[str, ...] = MORE
) -> Path:
    """The folder of one serial as ``railgen build`` writes it, its papers left out."""
    chosen = press("forward" if serial.endswith(tuple("13579")) else "both ways")
    posts = [PostProcessor.model_validate(tomllib.loads(file.read_text())) for file in sorted(POSTS.glob("*.toml"))]
    library = replace(shop_library(), presses={PRESS.id: chosen}, posts={post.id: post for post in posts})
    order = resolved_order(RAILS[rail], serial, library)
    files = files_of(order, holes, version, more)
    inputs = inputs_of("order.toml", "2" * 64, order.library)
    settings = {"dxf": version, "limits": "house", "revision": "A"} | ({"press": PRESS.id} if "nc" in more else {})
    files[MANIFEST] = manifest_json(manifest_of(serial, files, inputs, settings))
    return write_folder(output, serial, files)


def files_of(order: ResolvedOrder, holes: list[Hole], version: DxfVersion, more: tuple[str, ...]) -> dict[str, bytes]:
    """Everything but the manifest."""
    serial, table = order.serial, rail_table(order.rail, holes)
    files = {holes_name(serial): hole_table_csv(serial, table), findings_name(serial): findings_json([])}
    for side in ("LH", "RH"):
        for part in ("rail", "liner") if order.rail.liner else ("rail",):
            files[cut_file_name(serial, side, part)] = cut_file(order, table, side, part, version=version)
            if "dstv" in more:
                for piece in ("formed", "blank"):
                    files[dstv_name(serial, side, part, piece)] = dstv_file(order, table, side, part, piece)
            if "tools" in more:
                files |= tool_files(order, table, side, part, version=version)
            if "layers" in more:
                files |= purpose_files(order, table, side, part, version=version)
        if order.rail.taper:
            files[taper_name(serial, side)] = taper_file(order, side, version)
    if "nc" in more:
        planned = SerialPlan(order, no_placements(), table, ())
        files |= program_files(planned, blank_orders(planned))
    return files
