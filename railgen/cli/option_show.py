"""Clashes of options on the screen and as data."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from railgen.formats.option_files import clash_data, crowding_data, names_of
from railgen.placing.catalogue_proof import DRIVES
from railgen.placing.stretches import in_words
from railgen.placing.verdicts import VERDICTS, Matrix, OptionClash
from railgen.records.option_bank import OpenOnBank, OptionOnSerial
from railgen.records.option_sections import told_errors

Left = tuple[int, tuple[OpenOnBank, ...]]
_TOLD = ("always", "only for")
_MOST, _MOST_NAMES = 40, 8


def show_option(
    screen: Console, code: str, matrices: Sequence[Matrix], serials: Sequence[OptionOnSerial] | None
) -> None:
    """One option against all others, family by family."""
    for matrix in matrices:
        family = matrix.proof.order.family
        screen.print(f"[bold]{code}[/bold] in {escape(family.name)}: {_counted(matrix)}")
        own = matrix.cells[code, code]
        if own.clashes:
            screen.print(f"by itself: {own.verdict}")
        _show_clashes(screen, matrix)
        apart = [cell for cell in matrix.cells.values() if cell.verdict == "settles"]
        if apart:
            names = ", ".join(_other(cell, code) for cell in apart)
            screen.print(f"a floating component settles clear, unless others crowd it: {names}")
        _show_open(screen, matrix)
    if serials is not None:
        _show_serials(screen, serials)


def _other(cell: OptionClash, code: str) -> str:
    return cell.second if cell.first == code else cell.first


def _counted(matrix: Matrix) -> str:
    counts = Counter(cell.verdict for cell in matrix.cells.values() if cell.first != cell.second)
    return ", ".join(f"{counts[verdict]:,} {verdict}" for verdict in reversed(VERDICTS) if counts[verdict])


def _show_clashes(screen: Console, matrix: Matrix) -> None:
    cells = [cell for cell in matrix.cells.values() if cell.verdict in _TOLD]
    if not cells:
        return
    table = Table(pad_edge=False, header_style="bold")
    for name in ("options", "verdict", "components", "orders", "rules"):
        table.add_column(name, overflow="fold", ratio=2 if name == "orders" else 1 if name == "rules" else None)
    for cell in cells:
        for clash in cell.clashes:
            if clash.found.forced.any:
                words = in_words(clash.found.forced, matrix.proof.order.family.units)
                drives = "" if len(clash.drives) == len(DRIVES) else f", drive {' or '.join(clash.drives)}"
                rules = ", ".join(" ".join(reason) for reason in clash.found.reasons)
                pair = cell.first if cell.first == cell.second else f"{cell.first} {cell.second}"
                components = f"{' '.join(names_of(clash))} {clash.side}"
                table.add_row(pair, cell.verdict, escape(components), words + drives, escape(rules))
    screen.print(table)


def _show_open(screen: Console, matrix: Matrix) -> None:
    """What pairs cannot decide and no bound settles."""
    rooms = [room.component for room in matrix.crowding.rooms if not room.is_certain]
    lines = [line for line in matrix.crowding.lines if not line.is_kept]
    if rooms:
        screen.print(f"floating, not certain to settle in every order: {_named(rooms)}")
    for rule in dict.fromkeys(line.rule for line in lines):
        named = [line.component for line in lines if line.rule == rule]
        screen.print(f"{rule} over three components or more, not settled by its bound: {_named(named)}")


def _named(names: Sequence[str]) -> str:
    """Some names; pages and data have them all."""
    more = f" and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
    return ", ".join(names[:_MOST_NAMES]) + more


def _show_serials(screen: Console, serials: Sequence[OptionOnSerial]) -> None:
    counts = Counter(serial.state for serial in serials)
    told = ", ".join(f"{counts[state]:,} {state}" for state in ("has it", "could take it", "cannot have it"))
    affected = [serial for serial in serials if serial.errors]
    screen.print(f"[bold]Orders[/bold]: {told}; errors come with it in {len(affected):,}")
    if not affected:
        return
    table = Table(pad_edge=False, header_style="bold")
    for name in ("serial", "", "errors", "what"):
        table.add_column(name, overflow="fold", justify="right" if name == "errors" else "left")
    for serial in affected[:_MOST]:
        table.add_row(serial.serial, serial.state, str(len(serial.errors)), escape("; ".join(told_errors(serial))))
    screen.print(table)
    if len(affected) > _MOST:
        screen.print(f"and {len(affected) - _MOST} more: --json and --output name them all")


def show_matrix(screen: Console, matrix: Matrix, left: Left | None) -> None:
    """A family's matrix in short, and its clashes."""
    family = matrix.proof.order.family
    screen.print(f"[bold]{escape(family.name)}[/bold], {len(matrix.options)} options: {_counted(matrix)}")
    _show_clashes(screen, matrix)
    _show_open(screen, matrix)
    if left is None:
        return
    count, found = left
    screen.print(f"[bold]Orders[/bold]: {count:,} planned; what pairs leave open, found there:")
    for one in found[:_MOST]:
        screen.print(f"  {one.rule}: {', '.join(one.components)}: {len(one.serials)} serials, {one.serials[0]} first")
    if not found:
        screen.print("  nothing")


def option_data(code: str, matrices: Sequence[Matrix], serials: Sequence[OptionOnSerial] | None) -> dict[str, Any]:
    """All of ``option check`` as plain data."""
    data: dict[str, Any] = {"option": code, "families": [_family_data(code, matrix) for matrix in matrices]}
    if serials is not None:
        data["orders"] = [
            {
                "serial": serial.serial,
                "family": serial.family,
                "state": serial.state,
                "added": list(serial.added),
                "errors": [error.as_dict() for error in serial.errors],
            }
            for serial in serials
        ]
    return data


def _family_data(code: str, matrix: Matrix) -> dict[str, Any]:
    order = matrix.proof.order
    by_verdict: dict[str, list[str]] = {verdict: [] for verdict in VERDICTS}
    for cell in matrix.cells.values():
        if cell.first != cell.second:
            by_verdict[cell.verdict].append(_other(cell, code))
    return {
        "family": order.family.id,
        "section": order.section,
        "steel": order.steel,
        "limits": order.limit_set,
        "options": by_verdict,
        "clashes": [
            clash_data(cell, matrix.proof, _other(cell, code)) for cell in matrix.cells.values() if cell.clashes
        ],
        "left_open": crowding_data(matrix.crowding),
    }


def matrix_data(matrix: Matrix, left: Left | None) -> dict[str, Any]:
    """A matrix as plain data: every pair that is not ``never``."""
    order = matrix.proof.order
    data: dict[str, Any] = {
        "family": order.family.id,
        "section": order.section,
        "limits": order.limit_set,
        "options": list(matrix.options),
        "pairs": [
            {"first": cell.first, "second": cell.second, "verdict": cell.verdict}
            for cell in matrix.cells.values()
            if cell.verdict != "never"
        ],
        "left_open": crowding_data(matrix.crowding),
    }
    if left is not None:
        found = [
            {"rule": one.rule, "components": list(one.components), "serials": list(one.serials)} for one in left[1]
        ]
        data["orders"] = {"planned": left[0], "found": found}
    return data
