"""``railgen library check`` and ``railgen library list``."""

from __future__ import annotations

import json

import click

from railgen.cli.common import json_option, library_option, open_catalogue
from railgen.data.component import Option
from railgen.data.library import Library


@click.group()
def command() -> None:
    """Check or list a library."""


@command.command()
@library_option
def check(library: str | None) -> None:
    """Read every file of the library and report all problems at once."""
    found = open_catalogue(library).library
    click.echo(
        f"{found.folder}: {found.about.name}, revision {found.about.revision}: {len(found.families)} families, "
        f"{len(found.options)} options, {len(found.components)} components, "
        f"{len(found.limit_sets)} limit sets: no problems"
    )


@command.command("list")
@library_option
@json_option
def list_(library: str | None, as_json: bool) -> None:
    """List families, options by place on the truck, and limit sets."""
    found = open_catalogue(library).library
    if as_json:
        click.echo(json.dumps(_as_data(found), indent=2))
        return
    click.echo("Families")
    for family in found.families.values():
        click.echo(
            f"  {family.id:<18} {family.name}; {family.section}, {family.steel}; serials {family.serial_prefix}-..."
        )
    for place in sorted({option.place for option in found.options.values()}):
        click.echo(f"\nOptions: {place}")
        for option in found.options.values():
            if option.place == place:
                click.echo(f"  {option.code}  {option.name} ({', '.join(option.families)}){_relations(option)}")
    click.echo("\nLimit sets")
    for limit_set in found.limit_sets.values():
        click.echo(f"  {limit_set.id:<18} {limit_set.name}")


def _relations(option: Option) -> str:
    parts = [
        f"{word} {', '.join(codes)}"
        for word, codes in (("requires", option.requires), ("excludes", option.excludes))
        if codes
    ]
    return f"; {'; '.join(parts)}" if parts else ""


def _as_data(library: Library) -> dict[str, object]:
    brings: dict[str, list[str]] = {}
    for component in library.components.values():
        for code in component.options:
            brings.setdefault(code, []).append(component.id)
    return {
        "families": {family.id: family.name for family in library.families.values()},
        "options": {
            option.code: {
                "name": option.name,
                "place": option.place,
                "families": list(option.families),
                "requires": list(option.requires),
                "excludes": list(option.excludes),
                "components": brings.get(option.code, []),
            }
            for option in library.options.values()
        },
        "limit_sets": {limit_set.id: limit_set.name for limit_set in library.limit_sets.values()},
    }
