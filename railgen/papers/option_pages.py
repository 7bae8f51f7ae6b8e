"""Pages about options: one option's clashes with all others, and the matrix of a family's whole catalogue."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from html import escape

import railgen
from railgen.data.component import Option
from railgen.formats.option_files import names_of
from railgen.papers.clash_picture import SETTLED, clash_picture, legend, orders_strip
from railgen.papers.frame_clash_picture import HIT
from railgen.papers.page import Html, details, page, section, table, tiles
from railgen.placing.catalogue_proof import DRIVES, ComponentClash, Proof
from railgen.placing.clash_example import example_of
from railgen.placing.crowding import Crowding
from railgen.placing.regions import Region
from railgen.placing.stretches import figure, in_words
from railgen.placing.verdicts import Matrix, OptionClash, Verdict

_MOST_PICTURES = 80
_SMALLEST, _LARGEST = 14, 26  # pixels: sides of a matrix cell
_SHOWN: tuple[Verdict, ...] = ("always", "only for", "settles", "never", "not together")
_MARKS: dict[Verdict, str] = {"always": "a", "only for": "o", "settles": "s", "not together": "x", "never": "n"}
_STYLE = """<style>
main { max-width: 1500px; }
header { padding-left: max(24px, calc(50vw - 730px)); }
.key { display: flex; flex-wrap: wrap; gap: 8px 20px; margin: 0 0 12px; font-size: 13.5px; }
.key i { display: inline-block; width: 14px; height: 14px; border-radius: 3px; margin-right: 6px;
  vertical-align: -2px; }
i.n, .m td { background: #eaf3ec; } i.x, .m td.x { background: #d9dde2; }
i.s, .m td.s { background: #b9d3ea; } i.o, .m td.o { background: #f2a93b; } i.a, .m td.a { background: #c2372e; }
.frame { overflow: auto; max-height: 86vh; border: 1px solid var(--line); border-radius: 6px; }
.m { border-collapse: separate; border-spacing: 1px; width: auto; font-size: 11px; }
.m th, .m td { padding: 0; border: 0; }
.m td { width: var(--c); min-width: var(--c); height: var(--c); position: relative; }
.m td.e { background: none; } .m td.d { outline: 1px solid #9aa3ad; outline-offset: -1px; }
.m td a { display: block; width: 100%; height: var(--c); }
.m td:not(.e):hover { outline: 2px solid var(--ink); outline-offset: -1px; z-index: 2; }
.m tr:hover th { background: #24476b; color: #fff; }
.m th { background: #fff; color: var(--ink); font-weight: 500; position: sticky; z-index: 3; }
.m thead th { top: 0; height: 52px; vertical-align: bottom; }
.m thead th span { writing-mode: vertical-rl; transform: rotate(180deg); display: block; margin: 0 auto; }
.m tbody th { left: 0; text-align: right; padding: 0 6px; white-space: nowrap; }
.m thead th:first-child { left: 0; z-index: 4; }
.m tr.g td, .m tr.g th { border-top: 2px solid #8a929b; }
.strip { width: 220px; max-width: 100%; margin: 4px 0 0; }
.v { display: inline-block; padding: 1px 8px; border-radius: 9px; font-size: 12.5px; font-weight: 600;
  white-space: nowrap; }
.v.a { background: #c2372e; color: #fff; } .v.o { background: #f2a93b; color: #3b2700; }
.v.s { background: #b9d3ea; color: #17324c; } .v.n { background: #eaf3ec; color: #1e5130; }
.v.x { background: #d9dde2; color: #3a4149; }
.pictures { display: grid; align-items: start;
  grid-template-columns: repeat(auto-fill, minmax(420px, 1fr)); gap: 18px; margin-top: 12px; }
figure { margin: 0; border: 1px solid var(--line); border-radius: 6px; padding: 10px 12px; }
figcaption { font-size: 13px; color: var(--soft); margin-top: 6px; }
:target { background: #fff6e0; }
</style>"""
_MEANING: dict[Verdict, str] = {
    "never": "in no order",
    "settles": "a floating component has room beside the other; only crowding can make them clash",
    "only for": "in some orders",
    "always": "in every order",
    "not together": "no order has both",
}


def matrix_page(matrix: Matrix, bank: Sequence[str] = ()) -> bytes:
    """The whole catalogue of a family pair by pair, its clashes, and what pairs cannot decide; bank: HTML parts."""
    family = matrix.proof.order.family
    counts = Counter(cell.verdict for cell in matrix.cells.values() if cell.first != cell.second)
    about = f"{len(matrix.options)} options, {sum(counts.values()):,} pairs, over all values of all order dimensions"
    body = [
        _STYLE,
        tiles([(f"{counts[verdict]:,}", verdict, _tile(verdict)) for verdict in _SHOWN]),
        section("Pair by pair", _setting_words(matrix.proof), _key(), _grid(matrix)),
        _clashes(matrix, [cell for cell in matrix.cells.values() if cell.verdict in ("always", "only for")]),
        _undecided(matrix.crowding),
        *bank,
    ]
    return page(f"Options of {family.name}", about, body, _made_by(matrix.proof))


def option_page(option: Option, matrices: Sequence[Matrix], bank: Sequence[str] = ()) -> bytes:
    """One option against every other option of the families it is sold in; bank: HTML parts about serials."""
    body = [_STYLE]
    for matrix in matrices:
        family = matrix.proof.order.family
        counts = Counter(cell.verdict for cell in matrix.cells.values() if cell.first != cell.second)
        body.append(f"<h2>{escape(family.name)}</h2>")
        body.append(tiles([(f"{counts[verdict]:,}", verdict, _tile(verdict)) for verdict in _SHOWN]))
        body.append(_clashes(matrix, [cell for cell in matrix.cells.values() if cell.clashes]))
        body.append(_undecided(matrix.crowding))
    proof = matrices[0].proof
    about = f"{option.name}; {option.place}; {_setting_words(proof)}"
    return page(f"Option {option.code}", about, [*body, *bank], _made_by(proof))


def _made_by(proof: Proof) -> str:
    library = proof.catalogue.library
    return f"railgen {railgen.__version__}; library revision {library.about.revision}, sha256 {library.digest}."


def _setting_words(proof: Proof) -> str:
    order = proof.order
    return (
        f"Section {order.section}, steel {order.steel}, limit set {order.limit_set}, without taper, liner or zones "
        "of an order."
    )


def _tile(verdict: Verdict) -> str:
    return {"always": "errors", "only for": "warnings", "never": "clean"}.get(verdict, "refused")


def _key() -> str:
    marks = (
        f"<span><i class={_MARKS[verdict]}></i>{escape(verdict)}: {escape(_MEANING[verdict])}</span>"
        for verdict in _SHOWN
    )
    return f'<div class="key">{"".join(marks)}</div>'


def _grid(matrix: Matrix) -> str:
    """The matrix below its diagonal, options by their place on the truck; names stay in sight."""
    options = matrix.proof.catalogue.library.options
    codes = sorted(matrix.options, key=lambda code: (options[code].place, code))
    size = min(max(1300 // max(len(codes), 1), _SMALLEST), _LARGEST)
    head = "".join(f"<th><span>{code}</span></th>" for code in codes)
    lines, place = [], ""
    for number, code in enumerate(codes):
        cells = "".join(_cell(matrix, *sorted((code, other))) for other in codes[: number + 1])
        group = " class=g" if options[code].place != place else ""
        place = options[code].place
        name = f"{escape(options[code].name)} ({escape(place)})"
        lines.append(f'<tr{group}><th title="{name}">{code}</th>{cells}</tr>')
    return (
        f'<div class="frame"><table class="m" style="--c: {size}px"><thead><tr><th></th>{head}</tr></thead>'
        f"<tbody>{''.join(lines)}</tbody></table></div>"
    )


def _cell(matrix: Matrix, first: str, second: str) -> str:
    cell = matrix.cells[first, second]
    mark = _MARKS[cell.verdict]
    own = " d" if first == second else ""
    if cell.verdict == "never":
        return f"<td class=d title={first}></td>" if own else "<td></td>"
    title = f"{first} and {second}: {cell.verdict}" if first != second else f"{first} by itself: {cell.verdict}"
    inside = f'<a href="#{first}-{second}"></a>' if cell.verdict in ("always", "only for") else ""
    return f'<td class="{mark}{own}" title="{title}">{inside}</td>'


def _clashes(matrix: Matrix, cells: Sequence[OptionClash]) -> str:
    """Clashes of some option pairs, and folded away those that a float avoids."""
    clashing = [cell for cell in cells if cell.verdict in ("always", "only for")]
    apart = [cell for cell in cells if cell.verdict not in ("always", "only for")]
    head = ["options", "verdict", "components", "orders", "rules"]
    parts = []
    if clashing:
        parts.append(table(head, [row for cell in clashing for row in _rows(matrix, cell)]))
        told = [clash for cell in clashing for clash in cell.clashes if clash.found.forced.any]
        parts += _pictures(matrix.proof, told)
    if apart:
        rows = [row for cell in apart for row in _rows(matrix, cell)]
        parts.append(
            details(f"{len(apart)} pairs of options whose floating components settle clear", table(head, rows))
        )
    about = (
        "Each two components with the exact orders in which they clash. The line shows the dimension that the words "
        "name first, from its least to its most; ticks are its steps."
    )
    if not clashing:
        about = "No two options that may be ordered together clash in any order, as long as floating components settle."
    return section("Clashes", about, *parts)


def _rows(matrix: Matrix, cell: OptionClash) -> Iterator[tuple[object, ...]]:
    options = matrix.proof.catalogue.library.options
    units = matrix.proof.order.family.units
    names = " with ".join(f"{code} {options[code].name}" for code in dict.fromkeys((cell.first, cell.second)))
    anchor = Html(f'<span id="{cell.first}-{cell.second}">{escape(names)}</span>')
    for clash in cell.clashes:
        forced = clash.found.forced.any
        where = clash.found.forced if forced else clash.found.possible
        words = "in all orders" if where.all else in_words(where, units)
        drives = "" if len(clash.drives) == len(DRIVES) else f", drive {' or '.join(clash.drives)}"
        verdict = Html(f'<span class="v {_MARKS[cell.verdict]}">{escape(cell.verdict)}</span>')
        orders = Html(f"{escape(words + drives)}{_strip(where, HIT if forced else SETTLED)}")
        rules = ", ".join(dict.fromkeys(f"{rule} {measure}" for rule, measure in clash.found.reasons))
        yield anchor, verdict, _components(clash), orders, rules
        anchor = Html("")


def _components(clash: ComponentClash) -> str:
    return clash.first.id + (f" and {clash.second.id}" if clash.second else " by itself") + f", {clash.side}"


def _strip(where: Region, colour: str) -> str:
    dimension = where.axes.dimensions.each[where.axes.along]
    runs = sorted(set(zip(where.low.tolist(), where.high.tolist(), strict=True)))
    values = where.values if dimension.values is not None else where.values[:0]
    return orders_strip(dimension.least, dimension.most, runs, values, colour)


def _pictures(proof: Proof, clashes: Iterable[ComponentClash]) -> Iterator[str]:
    """Pictures of the first clashes, each pair of components once."""
    once = {(clash.first.id, clash.second.id if clash.second else "", clash.side): clash for clash in clashes}
    section_shape = proof.order.rail.section
    shown = []
    for clash in list(once.values())[:_MOST_PICTURES]:
        example = example_of(proof, clash)
        if example is None:
            continue
        names = names_of(clash)
        svg = clash_picture(example, section_shape, proof.setting.order.rail.front, names)
        units = proof.order.family.units
        values = ", ".join(f"{name.replace('_', ' ')} {figure(v, units)}" for name, v in example.values.items())
        touch = "; ".join(f"{' and '.join(touch.holes)}: {' '.join(touch.reason)}" for touch in example.touches[:2])
        more = f" and {len(example.touches) - 2} more" if len(example.touches) > 2 else ""
        at = f"{values}. " if values else ""
        caption = f"{legend(names)}, {example.side}. {escape(f'{at}{touch}{more}.')}"
        shown.append(f"<figure>{svg}<figcaption>{caption}</figcaption></figure>")
    if shown:
        label = f"Pictures of {len(shown)} of {len(once)} clashes"
        yield f"<details open><summary>{escape(label)}</summary><div class=pictures>{''.join(shown)}</div></details>"


def _undecided(crowding: Crowding) -> str:
    """What pairs cannot decide: floats that others may crowd out, and lines with holes of three components or more."""
    floats = [
        (room.component, room.stations, room.always_free, "settles in every order" if room.is_certain else "open")
        for room in crowding.rooms
    ]
    parts = (
        [table(["floating component", "stations of its grid", "never closed by anything", "so it"], floats)]
        if floats
        else []
    )
    lines = [
        (one.rule, one.component, one.bound, one.limit, "kept" if one.is_kept else "open") for one in crowding.lines
    ]
    settled = sum(one.is_kept for one in crowding.lines)
    if lines:
        label = f"Lines across the rail: {settled} of {len(lines)} bounds keep the limit whatever stands beside them"
        parts.append(details(label, table(["rule", "component", "bound", "limit", "so it is"], lines)))
    about = (
        "Bounds over all that may stand near, in any order; lines count fixed components, since floats are placed "
        "clear of every rule. Where a bound keeps the limit nothing is left to check; "
        "what stays open is checked on the orders of a bank (--orders)."
    )
    return section("What pairs cannot decide", about, *parts)
