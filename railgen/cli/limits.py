"""``railgen limits``: the limit sets side by side."""

from __future__ import annotations

import json
from collections.abc import Iterable

import click

from railgen.cli.common import json_option, library_option, open_catalogue


@click.command()
@click.argument("sets", nargs=-1, metavar="[SET...]")
@library_option
@json_option
def command(sets: tuple[str, ...], library: str | None, as_json: bool) -> None:
    """Show the limit sets side by side: every measure's rows in each SET (all sets where none is named)."""
    from railgen.cli.show import limits_table
    from railgen.cli.work import console, refuse_unknown
    from railgen.rules.explain import LimitLine, limit_lines

    limit_sets = open_catalogue(library).library.limit_sets
    refuse_unknown(sets, limit_sets, "railgen limits", "limit set")
    shown = tuple(sets) or tuple(limit_sets)
    lines: Iterable[LimitLine] = [line for line in limit_lines(limit_sets) if line.limit_set in shown]
    if as_json:
        rows = [
            {
                "rule": line.rule,
                "measure": line.measure,
                "set": line.limit_set,
                "limits": list(line.limits),
                "sources": list(line.sources),
            }
            for line in lines
        ]
        click.echo(json.dumps(rows, indent=2))
        return
    console().print(limits_table(lines, shown))
