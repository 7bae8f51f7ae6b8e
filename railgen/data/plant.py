"""The plant: presses with their tool cribs, peening, coating and racks."""

from __future__ import annotations

from math import inf
from typing import Literal, get_args

from pydantic import Field, model_validator

from railgen.data.inspection import Tolerances
from railgen.data.values import (
    Count,
    Flag,
    Gap,
    Identifier,
    Length,
    Model,
    Name,
    NotNegative,
    Number,
    Positive,
    Share,
    Size,
    Text,
    Units,
)


class Axis(Model):
    """Motion of one axis of a press."""

    speed: Positive = Field(description="mm/s")
    acceleration: Positive = Field(description="mm/s2")


class Clamp(Model):
    """A clamp that holds the blank at its gauge edge; its station is where it grips, from the blank's leading end."""

    station: Gap
    width: Size
    depth: Gap = Field(40.0, description="how far it grips in from the gauge edge")


class Press(Model):
    """A punching press for flat blanks."""

    id: Identifier
    name: Text
    units: Units = "mm"
    force: Positive = Field(description="kN")
    longest_blank: Size
    widest_blank: Size
    thickest_blank: Size
    reach: Size = Field(description="from the gauge edge to the farthest hit")
    along: Axis
    across: Axis
    hit_time: Positive = Field(description="s a stroke")
    change_time: Positive = Field(description="s to bring another mounted tool under the ram")
    change_while_moving: Flag = Field(True, description="whether the tool is changed while the axes move")
    load_time: Positive = Field(description="s to load, gauge and unload a blank")
    reposition_time: Positive = Field(description="s to move the clamps")
    mount_time: Positive = Field(600.0, description="s to mount other tools, where a blank needs more than fit")
    mounted_tools: Count
    gauge_edge: Literal["bottom", "top"] = "bottom"
    gauge_end: Literal["front", "rear"] = "front"
    clamps: tuple[Clamp, ...] = ()
    clamp_dead_zone: Gap = 25.0
    clamp_shifts: tuple[Length, ...] = Field(
        default=(0.0, 200.0),
        min_length=1,
        description="how far along the blank the clamps may stand from their stations; the first as it is loaded",
    )
    feed_may_return: Flag = True
    post: Identifier | None = Field(None, description="the post-processor that its programs are written by")
    tools: tuple[Tool, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _tools_once(self) -> Press:
        names = [tool.id for tool in self.tools]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"each tool id may be used once in a crib; used twice: {', '.join(twice)}")
        return self


class DieClearance(Model):
    """Clearance between punch and die, a share of the thickness, up to a thickness."""

    thickness_to: Size
    share: Share


class Tool(Model):
    """A punch with its dies in the tool crib, or the marking tool."""

    id: Name
    shape: Literal["round", "slot", "rectangle", "mark"]
    diameter: Size | None = Field(None, description="hole diameter, slot width or rectangle width")
    length: Size | None = None
    corner_radius: Size | None = None
    angles: tuple[Number, ...] = Field(default=(), description="angles to the blank's x it can be set to; none: any")
    die_clearance: tuple[DieClearance, ...] = ()
    strings: Flag = Field(False, description="whether it may cut strings of overlapping hits")
    hits_since_regrind: int = Field(0, strict=True, ge=0)
    regrind_limit: Count = 30_000

    @model_validator(mode="after")
    def _has_its_sizes(self) -> Tool:
        if (self.diameter is None) != (self.shape == "mark"):
            raise ValueError("diameter is for all tools but the marking tool")
        if (self.length is not None) != (self.shape in ("slot", "rectangle")):
            raise ValueError(f"length is for slots and rectangles, and they need it; this is a {self.shape}")
        return self


class PeeningBand(Model):
    """Arc-height window between two thicknesses (mm) and two strengths; the first included, the last not."""

    thickness_from: Gap
    thickness_below: Size
    tensile_from: NotNegative = Field(0.0, description="MPa, of the steel's greatest tensile strength")
    tensile_below: Positive | None = Field(None, description="MPa; where left out, for all stronger steels")
    intensity_least: Positive = Field(description="mm, gauge as named")
    intensity_most: Positive = Field(description="mm")
    gauge: Literal["N", "A", "C"]
    source: Text


class Peening(Model):
    """Shot peening around holes, before coating."""

    bands: tuple[PeeningBand, ...] = Field(min_length=1)
    shot: Text
    coverage: Positive = Field(description="per cent asked for")
    single_pass_coverage: Share
    ring_width: Size = Field(description="width of the peened ring around each hole and relief hole, from its edge")
    edge_width: Gap = Field(0.0, description="width peened along the free edges of flanges, both faces; 0: none")
    seam_width: Gap = Field(0.0, description="width peened on either side of a taper's seam, both faces; 0: none")
    travel_speed: Positive = Field(description="mm/s of the nozzle for one pass")
    highest_temperature_after: Positive = Field(description="degrees C")
    temperature_source: Text

    def band(self, thickness: float, tensile: float | None = None) -> PeeningBand | None:
        """The window for a thickness (mm) and a tensile strength (MPa, None: of any); ends belong to what is above."""
        for band in self.bands:
            strong = tensile is None or band.tensile_from <= tensile < (band.tensile_below or inf)
            if strong and band.thickness_from <= thickness < band.thickness_below:
                return band
        return None


class Coating(Model):
    """Cleaning and electrocoat."""

    film_least: Positive = Field(description="micrometres")
    film_most: Positive
    solids_density: Positive = Field(description="kg/m3 of the cured film")
    coulombic_yield: Positive = Field(description="mg of film per coulomb")
    bake_temperature: Positive = Field(description="degrees C of the metal")
    bake_minutes: Positive
    friction: Positive = Field(0.15, description="of two coated faces clamped together; common practice 0.15 to 0.20")
    film_embedding: Share = Field(
        0.1, description="share of film_most that settles under the clamp load, each coated face; common practice"
    )
    source: Text

    @model_validator(mode="after")
    def _ordered(self) -> Coating:
        if self.film_most < self.film_least:
            raise ValueError("film_most must not be less than film_least")
        return self


class Rack(Model):
    """How parts hang for cleaning and coating."""

    longest_part: Size
    highest_mass: Positive = Field(description="kg on one rack")
    slope: Number = Field(ge=-45, le=45, description="degrees, rear end down positive")
    open_side: Literal["down", "up", "side"]
    hook_stations: tuple[Length, ...] = Field(
        default=(), description="from the part's ends, mm; negative from the rear"
    )
    tank_length: Size
    oven_length: Size


class FormPress(Model):
    """The press that forms flanges, its die open under the bend. Common practice where a library says nothing."""

    force: Positive | None = Field(None, description="kN; where left out, the estimate is not held against it")
    die_opening: Positive = Field(8.0, description="of the die, over the thickness")
    factor: Positive = Field(1.33, description="of the estimate factor x tensile x length x t2 / opening")
    source: Text = "common practice for bending over an open die, no source"


class FormTolerances(Model):
    """How far a formed and straightened part may be off. Common practice where a library says nothing."""

    depth: Size = Field(1.0, description="mm, of the depth")
    flange: Size = Field(1.5, description="mm, of a flange's width")
    angle: Positive = Field(1.0, description="degrees, of a flange to the web")
    bow: Size = Field(0.8, description="mm a metre, of the web sideways")
    camber: Size = Field(0.5, description="mm a metre, of a flange upward or downward")
    twist: Positive = Field(0.2, description="degrees a metre, of one end against the other")
    source: Text = "common practice, no source"


class Jig(Model):
    """How closely the assembly jig holds the ladder of both rails. Common practice where a library says nothing."""

    station: Size = Field(0.5, description="mm, of a locating pin or a cross member along the rail")
    frame_width: Size = Field(1.0, description="mm, of the frame width wherever it is measured")
    diagonal: Size = Field(2.0, description="mm, by which two diagonals of one length may differ")
    source: Text = "common practice, no source"


OperationName = Literal[
    "blank",
    "locating",
    "punch",
    "drill",
    "dress",
    "deburr",
    "form",
    "straighten",
    "taper",
    "stud",
    "inspect",
    "peen",
    "clean",
    "coat",
    "nest",
    "rack",
]
OPERATIONS: tuple[OperationName, ...] = get_args(OperationName)
"""The operations of the route card in shop order."""


_SHAPING: tuple[OperationName, ...] = (
    *("locating", "punch", "drill", "dress", "deburr", "form", "straighten", "taper", "stud"),
)
_ORDER_OF_WORK: tuple[tuple[OperationName, tuple[OperationName, ...], str], ...] = (
    ("blank", OPERATIONS[1:], "nothing is done to a blank before it is cut"),
    ("locating", ("punch", "drill"), "everything else is gauged from the locating holes"),
    ("punch", ("dress", "deburr", "form"), "holes are punched in the flat blank, and deburred once they are there"),
    ("drill", ("deburr", "form"), "holes are drilled in the flat blank, and deburred once they are there"),
    ("dress", ("deburr",), "dressing leaves a burr"),
    ("form", ("straighten", "taper", "stud"), "only a formed part is straightened, tapered and welded"),
    *((name, ("inspect",), "what is made after the inspection is not inspected") for name in _SHAPING),
    *(
        (name, ("peen",), "after peening nothing may be punched, drilled, ground, formed or welded")
        for name in _SHAPING
    ),
    ("inspect", ("peen",), "what an inspection finds cannot be put right after peening"),
    ("peen", ("clean", "coat"), "shot is washed off before coating, and coating comes last on the bare part"),
    ("clean", ("coat",), "coating goes over clean steel"),
    ("coat", ("nest", "rack"), "rail and liner are coated apart, then nested, and racked when they are coated"),
    ("nest", ("rack",), "a liner is racked in its rail"),
)
"""Operations, those that may not come before each, and why. Source: common practice, no source."""


class StandardTime(Model):
    """Standard time of an operation: minutes a part and minutes a unit (hole, stud, metre of seam)."""

    fixed: NotNegative
    each: NotNegative = 0.0


class Finishing(Model):
    """``finishing.toml``: peening, coating, racks and the order of work."""

    units: Units = "mm"
    peening: Peening
    coating: Coating
    rack: Rack
    forming: FormPress = Field(default_factory=FormPress)
    form: FormTolerances = Field(default_factory=FormTolerances)
    tolerances: Tolerances = Field(default_factory=Tolerances, description="that the measuring plan prints")
    operations: tuple[OperationName, ...] = OPERATIONS
    times: dict[str, StandardTime] = Field(default_factory=dict, description="minutes, by operation")
    weld_procedure: Text
    stud_procedure: Text

    @model_validator(mode="after")
    def _order_of_work(self) -> Finishing:
        unknown = sorted(set(self.times) - set(OPERATIONS))
        if unknown:
            raise ValueError(f"times names unknown operations: {', '.join(unknown)}")
        order = list(self.operations)
        if sorted(order) != sorted(OPERATIONS):
            raise ValueError(f"operations must list each of these once: {', '.join(OPERATIONS)}")
        wrong = [
            f"{', '.join(late)} before {first}: {reason}"
            for first, after, reason in _ORDER_OF_WORK
            if (late := [name for name in after if order.index(name) < order.index(first)])
        ]
        if wrong:
            raise ValueError("; ".join(wrong))
        if self.coating.bake_temperature > self.peening.highest_temperature_after:
            raise ValueError(
                f"the bake at {self.coating.bake_temperature:g} C is hotter than peened steel may get "
                f"({self.peening.highest_temperature_after:g} C)"
            )
        return self


Press.model_rebuild()
