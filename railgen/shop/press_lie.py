"""How a blank lies on the press: outside face up, against the gauge edge and the end stop.

The press's x runs along the blank and its y from the gauge edge inward. Gauged on the bottom flange's edge they are the
blank axes of the cut file; gauged on the top flange's edge the blank lies turned half round in its plane. It is never
turned over, so the end that is gauged is at x = 0 on one hand and at x = the blank's length on the other.
"""

from __future__ import annotations

from dataclasses import dataclass

from railgen.data.plant import Press
from railgen.holes.table import FloatArray


@dataclass(frozen=True)
class PressLie:
    """A blank on the press: its size in mm, whether it lies turned half round, and which end meets the stop.

    ``stop_x`` is the press's x (mm) of the gauged end: 0 or the length.
    """

    length: float
    width: float
    thickness: float
    turned: bool
    stop_x: float

    def to_press(self, blank_x: FloatArray, blank_y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """x and y on the press (mm) of places in blank axes; the same call leads back."""
        if self.turned:
            return self.length - blank_x, self.width - blank_y
        return blank_x, blank_y

    def from_stop(self, x: FloatArray) -> FloatArray:
        """Distance (mm) of press x from the gauged end."""
        return abs(x - self.stop_x)

    def at_station(self, distance: float) -> float:
        """Press x (mm) at a distance from the gauged end; negative distances lie beyond the stop."""
        return distance if self.stop_x == 0.0 else self.length - distance


def press_lie(press: Press, side: str, length: float, width: float, thickness: float) -> PressLie:
    """How the blank (mm) of a side, LH or RH, lies on a press."""
    turned = press.gauge_edge == "top"
    # blank_x = 0 is the front end on LH and the rear end on RH; half a turn swaps the ends.
    front_at_zero = (side == "LH") != turned
    stop_at_zero = front_at_zero == (press.gauge_end == "front")
    return PressLie(length, width, thickness, turned, 0.0 if stop_at_zero else length)
