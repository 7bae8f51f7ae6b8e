"""The page that sums up a day's bank: outcomes, findings by rule and by pair, tools, blanks, steel, fasteners."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

import railgen
from railgen.bank.charts import columns_by_day, heat_map, length_histograms, stacked_bars
from railgen.bank.job import BankJob
from railgen.bank.record import CLEAN, ERRORS, NO_TOOL, OUTCOMES, REFUSED, WARNINGS
from railgen.bank.tables import problem_text
from railgen.bank.tally import Tally
from railgen.data.plant import Tool
from railgen.frame.measure import STEEL_DENSITY
from railgen.papers.page import Html, bar, beside, details, page, section, severity, table, tiles

_SEVERITIES = ("error", "warning", "note")
_MOST_PAIRS, _MOST_IN_MAP, _MOST_DAYS, _MOST_LENGTHS = 25, 14, 60, 200
_KG, _TONNES, _METRES = 1e-6, 1e-9, 1e-3  # of milligrams, and of a millimetre


def summary_page(tally: Tally, job: BankJob) -> bytes:
    """``summary.html`` as bytes."""
    library = job.library
    limits = f"limit set {job.limits}" if job.limits else "each order's own limit set"
    about = f"{library.about.name}, library revision {library.about.revision}, {limits}"
    made_by = f"railgen {railgen.__version__}; library sha256 {library.digest}; written: {_written(job)}."
    return page(f"Order bank {job.name}", about, _sections(tally, job), made_by)


def _written(job: BankJob) -> str:
    return ", ".join(job.choices.kinds) or "no files of single serials"


def _sections(tally: Tally, job: BankJob) -> Iterator[str]:
    yield _key_figures(tally)
    yield _outcomes(tally)
    if tally.refused:
        yield _refused(tally)
    if tally.in_error:
        yield _in_error(tally, job)
    if tally.findings:
        yield _findings(tally)
    if tally.pairs:
        yield _pairs(tally)
    if tally.made:
        yield from (_tools(tally, job), _blanks(tally), _steel(tally), _fasteners(tally))


def _key_figures(tally: Tally) -> str:
    mass = sum(tally.masses.values()) * _TONNES
    outcomes = [(f"{tally.outcomes[name]:,}", _IN_WORDS[name], name) for name in OUTCOMES]
    return tiles([(f"{tally.serials:,}", "serials", ""), *outcomes]) + tiles(
        [
            (f"{tally.hits.total():,}", "hits", ""),
            (f"{tally.blanks.total():,}", "blanks", ""),
            (f"{mass:,.2f} t", "finished steel", ""),
            (f"{tally.fasteners.total():,}", "fasteners", ""),
        ]
    )


_IN_WORDS = {CLEAN: "clean", WARNINGS: "with warnings", ERRORS: "with errors, not cut", REFUSED: "refused"}


def _outcomes(tally: Tally) -> str:
    families = sorted({family for family, _ in tally.outcomes_of})
    labels = [family or "no order" for family in families]
    parts = {
        name: [tally.outcomes_of[family, name] for family in families] for name in OUTCOMES if tally.outcomes[name]
    }
    pictures = [stacked_bars("families", labels, parts, "serials")]
    days = sorted({day for day, _ in tally.days})
    if 1 < len(days) <= _MOST_DAYS:
        by_day = {name: [tally.days[day, name] for day in days] for name in parts if name != REFUSED}
        pictures.append(columns_by_day("days", days, by_day))
    about = (
        "Clean: notes at most. Serials with an error finding are held back: no cut file is written for them, and they "
        "count in no figure of tools, blanks, steel or fasteners."
    )
    return section("Serials by outcome", about, *pictures)


def _refused(tally: Tally) -> str:
    rows = [(problem_text(problem),) for problem in tally.refused]
    about = f"{tally.outcomes[REFUSED]:,} orders cannot be used as they stand; the others went on without them."
    return section(
        "Refused orders", f"{about}{_first_only(len(rows), tally.outcomes[REFUSED])}", table(["problem"], rows)
    )


def _first_only(shown: int, all_of_them: int) -> str:
    return "" if shown >= all_of_them else " The first are listed; serials.parquet names all of them."


def _in_error(tally: Tally, job: BankJob) -> str:
    def link(serial: str) -> Html:
        return Html(f'<a href="../{serial}/">{serial}</a>' if job.choices.kinds else serial)

    rows = [(link(serial), family, count) for serial, family, count in tally.in_error]
    about = "Held back until the order, the library or the limits change." + _first_only(
        len(rows), tally.outcomes[ERRORS]
    )
    listing = table(["serial", "family", "error findings"], rows)
    return section(
        "Serials with errors", about, listing if len(rows) <= 20 else details(f"{len(rows)} serials", listing)
    )


def _findings(tally: Tally) -> str:
    rules = Counter[str]()
    for (rule, _, _), count in tally.findings.items():
        rules[rule] += count
    order = sorted(rules, key=lambda rule: (-rules[rule], rule))
    parts = {
        name: [
            sum(n for (rule, _, of), n in tally.findings.items() if rule == wanted and of == name) for wanted in order
        ]
        for name in _SEVERITIES
    }
    rows = [
        (rule, measure, severity(of), count, tally.serials_with[rule, measure, of])
        for (rule, measure, of), count in sorted(tally.findings.items(), key=lambda item: (-item[1], item[0]))
    ]
    listing = table(["rule", "measure", "severity", "findings", "in serials"], rows)
    return section(
        "Findings by rule",
        "Every departure from a limit, in all serials.",
        stacked_bars("rules", order, {name: counts for name, counts in parts.items() if any(counts)}, "findings"),
        details("By measure", listing),
    )


def _pairs(tally: Tally) -> str:
    totals = Counter[tuple[str, str]]()
    for (first, second, _, _), count in tally.pairs.items():
        totals[first, second] += count
    ranked = sorted(tally.pairs.items(), key=lambda item: (_SEVERITIES.index(item[0][3]), -item[1], item[0]))
    most = max(tally.pairs.values())
    rows = [
        (first, second or "alone", rule, severity(of), count, bar(count / most))
        for (first, second, rule, of), count in ranked[:_MOST_PAIRS]
    ]
    listing = table(["component", "with", "rule", "severity", "findings", ""], rows)
    names = _most_met(totals)
    picture = ""
    if len(names) > 1:
        counts = np.zeros((len(names), len(names)))
        for (first, second), count in totals.items():
            if first in names and second in names:
                a, b = sorted((names.index(first), names.index(second)))
                counts[b, a] += count
        picture = heat_map("pairs", names, counts, "warnings and errors between two components")
    about = "Warnings and errors by the components they are between; the worst and most frequent first."
    return section("Findings by pair of components", about, picture, listing)


def _most_met(totals: Counter[tuple[str, str]]) -> list[str]:
    """The components that meet others in most findings, by name."""
    met = Counter[str]()
    for (first, second), count in totals.items():
        if second and second != first:
            met[first] += count
            met[second] += count
    return sorted(sorted(met, key=lambda name: (-met[name], name))[:_MOST_IN_MAP])


def _tools(tally: Tally, job: BankJob) -> str:
    crib = {tool.id: tool for tool in job.library.press.tools}
    order = sorted(tally.hits, key=lambda tool: (-tally.hits[tool], tool))
    rows = [(tool, tally.features[tool], tally.hits[tool], _left(crib.get(tool), tally.hits[tool])) for tool in order]
    listing = table(["tool", "features", "hits", "left to regrind"], rows)
    about = f"Press {job.library.press.name}; hits left to regrind follow from the crib as the library has it."
    if NO_TOOL in tally.hits:
        about += " Features that no tool of the crib makes stand apart."
    picture = stacked_bars("tools", order, {"hits": [tally.hits[tool] for tool in order]}, "hits")
    return section("Tools and hits", about, beside(picture, listing))


def _left(tool: Tool | None, hits: int) -> object:
    """Hits left to the tool's regrind after this bank; below zero where it comes before the bank is done."""
    if tool is None:
        return ""
    return tool.regrind_limit - tool.hits_since_regrind - hits


def _blanks(tally: Tally) -> str:
    lengths: dict[str, tuple[list[float], list[int]]] = {}
    groups: dict[tuple[str, str, str, float, float], list[tuple[float, int]]] = {}
    for (part, name, steel, thickness, width, length), count in sorted(tally.blanks.items()):
        of_section = lengths.setdefault(f"{name} ({part})", ([], []))
        of_section[0].append(length)
        of_section[1].append(count)
        groups.setdefault((part, name, steel, thickness, width), []).append((length, count))
    rows = [_blank_row(*key, found) for key, found in groups.items()]
    head = ["part", "section", "steel", "t mm", "width mm", "blanks", "lengths", "shortest mm", "longest mm", "metres"]
    by_length = [(*key[:3], Html(f"{length:,.1f}"), count) for key, found in groups.items() for length, count in found]
    more = details(
        "By section and length",
        table(["part", "section", "steel", "length mm", "blanks"], by_length[:_MOST_LENGTHS])
        + (
            f"<p>The first {_MOST_LENGTHS} of {len(by_length):,}; blanks.parquet has all.</p>"
            * (len(by_length) > _MOST_LENGTHS)
        ),
    )
    about = "Both hands together, length and width as punched."
    return section(
        "Blanks by section and length", about, length_histograms("lengths", lengths), table(head, rows), more
    )


def _blank_row(
    part: str, name: str, steel: str, thickness: float, width: float, found: list[tuple[float, int]]
) -> tuple[object, ...]:
    metres = sum(length * count for length, count in found) * _METRES
    count, shortest, longest = sum(n for _, n in found), found[0][0], found[-1][0]
    return part, name, steel, f"{thickness:g}", f"{width:.2f}", count, len(found), shortest, longest, metres


def _steel(tally: Tally) -> str:
    sheared: dict[tuple[str, float], float] = {}
    for (_, _, steel, thickness, width, length), count in sorted(tally.blanks.items()):
        mass = thickness * width * length * STEEL_DENSITY * count
        sheared[steel, thickness] = sheared.get((steel, thickness), 0.0) + mass
    rows = [
        (steel, f"{thickness:g}", blank, mass * _KG, f"{100 * (1 - mass * _KG / blank):.1f} %")
        for (steel, thickness), mass in sorted(tally.masses.items())
        for blank in (sheared[steel, thickness],)
    ]
    about = "Blanks before punching, and the finished rails and liners less their holes; density 7 850 kg/m3."
    return section("Steel", about, table(["steel", "t mm", "blanks kg", "finished kg", "punched and cut away"], rows))


def _fasteners(tally: Tally) -> str:
    order = sorted(tally.fasteners, key=lambda name: (-tally.fasteners[name], name))
    most = max(tally.fasteners.values(), default=1)
    rows = [(name, tally.fasteners[name], bar(tally.fasteners[name] / most)) for name in order]
    about = "One for each hole of a rail that a fastener goes through, and each stud; a shared hole counts once."
    return section("Fasteners", about, table(["fastener", "count", ""], rows))
