"""Findings on a screen: a table, numbered as on every paper."""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterable
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from railgen.data.findings import Finding
from railgen.layout.plan import SerialPlan
from railgen.rules.explain import LimitLine

_COLOURS = {"error": "red", "warning": "yellow", "note": "cyan"}


def show_plan(console: Console, plan: SerialPlan) -> None:
    """One serial: a summary line, and its findings as a table."""
    console.print(summary(plan), highlight=False)
    if plan.findings:
        console.print(findings_table(plan.findings))


def show_archive(console: Console, written: Path | None, removed: Path | None) -> None:
    """What became of a serial's archive."""
    if written:
        console.print(f"written: {written}", highlight=False)
    elif removed:
        console.print(f"removed: {removed}, of an earlier build", highlight=False)


def summary(plan: SerialPlan) -> str:
    """Serial, holes on each side, and findings by severity."""
    holes = [int((plan.holes.side == side).sum()) for side in (0, 1)]
    counts = ", ".join(f"{_counted(plan.findings, severity)} {severity}s" for severity in _COLOURS)
    order = plan.order
    return (
        f"[bold]{order.serial}[/bold] {escape(order.family.name)}, wheelbase {order.dimensions['wheelbase']:g} mm, "
        f"{len(order.components)} components, {holes[0]} features LH, {holes[1]} RH: {counts}"
    )


def _counted(findings: Iterable[Finding], severity: str) -> int:
    return sum(finding.severity == severity for finding in findings)


def findings_table(findings: tuple[Finding, ...]) -> Table:
    """Number, severity, rule, place and what is wrong, with what to do about it."""
    table = Table(show_lines=False, pad_edge=False, header_style="bold")
    table.add_column("no.", justify="right")
    table.add_column("severity")
    table.add_column("rule", overflow="fold")
    table.add_column("place", overflow="fold")
    table.add_column("finding", overflow="fold", ratio=1)
    numbered = enumerate(findings, 1)
    for _, group in itertools.groupby(numbered, key=lambda item: _row_key(*item)):
        members = list(group)
        number, finding = members[0]
        colour = _COLOURS[finding.severity]
        rule = escape(f"{finding.rule} {finding.measure}")
        numbers = str(number) if len(members) == 1 else f"{number}-{members[-1][0]}"
        text = escape(_text([finding for _, finding in members]))
        table.add_row(numbers, f"[{colour}]{finding.severity}[/]", rule, escape(_place(finding)), text)
    return table


def _row_key(number: int, finding: Finding) -> tuple[object, ...]:
    """Findings with one key share a row: notes about holes shared by the same components on one side."""
    if finding.rule != "shared-hole":
        return (number,)
    return (finding.rule, finding.side, finding.components)


def _text(findings: list[Finding]) -> str:
    first = findings[0]
    if len(findings) == 1:
        return f"{first.message}. {first.remedy}".strip()
    holes = ", ".join(hole for finding in findings for hole in finding.holes)
    return f"{len(findings)} holes shared by {', '.join(first.components)}: {holes}."


def _place(finding: Finding) -> str:
    where = " ".join(part for part in (finding.side, finding.part, finding.face) if part)
    return where if finding.station_mm is None else f"{where} at {finding.station_mm:.1f}".strip()


def as_json(plans: Iterable[SerialPlan]) -> str:
    """Findings of all serials as JSON, an object a serial."""
    rows = [{"serial": plan.serial, "findings": [f.as_dict() for f in plan.findings]} for plan in plans]
    return json.dumps(rows, indent=2)


def limits_table(lines: Iterable[LimitLine], sets: tuple[str, ...]) -> Table:
    """A row a measure, a column a limit set."""
    cells: dict[tuple[str, str], dict[str, str]] = {}
    for line in lines:
        text = "\n".join((*line.limits, *(f"[dim]{escape(source)}[/dim]" for source in line.sources)))
        cells.setdefault((line.rule, line.measure), {})[line.limit_set] = text
    table = Table(show_lines=True, pad_edge=False, header_style="bold")
    table.add_column("rule")
    table.add_column("measure")
    for name in sets:
        table.add_column(name, overflow="fold")
    for (rule, measure), by_set in cells.items():
        table.add_row(rule, measure, *(by_set.get(name, "") for name in sets))
    return table
