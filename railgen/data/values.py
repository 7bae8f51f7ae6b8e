"""The kinds of value that data files hold, with their units and bounds.

A file may say ``units = "in"``: every length in it then is inches and becomes millimetres once, here, when it
is read. Masses (kg), stresses (MPa), forces (kN) and angles (degrees) never change.
"""

from __future__ import annotations

import datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationInfo

MM_PER_INCH = 25.4
_KEPT_DECIMALS = 9  # of a millimetre: an inch file and a millimetre file of one order give the same numbers


def inches_to_mm(value: float) -> float:
    """Inches in millimetres: the one place where they are converted."""
    return round(value * MM_PER_INCH, _KEPT_DECIMALS)


def to_mm(value: float, info: ValidationInfo) -> float:
    """A length as written, in millimetres."""
    return inches_to_mm(value) if info.context and info.context.get("units") == "in" else value


def length_text(value: float, units: str) -> str:
    """A length in mm as a message shows it, in the units of the file that it stands in."""
    return f"{value / MM_PER_INCH:g} in" if units == "in" else f"{value:g} mm"


_FINITE = Field(strict=True, allow_inf_nan=False)

Length = Annotated[float, _FINITE, Field(ge=-100_000, le=100_000), AfterValidator(to_mm)]
"""A position or an offset, mm or in."""
Size = Annotated[float, _FINITE, Field(gt=0, le=100_000), AfterValidator(to_mm)]
"""A length greater than zero, mm or in."""
Gap = Annotated[float, _FINITE, Field(ge=0, le=100_000), AfterValidator(to_mm)]
"""A length of zero or more, mm or in."""
Number = Annotated[float, _FINITE, Field(ge=-1e9, le=1e9)]
"""A pure number: a coefficient, a factor, an angle."""
Positive = Annotated[float, _FINITE, Field(gt=0, le=1e9)]
"""A number above zero that is no length: MPa, kN, kg, s."""
NotNegative = Annotated[float, _FINITE, Field(ge=0, le=1e9)]
"""A number of zero or more that is no length."""
Share = Annotated[float, _FINITE, Field(ge=0, le=1)]
"""A share from 0 to 1."""
Angle = Annotated[float, _FINITE, Field(ge=0, lt=180)]
"""Angle of a long axis, degrees."""
Count = Annotated[int, Field(strict=True, ge=1, le=100_000)]
Flag = Annotated[bool, Field(strict=True)]
Date = Annotated[datetime.date, Field(strict=True)]

WORDS_OF_PATTERN: dict[str, str] = {}
"""What text of a pattern may be, in words for messages."""


def shaped(pattern: str, words: str, **more: Any) -> Any:
    """A field of text of a pattern, which messages tell in words."""
    WORDS_OF_PATTERN[pattern] = words
    return Field(pattern=pattern, **more)


Text = Annotated[
    str,
    shaped(
        r"^[^\x00-\x1f\x7f<>\"'`\\]+$",
        "words without quotes, angle brackets, backslashes or line breaks",
        min_length=1,
        max_length=300,
    ),
]
"""Words for people: no quotes, angle brackets, backslashes or control characters."""
Identifier = Annotated[
    str,
    shaped(
        r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$",
        "lower-case words and numbers joined by hyphens, a letter first",
        max_length=48,
    ),
]
"""Lower-case words and numbers joined by hyphens: names of components, families, sets."""
FeatureName = Annotated[
    str, shaped(r"^[a-z0-9]+(-[a-z0-9]+)*$", "lower-case letters and digits, joined by hyphens", max_length=24)
]
Code = Annotated[str, shaped(r"^[A-Z]{3}[0-9]{2}$", "three capital letters and two digits, as in FRM10")]
"""An option's code: three letters and two digits."""
Serial = Annotated[
    str, shaped(r"^[A-Z]{1,4}-[0-9]{1,9}$", "one to four capital letters, a hyphen and a number, as in P-1001")
]
"""A serial: a prefix of capital letters, a hyphen, a number."""
Name = Annotated[
    str,
    shaped(
        r"^[A-Za-z0-9][A-Za-z0-9 ./x+-]*$",
        "letters, digits, spaces and . / + -, a letter or digit first",
        max_length=48,
    ),
]
"""Name of a section, steel, fastener or tool."""
Revision = Annotated[str, shaped(r"^[A-Z0-9]{1,3}$", "one to three capital letters or digits")]
StationName = Annotated[
    str,
    shaped(r"^[a-z][a-z0-9]*(_[a-z0-9]+)*$", "lower-case words and numbers joined by _, a letter first", max_length=48),
]
"""Name of an anchor or a zone."""
DimensionName = Annotated[
    str,
    shaped(
        r"^([a-z][a-z0-9]*(_[a-z0-9]+)*|[A-Z]{3}[0-9]{2}\.[a-z][a-z0-9]*(_[a-z0-9]+)*)$",
        "an order dimension as wheelbase, or an option's own as FRM10.name",
        max_length=60,
    ),
]
"""An order dimension, or CODE.parameter for an option's own."""

Units = Literal["mm", "in"]
Side = Literal["LH", "RH", "both", "turned", "driver", "passenger"]
FaceName = Literal["web", "top", "bottom"]
Surface = Literal["outside", "inside"]
Drive = Literal["left", "right", "dual"]


class Model(BaseModel):
    """Base of every table in a data file: unknown keys are refused, nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)
