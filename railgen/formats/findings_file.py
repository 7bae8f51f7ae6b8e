"""``findings.json``: the findings of one serial, and back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import fields
from math import isfinite
from pathlib import Path
from typing import Any

from railgen.data.findings import Finding, in_order
from railgen.data.messages import InputError, Problem, nearest, one_of, shown
from railgen.data.reading import read_bytes
from railgen.formats.json_text import json_bytes, parse_json

KEYS = tuple(field.name for field in fields(Finding))
_LISTS = ("holes", "components")
_NUMBERS = ("station_mm", "value", "limit")
_CHOICES: dict[str, tuple[str, ...]] = {
    "severity": ("error", "warning", "note"),
    "side": ("LH", "RH", ""),
    "part": ("rail", "liner", ""),
    "face": ("web", "top", "bottom", ""),
}
_MOST_PROBLEMS = 50


def findings_json(findings: Iterable[Finding]) -> bytes:
    """Findings as JSON, in the order in which every paper numbers them."""
    return json_bytes([finding.as_dict() for finding in in_order(findings)])


def read_findings(path: Path) -> tuple[Finding, ...]:
    """A findings.json in the order of the file; raises InputError, naming finding and key, for all that is wrong."""
    source = read_bytes(path)
    rows = parse_json(source)
    if not isinstance(rows, list):
        raise InputError([Problem(source.file, "", shown(rows), "a list of findings")])
    problems = [problem for number, row in enumerate(rows, 1) for problem in _problems(source.file, number, row)]
    if problems:
        raise InputError(problems[:_MOST_PROBLEMS])
    return tuple(_finding(row) for row in rows)


def _finding(row: dict[str, Any]) -> Finding:
    values: dict[str, Any] = {key: tuple(value) if key in _LISTS else value for key, value in row.items()}
    return Finding(**values)


def _problems(file: str, number: int, row: Any) -> Iterator[Problem]:
    place = f"[{number}]"
    if not isinstance(row, dict):
        yield Problem(file, place, shown(row), "an object")
        return
    for key in KEYS:
        if key not in row:
            yield Problem(file, f"{place}.{key}", "nothing", "this key is required")
    for key, value in row.items():
        if key not in KEYS:
            yield Problem(file, f"{place}.{shown(key)}", "an unknown key", one_of(KEYS, len(KEYS)), nearest(key, KEYS))
            continue
        allowed = _refusal(key, value)
        if allowed:
            yield Problem(file, f"{place}.{key}", shown(value), allowed)


def _refusal(key: str, value: Any) -> str:
    """What is allowed for a key, where the value is not; empty where it is."""
    if key in _LISTS:
        sound = isinstance(value, list) and all(isinstance(name, str) for name in value)
        return "" if sound else "a list of names"
    if key in _NUMBERS:
        is_number = isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
        return "" if value is None or is_number else "a number or null"
    if key in _CHOICES:
        return "" if value in _CHOICES[key] else one_of(name or "an empty text" for name in _CHOICES[key])
    return "" if isinstance(value, str) else "a text"
