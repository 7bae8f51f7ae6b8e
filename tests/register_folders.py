"""Small synthetic folders of serials for tests of the register: every file as a build would leave it, but short."""

from __future__ import annotations

import random
from collections.abc import Iterable
from pathlib import Path

from railgen.data.findings import Finding
from railgen.formats.findings_file import findings_json
from railgen.formats.hole_table import COLUMNS
from railgen.formats.manifest import manifest_json, manifest_of
from railgen.formats.names import MANIFEST, cut_file_name, drawing_name, findings_name, holes_name

COMPONENTS = ("bracket", "cross-member", "hanger", "stay", "tank-bracket")
INPUTS = {"library/library.toml": "1" * 64, "library/steels.toml": "2" * 64}


def hole_lines(serial: str, holes: int, seed: object = 0) -> list[str]:
    """Lines of a hole table: `holes` round holes on each rail, owners at random, in the order of the file."""
    rng = random.Random(f"{serial} {seed}")
    lines = []
    for side in ("LH", "RH"):
        stations = sorted(round(rng.uniform(-1000, 5000), 3) for _ in range(holes))
        for number, station in enumerate(stations, 1):
            owners = sorted(rng.sample(COMPONENTS, rng.choice((1, 1, 1, 2))))
            across, blank_y = 40 + number % 11 * 20, 107.050482492
            numbers = f"{station:.9f},{across:.9f},{station + 1000:.9f},{across + blank_y:.9f}"
            hole, joined = f"{owners[0]}.1.a{number}", ";".join(owners)
            where = f"{serial},{side},rail,{hole},web,{numbers}"
            lines.append(f"{where},round,17.500000000,,,R 17.5,{joined},M16x1.5,punch")
    return lines


def serial_folder(
    parent: Path,
    serial: str,
    revision: str = "A",
    holes: int = 12,
    findings: Iterable[Finding] = (),
    seed: object = 0,
    order_digest: str = "3" * 64,
    inputs: dict[str, str] | None = None,
    filler: int = 200,
) -> Path:
    """Write the folder of a serial below `parent`; `filler` bytes that do not compress stand in for the drawing."""
    table = "\n".join([",".join(COLUMNS), *hole_lines(serial, holes, seed), ""]).encode()
    files = {
        holes_name(serial): table,
        findings_name(serial): findings_json(findings),
        drawing_name(serial): b"%PDF-1.4 " + random.Random(f"{serial} {seed}").randbytes(filler),
        cut_file_name(serial, "LH", "rail"): f"0\nSECTION {serial} LH {seed}\n0\nEOF\n".encode(),
        cut_file_name(serial, "RH", "rail"): f"0\nSECTION {serial} RH {seed}\n0\nEOF\n".encode(),
    }
    settings = {"limits": "house", "dxf": "R12", "revision": revision, "library_revision": "C"}
    order = {f"order/{serial}.toml": order_digest}
    made = manifest_of(serial, files, (INPUTS if inputs is None else inputs) | order, settings)
    folder = parent / f"{serial}-{revision}-{seed}"
    folder.mkdir(parents=True)
    for name, content in (files | {MANIFEST: manifest_json(made)}).items():
        (folder / name).write_bytes(content)
    return folder


def finding(severity: str = "error") -> Finding:
    """A finding of some rule."""
    return Finding(
        "edge-distance", "edge", severity, "LH", "rail", "web", ("bracket.1.a1",), ("bracket",), 1.0, 20.0, 25.0,  # type: ignore[arg-type]
        "mm", "common practice", "too near",
    )  # fmt: skip
