"""The files of a cutting plan: ``bars.csv`` for the saw, and a page that sums the plan up."""

from __future__ import annotations

import csv
import io

import railgen
from railgen.bank.charts import StockBar, cut_bars, stacked_bars
from railgen.bank.cutting import CutBar, CuttingTotals
from railgen.bank.tables import problem_text
from railgen.data.library import Library
from railgen.data.stock import StockLengths
from railgen.papers.page import page, section, table, tiles

COLUMNS = (
    *("bar", "window", "steel", "thickness_mm", "width_mm", "stock_mm"),
    *("serial", "side", "part", "from_mm", "length_mm"),
)
_MOST_NAMED = 200
_MOST_DRAWN = 60
_METRES = 1e-3


class BarTable:
    """``bars.csv``, a row a blank in the order of cutting; ``first``: bars that are drawn."""

    def __init__(self) -> None:
        self._text = io.StringIO(newline="")
        self._writer = csv.writer(self._text, lineterminator="\n")
        self._writer.writerow(COLUMNS)
        self.bars = 0
        self.first: list[CutBar] = []

    def add(self, bar: CutBar) -> None:
        """Add one bar."""
        self.bars += 1
        if bar.window == 1 and len(self.first) < _MOST_DRAWN:
            self.first.append(bar)
        material = (bar.steel, f"{bar.thickness:g}", f"{bar.width:.3f}", f"{bar.stock:g}")
        for piece in bar.pieces:
            blank = piece.blank
            place = (f"{piece.start:.3f}", f"{blank.length:.3f}")
            self._writer.writerow((self.bars, bar.window, *material, piece.serial, blank.side, blank.part, *place))

    def content(self) -> bytes:
        """The whole file."""
        return self._text.getvalue().encode()


def cutting_page(totals: CuttingTotals, bars: BarTable, stock: StockLengths, library: Library, name: str) -> bytes:
    """``cutting.html``: stock, waste and bound by material, what to fetch, and how the first window is cut."""
    parts: list[str] = []
    if totals.materials:
        parts += [_key_figures(totals), _by_material(totals, stock), _to_fetch(totals), _first_window(bars)]
    if totals.problems:
        named = [(problem_text(problem),) for problem in totals.problems[:_MOST_NAMED]]
        parts.append(section("Left out", "Orders that cannot be used as they stand.", table(["problem"], named)))
    made_by = f"railgen {railgen.__version__}; library sha256 {library.digest}."
    about_library = f"{library.about.name}, library revision {library.about.revision}"
    return page(f"Cutting plan {name}", about_library, parts, made_by)


def _key_figures(totals: CuttingTotals) -> str:
    materials = totals.materials.values()
    taken, cut, bound = (sum(figures) for figures in zip(*((m.stock, m.cut, m.bound) for m in materials), strict=True))
    return tiles(
        [
            (f"{totals.serials:,}", "serials", ""),
            (f"{sum(m.blanks for m in materials):,}", "blanks", ""),
            (f"{sum(m.bars.total() for m in materials):,}", "stock lengths", ""),
            (f"{taken * _METRES:,.0f} m", "stock", ""),
            (f"{100 * (1 - cut / taken):.2f} %", "waste", ""),
            (f"{100 * (taken / bound - 1):.2f} %", "above the proved bound", ""),
        ]
    )


def _by_material(totals: CuttingTotals, stock: StockLengths) -> str:
    about = (
        f"Windows of {stock.window} serials in build order; kerf {stock.kerf:g} mm, {stock.end_trim:g} mm trimmed at "
        "each end. No plan with these windows takes less stock than the bound. Bars apart: the most bars between the "
        "first and the last blank of a pair. Waste is kerf, trim and what is left over. Blanks of all orders that can "
        "be used are in the plan, whatever their findings."
    )
    head = ["steel", "t mm", "width mm", "blanks", "bars", "stock m", "bound m", "waste"]
    rows = [
        (
            *(steel, f"{thickness:g}", f"{width:.2f}", m.blanks, m.bars.total(), m.stock * _METRES, m.bound * _METRES),
            *(f"{100 * m.waste:.2f} %", m.unproved, m.apart),
        )
        for (steel, thickness, width), m in sorted(totals.materials.items())
    ]
    return section("Stock by material", about, table([*head, "windows unproved", "bars apart"], rows))


def _to_fetch(totals: CuttingTotals) -> str:
    lengths = sorted({length for m in totals.materials.values() for length in m.bars})
    by_steel = {
        steel: [sum(m.bars[length] for key, m in totals.materials.items() if key[0] == steel) for length in lengths]
        for steel in sorted({key[0] for key in totals.materials})
    }
    labels = [f"{length:,.0f} mm" for length in lengths]
    return section("Stock lengths to fetch", "", stacked_bars("stock", labels, by_steel, "stock lengths"))


def _first_window(bars: BarTable) -> str:
    drawn = [
        StockBar(
            f"{number}: {bar.steel} {bar.thickness:g} x {bar.width:.1f}",
            bar.stock,
            tuple((piece.start, piece.blank.length, piece.blank.side, piece.serial) for piece in bar.pieces),
        )
        for number, bar in enumerate(bars.first, 1)
    ]
    about = "The first bars of the first window, in the order of cutting; bars.csv has all of them."
    return section("How the bars are cut", about, cut_bars("bars", drawn))
