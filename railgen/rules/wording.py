"""What findings say: one sentence a measure, and what would put it right."""

from __future__ import annotations

from railgen.data.limit_sets import MEASURES

_MESSAGES: dict[tuple[str, str], str] = {
    (
        "off-rail",
        "outside",
    ): "{holes} reaches {value} beyond its flat panel (into a bend, a cut, the fold or past an end)",
    ("edge-distance", "edge"): "centre of {holes} is {value} from the nearest free edge; at least {limit}",
    ("edge-distance", "rail-end"): "centre of {holes} is {value} from the rail's end; at least {limit}",
    ("hole-spacing", "centre"): "{holes} are {value} apart, centre to centre; at least {limit}",
    ("hole-spacing", "ligament"): "{value} of steel is left between {holes}; at least {limit}",
    (
        "bend-clearance",
        "tangent",
    ): "edge of {holes} is {value} from a bend's tangent; at least {limit}, or it goes oval when formed",
    ("bend-clearance", "flange-inside"): "edge of {holes} is {value} from a flange's inside face; at least {limit}",
    ("washer-seat", "tangent"): "washer of {holes} is {value} from a bend's tangent; at least {limit} to sit flat",
    ("washer-seat", "edge"): "washer of {holes} is {value} from a free edge; at least {limit}",
    ("washer-seat", "washer"): "washers of {holes} are {value} apart; at least {limit}",
    ("flange-hole", "zone"): "{holes} is in a flange where its component or its zone allows none",
    ("flange-hole", "size"): "{holes} in a flange is {value} wide; at most {limit}",
    ("flange-hole", "count"): "{value} holes of one flange lie on one line ({holes}); at most {limit}",
    ("hole-size", "least"): "{holes} is punched at {value}; least punched diameter {limit}",
    ("hole-size", "punch-stress"): "the punch of {holes} is pressed with {value}; at most {limit}",
    ("hole-size", "largest"): "{holes} is {value} wide for a fastener; at most {limit}",
    ("hole-size", "passage"): "{holes} takes {value} of the web's depth; at most {limit}",
    ("duplicate-hole", "pair"): "{holes} are one on the other ({value} apart) and not validly shared",
    ("size-conflict", "pair"): "{holes} overlap (steel between them: {value})",
    ("pair-match", "station"): "{holes}, parts that belong together, differ by {value} along the rail; at most {limit}",
    ("pair-match", "height"): "{holes}, parts that belong together, differ by {value} in height; at most {limit}",
    ("taper-shape", "relief"): "the taper's relief hole has a radius of {value}; at least {limit}",
    ("taper-shape", "seam-bend"): "the taper's seam is {value} from a bend's tangent; at least {limit}",
    ("taper-shape", "upset"): "{value} of web are upset at the taper's bisector",
    ("liner-fit", "interference"): "the liner's corner digs {value} into the rail's bend; at most {limit}",
    ("liner-fit", "proud"): "the liner's flanges stand {value} beyond the rail's; at most {limit}",
    (
        "net-section",
        "rail",
    ): "the holes of this line leave {value} of the rail's gross section modulus; at least {limit}",
    (
        "net-section",
        "with-liner",
    ): "the holes of this line leave {value} of the gross section modulus of rail and liner; at least {limit}",
    ("holes-in-line", "count"): "{value} holes of the web lie on one line ({holes}); at most {limit}",
    ("weld-clearance", "hole"): "edge of {holes} is {value} from the taper's seam; at least {limit}",
    ("weld-clearance", "stud-hole"): "between {holes}, stud and edge of the hole, are {value}; at least {limit}",
    ("weld-clearance", "stud-tangent"): "stud {holes} is {value} from a bend's tangent; at least {limit}",
    ("weld-clearance", "flange"): "{holes} is welded to a flange, where nothing may be welded",
    ("liner-edge", "hole"): "edge of {holes} is {value} from the liner's end; at least {limit}",
    ("liner-edge", "washer"): "washer of {holes} is {value} from the liner's end; at least {limit}",
    ("footprint-clash", "feet"): "feet of {components} are {value} apart on the {place}; at least {limit}",
    ("footprint-clash", "tangent"): "a foot of {components} on the {place} is {value} from a tangent; at least {limit}",
    ("footprint-clash", "end"): "a foot of {components} on the {place} is {value} from an end; at least {limit}",
    ("footprint-clash", "washer"): "washer of {holes} is {value} from a foot of another component; at least {limit}",
    ("space-clash", "static"): "{components} leave {value} between them; at least {limit}",
    ("space-clash", "service"): "{components} leave {value} between them; at least {limit} for service",
    ("space-clash", "motion"): "{components} leave {value} between them; at least {limit} where parts move",
    ("space-clash", "tyre"): "{components} leave {value} between them; at least {limit} round tyres",
    ("space-clash", "heat"): "{components} leave {value} between them; at least {limit} for the heat",
    (
        "wrench-access",
        "radial",
    ): "the socket round {holes} has {value} to what stands beside it; at least {limit}",
    ("wrench-access", "nut-length"): "before the nut of {holes} are {value} free for a wrench; at least {limit}",
    ("wrench-access", "head-length"): "before the head of {holes} are {value} free; at least {limit}",
    ("ramp-flush", "proud"): "{holes}{components} stands {value} proud of the ramp; at most {limit}",
    ("ramp-flush", "recess"): "the head of {holes} lies {value} deep in the ramp; at most {limit}",
    ("press-limit", "force"): "a hit of {holes} takes {value} of the press's force; at most {limit}",
    ("press-limit", "reach"): "{holes} lies beyond the press's reach from the gauge edge",
    ("press-limit", "clamp"): "edge of {holes} is {value} from a clamp wherever the clamps stand; at least {limit}",
    ("press-limit", "tool"): "the crib has no tool for {holes}",
    ("press-limit", "blank"): "{value} sizes of the blank or part are too large for press, rack, tank or oven",
    ("bending", "stress"): "bending stress on the net section is {value} of the yield strength; at most {limit}",
    ("bending", "front-axle"): "the masses known here put {value} on the front axle at rest; the order says {limit}",
    ("bending", "rear-axle"): "the masses known here put {value} on the rear axle at rest; the order says {limit}",
    ("joint", "utilisation"): "{holes} uses {value} of what its bolt, its steel or its clamp bears; at most {limit}",
    ("grip", "bolt-diameters"): "the fastener of {holes} clamps {value} bolt diameters; at least {limit}",
    ("drain", "depth"): "hung as the rack data say, {place} stands {value} deep in a pocket; at most {limit}",
}
_REMEDIES: dict[tuple[str, str], str] = {
    ("hole-size", "least"): "Drill it, or make it {limit} or larger.",
    ("hole-size", "punch-stress"): "Drill it, or make it larger.",
    ("hole-size", "largest"): "Use a hole of {limit} or less.",
    ("hole-size", "passage"): "Make it {limit} or less across the web.",
    ("flange-hole", "zone"): "Move it to the web, or to where flange holes are allowed.",
    ("flange-hole", "size"): "Use a hole of {limit} or less, or move it to the web.",
    ("flange-hole", "count"): "Move all but {limit} of them to other stations.",
    ("duplicate-hole", "pair"): "Let both components share their holes, or move one of them.",
    ("off-rail", "outside"): "Move it {short} inward.",
    ("liner-fit", "interference"): "Choose a liner with a larger outside corner radius.",
    ("liner-fit", "proud"): "Choose a liner with flanges {short} narrower.",
    ("taper-shape", "relief"): "Make relief_diameter larger by {twice}.",
    ("net-section", "rail"): "Move holes out of this line or nearer to mid-depth.",
    ("net-section", "with-liner"): "Move holes out of this line or nearer to mid-depth.",
    ("holes-in-line", "count"): "Move all but {limit} of them to other stations.",
    ("weld-clearance", "flange"): "Move it to the web.",
    ("footprint-clash", "feet"): "Move one of them {short} further away, or declare them a stack.",
    ("footprint-clash", "tangent"): "Move or shorten the foot by {short}.",
    ("footprint-clash", "end"): "Move or shorten the foot by {short}.",
    ("ramp-flush", "proud"): "Use a flush screw, or sink it {short} deeper.",
    ("ramp-flush", "recess"): "Sink it {short} less deep.",
    ("press-limit", "reach"): "Drill it, or move it nearer to the gauge edge.",
    ("press-limit", "force"): "Drill it, make it smaller, or take another press.",
    ("press-limit", "tool"): "Give the crib a tool, or the hole another size or operation.",
    ("press-limit", "clamp"): "Move it {short} away, or give the clamps another place.",
    ("press-limit", "blank"): "Take another press, or make the part smaller.",
    ("bending", "stress"): "Move holes out of this line or nearer to mid-depth, or reinforce the rail with a liner.",
    ("joint", "utilisation"): "Add bolts, set them further apart, take larger ones, or lower the rated load.",
    ("grip", "bolt-diameters"): "Add a spacer of {short} bolt diameters, or plan to tighten again.",
    ("drain", "depth"): "Hang it steeper, set the hooks nearer to each other there, or give the pocket a drain hole.",
    ("taper-shape", "seam-bend"): "Move the seam {short} away from the bend: change slit_depth or end_depth.",
}


def message_of(
    rule: str,
    measure: str,
    holes: tuple[str, ...],
    value: float,
    limit: float,
    unit: str,
    components: tuple[str, ...] = (),
    place: str = "",
) -> str:
    """The finding in one sentence, with its figures."""
    words = {"holes": _listed(holes), "components": _listed(components), "place": place}
    return _MESSAGES[rule, measure].format(**words, value=quantity(value, unit), limit=quantity(limit, unit))


def _listed(names: tuple[str, ...]) -> str:
    return ", ".join(names) if len(names) != 2 else f"{names[0]} and {names[1]}"


def governed_by(message: str, way: str) -> str:
    """A joint's finding with the way in which it gives first."""
    return f"{message}; {way} governs"


def remedy_of(rule: str, measure: str, value: float, limit: float, unit: str) -> str:
    """What would put it right, as far as the figures alone tell."""
    missing = abs(limit - value)
    text = _REMEDIES.get((rule, measure))
    if text is None:
        apart = "more" if MEASURES[rule][measure] == "least" else "less"
        return f"Needs {quantity(missing, unit)} {apart}."
    return text.format(limit=quantity(limit, unit), short=quantity(missing, unit), twice=quantity(2 * missing, unit))


def quantity(value: float, unit: str) -> str:
    """A figure with its unit as people read it."""
    if unit == "mm":
        return f"{value:.2f} mm"
    if unit in ("count", "violations"):
        return f"{value:.0f}"
    if unit == "ratio":
        return f"{value:.3f}"
    return f"{value:.0f} {unit}"
