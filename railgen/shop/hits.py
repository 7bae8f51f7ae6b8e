"""The hits of one blank: where the press strokes, with which tool at which angle, and what allows it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from railgen.data.messages import InputError, Problem
from railgen.data.plant import Press, Tool
from railgen.holes.shapes import Cores, core_geometries, cores_of
from railgen.holes.table import MARK, NONE, RECTANGLE, SHAPES, SLOT, BoolArray, FloatArray, HoleTable, IntArray
from railgen.shop.clamps import clear_at_shifts
from railgen.shop.part_work import PartWork
from railgen.shop.press_lie import PressLie, press_lie
from railgen.shop.punching import highest_shear_strength, punching_force
from railgen.shop.strings import HitString, hit_strings
from railgen.shop.tools import assign_tools, needs_tool, tool_core

_ANGLE_DECIMALS = 6
_SAME_PLACE = 1e-6  # mm


@dataclass(frozen=True)
class Stamp:
    """Text that the marking tool stamps: its middle in blank axes and its letters' height, mm, and the words.

    It reads along the press's x, whichever way the blank lies.
    """

    blank_x: float
    blank_y: float
    height: float
    text: str


@dataclass(frozen=True)
class ToolStation:
    """A place in the press with a tool set to an angle (degrees); ``mounting`` counts the times tools are mounted."""

    number: int
    tool: Tool
    angle: float
    mounting: int


@dataclass(frozen=True, eq=False)
class Hits:
    """All hits of one blank, columns of length n; x and y in press axes, mm.

    ``row``: row of ``work.holes``, NONE for ``stamps``, which come last; ``station``: index into ``stations``;
    ``string``: number of the string that a hit belongs to, in its order there, NONE for a hit that makes its opening
    alone; ``clear`` (n, shifts): whether it can be hit with the clamps at each shift; ``force``: N; ``scallops``:
    height (mm) that each string leaves, by row.
    """

    work: PartWork
    press: Press
    lie: PressLie
    stations: tuple[ToolStation, ...]
    stamps: tuple[Stamp, ...]
    row: IntArray
    x: FloatArray
    y: FloatArray
    station: IntArray
    string: IntArray
    locating: BoolArray
    clear: BoolArray
    force: FloatArray
    scallops: dict[int, float]

    def __len__(self) -> int:
        return len(self.row)

    def hole_id(self, hit: int) -> str:
        """The hole that a hit makes or belongs to, ``stamp`` for stamped text."""
        row = int(self.row[hit])
        return STAMP if row == NONE else self.work.holes.hole_id(row)

    def stamp_at(self, hit: int) -> Stamp | None:
        """The text that a hit stamps, None for others."""
        return None if self.row[hit] != NONE else self.stamps[hit - len(self)]


STAMP = "stamp"
"""Stands where a hole is named for text that is stamped."""


def hits_of(work: PartWork, press: Press | None = None, stamps: Sequence[Stamp] = ()) -> Hits:
    """The hits of a part's blank on a press, the library's own where none is named.

    Marks and stamped text are hit by the marking tool; with no such tool in the crib text is left to be
    stamped by hand. Raises InputError naming every hole that the press cannot make: no tool in the crib,
    beyond the press's force or reach, under a clamp wherever the clamps stand; and a blank that the press cannot take.
    """
    press = press or work.press
    lie = press_lie(press, work.side, work.blank_length, work.blank_width, work.thickness)
    rows = np.flatnonzero(needs_tool(work.holes))
    thickness = np.full(len(work.holes), work.thickness)
    strings = work.strings if press is work.press else hit_strings(work.holes, press, thickness)
    marker = [number for number, tool in enumerate(press.tools) if tool.shape == "mark"]
    stamps = tuple(stamps) if marker else ()
    tools = assign_tools(work.holes, press, thickness)
    for row, string in strings.items():
        tools[row] = string.tool
    columns = _columns(work.holes, press, lie, rows, tools, strings)
    if stamps:
        columns = _with_stamps(columns, lie, stamps, marker[0])
    _refuse(work, press, lie, columns)
    numbers, stations = _stations(press, columns)
    return Hits(
        work=work,
        press=press,
        lie=lie,
        stations=stations,
        stamps=stamps,
        row=columns.row,
        x=columns.x,
        y=columns.y,
        station=numbers,
        string=columns.string,
        locating=columns.locating,
        clear=_clear(columns, press, lie),
        force=_forces(columns, work),
        scallops={row: string.scallop for row, string in strings.items()},
    )


@dataclass(frozen=True, eq=False)
class _Columns:
    """Hits before they have stations: place, tool, angle (degrees), core and shape of what each punches."""

    row: IntArray
    x: FloatArray
    y: FloatArray
    tool: IntArray
    angle: FloatArray
    string: IntArray
    locating: BoolArray
    shape: IntArray
    cores: Cores


def _columns(
    table: HoleTable, press: Press, lie: PressLie, rows: IntArray, tools: IntArray, strings: Mapping[int, HitString]
) -> _Columns:
    """One hit a row, or the hits of its string."""
    count = np.array([len(strings[row].places) if row in strings else 1 for row in rows.tolist()], dtype=np.int64)
    row = np.repeat(rows, count)
    offset, string = np.zeros((len(row), 2)), np.full(len(row), NONE)
    start = np.concatenate(([0], np.cumsum(count)))
    for number, own in enumerate(np.flatnonzero(np.isin(rows, list(strings))).tolist()):
        chosen = slice(start[own], start[own + 1])
        found = strings[int(rows[own])]
        offset[chosen], string[chosen] = found.places, number
    x, y = lie.to_press(table.blank_x[row] + offset[:, 0], table.v[row] + offset[:, 1])
    cores = cores_of(table, np.full(len(table), lie.thickness))
    shape = table.shape[row].copy()
    punched = Cores(cores.half_length[row], cores.half_width[row], cores.radius[row])
    for hit in np.flatnonzero(string != NONE).tolist():
        _take_tool(punched, shape, hit, press.tools[int(tools[row[hit]])], lie.thickness)
    is_long = np.isin(shape, (SLOT, RECTANGLE))
    angle: FloatArray = np.where(is_long, np.nan_to_num(table.blank_angle[row]), 0.0).round(_ANGLE_DECIMALS)
    square = (shape == RECTANGLE) & (np.abs(punched.half_length - punched.half_width) < _SAME_PLACE)
    # Set to 180 degrees a tool stands as at 0; a square one does so after a quarter turn.
    angle = np.mod(angle, np.where(square, 90.0, 180.0))
    return _Columns(row, x, y, tools[row], angle, string, table.locating[row], shape, punched)


def _take_tool(cores: Cores, shape: IntArray, hit: int, tool: Tool, thickness: float) -> None:
    """Put the tool's own outline in place of the opening's for one hit of a string."""
    shape[hit] = SHAPES.index(tool.shape)
    cores.half_length[hit], cores.half_width[hit], cores.radius[hit] = tool_core(tool, thickness)


def _with_stamps(columns: _Columns, lie: PressLie, stamps: Sequence[Stamp], marker: int) -> _Columns:
    place = np.array([(stamp.blank_x, stamp.blank_y) for stamp in stamps], dtype=np.float64)
    x, y = lie.to_press(place[:, 0], place[:, 1])
    zero, none = np.zeros(len(stamps)), np.full(len(stamps), NONE)
    cores = columns.cores
    return _Columns(
        row=np.append(columns.row, none),
        x=np.append(columns.x, x),
        y=np.append(columns.y, y),
        tool=np.append(columns.tool, np.full(len(stamps), marker)),
        angle=np.append(columns.angle, zero),
        string=np.append(columns.string, none),
        locating=np.append(columns.locating, zero > 0.0),
        shape=np.append(columns.shape, np.full(len(stamps), MARK)),
        cores=Cores(*(np.append(core, zero) for core in (cores.half_length, cores.half_width, cores.radius))),
    )


def _clear(columns: _Columns, press: Press, lie: PressLie) -> BoolArray:
    cores = columns.cores
    shapes = core_geometries(columns.x, columns.y, columns.angle, columns.shape, cores.half_length, cores.half_width)
    return clear_at_shifts(shapes, cores.radius, press, lie)


def _forces(columns: _Columns, work: PartWork) -> FloatArray:
    """Force (N) of each hit, (n,): of its whole outline, also where hits of a string overlap; 0 for marks."""
    cores = columns.cores
    perimeter = 4 * (cores.half_length + cores.half_width) + 2 * np.pi * cores.radius
    force = punching_force(perimeter, work.thickness, highest_shear_strength(work.steel))
    return np.where(columns.shape == MARK, 0.0, force)


def _stations(press: Press, columns: _Columns) -> tuple[IntArray, tuple[ToolStation, ...]]:
    """Index of each hit's station, and the stations: the tools of locating holes first, then in the crib's order.

    Where there are more than the press has mounted, the rest waits for the next mounting.
    """
    keys = np.column_stack([~columns.locating, columns.tool, columns.angle])
    order = np.lexsort(keys.T[::-1])
    pairs: dict[tuple[int, float], int] = {}
    for hit in order.tolist():
        pairs.setdefault((int(columns.tool[hit]), float(columns.angle[hit])), len(pairs))
    mounted = press.mounted_tools
    stations = tuple(
        ToolStation(place % mounted + 1, press.tools[tool], angle, place // mounted + 1)
        for (tool, angle), place in pairs.items()
    )
    columns_of = zip(columns.tool.tolist(), columns.angle.tolist(), strict=True)
    return np.array([pairs[key] for key in columns_of], dtype=np.int64), stations


def _refuse(work: PartWork, press: Press, lie: PressLie, columns: _Columns) -> None:
    """Raise InputError with everything that the press cannot do."""
    name, table = f"{work.plan.serial} {work.side} {work.part}", work.holes
    problems = [*_blank_problems(name, press, lie)]
    for row in dict.fromkeys(columns.row[columns.tool == NONE].tolist()):
        hint = "Give the crib a tool, or the hole another size or operation."
        problems.append(Problem(name, table.hole_id(row), _size_of(table, row), "a size with a tool in the crib", hint))
    for row in dict.fromkeys(columns.row[columns.y > press.reach].tolist()):
        found = f"{columns.y[columns.row == row].max():g} mm from the gauge edge"
        problems.append(Problem(name, _named(table, row), found, f"at most the press's reach, {press.reach:g} mm"))
    force = _forces(columns, work) / 1000
    for row in dict.fromkeys(columns.row[force > press.force].tolist()):
        found = f"{force[columns.row == row].max():.0f} kN a hit"
        allowed, hint = f"at most the press's force, {press.force:g} kN", "Take another press, or drill the hole."
        problems.append(Problem(name, _named(table, row), found, allowed, hint))
    held = ~_clear(columns, press, lie).any(axis=1)
    for row in dict.fromkeys(columns.row[held].tolist()):
        hint = "Move the clamps' stations, or give clamp_shifts another place."
        found = "a hole under a clamp wherever the clamps stand"
        allowed = f"{press.clamp_dead_zone:g} mm clear of every clamp"
        problems.append(Problem(name, _named(table, row), found, allowed, hint))
    if problems:
        raise InputError(problems)


def _named(table: HoleTable, row: int) -> str:
    return STAMP if row == NONE else table.hole_id(row)


def _blank_problems(name: str, press: Press, lie: PressLie) -> list[Problem]:
    sizes = (
        ("blank length", lie.length, press.longest_blank),
        ("blank width", lie.width, press.widest_blank),
        ("thickness", lie.thickness, press.thickest_blank),
    )
    return [
        Problem(name, key, f"{value:.3f} mm", f"at most {most:g} mm on the press {press.id}", "Take another press.")
        for key, value, most in sizes
        if value > most + _SAME_PLACE
    ]


def _size_of(table: HoleTable, row: int) -> str:
    shape = SHAPES[int(table.shape[row])]
    size = "" if shape == "mark" else f" {table.diameter[row]:g}"
    if shape in ("slot", "rectangle"):
        size += f" x {table.length[row]:g} at {table.blank_angle[row]:g} degrees"
    return f"no tool for a {shape}{size}"
