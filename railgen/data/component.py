"""Components, options and families as they stand in a library."""

from __future__ import annotations

import datetime
from typing import Annotated, Literal

from pydantic import Field, model_validator

from railgen.data.local import Envelope, Footprint, HoleGroup, Ply, RatedLoad
from railgen.data.values import (
    Code,
    Count,
    Date,
    DimensionName,
    Drive,
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
    shaped,
)

Validity = Annotated[Serial | Date, Field(union_mode="left_to_right")]
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
    serial_prefix: Annotated[str, shaped(r"^[A-Z]{1,4}$", "one to four capital letters")]
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
