"""Rings about findings on an elevation sheet, and the numbers that stand beside them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import cos, radians, sin

import numpy as np

from railgen.data.findings import Finding
from railgen.frame.panels import Face
from railgen.holes.table import FACES, LINER, PARTS, SIDES, FloatArray
from railgen.papers.callouts import Band, Callout, flange_band, outward
from railgen.papers.part import DrawnPart
from railgen.papers.sheet import BLUE, RED, Pen
from railgen.papers.stretches import OVERLAP, SCALE, Stretch
from railgen.papers.subject import Subject

FINDING_PENS = {
    "error": Pen(0.5, RED, layer="FINDINGS"),
    "warning": Pen(0.35, RED, (1.6, 0.8), "FINDINGS"),
    "note": Pen(0.25, BLUE, (0.5, 0.7), "FINDINGS"),
}
"""Rings are told apart by their line as well as by colour, the worst first."""
_RING_GAP, _LEAST_RING = 1.2, 2.2
_NEAR = 30.0
"""Two features no further apart than this (mm of paper) are ringed together."""
_WIDER, _WIDEST = 0.9, 3
"""A ring about a feature that is ringed already is drawn wider by this (mm), up to so many times."""
_LEADER_ANGLES = (20.0, 60.0, -30.0, -65.0)
"""Where leaders of rings one above the other leave them, degrees from straight out, off the extension lines."""
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
        """Face and centres in whole micrometres: findings about one place share their ring."""
        return tuple((self.face, *centre) for centre in (self.centres * 1000).round().astype(int).tolist())


def finding_callouts(
    subject: Subject, part: DrawnPart, side: int, stretch: Stretch
) -> tuple[list[Ring], list[Callout]]:
    """Rings about the findings of one part that belong to this sheet, and their numbers; one label a place.

    Findings that name no part are the rail's.
    """
    found = [
        ring
        for number, finding in enumerate(subject.findings, 1)
        if (finding.part == PARTS[LINER]) == (part.part == LINER)
        for ring in _rings(subject, part, number, finding, side)
        for ring in _on_sheet(ring, stretch)
    ]
    rings = _widened(_merged(found))
    return rings, _spread([_numbered(subject, part, ring) for ring in rings])


def _on_sheet(ring: Ring, stretch: Stretch) -> Iterator[Ring]:
    """The ring, on the sheet that its first feature belongs to; a pair parted by a match line, feature by feature."""
    stations = ring.centres[:, 0]
    if stretch.holds(stations[:1]).all() and stretch.shows(stations).all():
        yield ring
    elif len(stations) > 1:
        # The overlap of the other sheet may show the second feature as well: there the pair is ringed as one.
        from_match = np.minimum(stations - stretch.start, stretch.end - stations)
        apart = np.array([True, bool(from_match[1] > OVERLAP)]) & stretch.bears(stations)
        for index in np.flatnonzero(apart).tolist():
            yield replace(ring, centres=ring.centres[index : index + 1])


def _rings(subject: Subject, part: DrawnPart, number: int, finding: Finding, side: int) -> Iterator[Ring]:
    """The rings of one finding on one side."""
    holes = subject.holes
    rows = [row for row in subject.rows_named(finding) if holes.side[row] == side]
    if not rows:
        if finding.station_mm is not None and finding.side in ("", SIDES[side]):
            face = Face(FACES.index(finding.face)) if finding.face in FACES else Face.WEB
            centre = _middle(part, face, finding.station_mm)
            yield Ring(face, centre, _LEAST_RING, finding.severity, (number,))
        return
    for face in Face:
        for together in _gathered(subject, sorted(row for row in rows if holes.face[row] == face)):
            centres = np.stack([holes.station[together], holes.across[together]], axis=-1)
            reach = float(np.maximum(subject.along, subject.across)[together].max()) / SCALE
            yield Ring(face, centres, max(reach + _RING_GAP, _LEAST_RING), finding.severity, (number,))


def _middle(part: DrawnPart, face: Face, station: float) -> FloatArray:
    """Where a finding without holes is ringed: mid-way across its face."""
    across = float(part.middle(station)) if face == Face.WEB else part.zero_y + part.section.flange / 2
    return np.array([[station, across]])


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


def _numbered(subject: Subject, part: DrawnPart, ring: Ring) -> Callout:
    """The label of a ring: its findings' numbers, pointing at its edge."""
    band = flange_band(ring.face, subject.style)
    if ring.face == Face.WEB:
        above = ring.centres[:, 1] - part.middle(ring.centres[:, 0])
        band = Band.UPPER if float(above.mean()) >= 0 else Band.LOWER
    toward = ring.centres[:, 1] * outward(ring.face, band, subject.style)
    station, across = ring.centres[int(np.argmax(toward))].tolist()
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
