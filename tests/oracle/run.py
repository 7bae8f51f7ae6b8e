"""All findings of one serial from its hole table, its order and the library."""

from __future__ import annotations

from types import MappingProxyType

from .bending_rules import bending
from .features import blank_differences, read_features
from .feet_rules import footprint_clash
from .grip_rules import grip
from .joint_rules import joint
from .library import read_library
from .limits import Limits
from .net_rules import net_section
from .order import resolve
from .pair_rules import pair_match, pairs
from .press_rules import press_limit, ramp_flush
from .rail_rules import flange_count, liner_fit, option_rule, taper_shape
from .rules import bend_clearance, edge_distance, flange_hole, hole_size, off_rail, washer_seat
from .space_rules import space_clash
from .weld_rules import holes_in_line, liner_edge, weld_clearance
from .wrench_rules import wrench_access

RULES = (
    "off-rail",
    "edge-distance",
    "hole-spacing",
    "bend-clearance",
    "washer-seat",
    "flange-hole",
    "hole-size",
    "duplicate-hole",
    "size-conflict",
    "option-rule",
    "pair-match",
    "taper-shape",
    "liner-fit",
    "footprint-clash",
    "space-clash",
    "wrench-access",
    "weld-clearance",
    "liner-edge",
    "holes-in-line",
    "net-section",
    "ramp-flush",
    "press-limit",
    "grip",
    "joint",
    "bending",
)
"""The rules that are computed here."""


NOTHING = MappingProxyType({})


def findings(holes_csv_text, order, library_folder, limit_set=None, placed=(), strung=NOTHING, between=NOTHING):
    """Findings as a list of dicts with the keys of findings.json, message, source and remedy left out.

    order: path of a TOML file, its text, or the dict read from it; library_folder: a path, or what
    ``read_library`` made of it; limit_set: stands before the order's own; placed: what stands where, as tuples
    (component, side, instance, station, direction); strung: by (side, part, hole) the tool
    of the string of hits that cuts it; between: by side the stations between holes that share steel at which bending
    is looked at.
    """
    library = library_folder if isinstance(library_folder, dict) else read_library(library_folder)
    resolved = resolve(order, library, limit_set)
    limits = Limits(resolved, library)
    features = read_features(holes_csv_text, resolved, library)
    return [
        *off_rail(features, limits),
        *edge_distance(features, limits),
        *bend_clearance(features, limits),
        *washer_seat(features, limits),
        *flange_hole(features, limits, library),
        *flange_count(features, limits),
        *hole_size(features, limits),
        *pairs(features, limits),
        *pair_match(features, limits, library),
        *taper_shape(resolved, limits),
        *liner_fit(resolved, limits),
        *option_rule(resolved, limits, library),
        *footprint_clash(placed, features, resolved, limits, library),
        *space_clash(placed, resolved, limits, library),
        *wrench_access(placed, features, resolved, limits, library),
        *weld_clearance(features, limits),
        *liner_edge(features, resolved, limits),
        *holes_in_line(features, limits),
        *net_section(features, resolved, limits),
        *ramp_flush(placed, features, resolved, limits, library),
        *press_limit(features, resolved, limits, library, strung),
        *grip(features, resolved, limits, library),
        *joint(placed, features, resolved, limits, library),
        *bending(placed, features, resolved, limits, library, between),
    ]


def misplaced(holes_csv_text, order, library_folder):
    """Rows whose blank coordinates are not where this reading of the geometry has them, in words."""
    library = library_folder if isinstance(library_folder, dict) else read_library(library_folder)
    return blank_differences(read_features(holes_csv_text, resolve(order, library), library))
