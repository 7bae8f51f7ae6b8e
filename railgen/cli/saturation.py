"""``railgen saturation``: arc heights of Almen strips to saturation time and intensity."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from railgen.cli.common import (
    CLEAN,
    ERROR_FINDING,
    WRONG_INPUT,
    json_option,
    library_option,
    open_catalogue,
    output_option,
    report,
    wording_option,
)

if TYPE_CHECKING:
    from railgen.data.plant import PeeningBand
    from railgen.formats.arc_heights import ArcHeights
    from railgen.shop.saturation import Saturation

MM_PER_UNIT = {"mm": 1.0, "in": 25.4, "mil": 0.0254}
"""What arc heights may be written in; mil: thousandths of an inch."""


@click.command()
@click.argument("file", metavar="FILE.csv", type=click.Path(path_type=Path))
@click.option("--unit", type=click.Choice(list(MM_PER_UNIT)), default="mm", show_default=True, help="Of arc heights.")
@click.option("--gauge", type=click.Choice(["N", "A", "C"]), default="A", show_default=True, help="Of the strips.")
@click.option("--thickness", type=click.FloatRange(min=0, min_open=True), metavar="MM", help="Hold to its window.")
@click.option("--picture", type=click.Choice(["png", "svg"]), default="png", show_default=True, help="The curve's.")
@library_option
@output_option
@wording_option
@json_option
def command(
    file: Path,
    unit: str,
    gauge: Literal["N", "A", "C"],
    thickness: float | None,
    picture: str,
    library: str | None,
    output: Path,
    as_json: bool,
) -> None:
    """Fit the arc heights of FILE.csv (columns time, arc_height), and tell saturation time and intensity.

    The curve is drawn into DIR/FILE-saturation.png. With --thickness the intensity is held to the library's window for
    steel so thick. Exit status 1: the intensity lies outside it; 2: the strips support no curve.
    """
    from railgen.cli.work import leave
    from railgen.data.messages import InputError, Problem
    from railgen.formats.arc_heights import read_arc_heights
    from railgen.formats.folder import write_whole
    from railgen.papers.saturation_chart import saturation_picture
    from railgen.shop.saturation import NoSaturation, saturation

    try:
        window = None if thickness is None else _window(library, thickness)
        strips = read_arc_heights(file)
        try:
            found = saturation(strips.time, strips.arc_height)
        except NoSaturation as error:
            reason, _, advice = str(error).partition(". ")
            raise InputError([Problem(str(file), "", "", reason, advice)]) from None
        drawn = (strips.time, strips.arc_height)
        content = saturation_picture(picture, strips.name, drawn, found, unit)
        target = output / f"{file.stem}-saturation.{picture}"
        write_whole(target, content)
    except InputError as error:
        report(error)
        sys.exit(WRONG_INPUT)
    inside = window is None or _inside(window, found.intensity * MM_PER_UNIT[unit], gauge)
    if as_json:
        click.echo(json.dumps(_as_data(strips, found, unit, gauge, window, inside, target), indent=2))
    else:
        _show(strips, found, unit, gauge, window, inside)
        click.echo(f"written: {target}")
    leave(CLEAN if inside else ERROR_FINDING)


def _window(library: str | None, thickness: float) -> PeeningBand:
    """The library's window for a thickness. Raises InputError where it has none."""
    from railgen.data.messages import InputError, Problem
    from railgen.shop.peening import intensity_window

    found = open_catalogue(library).library
    try:
        return intensity_window(found.finishing.peening, thickness)
    except ValueError as error:
        allowed = "a thickness within peening.bands"
        raise InputError([Problem(f"{found.folder}/finishing.toml", "peening.bands", str(error), allowed)]) from None


def _inside(window: PeeningBand, intensity: float, gauge: Literal["N", "A", "C"]) -> bool:
    """Whether an intensity (mm on a strip of a gauge) lies in the window, both ends included."""
    from railgen.shop.peening import on_gauge

    least, most = window.intensity_least, window.intensity_most
    return least - 1e-9 <= on_gauge(intensity, gauge, window.gauge) <= most + 1e-9


def _show(
    strips: ArcHeights, found: Saturation, unit: str, gauge: str, window: PeeningBand | None, inside: bool
) -> None:
    click.echo(f"{strips.name}: {len(strips.time)} strips, furthest from the curve {found.misfit:.1%}")
    click.echo(f"curve: {found.height:.4g} {unit} x (1 - exp(-{found.rate:.4g} x time))")
    click.echo(f"saturation at time {found.time:.4g}, intensity {found.intensity:.4g} {unit} {gauge}")
    if window is not None:
        verdict = "inside" if inside else "OUTSIDE"
        limits = f"{window.intensity_least:.4g} to {window.intensity_most:.4g} mm {window.gauge} ({window.source})"
        given = f"{found.intensity * MM_PER_UNIT[unit]:.4g} mm {gauge}"
        click.echo(f"{given} is {verdict} the window {limits}")


def _as_data(
    strips: ArcHeights,
    found: Saturation,
    unit: str,
    gauge: str,
    window: PeeningBand | None,
    inside: bool,
    target: Path,
) -> dict[str, object]:
    data: dict[str, object] = {
        "file": strips.name,
        "sha256": strips.sha256,
        "strips": len(strips.time),
        "height": found.height,
        "rate": found.rate,
        "misfit": found.misfit,
        "time": found.time,
        "intensity": found.intensity,
        "unit": unit,
        "gauge": gauge,
        "picture": str(target),
    }
    if window is not None:
        data["window_mm"] = [window.intensity_least, window.intensity_most]
        data["window_gauge"] = window.gauge
        data["inside"] = inside
    return data
