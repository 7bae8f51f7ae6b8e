"""What a component has at local coordinates: hole groups, feet, envelopes, plies, rated loads."""

from __future__ import annotations

import re
from typing import Literal

from pydantic import Field, ValidationInfo, model_validator

from railgen.data.values import (
    Angle,
    FaceName,
    FeatureName,
    Flag,
    Length,
    Model,
    Name,
    Number,
    Positive,
    Size,
    Surface,
    length_text,
)

Operation = Literal["punch", "drill", "countersink", "stud"]
Shape = Literal["round", "slot", "rectangle", "mark"]
Fit = Literal["fine", "medium", "coarse"]
Datum = Literal["bottom", "middle", "top", "web", "edge"]
Clearance = Literal["static", "service", "motion", "tyre", "heat"]


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
    strings: Flag | None = None

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
    strings: Flag = Field(
        True, description="whether strings of hits may cut its plain web openings that the crib has no tool for"
    )
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
