"""Serials' folders for the tests of verify and compare: random patterns on all kinds of rail, without papers."""

from __future__ import annotations

import random
from pathlib import Path

from builders import Hole, rail_shape, rail_table, resolved_order

from railgen.formats.cut_file import cut_file
from railgen.formats.dstv_piece import dstv_file
from railgen.formats.dxf import DxfVersion
from railgen.formats.findings_file import findings_json
from railgen.formats.folder import write_folder
from railgen.formats.hole_table import hole_table_csv
from railgen.formats.manifest import inputs_of, manifest_json, manifest_of
from railgen.formats.names import MANIFEST, cut_file_name, dstv_name, findings_name, holes_name, taper_name
from railgen.formats.split_files import purpose_files, tool_files
from railgen.formats.taper_template import taper_file
from railgen.holes.table import SIDES
from railgen.layout.plan import ResolvedOrder

RAILS = {
    "plain": rail_shape(),
    "liner": rail_shape(liner=True),
    "cut later": rail_shape("after-forming"),
    "cut in blank": rail_shape("in-blank", liner=True),
}
MORE = ("dstv", "tools", "layers")


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
    kind = rng.choice(("round", "round", "round", "slot", "rectangle", "mark", "drill", "stud"))
    sides = rng.choice((SIDES, SIDES, SIDES, ("LH",), ("RH",)))
    rest = {"face": face, "component": rng.choice(("bracket", "hanger", "tank")), "feature": f"f{number}"}
    if kind in ("mark", "stud"):
        operation = "stud" if kind == "stud" else "punch"
        return Hole(station, across, shape="mark", operation=operation, tool="marker", sides=sides, **rest)
    if kind == "drill":
        return Hole(station, across, diameter=9, operation="drill", sides=sides, **rest)
    if kind == "round":
        size = rng.choice((13, 17, 20))
        return Hole(station, across, diameter=size, tool=f"R {size}", sides=sides, **rest)
    angle, tool = rng.choice((0.0, 90.0, 33.25)), {"slot": "S 11x30", "rectangle": "Q 20x30"}[kind]
    width = 11 if kind == "slot" else 20
    return Hole(station, across, diameter=width, length=30, shape=kind, angle=angle, tool=tool, sides=sides, **rest)


def serial_folder(
    output: Path, serial: str, rail: str, holes: list[Hole], version: DxfVersion = "R12", more: tuple[str, ...] = MORE
) -> Path:
    """The folder of one serial as ``railgen build`` writes it, its papers left out."""
    order = resolved_order(RAILS[rail], serial)
    files = files_of(order, holes, version, more)
    inputs = inputs_of("order.toml", "2" * 64, order.library)
    files[MANIFEST] = manifest_json(manifest_of(serial, files, inputs, {"dxf": version, "limits": "house"}))
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
                files |= tool_files(order, table, side, part, version)
            if "layers" in more:
                files |= purpose_files(order, table, side, part, version=version)
        if order.rail.taper:
            files[taper_name(serial, side)] = taper_file(order, side, version)
    return files
