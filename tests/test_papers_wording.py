"""One text file for all papers: a translation reaches every word, and one with mistakes is refused by key."""

from __future__ import annotations

import json
import re
import string
from io import BytesIO
from pathlib import Path

import pytest
from click.testing import CliRunner
from demo_serials import sample
from pypdf import PdfReader

from railgen.cli.main import main
from railgen.data.component import Kind
from railgen.data.messages import InputError
from railgen.papers.setup_sheet import setup_sheets
from railgen.papers.style import DrawingStyle
from railgen.papers.wording import Wording, read_wording, say, shipped_wording, speaking
from railgen.pipeline import Choices, cards, drawings, press_orders

ROOT = Path(__file__).parent.parent
SHIPPED = (ROOT / "railgen/papers/wording.toml").read_text(encoding="utf-8")
ACCENTS = str.maketrans("aeiouAEIOU", "áéíóúÁÉÍÓÚ")
CODES = {"railgen", "kit", "RAIL", "LINER", "FRONT"}
"""The program's own name, the ending of a file's name, and what is stamped into the steel."""


def accented(text: str) -> str:
    """A text in which every vowel bears an accent; values as they were."""
    made = ""
    for words, name, written, _ in string.Formatter().parse(text):
        made += words.translate(ACCENTS)
        if name is not None:
            made += f"{{{name}:{written}}}" if written else f"{{{name}}}"
    return made


def translated() -> Wording:
    words = {key: accented(text) for key, text in shipped_wording().words.items()}
    return Wording(words, "accents.toml", "0" * 64)


def said_by_data(serial: str) -> str:
    """All that papers say that is not theirs: what library, order and findings say."""
    planned = sample(serial)
    order = planned.order
    library = " ".join(str(vars(order.library)[name]) for name in sorted(vars(order.library)))
    return " ".join([library, str(planned.findings), str(order.order), str(order.family)])


def untranslated(text: str, data: str) -> list[str]:
    """Words of a paper in the accented words that bear no accent and are not of the data."""
    assert len(re.findall("[áéíóú]", text)) > 100
    plain = set(re.findall(r"(?<![\wÀ-ÿ])[A-Za-z]{3,}(?![\wÀ-ÿ])", text)) - CODES
    return sorted(word for word in plain if re.search("[aeiouAEIOU]", word) and word not in data)


@pytest.mark.parametrize("serial", ["P-1001", "T-2001"])
def test_every_word_of_every_paper_is_from_the_one_file(serial: str) -> None:
    planned, data = sample(serial), said_by_data(serial)
    with speaking(translated()):
        files = drawings(planned, Choices(drawing=DrawingStyle("both", "first"))) | cards(planned)
    papers = {name: content for name, content in files.items() if name.endswith(".pdf")}
    own = {name for name in papers if not name.endswith("-strength.pdf")}
    assert len(own) == 4
    for name in sorted(own):
        text = " ".join(page.extract_text() for page in PdfReader(BytesIO(papers[name])).pages)
        assert untranslated(text, data) == [], name


def test_every_word_of_the_setup_sheets_too() -> None:
    planned = sample("T-2002")
    orders = press_orders(planned)
    with speaking(translated()):
        sheets = setup_sheets(orders)
    text = " ".join(text.text for sheet in sheets for text in sheet.texts)
    assert untranslated(text, said_by_data("T-2002")) == []


def test_words_return_when_the_translation_ends() -> None:
    before = say("card.title")
    with speaking(translated()):
        assert say("card.title") == accented(before) != before
    assert say("card.title") == before


def test_every_kind_of_component_has_a_word() -> None:
    kinds = {key for key in shipped_wording().words if key.startswith("kind.")}
    assert kinds == {f"kind.{kind.replace(' ', '_')}" for kind in Kind.__args__}  # type: ignore[attr-defined]


# Files


def file(tmp_path: Path, *changes: tuple[str, str]) -> Path:
    text = SHIPPED
    for found, instead in changes:
        assert found in text
        text = text.replace(found, instead, 1)
    path = tmp_path / "words.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_shipped_file_is_a_sound_translation_of_itself(tmp_path: Path) -> None:
    assert read_wording(file(tmp_path)).words == shipped_wording().words


@pytest.mark.parametrize(
    ("found", "instead", "named"),
    [
        ('title = "ROUTE CARD"\n', "", "card.title: found nothing"),
        ('title = "ROUTE CARD"', 'title = "ROUTE CARD"\ntitel = "x"', "card.titel: found this key"),
        ('title = "ROUTE CARD"', "title = 7", "card.title: found 7; allowed: a text"),
        ('title = "ROUTE CARD"', 'title = "ДАТА"', "card.title: found А Д Т; allowed: characters"),
        ("{steel} ({standard})", "{steal} ({standard})", "blank.steel: found {steal}; allowed: one of"),
        ("{length:.1f} × {width:.1f}.", "{length:.1f × {width:.1f}.", "blank.cut: found"),
        ("{length:.1f} × {width:.1f}.", "{length:.1z} × {width:.1f}.", "blank.cut: found"),
        ("{length:.1f} × {width:.1f}.", "{length.real} × {width:.1f}.", "blank.cut: found"),
        ("serial}, {part} and", "serial:.1f}, {part} and", "blank.identify: found"),
        ("[part]\n", "part = 3\n[other]\n", "part.rail: found nothing"),
    ],
)
def test_a_translation_with_a_mistake_is_refused_by_key(tmp_path: Path, found: str, instead: str, named: str) -> None:
    with pytest.raises(InputError) as refused:
        read_wording(file(tmp_path, (found, instead)))
    assert named in str(refused.value)
    assert "words.toml" in str(refused.value)


def test_all_mistakes_are_named_at_once(tmp_path: Path) -> None:
    path = file(tmp_path, ('title = "ROUTE CARD"', 'titel = "ROUTE CARD"'), ("{steel} (", "{steal} ("))
    with pytest.raises(InputError) as refused:
        read_wording(path)
    told = str(refused.value)
    assert "card.title" in told
    assert "Did you mean 'card.title'?" in told
    assert "Did you mean 'steel'?" in told


def run(*arguments: str) -> tuple[int, str]:
    library = ["--library", str(ROOT / "hole_libraries")]
    done = CliRunner().invoke(main, [*arguments, *library], catch_exceptions=False)
    return done.exit_code, done.output


def test_build_writes_papers_in_the_words_of_a_file_and_says_so_in_the_manifest(tmp_path: Path) -> None:
    words = file(tmp_path, ('title = "ROUTE CARD"', 'title = "LAUFKARTE"'))
    order, out = str(ROOT / "samples/T-2002.toml"), tmp_path / "out"
    status, _ = run("build", order, "--output", str(out), "--wording", str(words))
    assert status == 0
    card = (out / "T-2002/T-2002-route-card.pdf").read_bytes()
    assert "LAUFKARTE" in PdfReader(BytesIO(card)).pages[0].extract_text()
    inputs = json.loads((out / "T-2002/manifest.json").read_text())["inputs"]
    assert "wording/words.toml" in inputs
    status, _ = run("papers", order, "--kind", "route-card", "--output", str(out), "--wording", str(words))
    assert status == 0
    merged = (out / "T-2002-papers.pdf").read_bytes()
    assert "LAUFKARTE" in PdfReader(BytesIO(merged)).pages[0].extract_text()


@pytest.mark.parametrize("verb", ["build", "papers"])
def test_a_wrong_file_leaves_everything_untouched(tmp_path: Path, verb: str) -> None:
    words = file(tmp_path, ('title = "ROUTE CARD"', 'titel = "ROUTE CARD"'))
    out = tmp_path / "out"
    status, told = run(verb, str(ROOT / "samples/T-2002.toml"), "--output", str(out), "--wording", str(words))
    assert status == 2
    assert "card.titel" in told
    assert not out.exists()
    status, told = run(verb, str(ROOT / "samples/T-2002.toml"), "--output", str(out), "--wording", str(tmp_path / "no"))
    assert status == 2
    assert "no: found" in told
