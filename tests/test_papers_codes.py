"""Codes on papers are read back by a decoder, and no words on cards and sheets overlap or leave the paper."""

from __future__ import annotations

import hashlib
import re
import shutil
import subprocess
from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import ClassVar

import numpy as np
import pytest
from demo_serials import SAMPLES, bank_serials, sample

from railgen.data.findings import has_errors
from railgen.formats.cautions import CAUTIONS
from railgen.formats.hole_table import hole_table_csv
from railgen.layout.plan import SerialPlan
from railgen.papers.codes import bar_code, code_figures, hole_table_sha256, identity, qr_code
from railgen.papers.jig_sheet import jig_sheets, write_jig_sheet
from railgen.papers.kit_card import write_kit_card
from railgen.papers.sheet import FRAME_BOTTOM, FRAME_LEFT, FRAME_RIGHT, FRAME_TOP, Sheet
from railgen.papers.wording import Wording, wording
from railgen.pipeline import PAPERS, paper
from railgen.shop.card_line import CardLine

HAS_POPPLER = shutil.which("pdftoppm") is not None and shutil.which("pdftotext") is not None
needs_poppler = pytest.mark.skipif(not HAS_POPPLER, reason="poppler (pdftoppm, pdftotext) is not installed")
FAMILIES = ("P", "T", "S")


def digest(planned: SerialPlan) -> str:
    return hashlib.sha256(hole_table_csv(planned.serial, planned.holes)).hexdigest()


def decoded(pdf: Path, page: int) -> Counter[tuple[str, str]]:
    """Format and text of all codes at the foot of a page 297 mm high, as a scanner sees it at 200 dots an inch."""
    zxingcpp = pytest.importorskip("zxingcpp", reason="zxing-cpp is not installed")
    from PIL import Image

    picture = pdf.with_suffix("")
    where = ["-f", str(page), "-l", str(page), "-singlefile", "-gray", "-png", "-r", "200"]
    where += ["-x", "0", "-y", "1740", "-W", "3400", "-H", "600"]
    subprocess.run(["pdftoppm", *where, str(pdf), str(picture)], check=True)
    with Image.open(picture.with_suffix(".png")) as image:
        pixels = np.asarray(image.convert("L"))
    found = zxingcpp.read_barcodes(pixels)
    return Counter((re.sub(r"^.*\.|[ _]", "", str(code.format)), code.text) for code in found)


@needs_poppler
@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("route-card", [("rail", "LH"), ("rail", "RH"), ("liner", "LH"), ("liner", "RH")]),
        ("kit", [("kit", "LH+RH")]),
        ("jig", [("jig", "LH+RH")]),
        ("drawing", [("drawing", "LH"), ("drawing", "RH"), ("drawing", "LH+RH")]),
    ],
)
def test_codes_of_every_page_are_read_back(tmp_path: Path, name: str, parts: list[tuple[str, str]]) -> None:
    planned = sample("P-1001")
    pdf = tmp_path / "paper.pdf"
    pdf.write_bytes(paper(planned, name))  # type: ignore[arg-type]
    said = {";".join(("P-1001", part, hand, digest(planned))) for part, hand in parts}
    info = subprocess.run(["pdfinfo", str(pdf)], check=True, capture_output=True, text=True).stdout
    pages = int(re.search(r"Pages:\s+(\d+)", info)[1])  # type: ignore[index]
    seen = set()
    for page in range(1, pages + 1):
        codes = decoded(pdf, page)
        assert codes[("Code128", "P-1001")] == 1, (page, codes)
        (qr,) = [text for kind, text in codes if kind == "QRCode"]
        seen.add(qr)
    assert seen == said


@needs_poppler
@pytest.mark.parametrize("serial", ["A-1", "P-1001", "ABCD-123456789"])
def test_codes_of_short_and_long_serials(tmp_path: Path, serial: str) -> None:
    from io import BytesIO

    from reportlab.pdfgen.canvas import Canvas

    from railgen.papers.pdf import draw_figures

    text = identity(serial, "liner", "RH", hashlib.sha256(serial.encode()).hexdigest())
    buffer = BytesIO()
    canvas = Canvas(buffer, invariant=1)
    draw_figures(canvas, code_figures(qr_code(text, 15.0), 20, 20))
    draw_figures(canvas, code_figures(bar_code(serial, 8.0), 60, 20))
    canvas.showPage()
    canvas.save()
    (tmp_path / "codes.pdf").write_bytes(buffer.getvalue())
    assert decoded(tmp_path / "codes.pdf", 1) == Counter({("QRCode", text): 1, ("Code128", serial): 1})


def test_codes_stay_within_their_white_margin() -> None:
    for code in (bar_code("P-1001", 8.0), qr_code("P-1001;kit;LH+RH;" + "0" * 64, 15.0)):
        left, bottom, right, top = code.bars.T
        assert (left < right).all()
        assert (bottom < top).all()
        assert left.min() > 0
        assert right.max() < code.width
        assert bottom.min() >= 0
        assert top.max() <= code.height
        assert float(((right - left) * (top - bottom)).sum()) < 0.6 * code.width * code.height


def test_bars_of_a_qr_code_do_not_overlap() -> None:
    code = qr_code("P-1001;jig;LH+RH;" + "f" * 64, 45.0)
    edges = np.unique(np.round(code.bars.ravel(), 6))
    middles = (edges[:-1] + edges[1:]) / 2
    left, bottom, right, top = code.bars.T
    inside_x = (middles[:, None] > left) & (middles[:, None] < right)
    inside_y = (middles[:, None] > bottom) & (middles[:, None] < top)
    assert int((inside_y.astype(int) @ inside_x.astype(int).T).max()) == 1


def test_the_hole_table_is_that_of_the_file() -> None:
    planned = sample("P-1001")
    assert hole_table_sha256(planned) == digest(planned)
    assert hole_table_sha256(sample("T-2001")) == digest(sample("T-2001"))
    assert hole_table_sha256(planned) == digest(planned)


def test_cards_say_the_cautions_as_cut_files_do() -> None:
    assert tuple(wording().say(f"cautions.{key}") for key in ("release", "instructions")) == CAUTIONS


@pytest.mark.parametrize("name", PAPERS)
def test_same_plan_same_bytes(name: str) -> None:
    assert paper(sample("T-2001"), name) == paper(sample("T-2001"), name)  # type: ignore[arg-type]


class Recorder(Wording):
    """Words that remember which of them were said."""

    said: ClassVar[set[str]] = set()

    def text(self, line: CardLine) -> str:
        self.said.add(line.key)
        return super().text(line)


def test_no_words_of_kit_and_jig_lie_idle(monkeypatch: pytest.MonkeyPatch) -> None:
    words = Recorder(wording().words)
    words.said.clear()
    for module in ("kit_card", "jig_sheet"):
        monkeypatch.setattr(f"railgen.papers.{module}.wording", lambda: words)
    for serial in ("P-1001", "P-1002", "T-2001", "S-3001"):
        write_kit_card(sample(serial))
        write_jig_sheet(sample(serial))
    own = {key for key in words.words if re.match(r"(kit|jig)(_\w+)?\.", key)}
    # Said only of libraries and components unlike the demo's.
    rare = {"kit_sum.no_length", "kit_joint.head_inside", "jig_members.missing"}
    rare |= {"kit_grip.title", "kit_grip.line", "kit_grip.told"}
    assert own - words.said - rare == set()


@dataclass(frozen=True)
class Word:
    """A word on a page, points from the page's upper left corner."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


def words_on(pdf: bytes, folder: Path) -> list[tuple[float, float, list[Word]]]:
    """Width, height and words of each page, as poppler lays them out."""
    file = folder / "page.pdf"
    file.write_bytes(pdf)
    text = subprocess.run(["pdftotext", "-bbox", str(file), "-"], check=True, capture_output=True, text=True).stdout
    pages = []
    for page in re.finditer(r'<page width="([\d.]+)" height="([\d.]+)">(.*?)</page>', text, re.DOTALL):
        word = re.compile(r'<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*?)</word>')
        found = [Word(m[5], *(float(m[n]) for n in range(1, 5))) for m in word.finditer(page[3])]
        pages.append((float(page[1]), float(page[2]), found))
    return pages


def overlapping(words: list[Word]) -> list[tuple[str, str]]:
    """Pairs of words that share paper; the type's boxes are higher than its letters, so a tenth of each is let go."""
    boxes = np.array([(w.left, w.top, w.right, w.bottom) for w in words])
    slack = 0.1 * (boxes[:, 3] - boxes[:, 1])
    left, right = boxes[:, 0] + 0.2, boxes[:, 2] - 0.2
    top, bottom = boxes[:, 1] + slack, boxes[:, 3] - slack
    meet = (left[:, None] < right) & (left < right[:, None]) & (top[:, None] < bottom) & (top < bottom[:, None])
    return [(words[a].text, words[b].text) for a, b in np.argwhere(np.triu(meet, 1)).tolist()]


def test_the_check_of_overlaps_finds_them() -> None:
    words = [Word("one", 10, 10, 30, 20), Word("two", 28, 12, 50, 22), Word("three", 10, 21, 30, 31)]
    assert overlapping(words) == [("one", "two")]


@cache
def twenty() -> tuple[SerialPlan, ...]:
    """Twenty serials of the bank without error findings, of all three families."""
    chosen: list[SerialPlan] = []
    count = Counter[str]()
    for planned in bank_serials(step=2):
        family = planned.serial[0]
        if not any(f.severity == "error" for f in planned.findings) and count[family] < 7:
            count[family] += 1
            chosen.append(planned)
        if len(chosen) == 20:
            break
    assert set(count) == set(FAMILIES)
    assert len(chosen) == 20
    return tuple(chosen)


@needs_poppler
@pytest.mark.parametrize("name", ["route-card", "kit", "jig", "strength", "slips"])
def test_no_words_overlap_or_leave_the_page_over_twenty_serials(tmp_path: Path, name: str) -> None:
    # The bank's serials without loads and rated joints have no strength sheets; words across papers that are not for
    # production lie behind all others.
    samples = (sample(path.stem) for path in sorted(SAMPLES.glob("*.toml")))
    sound = [planned for planned in samples if not has_errors(planned.findings)]
    for planned in sound if name == "strength" else twenty():
        made = paper(planned, name)  # type: ignore[arg-type]
        assert made
        for number, (width, height, words) in enumerate(words_on(made, tmp_path), 1):
            assert len(words) > 20
            assert overlapping(words) == [], (planned.serial, number)
            for word in words:
                assert word.left > 10, (planned.serial, number, word)
                assert word.right < width - 10, (planned.serial, number, word)
                assert 10 < word.top < word.bottom < height - 10, (planned.serial, number, word)


def check_sheet(serial: str, sheet: Sheet) -> None:
    texts = [text for text in sheet.texts if not text.behind]
    boxes = np.array([text.box for text in texts])
    left, bottom, right, top = boxes.T
    assert left.min() > FRAME_LEFT, serial
    assert bottom.min() > FRAME_BOTTOM, serial
    assert right.max() < FRAME_RIGHT, serial
    assert top.max() < FRAME_TOP, serial
    meet = (left[:, None] < right) & (left < right[:, None]) & (bottom[:, None] < top) & (bottom < top[:, None])
    pairs = [(texts[a].text, texts[b].text) for a, b in np.argwhere(np.triu(meet, 1)).tolist()]
    assert pairs == [], (serial, sheet.name)


def test_texts_of_jig_sheets_keep_apart_and_within_the_frame_over_the_bank() -> None:
    seen = 0
    for planned in bank_serials(step=4):
        for sheet in jig_sheets(planned, wording()):
            check_sheet(planned.serial, sheet)
        seen += 1
    assert seen > 40


def test_the_jig_sheet_says_its_setting() -> None:
    (figures, records) = jig_sheets(sample("P-1001"), wording())
    told = [text.text for text in figures.texts]
    for words in ("P-1001", "frame width 800.0", "pin A  -407.5", "pin B  4800.0", "A  z 150.0", "B  z 103.0"):
        assert words in told
    assert "2  1150.0" in told
    listed = [text.text for text in records.texts]
    for words in ("P pins A, B", "5268.8", "a feet 1, 2; clear 2445.5", "2565.1", "P-1001 LH RAIL FRONT"):
        assert words in listed, words
