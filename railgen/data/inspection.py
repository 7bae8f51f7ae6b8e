"""Tolerances that measured holes are held to: their model as a TOML file, and what holds where none is named."""

from __future__ import annotations

from pydantic import Field

from railgen.data.values import Flag, Gap, Identifier, Model, Size, Text, Units

STEEL_EXPANSION = 11.7e-6
"""Thermal expansion of steel, 1/K, near 20 degC (common handbook value, from memory)."""
REFERENCE_TEMPERATURE = 20.0
"""degC at which lengths are meant (ISO 1, from memory)."""


class ComponentTolerances(Model):
    """What holds for the holes of one component instead of the general tolerances."""

    station: Size | None = Field(None, description="position of the group on the part")
    group: Size | None = Field(None, description="position of a hole within its group")
    bonus: Flag | None = None


class Tolerances(Model):
    """Position tolerances as diameters of the zones that hold a hole's centre (ASME Y14.5, from memory), mm or in.

    Within its hole group a hole with a fastener may deviate by hole less bolt (floating fastener); the group as a
    whole, and so each hole, by ``station``. With ``bonus``, what a hole was measured larger than its least size is
    added to both.
    """

    units: Units = "mm"
    station: Size = Field(3.0, description="position of a hole on the part")
    locating: Size = Field(0.5, description="position of a locating hole, on the part and within its group")
    no_fastener: Size = Field(2.0, description="position within its group of a hole that takes no fastener")
    size_below: Gap = Field(0.0, description="how much smaller than nominal a hole may be")
    size_above: Gap = Field(0.5, description="how much larger than nominal a hole may be")
    bonus: Flag = False
    component: dict[Identifier, ComponentTolerances] = Field(default_factory=dict)
    source: Text = "common practice, no source; floating fastener after ASME Y14.5, from memory"
