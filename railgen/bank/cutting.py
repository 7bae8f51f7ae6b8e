"""The cutting plan of a bank: blanks of one steel, thickness and width, cut from stock lengths window by window.

A window is some serials in build order. Only blanks of one window share a stock length, and within it the bars are cut
in the order in which their serials are built, so that the rails of a serial meet as a pair in the jig.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import islice
from math import ceil

from railgen.bank.cutting_patterns import Bar, plan_bars
from railgen.bank.record import Blank, blanks_of
from railgen.data.library import Library
from railgen.data.messages import InputError, Problem
from railgen.data.order_input import OrderInput
from railgen.data.stock import StockLengths
from railgen.data.values import length_text
from railgen.layout.resolve import resolve

_UNITS = 1000  # a mm: lengths are planned in whole micrometres
MaterialKey = tuple[str, float, float]


@dataclass(frozen=True)
class Piece:
    """A blank as it lies in its bar: of a serial, from a place (mm from the bar's end)."""

    serial: str
    blank: Blank
    start: float


@dataclass(frozen=True)
class CutBar:
    """A stock length (mm) of a material with what is cut from it, in the order of cutting."""

    window: int
    steel: str
    thickness: float
    width: float
    stock: float
    pieces: tuple[Piece, ...]


@dataclass
class MaterialTotals:
    """Sums over all windows of one material, lengths mm.

    bound: no plan with these windows takes less stock; unproved: windows whose plan takes more than their bound;
    apart: the most bars that lie between the LH and the RH blank of a serial.
    """

    blanks: int = 0
    cut: float = 0.0
    stock: float = 0.0
    bound: float = 0.0
    unproved: int = 0
    apart: int = 0
    bars: Counter[float] = field(default_factory=Counter)

    @property
    def waste(self) -> float:
        """Share of the stock that is no blank: kerf, trim and what is left."""
        return 1 - self.cut / self.stock if self.stock else 0.0


@dataclass
class CuttingTotals:
    """Sums over a bank by steel, thickness and width, and the orders that could not be used."""

    materials: dict[MaterialKey, MaterialTotals] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    serials: int = 0


@dataclass(frozen=True)
class _Wanted:
    """A blank that is wanted, by its serial's place in build order within the window."""

    turn: int
    serial: str
    blank: Blank


def cutting_plan(
    orders: Iterable[OrderInput], library: Library, stock: StockLengths, totals: CuttingTotals
) -> Iterator[CutBar]:
    """The bars of a bank in the order of cutting, window by window; sums go into ``totals``.

    Only the window at hand is held. An order that cannot be used, or a blank longer than any stock length, is named
    in the totals and the others go on.
    """
    serials = _blanks_by_serial(orders, library, stock, totals)
    windows = iter(lambda: list(islice(serials, stock.window)), [])
    for number, window in enumerate(windows, 1):
        groups: dict[MaterialKey, list[_Wanted]] = {}
        for turn, (serial, blanks) in enumerate(window):
            for blank in blanks:
                key = (blank.steel, blank.thickness, blank.width)
                groups.setdefault(key, []).append(_Wanted(turn, serial, blank))
        for key, wanted in sorted(groups.items()):
            yield from _cut_group(number, key, wanted, stock, totals.materials.setdefault(key, MaterialTotals()))


def _blanks_by_serial(
    orders: Iterable[OrderInput], library: Library, stock: StockLengths, totals: CuttingTotals
) -> Iterator[tuple[str, tuple[Blank, ...]]]:
    for given in orders:
        try:
            if given.order is None:
                raise given.error or InputError([])
            blanks = tuple(blanks_of(resolve(given.order, library, given.place)))
            _refuse_too_long(blanks, stock, given)
        except InputError as error:
            totals.problems.extend(error.problems)
            continue
        totals.serials += 1
        yield given.serial, blanks


def _refuse_too_long(blanks: tuple[Blank, ...], stock: StockLengths, given: OrderInput) -> None:
    units = given.order.units if given.order else "mm"
    for blank in blanks:
        most = stock.lengths_of(blank.steel)[-1] - 2 * stock.end_trim
        if blank.length > most:
            found = f"a {blank.part} blank of {length_text(blank.length, units)} in {blank.steel}"
            allowed = f"at most {length_text(most, units)}, the longest stock length less its trims"
            raise InputError([Problem(given.place, "", found, allowed, "Add a longer stock length to stock.toml.")])


def _cut_group(
    window: int, key: MaterialKey, wanted: list[_Wanted], stock: StockLengths, totals: MaterialTotals
) -> Iterator[CutBar]:
    lengths = [_up(-length) * -1 for length in stock.lengths_of(key[0])]
    demand = Counter(_up(one.blank.length) for one in wanted)
    plan = plan_bars(demand, lengths, _up(stock.kerf), _up(stock.end_trim))
    bars = [_laid_out(window, key, bar, own, stock) for bar, own in _in_build_order(plan.bars, wanted)]
    totals.blanks += len(wanted)
    totals.cut += sum(one.blank.length for one in wanted)
    totals.stock += plan.stock / _UNITS
    totals.bound += plan.bound / _UNITS
    totals.unproved += plan.stock > plan.bound
    totals.apart = max(totals.apart, _bars_apart(bars))
    totals.bars.update(bar.stock for bar in bars)
    yield from bars


def _up(length: float) -> int:
    """A length in whole units, rounded up, forgiving the noise of binary fractions."""
    return ceil(round(length * _UNITS, 3))


def _in_build_order(bars: Iterable[Bar], wanted: Iterable[_Wanted]) -> Iterator[tuple[Bar, list[_Wanted]]]:
    """The bars in the order of cutting with the blanks cut from each: pairs that are begun first, then by turn."""
    waiting: dict[int, deque[_Wanted]] = {}
    for one in sorted(wanted, key=lambda one: (one.turn, one.blank)):
        waiting.setdefault(_up(one.blank.length), deque()).append(one)
    left, begun = Counter(bars), set[tuple[str, str]]()

    def needed(bar: Bar) -> list[int]:
        """Turns of the blanks that the bar would give, first those whose partner is cut already."""
        counts = Counter(bar.pieces)
        given = [waiting[length][place] for length, n in counts.items() for place in range(n)]
        return sorted(-1 if (one.serial, one.blank.part) in begun else one.turn for one in given)

    while left:
        bar = min(left, key=lambda bar: (needed(bar), bar.stock, bar.pieces))
        left -= Counter([bar])
        own = [waiting[length].popleft() for length in bar.pieces]
        begun ^= {(one.serial, one.blank.part) for one in own if _lone(one, own)}
        yield bar, sorted(own, key=lambda one: (one.turn, one.blank))


def _lone(one: _Wanted, own: list[_Wanted]) -> bool:
    """Whether a blank's partner is not cut from the same bar."""
    return sum((other.serial, other.blank.part) == (one.serial, one.blank.part) for other in own) == 1


def _laid_out(window: int, key: MaterialKey, bar: Bar, own: Iterable[_Wanted], stock: StockLengths) -> CutBar:
    pieces, start = [], stock.end_trim
    for one in own:
        pieces.append(Piece(one.serial, one.blank, round(start, 6)))
        start += one.blank.length + stock.kerf
    return CutBar(window, *key, bar.stock / _UNITS, tuple(pieces))


def _bars_apart(bars: list[CutBar]) -> int:
    """The most bars from the first blank of a serial's part to the last."""
    first: dict[tuple[str, str], int] = {}
    most = 0
    for number, bar in enumerate(bars):
        for piece in bar.pieces:
            most = max(most, number - first.setdefault((piece.serial, piece.blank.part), number))
    return most
