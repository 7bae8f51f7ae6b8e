"""Every command that writes a paper or a picture of one takes the words of a translation, to the last of them."""

from __future__ import annotations

import json
import re
import string
import tomllib
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path

import pytest
from click.testing import CliRunner
from demo_serials import sample
from pypdf import PdfReader

from railgen.cli.main import main
from railgen.data.inspection import Tolerances
from railgen.papers.wording import shipped_wording

ROOT = Path(__file__).parent.parent
LIBRARY = ROOT / "hole_libraries"
SERIAL, COMPONENT = "T-2002", "midship-cross-member"
ORDER = ROOT / f"samples/{SERIAL}.toml"
ACCENTS = str.maketrans("aeiouAEIOU", "áéíóúÁÉÍÓÚ")
CODES = {"railgen", "RAIL", "LINER", "FRONT", "MPa"}
"""The program's own name, what is stamped into the steel, and a unit."""


def accented(text: str) -> str:
    """A text in which every vowel bears an accent; values as they were."""
    made = ""
    for words, name, written, _ in string.Formatter().parse(text):
        made += words.replace("{", "{{").replace("}", "}}").translate(ACCENTS)
        if name is not None:
            made += f"{{{name}:{written}}}" if written else f"{{{name}}}"
    return made


@pytest.fixture(scope="module")
def words(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shipped file with an accent on every vowel."""
    tables: dict[str, list[str]] = {}
    for key, text in shipped_wording().words.items():
        table, _, name = key.partition(".")
        tables.setdefault(table, []).append(f'"{name}" = {json.dumps(accented(text), ensure_ascii=False)}\n')
    path = tmp_path_factory.mktemp("words") / "accents.toml"
    path.write_text("".join(f"[{table}]\n{''.join(lines)}\n" for table, lines in tables.items()), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def data() -> list[str]:
    """What papers may say that is not theirs, the longest first: texts of the library, the order and its findings.

    A word alone is excused where the shipped file has no such word; else it must stand within a longer text.
    """
    texts = {Tolerances().source, "LH-rail", "RH-rail"}
    texts |= set(values([tomllib.loads(path.read_text(encoding="utf-8")) for path in LIBRARY.rglob("*.toml")]))
    for serial in (SERIAL, "T-2001"):
        planned = sample(serial)
        texts |= set(values([finding.as_dict() for finding in planned.findings]))
        texts |= {f"{finding.rule} {finding.measure}" for finding in planned.findings}
        texts |= {anchor.replace("_", " ") for anchor in planned.order.anchors}
        texts |= {planned.holes.hole_id(row) for row in range(len(planned.holes))}
    said = {word for text in shipped_wording().words.values() for word in re.findall("[A-Za-z]+", text)}
    texts = {" ".join(text.split()) for text in texts}
    return sorted((text for text in texts if re.search("[a-z]", text) and text not in said), key=lambda t: (-len(t), t))


def values(plain: object) -> Iterator[str]:
    """All texts in plain data."""
    if isinstance(plain, str):
        yield plain
    elif isinstance(plain, dict | list | tuple):
        for value in plain.values() if isinstance(plain, dict) else plain:
            yield from values(value)


def untranslated(text: str, data: list[str]) -> list[str]:
    """Words of three letters and more, one a vowel, without an accent, that are neither of the data nor files."""
    text = " ".join(text.split())
    for known in data:
        text = text.replace(known, " ")
    text = re.sub(r"\S+\.(csv|dxf|nc|json|pdf|toml)\b|sha256|\S*…", " ", text)
    words = re.findall(r"(?<![\wÀ-ÿ])[A-Za-z]{3,}(?![\wÀ-ÿ])", text)
    return sorted({word for word in words if re.search("[aeiou]", word)} - CODES)


def run(*arguments: object, status: int = 0) -> str:
    done = CliRunner().invoke(main, [str(argument) for argument in arguments], catch_exceptions=False)
    assert done.exit_code == status, done.output
    return done.output


def text_of(path: Path) -> str:
    """All text of a PDF; of an SVG the texts that matplotlib notes beside their outlines."""
    if path.suffix == ".svg":
        return " ".join(re.findall("<!-- (.*?) -->", path.read_text(encoding="utf-8"), re.DOTALL))
    reader = PdfReader(BytesIO(path.read_bytes()))
    return " ".join([*(page.extract_text() for page in reader.pages), str((reader.metadata or {}).get("/Title"))])


def measured(folder: Path, shift: float) -> Path:
    """The hole table's own places as if measured, one of them beside its place and one missing."""
    lines = (folder / SERIAL / f"{SERIAL}-holes.csv").read_text().splitlines()
    names = lines[0].split(",")
    rows = [dict(zip(names, line.split(","), strict=True)) for line in lines[1:]]
    rows = [row for row in rows if row["shape"] == "round" and row["operation"] == "punch"]
    told = ["part,side,face,station_mm,across_mm,diameter_mm"]
    for number, row in enumerate(rows[1:]):
        station = float(row["station_mm"]) + (4.0 + shift if number == 30 else shift)
        place = f"{row['part']},{row['side']},{row['face']},{station:.4f},{row['across_mm']}"
        told.append(f"{place},{row['diameter_mm']}")
    path = folder / f"shift-{shift:g}.csv"
    path.write_text("\n".join([*told, ""]))
    return path


def build(out: Path, words: tuple[object, ...]) -> None:
    run("build", ORDER, "--output", out, *words)


def nc(out: Path, words: tuple[object, ...]) -> None:
    run("nc", ORDER, "--output", out, *words)


def strength(out: Path, words: tuple[object, ...]) -> None:
    run("strength", ROOT / "samples/T-2001.toml", "--output", out, *words)


def papers(out: Path, words: tuple[object, ...]) -> None:
    run("papers", ORDER, "--output", out, *words)
    run("papers", ORDER, "--kind", "slips", "--output", out, *words)


def bank(out: Path, words: tuple[object, ...]) -> None:
    (out / "orders").mkdir()
    (out / f"orders/{SERIAL}.toml").write_bytes(ORDER.read_bytes())
    run("bank", out / "orders", "--workers", 1, "--write", "papers", "--output", out, *words)


def freezone(out: Path, words: tuple[object, ...]) -> None:
    run("freezone", ORDER, "--fastener", "M14x1.5", "--side", "LH", "--output", out, *words)


def fit(out: Path, words: tuple[object, ...]) -> None:
    component = COMPONENT
    picture = ("--picture", "pdf", "--output", out)
    CliRunner().invoke(main, ["fit", component, "--order", str(ORDER), *map(str, (*picture, *words))])


def fit_over_a_bank(out: Path, words: tuple[object, ...]) -> None:
    lines = (ROOT / "samples/bank-200.csv").read_text().splitlines()
    (out / "few.csv").write_text("\n".join([*lines[:6], ""]))
    component = COMPONENT
    asked = ("--orders", out / "few.csv", "--window", "-20", "20", "--picture", "pdf", "--output", out)
    CliRunner().invoke(main, ["fit", component, *map(str, (*asked, *words))])


def compare(out: Path, words: tuple[object, ...]) -> None:
    run("compare", ORDER, ROOT / "samples/T-2001.toml", "--picture", out / "both.pdf", *words, status=1)


def inspect(out: Path, words: tuple[object, ...]) -> None:
    run("build", ORDER, "--output", out)
    for path in (out / SERIAL).glob("*.pdf"):
        path.unlink()
    for number in range(6):
        run("inspect", SERIAL, measured(out, 0.1 * number), "--output", out, *words, status=1)
    run("inspect", "--chart", *sorted(out.glob(f"inspections/{SERIAL}-*")), "--output", out, *words)


def saturation(out: Path, words: tuple[object, ...]) -> None:
    (out / "strips.csv").write_text("time,arc_height\n1,0.06\n2,0.1\n4,0.14\n8,0.155\n16,0.16\n")
    run("saturation", out / "strips.csv", "--picture", "svg", "--output", out, *words)
    (out / "strips.csv").unlink()


COMMANDS = [build, nc, strength, papers, bank, freezone, fit, fit_over_a_bank, compare, inspect, saturation]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.__name__)
def test_every_word_is_from_the_file(
    command: Callable[[Path, tuple[object, ...]], None], words: Path, data: list[str], tmp_path: Path
) -> None:
    command(tmp_path, ("--wording", words))
    made = sorted(path for path in tmp_path.rglob("*") if path.suffix in (".pdf", ".svg"))
    assert made
    for path in made:
        text = text_of(path).replace(path.stem, " ")
        assert len(re.findall("[áéíóú]", text)) > 20, path.name
        assert untranslated(text, data) == [], path.name


def test_a_word_that_is_not_from_the_file_would_be_seen(data: list[str]) -> None:
    found = untranslated("sérial beside the seam, Scallop of P-1001-holes.csv", data)
    assert found == ["Scallop", "beside", "seam", "the"]
