"""Running commands in tests, and an order of the small library whose components clash."""

from __future__ import annotations

from click.testing import CliRunner

from railgen.cli.main import main

CLASHING = """
serial = "X-7"
family = "tractor"
build_date = 2027-01-05
options = ["AAA01", "AAA03"]
rear_overhang = 1100
"""


def run(*arguments: object) -> tuple[int, str]:
    result = CliRunner().invoke(main, [str(argument) for argument in arguments], catch_exceptions=False)
    return result.exit_code, result.output
