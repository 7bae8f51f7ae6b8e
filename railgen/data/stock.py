"""What rails and joints are made of: sections, steels, fasteners."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from railgen.data.values import Count, Gap, Model, Name, NotNegative, Number, Positive, Share, Size, Text, Units


class SectionEntry(Model):
    """A channel section of rails or liners."""

    depth: Size
    flange: Size
    thickness: Size
    inside_radius: Size
    neutral_line: Share | None = Field(None, description="K; where left out, from DIN 6935")

    @model_validator(mode="after")
    def _has_flat_steel(self) -> SectionEntry:
        bend = self.inside_radius + self.thickness
        if self.depth <= 2 * bend or self.flange <= bend:
            raise ValueError(
                f"depth {self.depth:g} and flange {self.flange:g} leave no flat steel beside bends of {bend:g} mm each"
            )
        return self


class SteelBand(Model):
    """Strengths of a steel between two thicknesses (mm; the first not included, the last included)."""

    thickness_above: Gap = 0.0
    thickness_to: Size
    yield_strength: Positive
    tensile_least: Positive
    tensile_most: Positive
    shear_strength: Positive | None = Field(None, description="MPa; where left out 0.75 of tensile")
    least_bend_radius: Positive = Field(description="inside radius over thickness")
    spring_back: NotNegative | None = Field(
        None, description="degrees a flange opens after forming; without it no part of this steel has a route card"
    )

    @model_validator(mode="after")
    def _ordered(self) -> SteelBand:
        if self.thickness_to <= self.thickness_above:
            raise ValueError("thickness_to must be greater than thickness_above")
        if not self.yield_strength <= self.tensile_most or self.tensile_least > self.tensile_most:
            raise ValueError("need yield_strength <= tensile_most and tensile_least <= tensile_most")
        return self


class Steel(Model):
    """A steel with its strengths by thickness."""

    standard: Text
    bands: tuple[SteelBand, ...] = Field(min_length=1)

    def band(self, thickness: float) -> SteelBand | None:
        """The band that holds for a thickness in mm, None where the steel does not come so."""
        for band in self.bands:
            if band.thickness_above < thickness <= band.thickness_to + 1e-9:
                return band
        return None


class ClearanceHoles(Model):
    """Diameters of the clearance holes of a fastener by fit."""

    fine: Size
    medium: Size
    coarse: Size

    @model_validator(mode="after")
    def _ascend(self) -> ClearanceHoles:
        if not self.fine <= self.medium <= self.coarse:
            raise ValueError("need fine <= medium <= coarse")
        return self


class Countersink(Model):
    """The seat of a flush head."""

    diameter: Size
    angle: Number = Field(ge=60, le=120)


class Fastener(Model):
    """A fastener: screw, its two hardened washers and its nut; or a stud."""

    kind: Literal["screw", "flush screw", "stud"] = "screw"
    thread: Literal["metric", "unified"] = Field("metric", description="unified for inch threads")
    diameter: Size
    pitch: Size
    stress_area: Positive = Field(description="mm2 whatever the file's units")
    proof_stress: Positive = Field(description="MPa")
    tensile_strength: Positive | None = Field(None, description="MPa; where left out 1.2 of proof_stress")
    clamp: Positive = Field(description="kN, installed")
    torque: Positive = Field(description="N m")
    friction: Positive = Field(description="torque coefficient that torque and clamp assume")
    washer_outside: Size | None = None
    washer_thickness: Size | None = None
    socket_outside: Size | None = None
    head_height: Size | None = None
    nut_height: Size | None = None
    holes: ClearanceHoles | None = None
    countersink: Countersink | None = None
    lengths: tuple[Size, ...] = Field(default=(), description="standard lengths")
    source: Text

    @model_validator(mode="after")
    def _complete(self) -> Fastener:
        if self.kind != "stud":
            needed = ("washer_outside", "washer_thickness", "socket_outside", "head_height", "nut_height", "holes")
            missing = [name for name in needed if getattr(self, name) is None]
            if missing:
                raise ValueError(f"a {self.kind} needs {', '.join(missing)}")
        if (self.kind == "flush screw") != (self.countersink is not None):
            raise ValueError("a countersink belongs to a flush screw, and a flush screw needs one")
        return self


class SectionsFile(Model):
    """``sections*.toml``: sections by name."""

    units: Units = "mm"
    sections: dict[Name, SectionEntry] = Field(min_length=1)


class SteelsFile(Model):
    """``steels*.toml``: steels by name."""

    units: Units = "mm"
    steels: dict[Name, Steel] = Field(min_length=1)


class FastenersFile(Model):
    """``fasteners*.toml``: fasteners by name."""

    units: Units = "mm"
    fasteners: dict[Name, Fastener] = Field(min_length=1)


class StockLengths(Model):
    """``stock.toml``: the lengths that strip is bought in, and how blanks are cut from it."""

    units: Units = "mm"
    kerf: Gap = Field(description="lost at each cut between two blanks")
    end_trim: Gap = Field(description="cut off at each end of a stock length")
    window: Count = Field(description="serials in build order whose blanks are cut together")
    lengths: tuple[Size, ...] = Field(min_length=1)
    of_steel: dict[Name, tuple[Size, ...]] = Field(default_factory=dict, description="own lengths of a steel")

    def lengths_of(self, steel: str) -> tuple[float, ...]:
        """The lengths a steel comes in, mm, shortest first."""
        return tuple(sorted(set(self.of_steel.get(steel) or self.lengths)))
