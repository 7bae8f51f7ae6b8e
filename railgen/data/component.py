"""Components, options and families as they stand in a library."""

from __future__ import annotations

import datetime
import re
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, model_validator

from railgen.data.values import (
    Angle,
    Code,
    Count,
    Date,
    DimensionName,
    Drive,
    FaceName,
    FeatureName,
    Flag,
    Gap,
    Identifier,
    Length,
    Model,
    Name,
    NotNegative,
    Number,
    Positive,
    Serial,
    Side,
    Size,
    StationName,
    Surface,
    Text,
    Units,
    length_text,
)

Validity = Annotated[Serial | Date, Field(union_mode="left_to_right")]
Operation = Literal["punch", "drill", "countersink", "stud"]
Shape = Literal["round", "slot", "rectangle", "mark"]
Fit = Literal["fine", "medium", "coarse"]
Datum = Literal["bottom", "middle", "top", "web", "edge"]
Clearance = Literal["static", "service", "motion", "tyre", "heat"]
Kind = Literal[
    "bracket",
    "hanger",
    "cross member",
    "mount",
    "plate",
    "tank bracket",
    "stay",
    "clamp",
    "stand-off",
    "suspension part",
    "recovery point",
]


class LinearForm(Model):
    """An anchor: a station as an offset plus coefficients times order dimensions."""

    offset: Length = 0.0
    per: dict[DimensionName, Number] = Field(default_factory=dict)


class Station(Model):
    """A station measured from an anchor: anchor + offset + sum of per x order dimension."""

    anchor: StationName
    offset: Length = 0.0
    per: dict[DimensionName, Number] = Field(default_factory=dict)


class Floating(Model):
    """Where a floating component may settle: a window of offsets, a grid through the preferred one, a weight."""

    least: Length = Field(description="least offset from the anchor")
    most: Length = Field(description="greatest offset from the anchor")
    pitch: Size = Field(description="step of the grid through the preferred offset")
    weight: Positive = 1.0


class Repeat(Model):
    """Repeats of a component: pitch and count, or equally spaced up to ``to``, no further apart than greatest_pitch."""

    pitch: Size | None = None
    count: Count | None = None
    greatest_pitch: Size | None = None
    to: Station | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Repeat:
        by_count = self.pitch is not None and self.count is not None
        by_span = self.greatest_pitch is not None and self.to is not None
        given = sum(v is not None for v in (self.pitch, self.count, self.greatest_pitch, self.to))
        if given != 2 or not (by_count or by_span):
            raise ValueError("give pitch and count, or greatest_pitch and to")
        return self


class Interval(Model):
    """An interval of an order dimension outside which the component is absent."""

    dimension: DimensionName
    least: Length | None = None
    most: Length | None = None


class Feature(Model):
    """A hole, slot, rectangle or mark at local coordinates of its group; what it leaves out, the group gives."""

    id: FeatureName
    station: Length = 0.0
    across: Length = 0.0
    shape: Shape = "round"
    diameter: Size | None = Field(None, description="hole diameter, slot width or rectangle width")
    length: Size | None = Field(None, description="overall length of a slot or rectangle")
    angle: Angle = 0.0
    corner_radius: Size | None = None
    fastener: Name | None = None
    fit: Fit | None = None
    operation: Operation | None = None
    locating: Flag | None = None

    @model_validator(mode="after")
    def _shape_has_its_sizes(self) -> Feature:
        if (self.length is not None) != (self.shape in ("slot", "rectangle")):
            raise ValueError(f"length is for slots and rectangles, and they need it; this is a {self.shape}")
        if self.corner_radius is not None and self.shape != "rectangle":
            raise ValueError("corner_radius is for rectangles")
        return self


class HoleGroup(Model):
    """The features of a component on one face, relative to its datum.

    Across is measured from ``datum``: on the web bottom (z = 0), middle (H/2) or top (z = H), positive up; on a flange
    web (y = 0) or edge (y = B), positive inboard.
    """

    face: FaceName
    datum: Datum
    station: Length = 0.0
    across: Length = 0.0
    fastener: Name | None = None
    fit: Fit = "medium"
    diameter: Size | None = None
    operation: Operation = "punch"
    locating: Flag = False
    features: tuple[Feature, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _datum_fits_face(self) -> HoleGroup:
        check_datum(self.face, self.datum)
        return self


def check_datum(face: str, datum: str) -> None:
    """Raise ValueError where a datum does not belong to the face."""
    allowed = ("bottom", "middle", "top") if face == "web" else ("web", "edge")
    if datum not in allowed:
        raise ValueError(f"datum {datum!r} does not go with face {face!r}; allowed: {', '.join(allowed)}")


def datum_across(datum: Datum, depth: float, flange: float) -> float:
    """Where a datum lies: height z on a web of this depth, or across y on a flange of this width, mm."""
    return {"bottom": 0.0, "middle": depth / 2, "top": depth, "web": 0.0, "edge": flange}[datum]


class Footprint(Model):
    """The area of one face side that the component covers: a polygon of [station, across] points."""

    face: FaceName
    surface: Surface
    datum: Datum
    polygon: tuple[tuple[Length, Length], ...] = Field(min_length=3)

    @model_validator(mode="after")
    def _datum_fits_face(self) -> Footprint:
        check_datum(self.face, self.datum)
        return self

    @model_validator(mode="after")
    def _polygon_is_simple(self, info: ValidationInfo) -> Footprint:
        import shapely  # here, so that a start without a library does not wait for it

        reason = str(shapely.is_valid_reason(shapely.Polygon(self.polygon)))
        if reason == "Valid Geometry":
            return self
        named = re.search(r"\[(\S+) (\S+)\]", reason)
        units = info.context["units"] if info.context else "mm"
        place = ", ".join(length_text(round(float(number), 6), units) for number in named.groups()) if named else ""
        raise ValueError(
            "the polygon of a foot must run once round one area and not cross or touch itself"
            + (f"; it does at station and across {place}" if place else "")
        )


class Envelope(Model):
    """A box of the space beside the rail: [from, to] along, up from the datum, and across from the web's outside face.

    Across is positive inboard, so outboard of the rail it is negative.
    """

    clearance: Clearance
    datum: Literal["bottom", "middle", "top"] = "bottom"
    station: tuple[Length, Length]
    height: tuple[Length, Length]
    across: tuple[Length, Length]
    shielded: Flag = False

    @model_validator(mode="after")
    def _not_inside_out(self) -> Envelope:
        for name in ("station", "height", "across"):
            low, high = getattr(self, name)
            if high <= low:
                raise ValueError(f"{name} is inside out: {low:g} is not less than {high:g}")
        return self


class Ply(Model):
    """A ply the component puts into the clamped stack at its fasteners."""

    thickness: Size
    surface: Surface


class RatedLoad(Model):
    """A rated load of a joint: its size, its direction and where it acts."""

    force: Positive = Field(description="kN")
    direction: tuple[Number, Number, Number] = Field(description="along x, across y (inboard), up z")
    station: Length = Field(0.0, description="of the point of attack, from the component's datum")
    across: Length = Field(0.0, description="of the point of attack from the web's outside face, positive inboard")
    height: Length = Field(description="of the point of attack above the bottom of the rail")

    @model_validator(mode="after")
    def _has_direction(self) -> RatedLoad:
        if all(abs(part) < 1e-12 for part in self.direction):
            raise ValueError("the direction of a load must not be zero in all three")
        return self


class Component(Model):
    """What features are for: brought by options, placed on the rails, owning hole groups. One file each."""

    id: Identifier
    name: Text
    options: tuple[Code, ...] = Field(min_length=1, description="any of these brings it")
    kind: Kind
    units: Units = "mm"
    side: Side
    flange_holes: Flag = False
    mates: Identifier | None = None
    position: Station
    floating: Floating | None = None
    repeat: Repeat | None = None
    present: Interval | None = None
    groups: tuple[HoleGroup, ...] = ()
    footprints: tuple[Footprint, ...] = ()
    envelopes: tuple[Envelope, ...] = ()
    mass: NotNegative = Field(0.0, description="kg that one instance puts on the rail of its side")
    plies: tuple[Ply, ...] = ()
    stacks_onto: tuple[Identifier, ...] = ()
    head: Surface = "outside"
    shared_holes: Flag = False
    masked: Flag = Field(False, description="whether its features are masked while the rail is coated: earth points")
    shank_in_shear: Flag = Field(False, description="whether no thread of its screws may lie in a shear plane")
    loads: tuple[RatedLoad, ...] = ()
    valid_from: Validity | None = None
    valid_to: Validity | None = None

    @model_validator(mode="after")
    def _features_once(self) -> Component:
        names = [feature.id for group in self.groups for feature in group.features]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"each feature id may be used once in a component; used twice: {', '.join(twice)}")
        return self

    @model_validator(mode="after")
    def _window_is_sound(self) -> Component:
        window = self.floating
        if window is None:
            return self
        if not window.least <= self.position.offset <= window.most:
            span = f"{window.least:g} to {window.most:g}"
            raise ValueError(f"the window {span} does not hold the preferred offset {self.position.offset:g}")
        if self.repeat is not None and self.repeat.to is not None:
            raise ValueError("a floating component repeats by pitch and count, not up to a station")
        return self


class Parameter(Model):
    """An order dimension of a family, or a parameter of an option."""

    least: Gap
    most: Gap
    step: Size | None = None
    default: Gap
    choices: tuple[Gap, ...] = Field(default=(), description="where given, the only values allowed")

    @model_validator(mode="after")
    def _sound(self) -> Parameter:
        if self.most < self.least:
            raise ValueError(f"most ({self.most:g}) must not be less than least ({self.least:g})")
        problem = self.refusal(self.default)
        if problem:
            raise ValueError(f"the default {self.default:g} is not allowed: {problem}")
        return self

    def refusal(self, value: float, units: Units = "mm") -> str:
        """What is allowed, where value (mm) is not, in the units of the file; empty where it is."""
        if self.choices:
            allowed = ", ".join(length_text(choice, units) for choice in self.choices)
            return "" if any(abs(value - choice) <= 1e-6 for choice in self.choices) else f"one of {allowed}"
        steps = (value - self.least) / self.step if self.step else 0.0
        on_step = abs(steps - round(steps)) * (self.step or 0.0) <= 1e-6
        if on_step and self.least - 1e-6 <= value <= self.most + 1e-6:
            return ""
        allowed = f"{length_text(self.least, units)} to {length_text(self.most, units)}"
        return f"{allowed} in steps of {length_text(self.step, units)}" if self.step else allowed


class Option(Model):
    """What the customer picks. One file each."""

    code: Code
    name: Text
    place: Text = Field(description="place on the truck, for grouping")
    units: Units = "mm"
    families: tuple[Identifier, ...] = Field(min_length=1)
    requires: tuple[Code, ...] = ()
    excludes: tuple[Code, ...] = ()
    parameters: dict[StationName, Parameter] = Field(default_factory=dict)
    valid_from: Validity | None = None
    valid_to: Validity | None = None


class FamilyZone(Model):
    """A zone of a family by name, between two stations."""

    start: Station = Field(alias="from")
    end: Station = Field(alias="to")


class Family(Model):
    """A model family: its order dimensions, anchors and defaults. One file each."""

    id: Identifier
    name: Text
    units: Units = "mm"
    serial_prefix: Annotated[str, Field(pattern=r"^[A-Z]{1,4}$")]
    drive: Drive
    section: Name
    steel: Name
    dimensions: dict[Literal["wheelbase", "axle_spread", "front_overhang", "rear_overhang", "frame_width"], Parameter]
    anchors: dict[StationName, LinearForm] = Field(default_factory=dict)
    zones: dict[StationName, FamilyZone] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _complete(self) -> Family:
        missing = sorted(set(ORDER_DIMENSIONS) - set(self.dimensions))
        if missing:
            raise ValueError(f"dimensions lacks {', '.join(missing)}")
        lacking = sorted({"last_axle", "front_hanger"} - set(self.anchors))
        if lacking:
            raise ValueError(f"anchors lacks the named stations {', '.join(lacking)}")
        taken = sorted(set(BUILT_IN_ANCHORS) & set(self.anchors))
        if taken:
            raise ValueError(f"anchors defines {', '.join(taken)}, which every family has already")
        return self


ORDER_DIMENSIONS = ("wheelbase", "axle_spread", "front_overhang", "rear_overhang", "frame_width")
BUILT_IN_ANCHORS: dict[str, LinearForm] = {
    "front_axle": LinearForm(),
    "rear_axle": LinearForm(per={"wheelbase": 1.0}),
    "rail_front": LinearForm(per={"front_overhang": -1.0}),
    "rail_rear": LinearForm(per={"wheelbase": 1.0, "rear_overhang": 1.0}),
}
"""Anchors that every family has."""


def serial_key(serial: str) -> tuple[str, int]:
    """What serials are compared by: prefix, then number."""
    prefix, _, number = serial.rpartition("-")
    return prefix, int(number)


def is_valid_for(item: Component | Option, serial: str, build_date: datetime.date) -> bool:
    """Whether an item holds for a serial: bounds are serials (by prefix, then number) or build dates, both included."""

    def compare(bound: str | datetime.date) -> int:
        if isinstance(bound, datetime.date):
            return (build_date > bound) - (build_date < bound)
        return (serial_key(serial) > serial_key(bound)) - (serial_key(serial) < serial_key(bound))

    if item.valid_from is not None and compare(item.valid_from) < 0:
        return False
    return item.valid_to is None or compare(item.valid_to) <= 0
