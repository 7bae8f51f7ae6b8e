"""What is checked: a serial's folder with its manifest and hole table, and what its cut files say of the blanks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import atan2, degrees
from pathlib import Path as FilePath

import numpy as np

from railgen.data.messages import InputError
from railgen.formats.cut_entities import HOLES, MARK, SECOND, SLOTS, Line, Path
from railgen.formats.cut_file import CutFile, cut_file_of
from railgen.formats.dxf import read_dxf
from railgen.formats.dxf_tags import read_dxf_tags
from railgen.formats.hole_table import HoleRows, read_hole_table
from railgen.formats.manifest import Manifest
from railgen.formats.names import Part, Side, cut_file_name, holes_name, press_name, program_name
from railgen.formats.press_file import PressFile, read_press
from railgen.frame.development import liner_blank_angle, mirror_angle, mirror_blank
from railgen.holes.table import FACES, PARTS, SIDES, BoolArray, FloatArray, IntArray
from railgen.records.features import Features

_LEVEL = 1e-6  # mm; what is less inclined lies along the blank


@dataclass(frozen=True)
class Tail:
    """The taper as a blank shows it, un-mirrored: u of the fold, v of the slit (mm), slope (degrees)."""

    fold_u: float
    slit_v: float
    slope: float


@dataclass(frozen=True)
class Drawn:
    """A cut file as read, and why the quick reader refused it, where it did."""

    content: CutFile
    refusal: InputError | None


class Subject:
    """One serial's folder, each file of it read when it is first asked for."""

    def __init__(self, folder: FilePath, manifest: Manifest) -> None:
        self.folder, self.manifest, self.serial = folder, manifest, manifest.serial
        self._cut_files: dict[str, Drawn | InputError] = {}
        self._features: dict[tuple[str, str], Features] = {}

    @cached_property
    def holes(self) -> HoleRows:
        """The hole table; raises InputError where it cannot be read."""
        return read_hole_table(self.folder / holes_name(self.serial))

    def rows(self, side: Side, part: Part) -> IntArray:
        """Rows of the hole table for one blank."""
        return self._rows_of.get((side, part), np.zeros(0, dtype=np.int64))

    def hit_rows(self, side: Side, part: Part) -> IntArray:
        """Rows of the hole table that the press makes of one blank: punched features, and marks."""
        rows = self.rows(side, part)
        return rows[self._is_hit[rows]]

    @cached_property
    def _is_hit(self) -> BoolArray:
        pairs = zip(self.holes.operation, self.holes.shape, strict=True)
        return np.array([operation == "punch" or shape == "mark" for operation, shape in pairs], dtype=np.bool_)

    @cached_property
    def press_file(self) -> PressFile:
        """The press that the programs are for; raises InputError where it cannot be read."""
        return read_press(self.folder / press_name(self.serial))

    @cached_property
    def marking_tool(self) -> str | None:
        """The tool of the press that stamps text; None where the crib has none, or the press cannot be read."""
        try:
            tools = self.press_file.press.tools
        except InputError:
            return None
        return next((tool.id for tool in tools if tool.shape == "mark"), None)

    @cached_property
    def programs(self) -> dict[str, tuple[Side, Part]]:
        """Names of the programs that there should be, with side and part: of each blank with anything to hit."""
        post = self.press_file.post if self.has_press_file else None
        if post is None:
            return {}
        blanks = [blank for blank in self.blanks.values() if len(self.hit_rows(*blank))]
        return {program_name(self.serial, side, part, post.ending): (side, part) for side, part in blanks}

    @cached_property
    def has_press_file(self) -> bool:
        """Whether the press that the programs are for can be read."""
        try:
            return bool(self.press_file)
        except InputError:
            return False

    @cached_property
    def _rows_of(self) -> dict[tuple[str, str], IntArray]:
        holes = self.holes
        sides, parts = np.array(holes.side, dtype=np.str_), np.array(holes.part, dtype=np.str_)
        return {(side, part): np.flatnonzero((sides == side) & (parts == part)) for side in SIDES for part in PARTS}

    @cached_property
    def blanks(self) -> dict[str, tuple[Side, Part]]:
        """Names of the cut files that there may be, with side and part."""
        sides: Sequence[Side] = ("LH", "RH")
        parts: Sequence[Part] = ("rail", "liner")
        return {cut_file_name(self.serial, side, part): (side, part) for side in sides for part in parts}

    def cut_file(self, side: Side, part: Part) -> CutFile | None:
        """One blank's cut file, None where it is missing or cannot be read."""
        try:
            return self.drawn(cut_file_name(self.serial, side, part)).content
        except InputError:
            return None

    def drawn(self, name: str) -> Drawn:
        """A cut file by name. What the quick reader refuses is read by ezdxf; raises InputError where that fails."""
        found = self._cut_files.get(name)
        if found is None:
            try:
                found = read_drawn(self.folder / name)
            except InputError as error:
                found = error
            self._cut_files[name] = found
        if isinstance(found, InputError):
            raise found
        return found

    def outline_sizes(self, side: Side, part: Part) -> tuple[float, float] | None:
        """Length and width (mm) of the blank's edge as drawn."""
        drawn = self.cut_file(side, part)
        if drawn is None:
            return None
        vertices = np.array(drawn.outline.vertices)[:, :2]
        length, width = np.ptp(vertices, axis=0).tolist()
        return length, width

    @cached_property
    def tail(self) -> Tail | None:
        """The taper, from whichever rail's cut file shows one; None for a rail that has none."""
        for side in SIDES:
            drawn = self.cut_file("LH" if side == "LH" else "RH", "rail")
            found = _tail(drawn, side) if drawn else None
            if found:
                return found
        return None

    def features(self, side: Side, part: Part) -> Features:
        """What a blank's cut file should draw, from the hole table; on layers."""
        if (side, part) not in self._features:
            self._features[side, part] = self._read_features(side, part)
        return self._features[side, part]

    def _read_features(self, side: Side, part: Part) -> Features:
        rows = self.rows(side, part)
        holes = self.holes
        shape = [holes.shape[row] for row in rows.tolist()]
        long_shape = np.array([one in ("slot", "rectangle") for one in shape], dtype=np.bool_)
        return Features(
            [holes.hole[row] for row in rows.tolist()],
            [_layer(holes.shape[row], holes.operation[row]) for row in rows.tolist()],
            shape,
            holes.blank_x_mm[rows],
            holes.blank_y_mm[rows],
            np.nan_to_num(holes.diameter_mm[rows]),
            np.where(long_shape, np.nan_to_num(holes.length_mm[rows]), 0.0),
            np.where(long_shape, self._blank_angles(side, part, rows), 0.0),
        )

    def faces(self, rows: IntArray) -> IntArray:
        """Index into FACES of rows of the hole table."""
        return np.array([FACES.index(self.holes.face[row]) for row in rows.tolist()], dtype=np.int64)

    def _blank_angles(self, side: Side, part: Part, rows: IntArray) -> FloatArray:
        """Angles (degrees) of long axes as drawn on a blank: the finished ones unfolded, turned up and mirrored."""
        angle = np.nan_to_num(self.holes.angle_deg[rows])
        if self.tail and part == "rail":
            angle = np.where(self.turned(side, rows), angle + self.tail.slope, angle)
        drawn = liner_blank_angle(self.faces(rows), angle)
        return mirror_angle(drawn) if side == "RH" else drawn

    def turned(self, side: Side, rows: IntArray) -> np.ndarray:
        """Whether rows of the rail lie on the web strip that turns down with a tapered tail."""
        sizes = self.outline_sizes(side, "rail")
        if self.tail is None or sizes is None:
            return np.zeros(len(rows), dtype=np.bool_)
        x = self.holes.blank_x_mm[rows]
        u = mirror_blank(x, sizes[0]) if side == "RH" else x
        on_web = self.faces(rows) == 0
        return np.asarray(on_web & (u > self.tail.fold_u) & (self.holes.blank_y_mm[rows] > self.tail.slit_v))


def read_drawn(file: FilePath) -> Drawn:
    """A cut file, by the quick reader or, where that refuses it, by ezdxf; raises InputError where both do."""
    try:
        return Drawn(cut_file_of(read_dxf_tags(file), str(file)), None)
    except InputError as error:
        try:
            return Drawn(cut_file_of(read_dxf(file), str(file)), error)
        except InputError:
            raise error from None


def _layer(shape: str, operation: str) -> str:
    if shape == "mark":
        return MARK
    if operation != "punch":
        return SECOND
    return HOLES if shape == "round" else SLOTS


def straight_pieces(path: Path) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Ends of the straight pieces of a path."""
    vertices = [*path.vertices, path.vertices[0]] if path.closed else list(path.vertices)
    return [((ax, ay), (bx, by)) for (ax, ay, bulge), (bx, by, _) in pairwise(vertices) if not bulge]


def blank_corners(points: FloatArray) -> np.ndarray:
    """Which points (n, 2) of a blank's edge are corners of the rectangle round it, (n,)."""
    low, high = points.min(axis=0), points.max(axis=0)
    return np.asarray((np.minimum(np.abs(points - low), np.abs(points - high)) <= _LEVEL).all(axis=1))


def _tail(drawn: CutFile, side: str) -> Tail | None:
    """The taper from the third bend line and from the only inclined piece of the blank's cuts."""
    fold = next((bend for bend in drawn.bends if _across(bend)), None)
    if fold is None:
        return None
    pieces = [piece for path in (*drawn.second_cuts, drawn.outline) for piece in straight_pieces(path)]
    steps = [(abs(bx - ax), abs(by - ay)) for (ax, ay), (bx, by) in pieces]
    slopes = [degrees(atan2(dy, dx)) for dx, dy in steps if dx > _LEVEL and dy > _LEVEL]
    highest = max(y for _, y, _ in drawn.outline.vertices)
    slits = [ay for ((_, ay), (_, by)) in pieces if abs(by - ay) <= _LEVEL and _LEVEL < ay < highest - _LEVEL]
    if len(slopes) != 1 or len(slits) != 1:
        return None
    length = max(x for x, _, _ in drawn.outline.vertices)
    return Tail(length - fold.x1 if side == "RH" else fold.x1, slits[0], slopes[0])


def _across(bend: Line) -> bool:
    return abs(bend.x2 - bend.x1) <= _LEVEL < abs(bend.y2 - bend.y1)
