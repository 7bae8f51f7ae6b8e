"""Rings about findings on an elevation sheet, and the numbers that stand beside them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import cos, radians, sin

import numpy as np

from railgen.data.findings import Finding
from railgen.frame.panels import Face
from railgen.holes.table import FACES, SIDES, FloatArray
from railgen.papers.callouts import Band, Callout
from railgen.papers.sheet import BLUE, RED, Pen
from railgen.papers.stretches import SCALE, Stretch
from railgen.papers.subject import Subject

FINDING_PENS = {
    "error": Pen(0.5, RED),
    "warning": Pen(0.35, RED, (1.6, 0.8)),
    "note": Pen(0.25, BLUE, (0.5, 0.7)),
}
"""Rings are told apart by their line as well as by colour, the worst first."""
_RING_GAP, _LEAST_RING = 1.2, 2.2
_NEAR = 30.0
"""Two features no further apart than this (mm of paper) are ringed together."""
_WIDER, _WIDEST = 0.9, 3
"""A ring about a feature that is ringed already is drawn wider by this (mm), up to so many times."""
_LEADER_ANGLES = (0.0, 45.0, -45.0, 75.0)
"""Where the leaders of rings one above the other leave them, degrees from straight out."""
_ONE_ABOVE_THE_OTHER = 5.0
"""Stations less than this apart, mm."""


@dataclass(frozen=True, eq=False)
class Ring:
    """A ring about one or two features of a face: their (station, across), mm of steel; its radius, mm of paper.

    `findings`: their numbers.
    """

    face: Face
    centres: FloatArray
    radius: float
    severity: str
    findings: tuple[int, ...]

    @property
    def places(self) -> tuple[tuple[int, ...], ...]:
        """Face and centres in whole micrometres: features of rail and liner at one place share their ring."""
        return tuple((self.face, *centre) for centre in (self.centres * 1000).round().astype(int).tolist())


def finding_callouts(subject: Subject, side: int, stretch: Stretch) -> tuple[list[Ring], list[Callout]]:
    """Rings about the findings of one side that belong to this sheet, and their numbers; one label a place."""
    found = [
        ring
        for number, finding in enumerate(subject.findings, 1)
        for ring in _rings(subject, number, finding, side)
        if stretch.holds(ring.centres[:1, 0]).all() and stretch.shows(ring.centres[:, 0]).all()
    ]
    rings = _widened(_merged(found))
    return rings, _spread([_numbered(subject, ring) for ring in rings])


def _rings(subject: Subject, number: int, finding: Finding, side: int) -> Iterator[Ring]:
    """The rings of one finding on one side."""
    holes = subject.holes
    rows = [row for row in subject.rows_named(finding) if holes.side[row] == side]
    if not rows:
        if finding.station_mm is not None and finding.side in ("", SIDES[side]):
            face = Face(FACES.index(finding.face)) if finding.face in FACES else Face.WEB
            centre = _middle(subject, face, finding.station_mm)
            yield Ring(face, centre, _LEAST_RING, finding.severity, (number,))
        return
    for face in Face:
        for together in _gathered(subject, sorted(row for row in rows if holes.face[row] == face)):
            centres = np.stack([holes.station[together], holes.across[together]], axis=-1)
            reach = float(np.maximum(subject.along, subject.across)[together].max()) / SCALE
            yield Ring(face, centres, max(reach + _RING_GAP, _LEAST_RING), finding.severity, (number,))


def _middle(subject: Subject, face: Face, station: float) -> FloatArray:
    """Where a finding without holes is ringed: mid-way across its face."""
    rail = subject.plan.order.rail
    breadth = float(rail.depth_at(station)) if face == Face.WEB else rail.section.flange
    return np.array([[station, breadth / 2]])


def _gathered(subject: Subject, rows: list[int]) -> list[list[int]]:
    """A pair close together goes into one ring, all else each into its own."""
    if len(rows) == 2:
        holes = subject.holes
        apart = np.hypot(*(column[rows[1]] - column[rows[0]] for column in (holes.station, holes.across)))
        if apart / SCALE <= _NEAR:
            return [rows]
    return [[row] for row in rows]


def _merged(rings: Sequence[Ring]) -> list[Ring]:
    """One ring for all findings at one place, with the worst severity among them."""
    severities = list(FINDING_PENS)
    merged: dict[tuple[tuple[int, ...], ...], Ring] = {}
    for ring in rings:
        first = merged.setdefault(ring.places, ring)
        if first is not ring:
            worst = min(first.severity, ring.severity, key=severities.index)
            merged[ring.places] = replace(first, severity=worst, findings=(*first.findings, *ring.findings))
    return list(merged.values())


def _widened(rings: Sequence[Ring]) -> list[Ring]:
    """Rings about one feature made wider one by one, those about single features narrowest, so that each is seen."""
    about: Counter[tuple[int, ...]] = Counter()
    widened = []
    for ring in sorted(rings, key=lambda ring: len(ring.centres)):
        nth = min(max(about[place] for place in ring.places), _WIDEST)
        about.update(ring.places)
        widened.append(replace(ring, radius=ring.radius + _WIDER * nth))
    return widened


def _numbered(subject: Subject, ring: Ring) -> Callout:
    """The label of a ring: its findings' numbers, pointing at its edge."""
    if ring.face != Face.WEB:
        band = Band.TOP if ring.face == Face.TOP else Band.BOTTOM
    else:
        depth = subject.plan.order.rail.depth_at(ring.centres[:, 0])
        band = Band.UPPER if float((ring.centres[:, 1] - depth / 2).mean()) >= 0 else Band.LOWER
    outward = ring.centres[:, 1] * (-1 if band == Band.LOWER else 1)
    station, across = ring.centres[int(np.argmax(outward))].tolist()
    return Callout(
        words=", ".join(map(str, ring.findings)),
        band=band,
        face=ring.face,
        station=station,
        across=across,
        clear=ring.radius,
        severity=ring.severity,
        findings=ring.findings,
    )


def _spread(callouts: Sequence[Callout]) -> list[Callout]:
    """Labels of rings one above the other leave them at different angles, so that their leaders lie apart."""
    spread: list[Callout] = []
    for callout in callouts:
        above = [other for other in spread if other.band == callout.band]
        nth = sum(abs(other.station - callout.station) < _ONE_ABOVE_THE_OTHER for other in above)
        angle = radians(_LEADER_ANGLES[nth % len(_LEADER_ANGLES)])
        spread.append(replace(callout, clear=callout.clear * cos(angle), aside=callout.clear * sin(angle)))
    return spread
