"""A finding reviewed by hand, and the kinds of it that sample orders have more than one of."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import atan, cos, tan

BOTH = ("LH", "RH")
SPACING = "hole-spacing centre"


@dataclass(frozen=True)
class Reviewed:
    """One finding, or one alike at each of several places ("LH rail web"); within: what its value is worked out to."""

    name: str
    severity: str
    places: tuple[str, ...]
    station: float
    value: float
    limit: float | None
    why: str
    holes: tuple[str, ...] = ()
    components: tuple[str, ...] = ()
    within: float = 1e-6

    def findings(self) -> Iterator[tuple[tuple[object, ...], tuple[float, float, float | None], float]]:
        """Who and where each finding is, its station, value and limit, and what the value is worked out to."""
        for place in self.places:
            side, part, face = place.split(" ") if place else ("", "", "")
            side = "" if side == "-" else side
            face = "" if face == "-" else face
            who = (self.name, self.severity, side, part, face, self.holes, self.components)
            yield who, (self.station, self.value, self.limit), self.within


def owners(holes: tuple[str, ...]) -> tuple[str, ...]:
    """Components that holes are named after, "bracket.1.a1"."""
    return tuple(sorted({hole.split(".")[0] for hole in holes}))


def near(sides: str, part: str, station: float, holes: str, value: float, limit: float, why: str) -> Reviewed:
    """A warning that two holes of different components are near each other."""
    pair = tuple(holes.split(" "))
    places = tuple(f"{side} {part} web" for side in sides.split(" "))
    return Reviewed(SPACING, "warning", places, station, value, limit, why, pair, owners(pair))


def settled(component: str, side: str, station: float, preferred: float, why: str) -> Reviewed:
    """A note that a floating component stands elsewhere than where it would like to."""
    place = (f"{side} rail -",)
    return Reviewed("placed station", "note", place, station, station, preferred, why, (), (component,))


def shared(first: str, other: str, stations: dict[str, float], why: str) -> list[Reviewed]:
    """Notes that both rails have holes of two owners: ids within the first owner, separated by spaces, by station."""
    places = tuple(f"{side} rail web" for side in BOTH)
    return [
        Reviewed(
            "shared-hole owners",
            "note",
            places,
            at,
            2.0,
            None,
            why,
            (f"{first}.1.{hole}",),
            tuple(sorted((first, other))),
        )
        for holes, at in stations.items()
        for hole in holes.split(" ")
    ]


def upset(start: float, slit: float, drop: float, length: float) -> Reviewed:
    """Steel that closing the taper upsets, to both sides of the bisector, on both rails; t = 8.

    From the hinge in the middle of the flange to the slit it is h = slit - t / 2 high and, to either side, h tan(a / 2)
    wide, where tan a = drop / length; measured along the bisector, a / 2 off the upright, it is h / cos(a / 2) long.
    """
    half, h = atan(drop / length) / 2, slit - 4
    why = f"turned up by atan({drop:g} / {length:g}), 2 h2 tan(a / 2) / cos(a / 2) of web are upset; only a note"
    places = tuple(f"{side} rail web" for side in BOTH)
    return Reviewed("taper-shape upset", "note", places, start, 2 * h * h * tan(half) / cos(half), None, why)


def closing(front: float) -> list[Reviewed]:
    """The six shared bolts at the front of plough carriers and timber tractors."""
    why = "cross member and pin bracket both stand 95 mm behind the rail's front with six M18 at the same places"
    stations = {"a1 a2 a3": front + 95 - 35, "b1 b2 b3": front + 95 + 35}
    return shared("front-closing-cross-member", "recovery-pin-bracket", stations, why)


def trunnion(bogie_centre: float) -> list[Reviewed]:
    """The four shared bolts of the trunnion."""
    why = "of the hanger's twelve bolts the four at 65 mm off the bogie's centre hold the cross member too"
    stations = {"a1 a2": bogie_centre - 65, "b1 b2": bogie_centre + 65}
    return shared("bogie-trunnion-cross-member", "bogie-trunnion-hanger", stations, why)


def bumper(front: float) -> list[Reviewed]:
    """The two lower bolts of the bumper bracket."""
    why = "the underrun bracket is stacked onto the bumper bracket on its two lower bolts, 240 - 30 and 240 + 45 behind"
    return shared("bumper-bracket", "underrun-bracket-front", {"a2": front + 210, "b2": front + 285}, why)


def sixfold(first: str, other: str, middle: float, pitch: float, why: str) -> list[Reviewed]:
    """Three pairs of shared bolts about a station."""
    return shared(first, other, {"a1 a2": middle - pitch, "b1 b2": middle, "c1 c2": middle + pitch}, why)
