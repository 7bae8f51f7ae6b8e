"""Section moduli of rail and liner at many stations, whole and with what holes take out, in extended precision.

Heights z are the rail's. ``Moments`` are area, first and second moment about z = 0, each an array over stations.
"""

from __future__ import annotations

import numpy as np

from .geometry import FAR
from .placed import rail_points

LONG = np.longdouble


class Opening:
    """What a feature, or the taper's relief hole, takes out of one plate: a convex core inflated by ``rho``.

    ``ends`` are the first and the last station that cut it; ``points`` lie in (x, across); of a ramp x is along it.
    """

    def __init__(self, points, rho, plate, feature=None, ramp=None):
        self.points = [(LONG(x), LONG(y)) for x, y in points]
        self.rho = LONG(rho)
        self.plate, self.feature, self.ramp = plate, feature, ramp
        self.edges = self._offset_edges()
        self.ends = min(self.breaks()), max(self.breaks())

    def _offset_edges(self):
        """The core's edges pushed out by rho to either side, as pairs of points."""
        count = len(self.points)
        pairs = [(self.points[i], self.points[(i + 1) % count]) for i in range(count)] if count > 1 else []
        edges = []
        for (ax, ay), (bx, by) in pairs:
            length = np.hypot(bx - ax, by - ay)
            nx, ny = (by - ay) / length * self.rho, (ax - bx) / length * self.rho
            for way in (1, -1):
                edges.append(((ax + way * nx, ay + way * ny), (bx + way * nx, by + way * ny)))
        return edges

    def along(self, stations):
        """Stations in the x of the core."""
        if self.ramp is None:
            return stations
        return self.ramp.start + (stations - self.ramp.start) / LONG(self.ramp.cos)

    def breaks(self):
        """Stations where the outline goes from one arc or line to the next, ends included."""
        found = []
        for x, _ in self.points:
            found += [x - self.rho, x, x + self.rho]
        for first, second in self.edges:
            found += [first[0], second[0]]
        if self.ramp is None:
            return found
        return [self.ramp.start + (x - self.ramp.start) * LONG(self.ramp.cos) for x in found]

    def interval(self, stations):
        """(low, high) across that the line at each station cuts out of the true shape."""
        x = self.along(stations)
        low, high = np.full(len(x), LONG(FAR)), np.full(len(x), LONG(-FAR))
        for px, py in self.points:
            inside = self.rho**2 - (x - px) ** 2
            # a hair outside the disc is its tip
            half = np.sqrt(np.maximum(inside, 0))
            met = inside > -LONG(1e-12)
            low = np.where(met, np.minimum(low, py - half), low)
            high = np.where(met, np.maximum(high, py + half), high)
        for (ax, ay), (bx, by) in self.edges:
            if abs(bx - ax) < LONG(1e-12):
                continue
            share = (x - ax) / (bx - ax)
            met = (share >= 0) & (share <= 1)
            at = ay + share * (by - ay)
            low = np.where(met, np.minimum(low, at), low)
            high = np.where(met, np.maximum(high, at), high)
        upright = [edge for edge in self.edges if abs(edge[0][0] - edge[1][0]) < LONG(1e-12)]
        for (ax, ay), (_, by) in upright:
            met = np.abs(x - ax) < LONG(1e-12)
            low = np.where(met, np.minimum(low, min(ay, by)), low)
            high = np.where(met, np.maximum(high, max(ay, by)), high)
        return low, high


def openings_of(features, side, order):
    """All openings of one side: of the features, and the relief hole."""
    taper = order["rail"].taper
    found = []
    for f in features:
        if f.side != side or f.is_mark:
            continue
        plate = (f.part_name, f.face)
        if f.part_name == "liner":
            raised = f.part.lift if f.face == "web" else f.part.inset
            found.append(Opening([(x, y + raised) for x, y in f.core], f.rho, plate, f))
        elif f.panel == "TAIL_TOP":
            found.append(Opening(f.core, f.rho, plate, f, ramp=taper))
        else:
            found.append(Opening(rail_points(f), f.rho, plate, f))
    if taper is not None:
        found.append(Opening([taper.apex], taper.relief_radius, ("rail", "web")))
    return found


def whole_channel(part, depth):
    """Moments of a channel of some depth without holes, standing at the part's lift."""
    c = part.channel
    t, corner, inner = LONG(c.thickness), LONG(c.tangent), LONG(c.radius)
    low = LONG(part.lift)
    high = low + depth
    total = _plate(low + corner, high - corner, t)
    width = LONG(c.flange) - corner
    for bottom in (low, high - t):
        total = _added(total, _plate(bottom, bottom + t, width))
    area = LONG(np.pi) / 4 * (corner**2 - inner**2)
    offset = (corner**3 - inner**3) / 3
    own = LONG(np.pi) / 16 * (corner**4 - inner**4)
    for centre, way in ((low + corner, -1), (high - corner, 1)):
        ring = (area, area * centre + way * offset, own + 2 * centre * way * offset + area * centre**2)
        total = _added(total, ring)
    return total


def _plate(low, high, width):
    """Moments of a rectangle between two heights."""
    return width * (high - low), width * (high**2 - low**2) / 2, width * (high**3 - low**3) / 3


def _added(first, second):
    return tuple(a + b for a, b in zip(first, second, strict=True))


def taken(cuts, part, face, stations, depth):
    """Moments of what openings take out of one plate of a part, what they share counted once.

    cuts: (opening, slice of the stations that meet it).
    """
    c = part.channel
    t, low_z = LONG(c.thickness), LONG(part.lift)
    many = np.zeros(len(stations), dtype=int)
    for _, where in cuts:
        many[where] += 1
    lows = np.zeros((many.max(), len(stations)), dtype=LONG)
    highs, filled = np.zeros_like(lows), np.zeros(len(stations), dtype=int)
    for opening, where in cuts:
        columns = np.arange(len(stations))[where]
        flat = flat_of(part, face, depth[where])
        lows[filled[where], columns], highs[filled[where], columns] = clipped(opening, stations[where], flat)
        filled[where] += 1
    order = np.argsort(lows, axis=0, kind="stable")
    lows, highs = np.take_along_axis(lows, order, axis=0), np.take_along_axis(highs, order, axis=0)
    total = (0 * stations,) * 3
    reached = np.full(len(stations), LONG(-FAR))
    for low, high in zip(lows, highs, strict=True):
        start = np.maximum(low, reached)
        end = np.maximum(start, high)
        reached = np.maximum(reached, end)
        if face == "web":
            total = _added(total, _plate(start, end, t))
        else:
            bottom = low_z if face == "bottom" else low_z + depth - t
            total = _added(total, _plate(bottom, bottom + t, end - start))
    return total


def flat_of(part, face, depth):
    """Ends of the flat steel of a plate across: z of a web, y of a flange."""
    c = part.channel
    if face == "web":
        return part.lift + c.tangent, part.lift + depth - c.tangent
    return part.inset + c.tangent, part.inset + c.flange


def clipped(opening, stations, flat):
    """An opening's interval within the flat steel; of no length where it cuts none."""
    low, high = opening.interval(stations)
    low, high = np.clip(low, *flat), np.clip(high, *flat)
    return low, np.maximum(low, high)


def ratio(order, cuts, stations, with_liner):
    """Modulus left over whole modulus at stations; cuts: (opening, slice of the stations that meet it)."""
    net, gross = moduli(order, cuts, stations, with_liner)
    return net / gross


def moduli(order, cuts, stations, with_liner):
    """Modulus left and whole modulus at stations, mm3; cuts: (opening, slice or list of the stations that meet it)."""
    rail = order["rail"]
    depth = np.array([rail.depth_at(x) for x in stations], dtype=LONG)
    parts = [(rail, depth)]
    if with_liner:
        parts.append((order["liner"], 0 * depth + order["liner"].channel.depth))
    gross = net = (0 * depth,) * 3
    for part, own_depth in parts:
        whole = whole_channel(part, own_depth)
        gross, net = _added(gross, whole), _added(net, whole)
        for face in ("web", "top", "bottom"):
            met = [cut for cut in cuts if cut[0].plate == (part.name, face)]
            if met:
                lost = taken(met, part, face, stations, own_depth)
                net = tuple(a - b for a, b in zip(net, lost, strict=True))
    return _modulus(net, depth), _modulus(gross, depth)


def _modulus(moments, depth):
    area, first, second = moments
    axis = first / area
    return (second - first * axis) / np.maximum(axis, depth - axis)
