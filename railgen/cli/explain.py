"""``railgen explain``: what a rule protects, its formula, its limits and their sources, and a small figure."""

from __future__ import annotations

import sys

import click

from railgen.cli.common import WRONG_INPUT, library_option, open_catalogue, report


@click.command()
@click.argument("rule")
@library_option
def command(rule: str, library: str | None) -> None:
    """Explain a RULE (as findings name it): what it protects, its formula, limits, sources and a figure."""
    from railgen.data.limit_sets import MEASURES
    from railgen.data.messages import InputError, Problem, nearest, one_of
    from railgen.rules.explain import explanations, limit_lines, shared_lines

    if rule not in MEASURES:
        problem = Problem("railgen explain", "RULE", repr(rule), one_of(MEASURES, 30), nearest(rule, MEASURES))
        report(InputError([problem]))
        sys.exit(WRONG_INPUT)
    explained = explanations()[rule]
    click.echo(click.style(rule, bold=True))
    click.echo(f"\n{explained.protects}\n\nFormula: {explained.formula}\n\nMeasures:")
    for measure, meaning in explained.measures.items():
        click.echo(f"  {measure:<16} {meaning}")
    click.echo(f"\n{explained.figure.rstrip()}\n\nLimits and sources:")
    for measure, sets, line in shared_lines(limit_lines(open_catalogue(library).library.limit_sets, rule)):
        click.echo(f"  {measure:<16} {'; '.join(line.limits)}  [{'; '.join(line.sources)}]")
        click.echo(f"  {'':<16} in {', '.join(sets)}")
