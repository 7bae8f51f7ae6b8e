"""The files of a cutting plan: ``bars.csv`` for the saw, and a page that sums the plan up."""

from __future__ import annotations

import csv
import io

import railgen
from railgen.bank.charts import stacked_bars
from railgen.bank.cutting import CutBar, CuttingTotals
from railgen.bank.page import page, section, table, tiles
from railgen.bank.tables import problem_text
from railgen.data.library import Library
from railgen.data.stock import StockLengths

COLUMNS = (
    *("bar", "window", "steel", "thickness_mm", "width_mm", "stock_mm"),
    *("serial", "side", "part", "from_mm", "length_mm"),
)
_MOST_NAMED = 200
_METRES = 1e-3


class BarTable:
    """``bars.csv``, a row a blank in the order of cutting."""

    def __init__(self) -> None:
        self._text = io.StringIO(newline="")
        self._writer = csv.writer(self._text, lineterminator="\n")
        self._writer.writerow(COLUMNS)
        self.bars = 0

    def add(self, bar: CutBar) -> None:
        """Add one bar."""
        self.bars += 1
        material = (bar.steel, f"{bar.thickness:g}", f"{bar.width:.3f}", f"{bar.stock:g}")
        for piece in bar.pieces:
            blank = piece.blank
            place = (f"{piece.start:.3f}", f"{blank.length:.3f}")
            self._writer.writerow((self.bars, bar.window, *material, piece.serial, blank.side, blank.part, *place))

    def content(self) -> bytes:
        """The whole file."""
        return self._text.getvalue().encode()


def cutting_page(totals: CuttingTotals, stock: StockLengths, library: Library, name: str) -> bytes:
    """``cutting.html``: stock, waste and bound by material."""
    materials = sorted(totals.materials.items())
    taken, cut = sum(m.stock for _, m in materials), sum(m.cut for _, m in materials)
    bound = sum(m.bound for _, m in materials)
    figures = [
        (f"{totals.serials:,}", "serials", ""),
        (f"{sum(m.blanks for _, m in materials):,}", "blanks", ""),
        (f"{sum(m.bars.total() for _, m in materials):,}", "stock lengths", ""),
        (f"{taken * _METRES:,.1f} m", "stock", ""),
        (f"{100 * (1 - cut / taken) if taken else 0:.2f} %", "waste", ""),
        (f"{100 * (taken / bound - 1) if bound else 0:.2f} %", "above the proved bound", ""),
    ]
    rows = [
        (
            *key[:1],
            f"{key[1]:g}",
            f"{key[2]:.2f}",
            m.blanks,
            m.bars.total(),
            m.stock * _METRES,
            m.bound * _METRES,
            f"{100 * m.waste:.2f} %",
            m.unproved,
            m.apart,
        )
        for key, m in materials
    ]
    head = [
        "steel",
        "t mm",
        "width mm",
        "blanks",
        "bars",
        "stock m",
        "bound m",
        "waste",
        "windows unproved",
        "bars apart",
    ]
    about = (
        f"Windows of {stock.window} serials in build order; kerf {stock.kerf:g} mm, {stock.end_trim:g} mm trimmed at "
        "each end. No plan with these windows takes less stock than the bound. Bars apart: the most bars between the "
        "first and the last blank of a pair. Waste is kerf, trim and what is left over. Blanks of all orders that can "
        "be used are in the plan, whatever their findings."
    )
    parts = [tiles(figures), section("Stock by material", about, table(head, rows)) if rows else ""]
    lengths = sorted({length for _, m in materials for length in m.bars})
    if lengths:
        labels = [f"{length:,.0f} mm" for length in lengths]
        by_steel = {
            steel: [sum(m.bars[length] for key, m in materials if key[0] == steel) for length in lengths]
            for steel in sorted({key[0] for key, _ in materials})
        }
        parts.append(section("Stock lengths to fetch", "", stacked_bars("stock", labels, by_steel, "stock lengths")))
    if totals.problems:
        named = [(problem_text(problem),) for problem in totals.problems[:_MOST_NAMED]]
        parts.append(section("Left out", "Orders that cannot be used as they stand.", table(["problem"], named)))
    made_by = f"railgen {railgen.__version__}; library sha256 {library.digest}."
    about_library = f"{library.about.name}, library revision {library.about.revision}"
    return page(f"Cutting plan {name}", about_library, parts, made_by)
