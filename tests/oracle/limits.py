"""The limit that holds: rows of the order's set and zones, one by one."""

from __future__ import annotations

TOLERANCE = 1e-6
LEAST = {
    ("edge-distance", "edge"),
    ("edge-distance", "rail-end"),
    ("hole-spacing", "centre"),
    ("hole-spacing", "ligament"),
    ("bend-clearance", "tangent"),
    ("bend-clearance", "flange-inside"),
    ("washer-seat", "tangent"),
    ("washer-seat", "edge"),
    ("washer-seat", "washer"),
    ("hole-size", "least"),
    ("duplicate-hole", "pair"),
    ("size-conflict", "pair"),
    ("taper-shape", "relief"),
    ("taper-shape", "seam-bend"),
    ("wrench-access", "radial"),
    ("wrench-access", "nut-length"),
    ("wrench-access", "head-length"),
    ("net-section", "rail"),
    ("net-section", "with-liner"),
    ("weld-clearance", "hole"),
    ("weld-clearance", "stud-hole"),
    ("weld-clearance", "stud-tangent"),
    ("liner-edge", "hole"),
    ("liner-edge", "washer"),
    ("footprint-clash", "feet"),
    ("footprint-clash", "tangent"),
    ("footprint-clash", "washer"),
    ("footprint-clash", "end"),
    ("space-clash", "static"),
    ("space-clash", "service"),
    ("space-clash", "motion"),
    ("space-clash", "tyre"),
    ("space-clash", "heat"),
    ("press-limit", "clamp"),
    ("grip", "bolt-diameters"),
}
"""Measures whose value must not be less than the limit; of all others it must not be more."""


def rows_of_set(name, sets):
    """Rows of a set: a measure that it lists itself replaces all inherited rows of that measure."""
    inherited = rows_of_set(sets[name]["inherits"], sets) if sets[name]["inherits"] else []
    own = {(row["rule"], row["measure"]) for row in sets[name]["rows"]}
    return [row for row in inherited if (row["rule"], row["measure"]) not in own] + sets[name]["rows"]


class Limits:
    """The limits of one order."""

    def __init__(self, order, library):
        self.order = order
        self.set_rows = {}
        for row in rows_of_set(order["limit_set"], library["limits"]):
            self.set_rows.setdefault((row["rule"], row["measure"]), []).append(row)
        self.known = {}

    def rows_at(self, rule, measure, station):
        """Rows of a measure at a station, whatever their ``when``: the order zones' replace the set's."""
        key = (rule, measure)
        replaced = []
        for zone in self.order["order_zones"]:
            if zone["from"] - 1e-9 <= station <= zone["to"] + 1e-9:
                replaced += [row for row in zone["rows"] if (row["rule"], row["measure"]) == key]
        return replaced if replaced else self.set_rows.get(key, [])

    def at(self, rule, measure, place, counted=None):
        """(error, warning) at a place: the strictest of the rows that apply, None where no row gives one.

        counted: take only the rows that count holes so.
        """
        held = self.held_at(rule, measure, place, counted)
        return tuple(None if figure is None else figure[0] for figure in held)

    def held_at(self, rule, measure, place, counted=None):
        """As ``at``, each figure with the row that it is from."""
        errors, warnings = [], []
        for row in self.rows_at(rule, measure, place["station"]):
            if not self.applies(row, place) or counted not in (None, row["counted"]):
                continue
            error, warning = _figures(row, place)
            if error is not None:
                errors.append((error, row))
            if warning is not None:
                warnings.append((warning, row))
        strictest = max if (rule, measure) in LEAST else min
        return tuple(strictest(given, key=lambda held: held[0]) if given else None for given in (errors, warnings))

    def applies(self, row, place):
        """Whether every condition of a row is met."""
        for name, condition in row["when"].items():
            if name == "zone":
                start, end = self.order["zones"].get(condition, (1.0, 0.0))
                if not start - 1e-9 <= place["station"] <= end + 1e-9:
                    return False
            elif name in ("direction", "shielded"):
                if place.get(name) != condition:
                    return False
            elif not _in_range(place.get(name), condition):
                return False
        return True

    def of_feature(self, rule, measure, feature, direction=None, counted=None):
        """(error, warning) for a feature at its own station and of its own size."""
        key = (rule, measure, direction, counted, id(feature))
        if key not in self.known:
            self.known[key] = self.at(rule, measure, self.place_of(feature, direction), counted)
        return self.known[key]

    def of_pair(self, rule, measure, first, second, direction=None):
        """(error, warning) for a pair: the stricter of the two."""
        a = self.of_feature(rule, measure, first, direction)
        b = self.of_feature(rule, measure, second, direction)
        return stricter(rule, measure, [a, b])

    def place_of(self, feature, direction=None):
        """What conditions and multiplied figures are taken from, for a feature."""
        place = self.place_on(feature.part, feature.station)
        place.update(hole=feature.d, bolt=feature.bolt, direction=direction)
        return place

    def place_on(self, part, station):
        """The same for a station of a part, without a feature."""
        liner = self.order["liner"]
        return {
            "station": station,
            "thickness": part.channel.thickness,
            "liner t": liner.channel.thickness if liner else None,
            "tensile": part.band["tensile"],
            "depth": part.depth_at(station),
            "hole": None,
            "bolt": None,
            "direction": None,
        }

    def place_beside(self, part, station):
        """The same for what has no hole, but is held at a station: hole and bolt are nothing."""
        return self.place_on(part, station) | {"hole": 0.0, "bolt": 0.0}


def stricter(rule, measure, limits):
    """(error, warning): of several such pairs the strictest of each."""
    strictest = max if (rule, measure) in LEAST else min
    both = []
    for figures in zip(*limits, strict=True):
        given = [limit for limit in figures if limit is not None]
        both.append(strictest(given) if given else None)
    return tuple(both)


def _in_range(value, condition):
    if value is None:
        return False
    if "least" in condition and value < condition["least"] - 1e-9:
        return False
    if "most" in condition and value > condition["most"] + 1e-9:
        return False
    if "above" in condition and value <= condition["above"] + 1e-9:
        return False
    return not ("below" in condition and value >= condition["below"] - 1e-9)


def _figures(row, place):
    """(error, warning) of a row in the measure's own unit."""
    multiplied = {"t": "thickness"}.get(row["of"], row["of"])
    if row["table"]:
        for size, value in row["table"]:
            if size >= place[multiplied] - 1e-9:
                return value, None
        return None, None
    factor = 1.0
    if multiplied is not None:
        factor = place[multiplied]
        if factor is None:
            return None, None
    error = row["error"] * factor if row["error"] is not None else None
    warning = row["warning"] * factor if row["warning"] is not None else None
    return error, warning


def broken(rule, measure, value, limits):
    """(severity, limit broken), or None where the value is within both limits."""
    for severity, limit in zip(("error", "warning"), limits, strict=True):
        if limit is None:
            continue
        short = limit - value if (rule, measure) in LEAST else value - limit
        if short > TOLERANCE:
            return severity, limit
    return None
