"""STEP files (ISO 10303-21, AP214) of the finished parts: one solid a part, both hands where they stand in the truck.

Needs an Open CASCADE binding, ``pip install railgen[step]``; without it ``require_binding`` says so. Vehicle axes, mm:
x rearward from the front axle's centreline, y to the right from the middle of the truck, z up from the outside (lower)
face of the rail's bottom flange; so LH is at y below 0, RH above, the outside faces of their webs a frame width apart.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from railgen.data.extras import need
from railgen.data.messages import InputError, Problem
from railgen.formats.cautions import CAUTIONS
from railgen.formats.names import Part, Side, step_name
from railgen.layout.plan import SerialPlan

_SIDES: tuple[Side, ...] = ("LH", "RH")
_FILE_NAME = re.compile(r"FILE_NAME\(.*?\);", re.DOTALL)
_FILE_DESCRIPTION = re.compile(r"FILE_DESCRIPTION\(.*?\);", re.DOTALL)
_NO_TIME = "1970-01-01T00:00:00"
"""Stands for the time: there is no clock in any file."""


def require_binding() -> None:
    """Raises InputError, with what to install, where there is no Open CASCADE binding."""
    need("OCP", "step", "STEP")


def step_files(planned: SerialPlan) -> dict[str, bytes]:
    """The STEP file of each rail and liner, by name; raises InputError without the binding or where a solid fails."""
    require_binding()
    return {step_name(planned.serial, side, part): step_file(planned, side, part) for side, part in step_parts(planned)}


def step_parts(planned: SerialPlan) -> Iterator[tuple[Side, Part]]:
    """Side and part of every rail and liner."""
    parts: tuple[Part, ...] = ("rail", "liner") if planned.order.rail.liner else ("rail",)
    for side in _SIDES:
        for part in parts:
            yield side, part


def step_file(planned: SerialPlan, side: Side, part: Part) -> bytes:
    """The STEP file of one part, in vehicle axes; the same plan gives the same bytes."""
    from railgen.formats.step_solid import part_solid

    order = planned.order
    try:
        solid = part_solid(order.rail, planned.holes, side, part, order.dimensions["frame_width"])
    except ValueError as error:
        place = f"{planned.serial} {side} {part}"
        raise InputError([Problem(place, "", str(error), "a part in one piece")]) from None
    return solid_bytes(solid, f"{planned.serial}-{side}-{part}")


@contextmanager
def quiet() -> Iterator[None]:
    """Keep the binding from writing its progress to standard output."""
    from OCP.Message import Message, Message_Gravity

    printers = list(Message.DefaultMessenger_s().Printers())
    levels = [printer.GetTraceLevel() for printer in printers]
    for printer in printers:
        printer.SetTraceLevel(Message_Gravity.Message_Fail)
    try:
        yield
    finally:
        for printer, level in zip(printers, levels, strict=True):
            printer.SetTraceLevel(level)


def solid_bytes(solid: object, name: str) -> bytes:
    """A shape as a STEP file in millimetres, its product named so, with nothing of a clock or a machine in it."""
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.Interface import Interface_Static
    from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer

    with quiet(), tempfile.TemporaryDirectory() as folder:
        writer = STEPControl_Writer()
        # The settings are known only once a writer is there.
        settings = (("write.step.unit", "MM"), ("write.step.schema", "AP214IS"), ("write.step.product.name", name))
        for key, value in settings:
            Interface_Static.SetCVal_s(key, value)
        writer.Transfer(solid, STEPControl_AsIs)
        file = Path(folder) / f"{name}.step"
        if writer.Write(str(file)) != IFSelect_RetDone:
            raise ValueError(f"{name} could not be written as STEP")
        text = file.read_text(encoding="ascii")
    # Products are counted through a process: the number behind the name says nothing and changes from run to run.
    counted = re.compile(rf"PRODUCT\('{re.escape(name)} \d+',\s*'{re.escape(name)} \d+'")
    text = counted.sub(f"PRODUCT('{name}','{name}'", text)
    cautions = ",".join(f"'{caution}'" for caution in CAUTIONS)
    description = f"FILE_DESCRIPTION(('{name}',{cautions}),'2;1');"
    header = f"FILE_NAME('{name}.step','{_NO_TIME}',(''),(''),'','railgen','');"
    text = _FILE_DESCRIPTION.sub(description, text, count=1)
    return _FILE_NAME.sub(header, text, count=1).encode("ascii")
