"""``railgen schema``: JSON Schemas of the input files, for editors."""

from __future__ import annotations

import json
from pathlib import Path

import click

from railgen.cli.common import output_option
from railgen.formats.folder import write_whole


@click.command()
@output_option
def command(output: Path) -> None:
    """Write a JSON Schema for each kind of input file into DIR/schemas."""
    from railgen.data.schemas import MODELS, schema

    folder = output / "schemas"
    for kind in MODELS:
        path = folder / f"{kind}.schema.json"
        write_whole(path, (json.dumps(schema(kind), indent=2) + "\n").encode())
        click.echo(path)
