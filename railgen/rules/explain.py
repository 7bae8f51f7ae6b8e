"""What each rule protects, its formula, and a small figure, for people who ask why."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from railgen.data.limit_sets import MEASURES, LimitRow, LimitSet
from railgen.rules.limits import inherited_rows


@dataclass(frozen=True)
class Explanation:
    """A rule explained; measures: what each of its measures is; figure: lines of plain text."""

    rule: str
    protects: str
    formula: str
    measures: Mapping[str, str]
    figure: str


@lru_cache(maxsize=1)
def explanations() -> dict[str, Explanation]:
    """Every rule's explanation by its name."""
    text = resources.files("railgen.rules").joinpath("explanations.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    return {rule: Explanation(rule, **tables[rule]) for rule in MEASURES if rule in tables}


@dataclass(frozen=True)
class LimitLine:
    """A measure's rows in one set, as people read them."""

    rule: str
    measure: str
    limit_set: str
    limits: tuple[str, ...]
    sources: tuple[str, ...]


def limit_lines(limit_sets: Mapping[str, LimitSet], rule: str | None = None) -> tuple[LimitLine, ...]:
    """The limits of a rule, or of all, in every set that has any, inherited ones included."""
    lines = []
    held = {name: inherited_rows(limit_sets, name) for name in limit_sets}
    for one in MEASURES if rule is None else (rule,):
        for measure in MEASURES[one]:
            for name, rows in held.items():
                found = rows.get((one, measure), ())
                if found:
                    texts = tuple(row_text(row, MEASURES[one][measure]) for row in found)
                    sources = tuple(dict.fromkeys(row.source for row in found))
                    lines.append(LimitLine(one, measure, name, texts, sources))
    return tuple(lines)


def shared_lines(lines: Iterable[LimitLine]) -> Iterator[tuple[str, list[str], LimitLine]]:
    """Each measure with the sets that hold it to the same limits from the same sources, and one of their lines."""
    groups: dict[tuple[object, ...], list[LimitLine]] = {}
    for line in lines:
        groups.setdefault((line.measure, line.limits, line.sources), []).append(line)
    for same in groups.values():
        yield same[0].measure, [line.limit_set for line in same], same[0]


def row_text(row: LimitRow, sense: str) -> str:
    """A row as people read it: "at least 1.5 x hole, warning 2 x hole; tensile up to 700"."""
    word = "at least" if sense == "least" else "at most"
    unit = "" if row.of or row.unit in ("count", "violations", "ratio") else f" {row.unit}"
    of = f" x {row.of}" if row.of else ""
    if row.table:
        pairs = ", ".join(f"{size:g}: {value:g}" for size, value in row.table)
        text = f"{word}, by {row.of}: {pairs} mm"
    else:
        parts = [f"{word} {row.error:g}{of}{unit}"] if row.error is not None else []
        if row.warning is not None:
            parts.append(f"warning {row.warning:g}{of}{unit}")
        text = ", ".join(parts)
    counted = " (by centres within one hole radius)" if row.counted == "centres" else ""
    return f"{text}{counted}{_when_text(row)}"


def _when_text(row: LimitRow) -> str:
    if row.when is None:
        return ""
    words = []
    for name in ("tensile", "thickness", "depth", "hole", "bolt"):
        bounds = getattr(row.when, name)
        if bounds is not None:
            spoken = {"least": "from", "most": "up to", "above": "over", "below": "below"}
            given = [
                f"{word} {getattr(bounds, key):g}" for key, word in spoken.items() if getattr(bounds, key) is not None
            ]
            words.append(f"{name} {' '.join(given)}")
    if row.when.zone:
        words.append(f"zone {row.when.zone}")
    if row.when.direction:
        words.append(f"pairs {row.when.direction} the rail")
    if row.when.shielded is not None:
        words.append("shielded" if row.when.shielded else "not shielded")
    return f" ({'; '.join(words)})"
