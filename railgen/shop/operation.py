"""One operation of a part's route."""

from __future__ import annotations

from dataclasses import dataclass

from railgen.data.plant import Finishing
from railgen.shop.card_line import CardLine

SIGN_OFF = ("initials", "date")
"""What is signed for an operation where nothing else is said."""


@dataclass(frozen=True)
class Task:
    """What is done to a part at one place in the shop.

    ``inputs`` are what it starts from, ``instructions`` what is done, ``targets`` what is aimed at,
    ``limits`` what must hold, ``cautions`` what to beware of; ``units`` are what the library's standard time
    multiplies, ``machine_minutes`` what a machine takes besides; ``timed`` is false where the time stands on
    another part's card; ``records`` names what is written down, to be found again in the register; ``sign_off`` the
    boxes to fill in.
    """

    inputs: tuple[CardLine, ...] = ()
    instructions: tuple[CardLine, ...] = ()
    targets: tuple[CardLine, ...] = ()
    limits: tuple[CardLine, ...] = ()
    cautions: tuple[CardLine, ...] = ()
    units: float = 0.0
    machine_minutes: float = 0.0
    timed: bool = True
    records: tuple[str, ...] = ()
    sign_off: tuple[str, ...] = SIGN_OFF


@dataclass(frozen=True, kw_only=True)
class Operation(Task):
    """A task at its place on the route.

    ``number`` its place, in tens; ``kind`` the operation's name in the library; ``minutes`` the standard time
    for this part, None where the library gives none.
    """

    number: int
    kind: str
    minutes: float | None


def standard_minutes(finishing: Finishing, kind: str, task: Task) -> float | None:
    """Standard time of a task, fixed + each x units + what the machine takes, minutes; None where there is none.

    Units are holes for locating, punch, drill, dress, deburr, inspect, peen and nest, metres of blank for blank,
    bends for form, metres of seam for taper, studs for stud; the others have none.
    """
    time = finishing.times.get(kind)
    if time is None or not task.timed:
        return None
    return time.fixed + time.each * task.units + task.machine_minutes
