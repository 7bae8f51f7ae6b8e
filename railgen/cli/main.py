"""The command ``railgen``: its verbs and groups. Each verb's module is loaded when it is called, to start fast."""

from __future__ import annotations

import importlib
from typing import Any

import click

from railgen import __version__

_VERBS: dict[str, tuple[str, str]] = {
    "bank": ("railgen.cli.bank", "Plan and check a whole order bank, and sum it up."),
    "build": ("railgen.cli.build", "Plan orders, check them and write their files."),
    "check": ("railgen.cli.check", "Plan orders and show their findings."),
    "compare": ("railgen.cli.compare", "Compare two serials or revisions hole by hole, as a table or a picture."),
    "cutting": ("railgen.cli.cutting", "Plan how the blanks of a bank are cut from stock lengths."),
    "explain": ("railgen.cli.explain", "Explain a rule: what it protects, formula, limits, sources, figure."),
    "fit": ("railgen.cli.fit", "Show where a component fits on an order's rails, or over a whole bank."),
    "freezone": ("railgen.cli.freezone", "Show where one more hole may go, or whether it may at one place."),
    "impact": ("railgen.cli.impact", "Show what a change of the library does to the orders of a bank."),
    "inspect": ("railgen.cli.inspect", "Hold measured holes to nominal ones; run charts over inspections."),
    "library": ("railgen.cli.library", "Check or list a library."),
    "limits": ("railgen.cli.limits", "Show the limit sets side by side."),
    "nc": ("railgen.cli.nc", "Order the hits of each blank and write the press's programs and setup sheet."),
    "option": ("railgen.cli.option", "Find where options clash, over all orders that may come."),
    "papers": ("railgen.cli.papers", "Print papers of many serials as one PDF, or one part's card again."),
    "place": ("railgen.cli.place", "Settle the floats of orders together, and say what is proved about it."),
    "register": ("railgen.cli.register", "Ask the release register, and add as-built facts to it."),
    "release": ("railgen.cli.release", "Record serials' folders in the register, once and for all."),
    "saturation": ("railgen.cli.saturation", "Tell saturation time and peening intensity from arc heights."),
    "schema": ("railgen.cli.schema", "Write the JSON Schemas of all input files."),
    "step": ("railgen.cli.step", "Write the finished parts as STEP solids (optional extra)."),
    "strength": ("railgen.cli.strength", "Show and draw bending, rated joints and hole criticality of orders."),
    "verify": ("railgen.cli.verify", "Read folders back and name whatever differs from their hole tables."),
}
"""Verbs by name: module that holds the command ``command``, and its line in the help."""


class LazyGroup(click.Group):
    """A group whose commands are imported only when they are called or asked for help."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted(_VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _VERBS:
            return None
        command: click.Command = importlib.import_module(_VERBS[cmd_name][0]).command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, _VERBS[name][1]) for name in self.list_commands(ctx)])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            from railgen.data.messages import nearest

            raise click.UsageError(f"{error.message} {nearest(args[0], _VERBS)}".strip(), ctx) from None


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="railgen")
def main(**_: Any) -> None:
    """Hole patterns, checks, cut files and shop papers for build-to-order truck frame rails.

    Exit status: 0 written and no error finding; 1 some finding is an error; 2 the input or the command was wrong.

    What this program writes needs the release of the responsible chassis engineer. The instructions of the rail
    maker, the press maker and the peening and coating suppliers, and local rules, come first.
    """


if __name__ == "__main__":
    main()
