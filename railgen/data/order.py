"""The order: one serial as the customer and the planner wrote it (TOML file or bank row)."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from railgen.data.limit_sets import LimitRow
from railgen.data.values import (
    Code,
    Date,
    Drive,
    Gap,
    Identifier,
    Length,
    Model,
    Name,
    NotNegative,
    Positive,
    Revision,
    Serial,
    Size,
    StationName,
    Text,
    Units,
)


class Taper(Model):
    """Tail taper: depth reduced toward the rear end by a cut and a weld."""

    start: Length = Field(description="station where the top flange begins to fall")
    end_depth: Size = Field(description="depth at the rail's rear end")
    slit_depth: Size = Field(description="depth of the slit below the top, under the upper bend")
    root_gap: Gap = Field(description="gap left for the weld, taken from the lower web")
    trim: Gap = Field(description="excess at the blank's rear edge, cut off after welding")
    relief_diameter: Size = Field(description="diameter of the relief hole at the wedge's apex")
    wedge: Literal["after-forming", "in-blank"] = "after-forming"


class Liner(Model):
    """Inner reinforcement channel nested in the rail."""

    start: Length
    end: Length
    section: Name
    steel: Name

    @model_validator(mode="after")
    def _runs_rearward(self) -> Liner:
        if self.end <= self.start:
            raise ValueError(f"end ({self.end:g}) must be greater than start ({self.start:g})")
        return self


class Zone(Model):
    """Stations from-to whose rows stand in for those of the limit set."""

    start: Length = Field(alias="from")
    end: Length = Field(alias="to")
    reason: Text
    approver: Text
    rows: tuple[LimitRow, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _runs_rearward(self) -> Zone:
        if self.end <= self.start:
            raise ValueError(f"to ({self.end:g}) must be greater than from ({self.start:g})")
        return self


class OrderLimits(Model):
    """The limit set of this order and its zones."""

    set: Identifier = "house"
    zones: tuple[Zone, ...] = ()


class Loads(Model):
    """Loads for the strength checks; axle loads are compared only."""

    dynamic_factor: Positive
    body_mass: NotNegative = Field(0.0, description="kg, spread from body_start to body_end")
    body_start: Length | None = None
    body_end: Length | None = None
    front_axle_load: NotNegative | None = Field(None, description="kN")
    rear_axle_load: NotNegative | None = Field(None, description="kN")

    @model_validator(mode="after")
    def _body_has_a_place(self) -> Loads:
        if self.body_mass > 0:
            if self.body_start is None or self.body_end is None:
                raise ValueError("a body mass needs body_start and body_end")
            if self.body_end <= self.body_start:
                raise ValueError("body_end must be greater than body_start")
        return self


class Order(Model):
    """One serial's order as written; what is left out takes the family's default."""

    serial: Serial
    family: Identifier
    build_date: Date
    revision: Revision = "A"
    units: Units = "mm"
    drive: Drive | None = None
    section: Name | None = None
    steel: Name | None = None
    wheelbase: Size | None = None
    axle_spread: Gap | None = None
    front_overhang: Size | None = None
    rear_overhang: Size | None = None
    frame_width: Size | None = None
    options: tuple[Code, ...] = ()
    taper: Taper | None = None
    liner: Liner | None = None
    limits: OrderLimits = OrderLimits()
    loads: Loads | None = None
    parameters: dict[Code, dict[StationName, Size]] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _options_once(self) -> Order:
        twice = sorted({code for code in self.options if self.options.count(code) > 1})
        if twice:
            raise ValueError(f"each option may be listed once; listed twice: {', '.join(twice)}")
        return self
