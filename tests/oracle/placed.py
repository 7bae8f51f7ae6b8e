"""Feet and boxes of placed components, and the owners of holes, from the library's plain dicts.

A placement is (component id, side, instance, station, direction) as the plan settles it.
"""

from __future__ import annotations

import shapely

CLASSES = ("static", "service", "motion", "tyre", "heat")
DATUM_DEPTH = {"bottom": 0.0, "middle": 0.5, "top": 1.0}
SLACK = 1e-6


class Foot:
    """One footprint of one placement on a face side of the finished rail."""

    def __init__(self, number, placement, footprint, rail):
        name, self.side, _, station, direction = placement
        self.placement, self.component = number, name
        self.face, self.surface = footprint["face"], footprint["surface"]
        self.corners = []
        for local_station, local_across in footprint["polygon"]:
            datum = {
                "bottom": 0.0,
                "middle": rail.channel.depth / 2.0,
                "top": rail.channel.depth,
                "web": 0.0,
                "edge": rail.channel.flange,
            }[footprint["datum"]]
            self.corners.append((station + direction * local_station, datum + local_across))
        self.polygon = shapely.Polygon(self.corners)
        self.front, self.rear = min(x for x, _ in self.corners), max(x for x, _ in self.corners)
        self.lowest = min(y for _, y in self.corners)
        self.station = (self.front + self.rear) / 2.0


class Box:
    """One envelope of one placement: ends (low, high) along x, across the truck from the LH web, and in z."""

    def __init__(self, number, placement, envelope, rail, frame_width):
        name, self.side, _, station, direction = placement
        self.placement, self.component = number, name
        self.clearance, self.shielded = envelope["clearance"], envelope["shielded"]
        along = [station + direction * end for end in envelope["station"]]
        lateral = list(envelope["across"])
        if self.side == "RH":
            lateral = [frame_width - end for end in lateral]
        datum = DATUM_DEPTH[envelope["datum"]] * rail.channel.depth
        upward = [datum + end for end in envelope["height"]]
        self.ends = [(min(pair), max(pair)) for pair in (along, lateral, upward)]
        self.station = (self.ends[0][0] + self.ends[0][1]) / 2.0


def feet_of(placed, order, library):
    """All feet of a serial."""
    found = []
    for number, placement in enumerate(placed):
        for footprint in library["components"][placement[0]]["footprints"]:
            found.append(Foot(number, placement, footprint, order["rail"]))
    return found


def boxes_of(placed, order, library):
    """All boxes of a serial."""
    found = []
    for number, placement in enumerate(placed):
        for envelope in library["components"][placement[0]]["envelopes"]:
            found.append(Box(number, placement, envelope, order["rail"], order["frame_width"]))
    return found


def stack(first, second, library):
    """Whether one of two components is declared to stand on the other."""
    components = library["components"]
    return second in components[first]["stacks_onto"] or first in components[second]["stacks_onto"]


def foreign(name, feature, library):
    """Whether a component neither owns a feature nor stacks with one of its owners."""
    return all(name != owner and not stack(name, owner, library) for owner in feature.owners)


def head_surface(feature, library):
    """The face side that the first owner of a feature puts the head on."""
    return library["components"][feature.hole.split(".")[0]]["head"]


def ply_thickness(components, surface, library):
    """Thickness that components put on one face side, in sum."""
    total = 0.0
    for name in set(components):
        for thickness, side in library["components"][name]["plies"]:
            if side == surface:
                total += thickness
    return total


def rail_points(feature):
    """Core of a feature of the rail in (station, across) of the finished part; a ramp is seen from above."""
    if feature.panel == "TAIL_TOP":
        cos = feature.part.taper.cos
        middle = feature.part.taper.along_ramp(feature.station)
        return [(feature.station + (x - middle) * cos, y) for x, y in feature.core]
    return feature.finished


def core_shape(feature):
    """The same as a shapely point, line or polygon."""
    points = rail_points(feature)
    if len(points) == 1:
        return shapely.Point(points[0])
    return shapely.LineString(points) if len(points) == 2 else shapely.Polygon(points)


def station_reach(feature):
    """Half of what the core takes along the finished rail, and the same of the whole shape."""
    values = [x for x, _ in rail_points(feature)]
    core = (max(values) - min(values)) / 2.0
    squeezed = feature.part.taper.cos if feature.panel == "TAIL_TOP" else 1.0
    return core, core + feature.rho * squeezed


def across_reach(feature):
    """Half of what the core takes across its face, as it lies in the blank."""
    values = [y for _, y in feature.blank]
    return (max(values) - min(values)) / 2.0


def lined_holes(features):
    """What passes through the liner, as (side, face, hole)."""
    return {(f.side, f.face, f.hole) for f in features if f.part_name == "liner"}


def on_liner(foot, liner):
    """Whether a foot's panel is where the liner stands, whatever its stations: the web, or not past its flange."""
    return foot.face == "web" or foot.lowest < liner.inset + liner.channel.flange - SLACK
