"""One serial's pattern to be compared, from its folder or from its plan, with what a picture needs of the rail."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import cos, radians, tan
from pathlib import Path

import numpy as np

from railgen.data.messages import InputError, Problem
from railgen.data.reading import Source
from railgen.formats.cut_entities import Text
from railgen.formats.dxf_tags import read_dxf_tags
from railgen.formats.hole_table import HoleRows, hole_rows, hole_table_csv
from railgen.formats.manifest import read_manifest
from railgen.formats.names import MANIFEST, cut_file_name, holes_name, taper_name
from railgen.frame.rail import RailShape
from railgen.layout.plan import SerialPlan
from railgen.papers.overlay_subject import RailEdges
from railgen.records.subject import Subject, Tail


@dataclass(frozen=True, eq=False)
class Pattern:
    """A serial's holes: its name and revision, rows of the hole table, and the rail's edges where they are known."""

    serial: str
    revision: str
    holes: HoleRows
    edges: RailEdges | None

    @property
    def title(self) -> str:
        """Serial and revision in words."""
        return f"{self.serial}, revision {self.revision}" if self.revision else self.serial


def pattern_of_plan(planned: SerialPlan) -> Pattern:
    """The pattern of a planned order."""
    serial = planned.serial
    holes = hole_rows(Source(holes_name(serial), hole_table_csv(serial, planned.holes)))
    return Pattern(serial, planned.order.order.revision, holes, _edges_of(planned.order.rail))


def pattern_of_folder(folder: Path) -> Pattern:
    """The pattern in a serial's folder; raises InputError where manifest or hole table cannot be read."""
    subject = Subject(folder, read_manifest(folder / MANIFEST))
    if not (folder / holes_name(subject.serial)).is_file():
        found = Problem(str(folder), holes_name(subject.serial), "nothing", "the hole table of the serial")
        raise InputError([found])
    return Pattern(subject.serial, subject.manifest.settings.get("revision", ""), subject.holes, _edges_drawn(subject))


def _edges_of(rail: RailShape) -> RailEdges:
    depth, fold = rail.section.depth, rail.taper.start if rail.taper else None
    end_depth = rail.taper.end_depth if rail.taper else depth
    return RailEdges(rail.front, rail.rear, depth, rail.section.flange, fold, end_depth)


def _edges_drawn(subject: Subject) -> RailEdges | None:
    """The rail's edges as far as the LH cut file and the hole table show them; None without them.

    The blank's middle is the web's middle, and straight features have the same distance of station and blank_x, and of
    height and blank_y. A tapered rail ends square behind its strip's lower edge, less the trim that its template names.
    """
    sizes, rows, holes = subject.outline_sizes("LH", "rail"), subject.rows("LH", "rail"), subject.holes
    if sizes is None or not len(rows):
        return None
    (length, width), faces = sizes, subject.faces(rows)
    across, blank_y = holes.across_mm[rows], holes.blank_y_mm[rows]
    straight = ~subject.turned("LH", rows)
    web, flange = straight & (faces == 0), faces != 0
    if not web.any():
        return None
    front = float(np.median((holes.station_mm[rows] - holes.blank_x_mm[rows])[straight]))
    depth = width - 2 * float(np.median((blank_y - across)[web]))
    from_edge = np.where(faces == 1, width - blank_y, blank_y)
    breadth = float(np.median((from_edge + across)[flange])) if flange.any() else 0.0
    if subject.tail is None:
        return RailEdges(front, front + length, depth, breadth, None, depth)
    return _tapered_edges(subject, subject.tail, RailEdges(front, front + length, depth, breadth, None, depth), width)


def _tapered_edges(subject: Subject, tail: Tail, straight: RailEdges, width: float) -> RailEdges:
    """The rail's edges once the tail is turned down; without thickness or trim from the notes, as if they were 0."""
    slope, fold = radians(tail.slope), straight.front + tail.fold_u
    hinge, slit = straight.depth - _noted(subject, _THICKNESS) / 2, tail.slit_v - (width - straight.depth) / 2
    ramp = straight.rear - _noted(subject, _TRIM) - (hinge - slit) * tan(slope) - fold
    rear = fold + ramp * cos(slope)
    end_depth = straight.depth - (rear - fold) * tan(slope)
    return RailEdges(straight.front, rear, straight.depth, straight.flange, fold, end_depth)


_THICKNESS = re.compile(r"^Blank [0-9.]+ x [0-9.]+ x ([0-9.]+) mm")
_TRIM = re.compile(r"([0-9.]+) mm to trim after welding")


def _noted(subject: Subject, pattern: re.Pattern[str]) -> float:
    """A number from the notes of the LH rail's cut file or of its template, 0 where there is none."""
    names = cut_file_name(subject.serial, "LH", "rail"), taper_name(subject.serial, "LH")
    for file in (subject.folder / name for name in names):
        try:
            texts = [entity.text for entity in read_dxf_tags(file) if isinstance(entity, Text)]
        except InputError:
            continue
        for found in (pattern.search(text) for text in texts):
            if found:
                return float(found[1])
    return 0.0
