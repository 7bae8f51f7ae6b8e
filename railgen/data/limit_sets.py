"""Limit sets as data: rows of rule and measure with the figures that hold, and when they hold."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field, ValidationInfo, model_validator

from railgen.data.values import Identifier, Model, Number, StationName, Text, inches_to_mm

Sense = Literal["least", "most"]
Multiplied = Literal["t", "liner t", "hole", "bolt", "depth"]
Counted = Literal["extents", "centres"]

MEASURES: dict[str, dict[str, Sense]] = {
    "off-rail": {"outside": "most"},
    "edge-distance": {"edge": "least", "rail-end": "least"},
    "hole-spacing": {"centre": "least", "ligament": "least"},
    "bend-clearance": {"tangent": "least", "flange-inside": "least"},
    "washer-seat": {"tangent": "least", "edge": "least", "washer": "least"},
    "wrench-access": {"radial": "least", "nut-length": "least", "head-length": "least"},
    "flange-hole": {"zone": "most", "size": "most", "count": "most"},
    "hole-size": {"least": "least", "punch-stress": "most", "largest": "most", "passage": "most"},
    "net-section": {"rail": "least", "with-liner": "least"},
    "holes-in-line": {"count": "most"},
    "weld-clearance": {"hole": "least", "stud-hole": "least", "stud-tangent": "least", "flange": "most"},
    "liner-edge": {"hole": "least", "washer": "least"},
    "duplicate-hole": {"pair": "least"},
    "size-conflict": {"pair": "least"},
    "footprint-clash": {"feet": "least", "tangent": "least", "washer": "least", "end": "least"},
    "space-clash": {"static": "least", "service": "least", "motion": "least", "tyre": "least", "heat": "least"},
    "ramp-flush": {"proud": "most", "recess": "most"},
    "taper-shape": {"relief": "least", "seam-bend": "least", "upset": "most"},
    "liner-fit": {"interference": "most", "proud": "most"},
    "pair-match": {"station": "most", "height": "most"},
    "press-limit": {"force": "most", "reach": "most", "clamp": "least", "tool": "most", "blank": "most"},
    "option-rule": {"requires": "most", "excludes": "most", "family": "most", "validity": "most"},
    "bending": {"stress": "most", "front-axle": "most", "rear-axle": "most"},
    "joint": {"utilisation": "most"},
    "grip": {"bolt-diameters": "least", "screw-length": "most"},
    "drain": {"depth": "most"},
}
"""Every rule and its measures; *least*: the value must not be less than the limit, *most*: not more."""

_LENGTHS_IN_WHEN = ("thickness", "depth", "hole", "bolt")


def _scaled(value: Any) -> Any:
    """A figure in inches as millimetres; anything that is no number is left for the validation to refuse."""
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return inches_to_mm(value) if is_number else value


def _in_inches(info: ValidationInfo) -> bool:
    return bool(info.context and info.context.get("units") == "in")


class Range(Model):
    """Bounds on a figure; those given all hold. ``least``/``most`` include the bound, ``above``/``below`` do not."""

    least: Number | None = None
    most: Number | None = None
    above: Number | None = None
    below: Number | None = None

    @model_validator(mode="after")
    def _bounded(self) -> Range:
        if all(bound is None for bound in (self.least, self.most, self.above, self.below)):
            raise ValueError("give at least one of least, most, above, below")
        return self


class When(Model):
    """Where a row holds; every condition given must be met. Lengths are in the file's units, mm after reading."""

    tensile: Range | None = Field(None, description="least tensile strength of the steel, MPa")
    thickness: Range | None = Field(None, description="thickness of the part, mm")
    depth: Range | None = Field(None, description="depth of the part at the feature's station, mm")
    hole: Range | None = Field(None, description="hole diameter, slot width or shorter side, mm")
    bolt: Range | None = Field(None, description="bolt diameter, mm")
    zone: StationName | None = Field(None, description="a zone by name")
    direction: Literal["along", "across"] | None = Field(None, description="pairs only: |dx| >= |dz|, or not")
    shielded: bool | None = Field(None, description="heat envelopes only")

    @model_validator(mode="before")
    @classmethod
    def _to_mm(cls, raw: Any, info: ValidationInfo) -> Any:
        if not (isinstance(raw, dict) and _in_inches(info)):
            return raw
        lengths = {key: raw[key] for key in _LENGTHS_IN_WHEN if isinstance(raw.get(key), dict)}
        return raw | {key: {bound: _scaled(v) for bound, v in bounds.items()} for key, bounds in lengths.items()}


class LimitRow(Model):
    """One row of a limit set.

    The limit is ``error`` times what ``of`` names, or ``error`` itself in ``unit``; or, with ``table``, the value
    beside the size of the bolt or hole (``of``), the next listed size up between rows. ``unit = "in"`` (or no unit in
    a file in inches) is turned into mm when it is read. ``counted`` says which holes lie on one line: those whose
    extents it meets, or those whose centres lie within one hole radius of each other.
    """

    rule: str
    measure: str
    error: Number | None = None
    warning: Number | None = None
    table: tuple[tuple[Number, Number], ...] = Field(default=(), description="size and least value, ascending")
    unit: Literal["mm", "in", "MPa", "ratio", "count", "kN", "violations", "mm2"] = "mm"
    of: Multiplied | None = None
    when: When | None = None
    counted: Counted = Field("extents", description="holes-in-line only: what has to meet a line for a hole to count")
    source: Text

    @model_validator(mode="before")
    @classmethod
    def _to_mm(cls, raw: Any, info: ValidationInfo) -> Any:
        if not isinstance(raw, dict):
            return raw
        unit = raw.get("unit", "in" if _in_inches(info) else "mm")
        if unit != "in":
            return raw
        scaled: dict[str, Any] = {"unit": "mm"}
        if raw.get("of") is None:
            scaled |= {key: _scaled(raw[key]) for key in ("error", "warning") if key in raw}
        if isinstance(raw.get("table"), list | tuple):
            pairs = raw["table"]
            scaled["table"] = [[_scaled(v) for v in pair] if isinstance(pair, list | tuple) else pair for pair in pairs]
        return raw | scaled

    @model_validator(mode="after")
    def _sound(self) -> LimitRow:
        if self.rule not in MEASURES:
            raise ValueError(f"rule {self.rule!r} is not known")
        if self.measure not in MEASURES[self.rule]:
            known = ", ".join(MEASURES[self.rule])
            raise ValueError(f"measure {self.measure!r} is not known for {self.rule}; it has {known}")
        if self.counted != "extents" and self.rule != "holes-in-line":
            raise ValueError(f"counted is for holes-in-line; this is {self.rule}")
        if self.table:
            if self.error is not None or self.warning is not None or self.of not in ("bolt", "hole"):
                raise ValueError('a table stands instead of error and warning, with of = "bolt" or "hole"')
            sizes = [size for size, _ in self.table]
            if sizes != sorted(set(sizes)):
                raise ValueError("the sizes of a table must ascend")
        elif self.error is None and self.warning is None:
            raise ValueError("give error, warning or both, or a table")
        return self


class LimitSet(Model):
    """A named set of rows; it may inherit one other set and replace the measures it lists itself."""

    id: Identifier
    name: Text
    source: Text
    inherits: Identifier | None = None
    rows: tuple[LimitRow, ...] = ()
