"""The rule bending: moments of each rail summed up load by load, against the modulus left times yield.

Looked at where the rule says: at lines of holes, where holes overlap along the rail also between them; where a load,
a support or the end of a spread load is, and where there is no shear between two of them; just outside a liner; every
50 mm of a taper at most.
"""

from __future__ import annotations

import itertools
import math

import numpy as np

from .limits import broken
from .own_mass import own_stretches
from .placed import station_reach
from .rail_rules import whole
from .sections import LONG, flat_of, moduli, openings_of

GRAVITY = 9.80665
FRONT_AXLE = 0.0
ONE_LINE = 1e-6
SHORTEST = 1e-10
OUTSIDE = 1e-3
TAPER_STEP = 50.0


class Loaded:
    """One rail: weights (station, N) and spread weights (from, to, N) at rest, and its two reactions.

    ``upward`` are the forces on it, (station, N): the front axle's, and the rear one's at the bogie's hangers.
    """

    def __init__(self, side, placed, features, order, library):
        given = order["loads"]
        self.points, hangers = [], []
        for name, on_side, _, station, _ in placed:
            component = library["components"][name]
            if on_side != side:
                continue
            if component["mass"] > 0.0:
                self.points.append((station, component["mass"] * GRAVITY))
            if component["kind"] == "hanger" and station > order["wheelbase"] / 2.0:
                hangers.append(station)
        self.spread = [(start, end, mass * GRAVITY) for start, end, mass in own_stretches(side, features, order)]
        if given["body_mass"] > 0.0:
            self.spread.append((given["body_start"], given["body_end"], given["body_mass"] / 2.0 * GRAVITY))
        self._hold_up(order, hangers)

    def _hold_up(self, order, hangers):
        """Reactions from the moments about the front axle, and where they come in."""
        centre = order["wheelbase"]
        weight = sum(force for _, force in self.points) + sum(force for _, _, force in self.spread)
        about_front = sum(force * (x - FRONT_AXLE) for x, force in self.points)
        about_front += sum(force * ((start + end) / 2.0 - FRONT_AXLE) for start, end, force in self.spread)
        self.rear = about_front / (centre - FRONT_AXLE)
        self.front = weight - self.rear
        half = order["axle_spread"] / 2.0
        axles = [centre - half, centre + half] if half > 0.0 else [centre]
        self.upward = [(FRONT_AXLE, self.front), *through_hangers(axles, centre, sorted(set(hangers)), self.rear)]

    def moment(self, x):
        """At rest, N mm, from all that is ahead of a station; nothing beyond the foremost and the rearmost of them."""
        breaks = self.breaks()
        if not breaks[0] <= x <= breaks[-1]:
            return 0.0
        total = [force * (x - at) for at, force in self.upward if at < x]
        total += [-force * (x - at) for at, force in self.points if at < x]
        for start, end, force in self.spread:
            if start < x:
                reached = min(x, end)
                total.append(-force * (reached - start) / (end - start) * (x - (start + reached) / 2.0))
        return math.fsum(total)

    def breaks(self):
        """Stations between which the load is constant."""
        found = {x for x, _ in self.upward} | {x for x, _ in self.points}
        for start, end, _ in self.spread:
            found |= {start, end}
        return sorted(found)

    def without_shear(self):
        """Stations between breaks where the shear is nothing and the moment turns."""
        found = []
        for first, last in itertools.pairwise(self.breaks()):
            per_mm = sum(f / (end - start) for start, end, f in self.spread if start <= first and last <= end)
            ups = [force for x, force in self.upward if x <= first]
            downs = [-force for x, force in self.points if x <= first]
            for start, end, force in self.spread:
                if start < first:
                    downs.append(-force * (min(first, end) - start) / (end - start))
            if per_mm > 0.0 and 0.0 < math.fsum(ups + downs) / per_mm < last - first:
                found.append(first + math.fsum(ups + downs) / per_mm)
        return found


def through_hangers(axles, centre, hangers, reaction):
    """The rear reaction as forces: each axle's share by the lever to the hangers beside it, else the bogie's centre's.

    Where the centre has no hangers on both sides of it either, all of it comes in there.
    """
    for points in (axles, [centre]):
        if hangers and hangers[0] <= points[0] + ONE_LINE and points[-1] <= hangers[-1] + ONE_LINE:
            forces = dict.fromkeys(hangers, 0.0)
            for x in points:
                _lever(x, reaction / len(points), hangers, forces)
            return list(forces.items())
    return [(centre, reaction)]


def _lever(x, force, hangers, forces):
    """Hand a force to the nearest hanger on either side; all of it to one that is there or past which none is."""
    ahead = [h for h in hangers if h < x]
    behind = [h for h in hangers if h >= x]
    if not ahead or not behind:
        forces[behind[0] if behind else ahead[-1]] += force
        return
    share = (x - ahead[-1]) / (behind[0] - ahead[-1])
    forces[behind[0]] += force * share
    forces[ahead[-1]] += force * (1.0 - share)


def bending(placed, features, order, limits, library, between):
    """Findings of both rails, and notes of the axle loads that the order gives.

    between: of each side, the stations between holes that are looked at where holes share steel; see below.
    """
    if order["loads"] is None:
        return []
    rails = {side: Loaded(side, placed, features, order, library) for side in ("LH", "RH")}
    found = []
    for side, rail in rails.items():
        found += _findings(side, rail, features, order, limits, between.get(side, ()))
    return found + _axle_notes(list(rails.values()), order)


def _axle_notes(rails, order):
    found = []
    for axle, station in (("front", FRONT_AXLE), ("rear", order["wheelbase"])):
        given = order["loads"][f"{axle}_axle_load"]
        if given is not None:
            computed = sum(getattr(rail, axle) for rail in rails) / 1000.0
            note = whole("bending", f"{axle}-axle", "note", "", "", station, computed, given, "kN")
            found.append({**note, "face": ""})
    return found


def _findings(side, rail, features, order, limits, told):
    """One finding for each longest run of neighbouring stations that break a limit, at its worst one."""
    openings = openings_of(features, side, order)
    stations = _stations(side, rail, openings, features, order, told)
    resistances = _resistances(stations, openings, order)
    runs, current = [], []
    for x, resistance in zip(stations, resistances, strict=True):
        value = abs(rail.moment(x)) * order["loads"]["dynamic_factor"] / resistance
        place = limits.place_beside(order["rail"], x)
        verdict = broken("bending", "stress", value, limits.at("bending", "stress", place))
        if verdict is not None:
            current.append((verdict[0] == "error", value, x, verdict[1]))
        elif current:
            runs.append(current)
            current = []
    if current:
        runs.append(current)
    return [_finding(side, run, features) for run in runs]


def _finding(side, run, features):
    worst = run[0]
    for entry in run[1:]:
        if entry[:2] > worst[:2]:
            worst = entry
    is_error, value, x, limit = worst
    holes = []
    for f in features:
        on_line = abs(f.station - x) <= station_reach(f)[1] + ONE_LINE
        if f.side == side and f.part_name == "rail" and not f.is_mark and on_line:
            holes.append(f)
    holes.sort(key=lambda f: f.order_key)
    entry = whole(
        "bending", "stress", "error" if is_error else "warning", side, "rail", float(x), value, limit, "ratio"
    )
    owners = sorted({name for f in holes for name in f.owners})
    return {**entry, "holes": [f.hole for f in holes], "components": owners}


def _stations(side, rail, openings, features, order, told):
    """All stations looked at on the rail, in order; of those closer than a nanometre the foremost."""
    shape, liner = order["rail"], order["liner"]
    found = [f.station for f in features if f.side == side and f.part_name == "rail" and not f.is_mark]
    found += [*rail.breaks(), *rail.without_shear()]
    found += _between_holes([o for o in openings if o.plate[0] == "rail"], shape.front, shape.rear, order, told)
    if liner is not None:
        through = [o for o in openings if o.feature is not None]
        found += _between_holes(through, liner.front, liner.rear, order, told)
        found += [liner.front - OUTSIDE, liner.rear + OUTSIDE]
    if shape.taper is not None:
        length = shape.rear - shape.taper.start
        steps = math.ceil(length / TAPER_STEP)
        found += [shape.taper.start + length * k / steps for k in range(steps + 1)]
    kept, before = [], -math.inf
    for x in sorted(found):
        if x - before > ONE_LINE and shape.front <= x <= shape.rear:
            kept.append(x)
        before = x
    return kept


def _between_holes(openings, start, end, order, told):
    """Stations to look at where openings of several stations are cut: ends and middle of each stretch without a turn.

    Where openings there share steel, or reach beyond the flat, their edges may cross and part the stretch further: then
    those of the stations told that lie in it, in place of its middle.
    """
    taper = order["rail"].taper
    cuts = {LONG(start), LONG(end)} | ({LONG(taper.start)} if taper is not None else set())
    for opening in openings:
        cuts |= {x for x in _turns(opening) if _counts(opening, x, order, True) or _counts(opening, x, order, False)}
    cuts = sorted(cut for cut in cuts if start <= cut <= end)
    found = []
    for first, last in itertools.pairwise(cuts):
        middle = (first + last) / 2
        met = [o for o in openings if o.ends[0] < middle < o.ends[1] and _counts(o, middle, order, True)]
        stations = [_own_station(o) for o in met]
        if last - first <= SHORTEST or not met or max(stations) - min(stations) <= ONE_LINE:
            continue
        inner = [x for x in told if first < x < last] if _may_cross(met, order) else [middle]
        found += [first, *inner, last]
    return found


def _may_cross(met, order):
    """Whether the boxes round two openings of one plate overlap, or one reaches beyond the plate's flat steel."""
    boxes = []
    for o in met:
        part = order[o.plate[0]]
        low, high = min(y for _, y in o.points) - o.rho, max(y for _, y in o.points) + o.rho
        flat = flat_of(part, o.plate[1], part.depth_at(o.ends[1]))
        if low < flat[0] or high > flat[1]:
            return True
        if any(plate == o.plate and low < top and high > bottom for plate, bottom, top in boxes):
            return True
        boxes.append((o.plate, low, high))
    return False


def _own_station(opening):
    return opening.feature.station if opening.feature is not None else float(opening.points[0][0])


def _turns(opening):
    """Stations of an outline's ends and centre, of where arcs pass into lines, and of its highest and lowest point."""
    xs = [x for x, _ in opening.points]
    found = [min(xs) - opening.rho, max(xs) + opening.rho, sum(xs) / len(xs)]
    found += [max(opening.points, key=lambda p: p[1])[0], min(opening.points, key=lambda p: p[1])[0]]
    outward = opening.edges if len(opening.points) < 3 else opening.edges[::2]
    found += [x for edge in outward for x, _ in edge]
    if opening.ramp is None:
        return found
    return [opening.ramp.start + (x - opening.ramp.start) * LONG(opening.ramp.cos) for x in found]


def _counts(opening, x, order, ahead):
    """Whether an opening is cut at a station: holes of a flange's straight part up to a ramp, those of the ramp on it.

    ahead: at the ramp's very beginning, which of the two.
    """
    taper, feature = order["rail"].taper, opening.feature
    if taper is None or feature is None or feature.part_name == "liner" or feature.face != "top":
        return True
    on_ramp = x > taper.start or (x == taper.start and not ahead)
    return on_ramp == (feature.panel == "TAIL_TOP")


def _resistances(stations, openings, order):
    """Modulus left times yield at stations, N mm; with the liner where it is, and then of the weaker steel.

    Just ahead of a station and just behind it, the lesser of the two: an opening may begin or end straight across.
    """
    liner = order["liner"]
    lined = [liner is not None and liner.front <= x <= liner.rear for x in stations]
    alone = [x for x, within in zip(stations, lined, strict=True) if not within]
    within = [x for x, is_lined in zip(stations, lined, strict=True) if is_lined]
    strength = order["rail"].band["yield"]
    found = {x: modulus * strength for x, modulus in _least_moduli(alone, openings, order, False)}
    if within:
        weaker = min(strength, liner.band["yield"])
        found |= {x: modulus * weaker for x, modulus in _least_moduli(within, openings, order, True)}
    return [found[x] for x in stations]


def _least_moduli(stations, openings, order, with_liner):
    """(station, least modulus) at stations, mm3."""
    part = order["liner"] if with_liner else order["rail"]
    both = []
    for ahead in (True, False):
        cuts = []
        for opening in openings:
            if with_liner and opening.feature is None:
                continue
            met = [k for k, x in enumerate(stations) if _is_cut(opening, x, order, ahead, part)]
            if met:
                cuts.append((opening, met))
        both.append(moduli(order, cuts, np.array(stations, dtype=LONG), with_liner)[0])
    return [(x, float(min(pair))) for x, *pair in zip(stations, *both, strict=True)]


def _is_cut(opening, x, order, ahead, part):
    """Whether an opening is cut just ahead of a station, or just behind it; of a part's ends only within them."""
    ahead = (ahead or x >= part.rear) and x > part.front
    first, last = opening.ends
    is_met = first < x <= last if ahead else first <= x < last
    return is_met and _counts(opening, x, order, ahead)
