"""What screws clamp, the standard screw that each hole gets, and the rule of grip."""

from __future__ import annotations

from .placed import head_surface, lined_holes
from .rules import finding, hold

SLACK = 1e-9


class Clamped:
    """What the screw of a hole of the rail goes through: mm on either face of the steel, of the steel, and how many."""

    def __init__(self, f, lined, order, library):
        self.on = {"outside": 0.0, "inside": 0.0}
        self.steel, self.count = order["rail"].channel.thickness, 1
        if (f.side, f.face, f.hole) in lined:
            self.steel += order["liner"].channel.thickness
            self.count += 1
        for owner in f.owners:
            for thickness, surface in library["components"][owner]["plies"]:
                self.on[surface] += thickness
                self.count += 1
        self.grip = self.on["outside"] + self.steel + self.on["inside"]


def screws_of(features):
    """Holes of rails that have a screw."""
    return [f for f in features if f.part_name == "rail" and f.has_fastener and not f.is_mark]


def grip(features, order, limits, library):
    """Thickness clamped in bolt diameters, and holes whose stack no standard screw covers."""
    found, lined = [], lined_holes(features)
    for f in screws_of(features):
        clamped = Clamped(f, lined, order, library)
        hold(found, limits, "grip", "bolt-diameters", f, clamped.grip / f.bolt, "ratio")
        fastener = library["fasteners"][f.fastener]
        if fastener["lengths"] and standard_length(f, clamped, library) is None:
            needed, longest = needed_length(fastener, clamped), fastener["lengths"][-1]
            limit = longest if needed > longest else None
            found.append(finding("grip", "screw-length", "error", f, needed, limit))
    return found


def washers(fastener):
    """Thickness of a screw's washers: a flush head has none under it."""
    return fastener["washer_thickness"] * (1 if fastener["kind"] == "flush screw" else 2)


def needed_length(fastener, clamped):
    """Stack, washers, nut, and two pitches beyond it."""
    return clamped.grip + washers(fastener) + fastener["nut_height"] + 2.0 * fastener["pitch"]


def standard_length(f, clamped, library):
    """The shortest standard screw that will do, None without one."""
    fastener = library["fasteners"][f.fastener]
    wants_shank = any(library["components"][owner]["shank_in_shear"] for owner in f.owners)
    for length in fastener["lengths"]:
        if length < needed_length(fastener, clamped) - SLACK:
            continue
        if length - thread(fastener, length) > clamped.grip + washers(fastener) + SLACK:
            continue  # the nut would meet the shank
        if wants_shank:
            deepest = fastener["washer_thickness"] + _deepest_plane(f, clamped, library)
            if f.is_flush or shank(fastener, length) < deepest - SLACK:
                continue
        return length
    return None


def _deepest_plane(f, clamped, library):
    """Below the head's plies, and beyond the steel where there are plies at the nut."""
    head = head_surface(f, library)
    nut = "inside" if head == "outside" else "outside"
    return clamped.on[head] + (clamped.steel if clamped.on[nut] > 0.0 else 0.0)


def thread(fastener, length):
    """Length of thread: ISO 4014 for metric screws, ASME B18.2.1 for inch screws."""
    if fastener["is_inch"]:
        beyond = 25.4 / 4.0 if length <= 6.0 * 25.4 + SLACK else 25.4 / 2.0
    else:
        beyond = 6.0 if length <= 125.0 else 12.0 if length <= 200.0 else 25.0
    return min(2.0 * fastener["diameter"] + beyond, length)


def shank(fastener, length):
    """Full shank under the head: without the thread and five pitches of run-out."""
    return max(0.0, length - thread(fastener, length) - 5.0 * fastener["pitch"])
