"""The rule of rated joints: each load shared by its bolts, and every way in which bolt, steel or clamp may give.

Forces N, lengths mm, stresses MPa. Bolts and bearing EN 1993-1-8 table 3.4, slip 3.9, tear-out AISC 360 J3.10.
"""

from __future__ import annotations

import math

from .bolt_groups import cross, dot, length, minus, shared
from .grip_rules import Clamped, screws_of, shank, standard_length, washers
from .pair_rules import COINCIDENT, TOLERANCE
from .placed import Foot, head_surface, lined_holes
from .rules import edge_clearance, hold

OUTWARD = {"web": [0.0, -1.0, 0.0], "top": [0.0, 0.0, 1.0], "bottom": [0.0, 0.0, -1.0]}
BOLT_SAFETY, SLIP_SAFETY, TEAR_OUT = 1.25, 1.1, 0.75
YOUNG = 210000.0
NEXT_TO_NOTHING = 1e-3
SAME_PLACE = 0.01


def joint(placed, features, order, limits, library):
    """The greatest utilisation of each hole of a rated joint, of all loads and owners."""
    greatest, of_hole = {}, {}
    lined = lined_holes(features)
    for placement in placed:
        component = library["components"][placement[0]]
        bolts = _bolts(placement, features, component)
        for load in component["loads"] if bolts else ():
            for bolt in _loaded(placement, bolts, load, order, component):
                value = _utilisation(bolt, features, lined, order, library)
                key = (bolt.f.side, bolt.f.hole)
                of_hole[key] = bolt.f
                greatest[key] = max(value, greatest.get(key, 0.0))
    found = []
    for key, value in greatest.items():
        hold(found, limits, "joint", "utilisation", of_hole[key], value, "ratio")
    return found


def _bolts(placement, features, component):
    """The screws of one placed component, those that it shares under another one's name among them."""
    name, side, instance, station, direction = placement
    found = []
    for f in screws_of(features):
        if f.side != side or name not in f.owners:
            continue
        owner, number, _ = f.hole.split(".")
        if owner == name:
            is_own = int(number) == instance
        else:
            away = [abs(f.station - station - direction * at) for face, at in component["places"] if face == f.face]
            is_own = min(away) <= SAME_PLACE + 1e-6
        if is_own:
            found.append(f)
    return found


class Bolt:
    """A bolt under a load: shear with its direction in the face, tension, and on which surfaces the part lies."""

    def __init__(self, f, surfaces, order):
        self.f, self.surfaces = f, surfaces
        rail = order["rail"]
        deep = rail.channel.thickness if surfaces == {"inside"} else 0.0
        if f.face == "web":
            self.position = [f.station, deep, f.across]
        elif f.face == "top":
            self.position = [f.station, f.across, rail.depth_at(f.station) - deep]
        else:
            self.position = [f.station, f.across, deep]

    def take(self, force):
        """Take the part's force on the bolt."""
        outward = dot(force, OUTWARD[self.f.face])
        if self.surfaces == {"outside", "inside"}:
            outward = abs(outward)
        elif self.surfaces == {"inside"}:
            outward = -outward
        self.tension = max(0.0, outward)
        in_face = (force[0], force[2] if self.f.face == "web" else force[1])
        self.shear = math.hypot(*in_face)
        self.way = (in_face[0] / self.shear, in_face[1] / self.shear) if self.shear > 0.0 else (1.0, 0.0)


def _loaded(placement, features, load, order, component):
    """The bolts of a placed component under one of its loads."""
    bolts = [Bolt(f, _surfaces(component, f.face), order) for f in features]
    x, y, z = load["point"]
    point = [placement[3] + placement[4] * x, y, z]
    forces, left = shared([bolt.position for bolt in bolts], load["vector"], point)
    for bolt, force in zip(bolts, forces, strict=True):
        bolt.take(force)
    if length(left) >= 1e-6:
        middle = [sum(bolt.position[axis] for bolt in bolts) / len(bolts) for axis in range(3)]
        for bolt in bolts:
            _lean(bolt, len(bolts), middle, left, placement, order, component)
    return bolts


def _surfaces(component, face):
    """The surfaces of a face on which a part lies: by its feet there, else by its plies, else outside."""
    feet = {foot["surface"] for foot in component["footprints"] if foot["face"] == face}
    return feet or {surface for _, surface in component["plies"]} or {"outside"}


def _lean(bolt, count, middle, left, placement, order, component):
    """A bolt's share of a moment that the bolts have no arms for: held by the edge of the foot, or by its washer."""
    normal = OUTWARD[bolt.f.face]
    about_normal = dot(left, normal)
    tilt = [left[i] - about_normal * normal[i] for i in range(3)]
    size = length(tilt)
    if size > 1e-6:
        toward = cross(normal, [part / size for part in tilt])
        arm = max(_to_foots_edge(bolt.f, middle, toward, placement, order, component), bolt.f.washer_radius)
        bolt.tension += size / (arm * count)
    washers_middle = (bolt.f.washer_radius + bolt.f.fastener_diameter / 2.0) / 2.0
    bolt.shear += abs(about_normal) / (washers_middle * count)


def _to_foots_edge(f, middle, toward, placement, order, component):
    """From the bolts' middle to the nearer of a foot's two edges, to and fro in a direction; 0 without a foot."""
    reaches = []
    for entry in component["footprints"]:
        if entry["face"] != f.face:
            continue
        for x, across in Foot(0, placement, entry, order["rail"]).corners:
            corner = [x, 0.0, across] if f.face == "web" else [x, across, 0.0]
            reaches.append(dot(minus(corner, middle), toward))
    if not reaches:
        return 0.0
    return max(0.0, min(max(reaches), -min(reaches)))


def _utilisation(bolt, features, lined, order, library):
    """The greatest of shear, tension, both together, bearing, tear-out and slip."""
    f, fastener = bolt.f, library["fasteners"][bolt.f.fastener]
    clamped = Clamped(f, lined, order, library)
    planes = len(bolt.surfaces)
    factor, area = 0.6, math.pi / 4.0 * fastener["diameter"] ** 2
    if _thread_is_sheared(bolt, clamped, fastener, library):
        factor, area = 0.5, fastener["stress_area"]
    shear = bolt.shear / (planes * factor * fastener["tensile"] * area / BOLT_SAFETY)
    head = 0.63 if f.is_flush else 0.9
    tension = bolt.tension / (head * fastener["tensile"] * fastener["stress_area"] / BOLT_SAFETY)
    bearing, torn = _steel(bolt, fastener, features, order)
    needed = bolt.shear * SLIP_SAFETY / (library["coating"]["friction"] * planes) + 0.8 * bolt.tension
    slip = needed / max(1.0, _clamp_left(clamped, fastener, library))
    return max(shear, tension, shear + tension / 1.4, bearing, torn, slip)


def _thread_is_sheared(bolt, clamped, fastener, library):
    """Whether thread lies in the deepest plane in which the part shears the screw. A flush screw is thread all along.

    On the head's side the plane lies under the plies there, on the nut's side beyond the steel.
    """
    standard = standard_length(bolt.f, clamped, library)
    if bolt.f.is_flush or standard is None:
        return True
    head = head_surface(bolt.f, library)
    plane = fastener["washer_thickness"] + clamped.on[head]
    if bolt.surfaces != {head}:
        plane += clamped.steel
    return plane > shank(fastener, standard)


def _clamp_left(clamped, fastener, library):
    """Clamp less what is lost when both faces of every ply settle, as VDI 2230 has it, the plies rigid."""
    settled = clamped.count * 2 * library["coating"]["settling"]
    d = fastener["diameter"]
    stretched = clamped.grip + washers(fastener) + d
    return max(0.0, fastener["clamp"] - settled * YOUNG * math.pi / 4.0 * d**2 / stretched)


def _steel(bolt, fastener, features, order):
    """Utilisation of the rail's steel at a hole in bearing and in tear-out."""
    f, rail = bolt.f, order["rail"]
    t, tensile = rail.channel.thickness, rail.band["tensile"]
    end, edge = _edges(f, bolt.way)
    pitch, gauge, clear = _neighbours(f, bolt.way, features)
    along = min(end / (3.0 * f.d), pitch / (3.0 * f.d) - 0.25, fastener["tensile"] / tensile, 1.0)
    across = min(2.8 * edge / f.d - 1.7, 1.4 * gauge / f.d - 1.7, 2.5)
    factor = max(along, NEXT_TO_NOTHING) * max(across, NEXT_TO_NOTHING)
    bearing = factor * tensile * fastener["diameter"] * t / BOLT_SAFETY
    clear = max(NEXT_TO_NOTHING, min(clear, end - f.d / 2.0))
    return bolt.shear / bearing, bolt.shear / (TEAR_OUT * 1.2 * clear * t * tensile)


def _edges(f, way):
    """To the free edge ahead of a force, and to the nearer one aside of it, from the middle of a hole's end radius.

    All in the panel's plane. What is not straight along the panel (a taper's cuts, the strip's slanted end) counts
    both ahead and aside where nothing straight is nearer.
    """
    straight = [] if f.panel == "TAIL_WEB" else f.part.free_edges(f.panel)
    inside = f.rho - f.d / 2.0
    end = _ray(f, straight, way) - inside
    aside = min(_ray(f, straight, (-way[1], way[0])), _ray(f, straight, (way[1], -way[0]))) - inside
    nearest = edge_clearance(f)
    to_straight = min((_distance_to(f, line) for line in straight), default=math.inf)
    if nearest < to_straight - 1e-6:
        end, aside = min(end, nearest - inside), min(aside, nearest - inside)
    return end, aside


def _distance_to(f, line):
    (px, py), (nx, ny) = line[1], line[2]
    return min((x - px) * nx + (y - py) * ny for x, y in f.core)


def _ray(f, lines, way):
    """From a core along a direction to the first of some lines."""
    least = math.inf
    for line in lines:
        closing = -(way[0] * line[2][0] + way[1] * line[2][1])
        if closing > 1e-12:
            least = min(least, _distance_to(f, line) / closing)
    return least


def _neighbours(f, way, features):
    """Nearest centres along a force and aside of it, and the least steel left ahead of it."""
    pitch = gauge = clear = math.inf
    x, y = f.part.flat(f.panel, f.station, f.across)
    for other in features:
        if other.is_mark or (other.side, other.part_name, other.panel) != (f.side, "rail", f.panel):
            continue
        ox, oy = other.part.flat(other.panel, other.station, other.across)
        apart = math.hypot(ox - x, oy - y)
        if apart < COINCIDENT - TOLERANCE:
            continue  # one hole twice
        ahead = ((ox - x) * way[0] + (oy - y) * way[1]) / apart
        if abs(ahead) < math.cos(math.pi / 4.0) - 1e-12:
            gauge = min(gauge, apart)
            continue
        pitch = min(pitch, apart)
        if ahead > 0.0:
            taken = max(f.d, f.length) / 2.0 + max(other.d, other.length) / 2.0
            clear = min(clear, apart - taken)
    return pitch, gauge, clear
