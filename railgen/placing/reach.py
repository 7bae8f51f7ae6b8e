"""How far along the rail a limit can reach at most."""

from __future__ import annotations

import numpy as np

from railgen.data.library import Library
from railgen.layout.catalogue import Catalogue
from railgen.layout.plan import ResolvedOrder
from railgen.rules.limits import LimitTable

REACHING = frozenset(
    {
        "off-rail",
        "edge-distance",
        "hole-spacing",
        "bend-clearance",
        "washer-seat",
        "wrench-access",
        "weld-clearance",
        "liner-edge",
        "footprint-clash",
    }
)
"""Rules that hold features and feet apart, or off ends and bends."""

_ALONG_SCREWS = ("nut-length", "head-length")
"""Measures whose limits reach away from the face."""

SPACE = frozenset({"space-clash"})
"""Rules that hold two envelopes apart."""


def greatest_reach(
    order: ResolvedOrder, catalogue: Catalogue, limits: LimitTable, rules: frozenset[str] = REACHING
) -> float:
    """A distance (mm) beyond which no limit of some rules can be broken between the true shapes of two features.

    With rules about envelopes between two envelopes.
    """
    sizes = np.concatenate([[0.0], np.nan_to_num(catalogue.diameter), np.nan_to_num(catalogue.length)])
    largest = float(sizes.max())
    rounds = [(f.washer_outside or 0.0, f.socket_outside or 0.0) for f in order.library.fasteners.values()]
    of = {
        "t": order.rail.section.thickness,
        "liner t": order.thickness_of("liner"),
        "hole": largest,
        "bolt": max(largest, _largest_bolt(order.library)),
        "depth": order.rail.section.depth,
        None: 1.0,
    }
    held = [found for key, found in limits.rows.items() if key[0] in rules and key[1] not in _ALONG_SCREWS]
    rows = [entry.row for found in held for entry in found]
    figures = [value for row in rows for _, value in row.table]
    figures += [(row.error or 0.0) * of[row.of] for row in rows if not row.table]
    return max([0.0, *figures]) + max([0.0, *map(max, rounds)]) + largest


def _largest_bolt(library: Library) -> float:
    return max([0.0, *(fastener.diameter for fastener in library.fasteners.values())])
