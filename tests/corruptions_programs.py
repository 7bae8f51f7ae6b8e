"""Corruptions of a serial's programs and of the press that they are for, as in ``corruptions``."""

from __future__ import annotations

import random
import re
from pathlib import Path

from corruptions import Meant, swap


def program_of(rng: random.Random, folder: Path) -> Path:
    return rng.choice(sorted(file for file in folder.glob("*-rail.*") if file.suffix in (".nc", ".tap")))


def hit_lines(file: Path) -> tuple[list[str], list[int]]:
    """Lines of a program and the places of its plain hits."""
    lines = file.read_bytes().decode("ascii").splitlines()
    return lines, [at for at, line in enumerate(lines) if re.search(r"[XU]-?[0-9.]+ [YV]-?[0-9.]+( M20)?$", line)]


def write_lines(file: Path, lines: list[str]) -> None:
    ending = "\r\n" if file.suffix == ".tap" else "\n"
    file.write_bytes("".join(f"{line}{ending}" for line in lines).encode("ascii"))


def moved_hit(line: str, rng: random.Random) -> str:
    """0.02 mm, or eight ten-thousandths of an inch, one way or the other."""
    axis, sign = rng.choice(("[XU]", "[YV]")), rng.choice((-1, 1))
    found = re.search(rf"({axis})(-?[0-9.]+)", line)
    assert found
    value = found[2]
    text = f"{float(value) + sign * 0.02:.3f}" if "." in value else str(int(value) + sign * 8)
    return line[: found.start(2)] + text + line[found.end(2) :]


def program_hit(rng: random.Random, folder: Path) -> Meant:
    """A hit lost, doubled or moved by 0.02 mm; in increments all that follow move with it, and are then put right."""
    file = program_of(rng, folder)
    lines, hits = hit_lines(file)
    at = rng.choice(hits)
    if file.suffix == ".nc":
        change, kinds = rng.choice(
            (
                ([], ("hole missing",)),
                ([lines[at], lines[at]], ("hole added",)),
                ([moved_hit(lines[at], rng)], ("hole moved",)),
            )
        )
        lines[at : at + 1] = change
    else:
        lines[at], kinds = moved_hit(lines[at], rng), ("hole moved",)
    write_lines(file, lines)
    return Meant(kinds, file.name)


def program_tool(rng: random.Random, folder: Path) -> Meant:
    """Another tool at a station than its hits need, by the head or by the program's words."""
    file = program_of(rng, folder)
    lines, hits = hit_lines(file)
    if rng.random() < 0.5:
        heads = [at for at, line in enumerate(lines) if "TOOL 1." in line and "marker" not in line]
        first = rng.choice(heads)
        lines[first] = re.sub(
            r"(A[0-9.]+ )[A-Z] [0-9x]+", r"\1R 20" if " R 20" not in lines[first] else r"\1R 17", lines[first]
        )
    else:
        changes = [at for at, line in enumerate(lines) if re.search(r"\bT[0-9]+", line) and at < hits[-1]]
        at = rng.choice(changes)
        stations = sorted({int(found[1]) for line in lines if (found := re.search(r"TOOL 1\.([0-9]+)", line))})
        now = int(re.search(r"\bT([0-9]+)", lines[at])[1])  # type: ignore[index]
        other = rng.choice([station for station in stations if station != now])
        lines[at] = re.sub(r"\bT[0-9]+", f"T{other}", lines[at])
    write_lines(file, lines)
    return Meant(("wrong tool", "wrong size", "wrong shape", "wrong angle"), file.name)


def program_head(rng: random.Random, folder: Path) -> Meant:
    """Serial, hand, part, press or gauge of a program's head."""
    file = program_of(rng, folder)
    text = file.read_bytes().decode("ascii")
    side, other = ("LH", "RH") if "SIDE LH" in text else ("RH", "LH")
    gauge = ("bottom", "top") if "GAUGE bottom" in text else ("top", "bottom")
    old, new, kind = rng.choice(
        (
            (f"SERIAL {folder.name}", "SERIAL Z-99", "wrong serial"),
            (f"SIDE {side}", f"SIDE {other}", "wrong hand"),
            ("PART rail", "PART liner", "wrong part"),
            ("REVISION A", "REVISION B", "wrong setting"),
            ("PRESS blank-press", "PRESS other-press", "wrong setting"),
            (f"GAUGE {gauge[0]}", f"GAUGE {gauge[1]}", "wrong setting"),
        )
    )
    file.write_bytes(text.replace(old, new).encode("ascii"))
    return Meant((kind,), file.name)


def program_stamp(rng: random.Random, folder: Path) -> Meant:
    """Stamped text lost, or pointing at the other end."""
    file = program_of(rng, folder)
    lines = file.read_bytes().decode("ascii").splitlines()
    at = next(at for at, line in enumerate(lines) if "FRONT" in line)
    if file.suffix == ".nc" and rng.random() < 0.5:
        del lines[at]
        kinds: tuple[str, ...] = ("wrong cut",)
    else:
        other = "FRONT >" if "< FRONT" in lines[at] else "< FRONT"
        lines[at], kinds = re.sub(r"< FRONT|FRONT >", other, lines[at]), ("wrong hand",)
    write_lines(file, lines)
    return Meant(kinds, file.name)


def swap_programs(rng: random.Random, folder: Path) -> Meant:
    """The two hands' programs swapped; with the head of the right one in half of the cases."""
    left, right = sorted(folder.glob("*-rail.nc")) or sorted(folder.glob("*-rail.tap"))
    swap(left, right)
    if rng.random() < 0.5:
        for file, side in ((left, "LH"), (right, "RH")):
            other = "RH" if side == "LH" else "LH"
            text = file.read_bytes().decode("ascii")
            file.write_bytes(text.replace(f"SIDE {other}", f"SIDE {side}").encode("ascii"))
    return Meant(("wrong hand",), left.name)


def lost_program(rng: random.Random, folder: Path) -> Meant:
    file = rng.choice([program_of(rng, folder), folder / f"{folder.name}-press.json"])
    file.unlink()
    return Meant(("file missing",), file.name)


def press_tool(rng: random.Random, folder: Path) -> Meant:
    """A tool of the crib as it was told of to the press, of another size than its holes."""
    file = folder / f"{folder.name}-press.json"
    text = file.read_text()
    assert '"diameter": 17.0' in text
    file.write_text(text.replace('"diameter": 17.0', '"diameter": 17.5'))
    return Meant(("wrong size",), folder.name)
