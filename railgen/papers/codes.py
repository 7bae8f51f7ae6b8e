"""What scanners read on every paper: a bar code of the serial, and a QR code that ties the paper to its hole table.

Both are data, bars in millimetres: sheets take them as figures, pages draw the same figures on their canvas.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from railgen.formats.hole_table import hole_table_csv
from railgen.holes.table import FloatArray, HoleTable
from railgen.layout.plan import SerialPlan
from railgen.papers.sheet import BLACK, Figures

BOTH_HANDS = "LH+RH"
"""The hand of a paper that is for both rails of a serial."""
BAR_MODULE = 0.3
"""Width (mm) of the narrowest bar; 0.19 mm and more is common practice for laser printers, from memory."""
_BAR_QUIET, _QR_QUIET = 10, 4
"""Modules left white on all sides (ISO/IEC 15417 and 18004, from memory)."""


@dataclass(frozen=True, eq=False)
class Code:
    """A code as bars: (k, 4) left, bottom, right and top, mm from its lower left corner, its white margin included."""

    text: str
    width: float
    height: float
    bars: FloatArray


def hole_table_sha256(plan: SerialPlan) -> str:
    """sha256 of the serial's hole table as its file holds it."""
    return _table_sha256(_Table(plan.serial, plan.holes))


@dataclass(frozen=True, eq=False)
class _Table:
    """A hole table as a key of a cache: by identity, since it never changes."""

    serial: str
    holes: HoleTable

    def __hash__(self) -> int:
        return id(self.holes)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Table) and other.holes is self.holes and other.serial == self.serial


@lru_cache(maxsize=1)
def _table_sha256(table: _Table) -> str:
    """Kept for the serial at hand: every sheet of its papers asks for it."""
    return hashlib.sha256(hole_table_csv(table.serial, table.holes)).hexdigest()


def identity(serial: str, part: str, hand: str, table: str) -> str:
    """What a QR code says: serial, part, hand and the sha256 of the hole table, in this order, joined by ``;``."""
    return ";".join((serial, part, hand, table))


@lru_cache(maxsize=16)
def bar_code(text: str, height: float) -> Code:
    """Text as Code 128, bars `height` mm high. Source: ISO/IEC 15417, by reportlab."""
    from reportlab.graphics.barcode.code128 import Code128

    code = Code128(text)
    code.validate()
    code.encode()
    code.decompose()
    # Capital letters are bars and small ones spaces, A or a one module wide, B or b two, and so on.
    steps = np.array([ord(step.upper()) - ord("A") + 1 for step in code.decomposed], dtype=np.float64)
    ends = (np.cumsum(steps) + _BAR_QUIET) * BAR_MODULE
    is_bar = np.array([step.isupper() for step in code.decomposed])
    left, right = (ends - steps * BAR_MODULE)[is_bar], ends[is_bar]
    bars = np.column_stack([left, np.zeros(len(left)), right, np.full(len(left), height)])
    return Code(text, float(ends[-1] + _BAR_QUIET * BAR_MODULE), height, bars)


@lru_cache(maxsize=16)
def qr_code(text: str, size: float) -> Code:
    """Text as a QR code on a square of `size` mm, level M of error correction. Source: ISO/IEC 18004, by reportlab."""
    from reportlab.graphics.barcode.qrencoder import QRCode, QRErrorCorrectLevel

    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(text)
    code.make()
    dark = np.array(code.modules, dtype=np.bool_)
    module = size / (len(dark) + 2 * _QR_QUIET)
    cells = np.array(_merged(dark), dtype=np.float64)
    first_row, end_row, first, end = cells.T + _QR_QUIET
    bars = np.column_stack([first * module, size - end_row * module, end * module, size - first_row * module])
    return Code(text, size, size, bars)


def _merged(dark: np.ndarray) -> list[tuple[int, int, int, int]]:
    """Dark modules as rectangles (first row, end row, first column, end column): runs in a row, alike ones joined."""
    done: list[tuple[int, int, int, int]] = []
    growing: dict[tuple[int, int], int] = {}
    for row in range(len(dark) + 1):
        change = np.diff(np.concatenate([[0], dark[row].astype(np.int64), [0]])) if row < len(dark) else np.zeros(1)
        runs = set(zip(np.flatnonzero(change == 1).tolist(), np.flatnonzero(change == -1).tolist(), strict=True))
        done += [(growing.pop(run), row, *run) for run in sorted(growing.keys() - runs)]
        growing |= dict.fromkeys(runs - growing.keys(), row)
    return done


def code_figures(code: Code, left: float, bottom: float) -> Figures:
    """A code as black figures whose lower left corner, white margin included, lies at (left, bottom) mm."""
    corners = code.bars[:, [0, 1, 2, 1, 2, 3, 0, 3]].reshape(-1, 4, 2) + np.array([left, bottom])
    return Figures("MLLLZ", corners, None, BLACK)
