"""The rail's geometry in floats: channel, tail taper, and distances between points, segments and polygons.

Points are (x, y) tuples. A half plane is (kind, point on its line, unit normal toward the steel).
"""

from __future__ import annotations

import math

FAR = 1e5
"""mm, further than anything in a rail."""


class Channel:
    """A channel section: sizes in mm, the developed width and where its points lie in the blank."""

    def __init__(self, section):
        self.depth = section["depth"]
        self.flange = section["flange"]
        self.thickness = section["thickness"]
        self.radius = section["radius"]
        self.tangent = self.radius + self.thickness
        neutral = section["neutral_line"]
        if neutral is None:
            neutral = _din_6935(self.radius / self.thickness) / 2.0
        self.allowance = math.pi / 2.0 * (self.radius + neutral * self.thickness)
        flats = 2.0 * (self.flange - self.tangent) + self.depth - 2.0 * self.tangent
        self.developed = flats + 2.0 * self.allowance

    def blank_height(self, face, across):
        """v of a point at height z (web) or y (flange) of this section's own."""
        if face == "web":
            return (self.flange - self.tangent) + self.allowance + (across - self.tangent)
        if face == "bottom":
            return self.flange - across
        return self.developed - (self.flange - across)


def _din_6935(ratio):
    """k of DIN 6935; the neutral line lies k t / 2 from the inside."""
    if ratio > 5.0:
        return 1.0
    if ratio <= 0.0:
        return 0.0
    return max(0.0, 0.65 + 0.5 * math.log10(ratio))


class Taper:
    """A tail taper.

    Finished points are (x, z) of the rail; turned points those with the upper panel turned up straight.
    """

    def __init__(self, channel, rear, given):
        self.start = given["start"]
        self.rear = rear
        self.slit = channel.depth - given["slit_depth"]
        self.root_gap = given["root_gap"]
        self.trim = given["trim"]
        self.relief_radius = given["relief_diameter"] / 2.0
        self.slope = (channel.depth - given["end_depth"]) / (rear - self.start)
        self.alpha = math.atan(self.slope)
        self.cos, self.sin = math.cos(self.alpha), math.sin(self.alpha)
        self.h = given["slit_depth"] - channel.thickness / 2.0
        self.upset = self.h * math.tan(self.alpha / 2.0)
        self.fold_half_width = max(self.upset, 2.0 * channel.thickness)
        self.hinge = (self.start, channel.depth - channel.thickness / 2.0)
        self.apex = (self.start - self.upset, self.slit)
        self.turned_apex = (self.start + self.upset, self.slit)
        half = self.alpha / 2.0
        self.behind = (math.cos(half), -math.sin(half))  # normal of the bisector, to the rear, finished
        self.turned_behind = (math.cos(half), math.sin(half))
        self.upward = (math.sin(half), math.cos(half))  # along the bisector, finished
        self.above_seam = (self.sin, self.cos)  # normal of the seam, up, finished
        self.rearward = (self.cos, -self.sin)  # along the seam, finished
        drop = self.root_gap
        self.cut_start = (self.apex[0] - drop * self.sin, self.apex[1] - drop * self.cos)

    def turn_up(self, point):
        """A finished point of the upper panel as it lies in the straight position."""
        x, z = point[0] - self.hinge[0], point[1] - self.hinge[1]
        return (self.hinge[0] + x * self.cos - z * self.sin, self.hinge[1] + x * self.sin + z * self.cos)

    def turn_down(self, point):
        """A point of the upper panel in the straight position as it lies in the finished part."""
        x, z = point[0] - self.hinge[0], point[1] - self.hinge[1]
        return (self.hinge[0] + x * self.cos + z * self.sin, self.hinge[1] - x * self.sin + z * self.cos)

    def along_ramp(self, station):
        """Straight position of a station on the sloped flange, at mid-thickness."""
        return self.start + (station - self.start) / self.cos

    def is_tail(self, point):
        """Whether a finished web point belongs to the upper panel: behind the bisector and above the seam."""
        past = _dot(_minus(point, self.hinge), self.behind) > 0.0
        return past and _dot(_minus(point, self.apex), self.above_seam) > 0.0

    def wedge_region(self):
        """What is no web, as a large polygon: behind the front of the upset steel and above the lower cut."""
        # the corner lies where the cut line meets the line parallel to the bisector, `upset` ahead of it
        offset = _dot(_minus(self.cut_start, self.hinge), self.behind) + self.upset
        along = -offset / _dot(self.rearward, self.behind)
        corner = _plus(self.cut_start, self.rearward, along)
        rear = _plus(corner, self.rearward, FAR)
        return [corner, rear, _plus(rear, self.upward, FAR), _plus(corner, self.upward, FAR)]

    def lower_cut(self):
        """The lower web's cut edge, finished: from where it leaves the relief hole to the rear end."""
        first = math.sqrt(self.relief_radius**2 - self.root_gap**2)
        run = (self.rear - self.cut_start[0]) / self.cos
        return [_plus(self.cut_start, self.rearward, first), _plus(self.cut_start, self.rearward, run)]

    def seam(self):
        """The web strip's edge in the straight position: from the apex to the rear end."""
        reach = (self.rear - self.start + self.h * self.sin) / self.cos
        return [self.turned_apex, (self.start + reach, self.slit)]

    def longest(self):
        """Straight station of the upper panel's rearmost point: the strip's lower corner at the rear end."""
        return self.seam()[1][0]


class Part:
    """A rail or liner: its section, its ends, and where its section's origin lies in the rail's z and y."""

    def __init__(self, name, channel, front, rear, lift, inset, taper, band):
        self.name = name
        self.channel = channel
        self.front = front
        self.rear = rear
        self.lift = lift
        self.inset = inset
        self.taper = taper
        self.band = band

    def panel(self, face, station, across):
        """Panel of a feature by its centre."""
        if face == "web":
            return "TAIL_WEB" if self.taper and self.taper.is_tail((station, across)) else "WEB"
        if face == "top":
            return "TAIL_TOP" if self.taper and station > self.taper.start else "TOP"
        return "BOTTOM"

    def flat(self, panel, station, across):
        """Centre in the panel's plane, the upper panel turned up: (straight station, section z or y)."""
        if panel == "TAIL_WEB":
            return self.taper.turn_up((station, across))
        if panel == "TAIL_TOP":
            return (self.taper.along_ramp(station), across)
        return (station, across - (self.lift if panel == "WEB" else self.inset))

    def blank(self, panel, flat):
        """(u, v) of a point of a panel's plane; u is 0 at the part's front end."""
        face = {"WEB": "web", "TAIL_WEB": "web", "BOTTOM": "bottom"}.get(panel, "top")
        return (flat[0] - self.front, self.channel.blank_height(face, flat[1]))

    def blank_length(self):
        """Length of the blank, trim included."""
        if self.taper is None:
            return self.rear - self.front
        return max(self.rear, self.taper.longest()) - self.front + self.taper.trim

    def depth_at(self, station):
        """Local depth at a station."""
        if self.taper and station > self.taper.start:
            return self.channel.depth - (station - self.taper.start) * self.taper.slope
        return self.channel.depth

    def tangents(self, panel):
        """Tangents of the bends that bound a panel, in its plane; the fold is one."""
        c, t = self.channel, self.taper
        if panel == "WEB":
            return [("bend", (0.0, c.tangent), (0.0, 1.0)), ("bend", (0.0, c.depth - c.tangent), (0.0, -1.0))]
        if panel == "TAIL_WEB":
            return [("bend", (0.0, c.depth - c.tangent), (0.0, -1.0))]
        lines = [("bend", (0.0, c.tangent), (0.0, 1.0))]
        if panel == "TOP" and t:
            lines.append(("fold", (t.start - t.fold_half_width, 0.0), (-1.0, 0.0)))
        if panel == "TAIL_TOP":
            lines.append(("fold", (t.start + t.fold_half_width, 0.0), (1.0, 0.0)))
        return lines

    def ends(self, panel):
        """The part's ends that bound a panel, in its plane."""
        t = self.taper
        front = ("end", (self.front, 0.0), (1.0, 0.0))
        if panel == "TAIL_TOP":
            return [("end", (t.along_ramp(self.rear), 0.0), (-1.0, 0.0))]
        if panel == "TAIL_WEB":
            return [("end", t.turn_up((self.rear, t.hinge[1])), (-t.cos, -t.sin))]
        if panel == "TOP" and t:
            return [front]
        return [front, ("end", (self.rear, 0.0), (-1.0, 0.0))]

    def free_edges(self, panel):
        """Ends and, of a flange, the free edge, as half planes."""
        if panel in ("WEB", "TAIL_WEB"):
            return self.ends(panel)
        return [*self.ends(panel), ("edge", (0.0, self.channel.flange), (0.0, -1.0))]

    def cut_clearances(self, panel, core):
        """Distances of a core to the taper's cuts: the seam's edge of its own side and the relief hole."""
        t = self.taper
        if t is None or panel not in ("WEB", "TAIL_WEB"):
            return []
        edge, apex = (t.lower_cut(), t.apex) if panel == "WEB" else (t.seam(), t.turned_apex)
        return [distance(core, edge), distance(core, [apex]) - t.relief_radius]


def core_of(shape, width, length, angle, corner_radius):
    """Points of a core about the origin with its long axis along ``angle`` degrees, and its radius rho."""
    if shape == "mark":
        return [(0.0, 0.0)], 0.0
    if shape == "round":
        return [(0.0, 0.0)], width / 2.0
    along = (math.cos(math.radians(angle)), math.sin(math.radians(angle)))
    across = (-along[1], along[0])
    if shape == "slot":
        reach = (length - width) / 2.0
        return [_plus((0.0, 0.0), along, -reach), _plus((0.0, 0.0), along, reach)], width / 2.0
    a, b = length / 2.0 - corner_radius, width / 2.0 - corner_radius
    if b <= 1e-12:  # rounded to a slot, or to a round hole: no polygon is left
        ends = [_plus((0.0, 0.0), along, -a), _plus((0.0, 0.0), along, a)]
        return ends if a > 1e-12 else [(0.0, 0.0)], corner_radius
    corners = []
    for sign_a, sign_b in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        corners.append(_plus(_plus((0.0, 0.0), along, sign_a * a), across, sign_b * b))
    return corners, corner_radius


def signed(line, point):
    """Signed distance of a point to the line of a half plane, positive on the steel side."""
    return _dot(_minus(point, line[1]), line[2])


def least_signed(lines, core):
    """The least signed distance of any point of a core to any of the lines."""
    return min(signed(line, point) for line in lines for point in core)


def distance(first, second):
    """Distance of two convex shapes, 0 if they meet: 1 point, 2 ends of a segment or a polygon's corners."""
    if len(first) == 1 and len(second) == 1:
        return math.hypot(first[0][0] - second[0][0], first[0][1] - second[0][1])
    if _inside(first[0], second) or _inside(second[0], first):
        return 0.0
    for edge in _edges(first):
        for other in _edges(second):
            if _cross_each_other(edge, other):
                return 0.0
    least = math.inf
    for point in first:
        for edge in _edges(second):
            least = min(least, _point_to_segment(point, edge))
    for point in second:
        for edge in _edges(first):
            least = min(least, _point_to_segment(point, edge))
    return least


def depth(point, polygon):
    """How deep a point lies in a polygon, 0 where it lies outside."""
    if not _inside(point, polygon):
        return 0.0
    return min(_point_to_segment(point, edge) for edge in _edges(polygon))


def least_between(points, others):
    """The least distance between the points of two lists."""
    return min(math.hypot(p[0] - q[0], p[1] - q[1]) for p in points for q in others)


def _edges(shape):
    if len(shape) == 1:
        return [(shape[0], shape[0])]
    if len(shape) == 2:
        return [(shape[0], shape[1])]
    return [(shape[i], shape[(i + 1) % len(shape)]) for i in range(len(shape))]


def _inside(point, polygon):
    """Whether a point lies in a convex polygon; points and segments hold nothing."""
    if len(polygon) < 3:
        return False
    turns = [_turn(a, b, point) for a, b in _edges(polygon)]
    return all(turn >= 0.0 for turn in turns) or all(turn <= 0.0 for turn in turns)


def _cross_each_other(first, second):
    a, b = first
    c, d = second
    return _turn(a, b, c) * _turn(a, b, d) < 0.0 and _turn(c, d, a) * _turn(c, d, b) < 0.0


def _point_to_segment(point, segment):
    a, b = segment
    run = _minus(b, a)
    length_2 = _dot(run, run)
    share = 0.0 if length_2 == 0.0 else max(0.0, min(1.0, _dot(_minus(point, a), run) / length_2))
    nearest = _plus(a, run, share)
    return math.hypot(point[0] - nearest[0], point[1] - nearest[1])


def _turn(a, b, c):
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _minus(a, b):
    return (a[0] - b[0], a[1] - b[1])


def _plus(a, direction, length):
    return (a[0] + direction[0] * length, a[1] + direction[1] * length)


def _dot(a, b):
    return a[0] * b[0] + a[1] * b[1]
