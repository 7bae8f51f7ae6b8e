"""The frame that pages of a bank stand in: one HTML file, style and pictures in it, nothing fetched from elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from railgen.formats.cautions import CAUTIONS

_STYLE = """
:root { --ink: #2b3036; --soft: #5f6770; --line: #d5d9de; --paper: #ffffff; --ground: #f3f5f7; --accent: #24476b; }
* { box-sizing: border-box; }
body { margin: 0; background: var(--ground); color: var(--ink); font: 15px/1.45 system-ui, "Segoe UI", "Helvetica Neue",
  Arial, sans-serif; }
header { background: var(--accent); color: #fff; padding: 28px max(24px, calc(50vw - 560px)); }
header h1 { margin: 0 0 4px; font-size: 27px; font-weight: 650; letter-spacing: -.2px; }
header p { margin: 0; color: #cfdbe7; }
main { max-width: 1120px; margin: 0 auto; padding: 20px 24px 48px; }
section { background: var(--paper); border: 1px solid var(--line); border-radius: 8px; padding: 18px 22px 20px;
  margin: 18px 0; }
h2 { margin: 0 0 10px; font-size: 18px; }
p.about { margin: 0 0 12px; color: var(--soft); max-width: 78ch; }
.tiles { display: grid; grid-template-columns: repeat(auto-fit, minmax(150px, 1fr)); gap: 12px; margin: 12px 0; }
.tile { background: var(--paper); border: 1px solid var(--line); border-top: 4px solid var(--accent);
  border-radius: 8px; padding: 10px 14px 12px; }
.tile b { display: block; font-size: 24px; font-weight: 650; font-variant-numeric: tabular-nums; }
.tile span { color: var(--soft); font-size: 13px; }
.clean { border-top-color: #2e7d5b; } .warnings { border-top-color: #d79b1e; }
.errors { border-top-color: #b8352c; } .refused { border-top-color: #767d86; }
.beside { display: grid; grid-template-columns: minmax(0, 3fr) minmax(0, 2fr); gap: 24px; align-items: start; }
@media (max-width: 860px) { .beside { grid-template-columns: minmax(0, 1fr); } }
svg { width: 100%; max-width: 900px; height: auto; display: block; margin: 0 auto; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-size: 13.5px; font-variant-numeric: tabular-nums; }
th { text-align: left; font-weight: 600; color: var(--soft); border-bottom: 2px solid var(--line); padding: 5px 8px; }
td { border-bottom: 1px solid var(--line); padding: 4px 8px; vertical-align: top; }
tr:last-child td { border-bottom: 0; }
td.number, th.number { text-align: right; white-space: nowrap; }
.error { color: #b8352c; font-weight: 600; } .warning { color: #8a6207; font-weight: 600; } .note { color: #4d6c88; }
.filled { width: 28%; }
.bar { display: inline-block; height: 9px; background: #3f6a94; border-radius: 2px; margin-right: 6px; }
details { margin-top: 12px; } summary { cursor: pointer; color: var(--accent); }
footer { max-width: 1120px; margin: 0 auto; padding: 0 24px 40px; color: var(--soft); font-size: 13px; }
a { color: var(--accent); }
@media print { body { background: #fff; font-size: 12px; } header { color: #000; background: #fff; padding: 0 24px; }
  header p { color: #444; } section, .tile { break-inside: avoid; } details { display: none; } }
"""


def page(title: str, about: str, body: Iterable[str], made_by: str) -> bytes:
    """A whole page; title and about are plain text, body is HTML, and ``made_by`` says what made it of what."""
    cautions = " ".join(CAUTIONS)
    text = f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(title)}</title>
<style>{_STYLE}</style>
</head>
<body>
<header><h1>{escape(title)}</h1><p>{escape(about)}</p></header>
<main>
{"".join(body)}
</main>
<footer><p>{escape(cautions)}</p><p>{escape(made_by)}</p></footer>
</body>
</html>
"""
    return text.encode("utf-8")


def section(title: str, about: str, *parts: str) -> str:
    """A part of the page; title and about are plain text, the rest is HTML."""
    explained = f'<p class="about">{escape(about)}</p>' if about else ""
    return f"<section><h2>{escape(title)}</h2>{explained}{''.join(parts)}</section>\n"


def tiles(figures: Iterable[tuple[str, str, str]]) -> str:
    """Key figures: (figure, what it counts, class)."""
    boxes = (
        f'<div class="tile {kind}"><b>{escape(figure)}</b><span>{escape(what)}</span></div>'
        for figure, what, kind in figures
    )
    return f'<div class="tiles">{"".join(boxes)}</div>\n'


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A table; cells are plain text, numbers (set right, in red below zero), or HTML that is wrapped in ``Html``."""
    rows = list(rows)
    set_right = [isinstance(value, int | float) for value in rows[0]] if rows else [False] * len(head)
    names = "".join(
        f"<th{' class=number' if right else ''}>{escape(name)}</th>"
        for name, right in zip(head, set_right, strict=True)
    )
    lines = "".join(f"<tr>{''.join(map(_cell, row))}</tr>" for row in rows)
    return f'<div class="scroll"><table><thead><tr>{names}</tr></thead><tbody>{lines}</tbody></table></div>'


def beside(left: str, right: str) -> str:
    """Two pieces of HTML beside each other where there is room."""
    return f'<div class="beside"><div>{left}</div><div>{right}</div></div>'


def details(label: str, content: str) -> str:
    """HTML that is folded away under a label."""
    return f"<details><summary>{escape(label)}</summary>{content}</details>"


class Html(str):
    """Text that is HTML already."""

    __slots__ = ()


def severity(name: str) -> Html:
    """A severity in its colour."""
    return Html(f'<span class="{escape(name)}">{escape(name)}</span>')


def bar(share: float) -> Html:
    """A bar as long as a share of its column."""
    return Html(f'<span class="bar" style="width: {max(0.0, min(1.0, share)) * 100:.1f}%"></span>')


def _cell(value: object) -> str:
    if isinstance(value, Html):
        return f'<td class="filled">{value}</td>' if 'class="bar"' in value else f"<td>{value}</td>"
    if isinstance(value, int | float):
        text = f"{value:,}" if isinstance(value, int) else f"{value:,.1f}"
        return f'<td class="number{" error" if value < 0 else ""}">{text}</td>'
    return f"<td>{escape(str(value))}</td>"
