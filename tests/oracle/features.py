"""The rows of a holes.csv as features with everything that the rules ask of them."""

from __future__ import annotations

import csv
import io
import math

from .geometry import core_of

FACES = ("web", "top", "bottom")


class Feature:
    """A row of holes.csv: ``core`` in its panel's plane, ``blank`` in (u, v), both inflated by ``rho``."""

    def __init__(self, row, order, library):
        self.side, self.part_name, self.hole = row["side"], row["part"], row["hole"]
        self.face, self.shape = row["face"], row["shape"]
        self.station, self.across = float(row["station_mm"]), float(row["across_mm"])
        self.d = float(row["diameter_mm"]) if row["diameter_mm"] else 0.0
        self.length = float(row["length_mm"]) if row["length_mm"] else 0.0
        self.angle = float(row["angle_deg"]) if row["angle_deg"] else 0.0
        self.owners = row["components"].split(";")
        self.fastener, self.operation, self.tool = row["fastener"], row["operation"], row["tool"]
        self.part = order[self.part_name]
        self.written_blank = (float(row["blank_x_mm"]), float(row["blank_y_mm"]))
        self.is_mark = self.shape == "mark"
        self._place(library)
        self._describe(library)

    def _place(self, library):
        part, taper = self.part, self.part.taper
        self.panel = part.panel(self.face, self.station, self.across)
        centre = part.flat(self.panel, self.station, self.across)
        angle = self.angle
        if self.panel == "TAIL_WEB":
            angle += math.degrees(taper.alpha)
        points, self.rho = core_of(self.shape, self.d, self.length, angle, self._corner_radius(library))
        self.core = [(centre[0] + x, centre[1] + y) for x, y in points]
        self.blank = [part.blank(self.panel, point) for point in self.core]
        self.centre = part.blank(self.panel, centre)
        self.finished = self.core
        if self.panel == "TAIL_WEB":
            self.finished = [taper.turn_down(point) for point in self.core]

    def _corner_radius(self, library):
        if self.shape != "rectangle":
            return 0.0
        component, _, name = self.hole.split(".")
        given = library["components"][component]["corner_radii"].get(name, 0.0)
        return min(max(0.5 * self.part.channel.thickness, 3.0, given), min(self.d, self.length) / 2.0)

    def _describe(self, library):
        fastener = library["fasteners"].get(self.fastener)
        self.has_fastener = fastener is not None
        self.is_flush = fastener is not None and fastener["kind"] == "flush screw"
        self.fastener_diameter = fastener["diameter"] if fastener is not None else None
        self.washer_radius = self.socket_radius = None
        if fastener is not None and fastener["washer"] is not None:
            self.washer_radius = fastener["washer"] / 2.0
        if fastener is not None and fastener["socket"] is not None:
            self.socket_radius = fastener["socket"] / 2.0
        self.bolt = None if self.is_mark else bolt_of(self.d, fastener, library["fasteners"])

    @property
    def order_key(self):
        """Order of the two features of a pair."""
        return (FACES.index(self.face), self.station, self.across, self.hole)

    def half_extent(self, axis):
        """Half the feature's extent along the blank's u (0) or v (1)."""
        values = [point[axis] for point in self.blank]
        return (max(values) - min(values)) / 2.0 + self.rho


def bolt_of(d, fastener, fasteners):
    """Bolt diameter of a hole: its fastener's, else that of the largest screw that it takes, else its own."""
    if fastener is not None:
        return fastener["diameter"]
    screws = [screw for screw in fasteners.values() if screw["kind"] != "stud"]
    if d > max(screw["coarse"] for screw in screws) + 1e-9:
        return d
    fitting = [screw["diameter"] for screw in screws if screw["fine"] <= d + 1e-9]
    return max(fitting) if fitting else d


def read_features(text, order, library):
    """All rows of a holes.csv."""
    return [Feature(row, order, library) for row in csv.DictReader(io.StringIO(text))]


def blank_differences(features):
    """Rows whose blank coordinates differ from this reading of the geometry by over 1e-6 mm, in words."""
    lines = []
    for f in features:
        u, v = f.centre
        if f.side == "RH":
            u = f.part.blank_length() - u
        dx, dy = f.written_blank[0] - u, f.written_blank[1] - v
        if abs(dx) > 1e-6 or abs(dy) > 1e-6:
            place = f"{f.side} {f.part_name} {f.hole} on {f.panel}"
            lines.append(f"{place}: written off by ({dx:.9f}, {dy:.9f}) mm")
    return lines
