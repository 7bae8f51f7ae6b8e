"""The drawing sets of twenty serials of all families, as data and as printed: legible, complete, light."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from functools import cache
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from drawn_plans import page_words
from pypdf import PdfReader

from railgen.data.library import load_library
from railgen.data.order_files import read_orders
from railgen.layout.catalogue import compile_catalogue
from railgen.layout.plan import SerialPlan
from railgen.papers.drawing import draw, pdf_of
from railgen.papers.merge import PdfMerge
from railgen.papers.sheet import FRAME_BOTTOM, FRAME_LEFT, FRAME_RIGHT, FRAME_TOP, HEIGHT, WIDTH, Drawing
from railgen.papers.style import DrawingStyle
from railgen.pipeline import cards, paper, plan

ROOT = Path(__file__).parent.parent
SAMPLES = ("P-1001", "P-1002", "P-1003", "S-3001", "S-3002", "T-2001", "T-2002")
BANK = tuple(f"P-{n}" for n in (1101, 1133, 1165, 1195)) + tuple(f"T-{n}" for n in (2101, 2119, 2137, 2152))
BANK += tuple(f"S-{n}" for n in (3101, 3113, 3125, 3137, 3140))
STYLES = (DrawingStyle("both", "first"), DrawingStyle("in", "third"))
NEEDS_POPPLER = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs poppler")


@cache
def plans() -> dict[str, SerialPlan]:
    catalogue = compile_catalogue(load_library(ROOT / "hole_libraries"))
    files = [*(ROOT / "samples" / f"{name}.toml" for name in SAMPLES), ROOT / "samples" / "bank-200.csv"]
    orders = [given.order for given in read_orders(files) if given.order]
    return {order.serial: plan(order, catalogue) for order in orders if order.serial in (*SAMPLES, *BANK)}


@cache
def drawn(serial: str) -> Drawing:
    return draw(plans()[serial])


@cache
def printed(serial: str) -> bytes:
    return pdf_of(drawn(serial))


def out_of_place(drawing: Drawing) -> list[str]:
    """Words that leave the frame, and words that overlap others, with their sheets."""
    found = []
    for sheet in drawing.sheets:
        texts = [text for text in sheet.texts if not text.behind]
        left, bottom, right, top = np.array([text.box for text in texts]).T
        out = (left < FRAME_LEFT) | (bottom < FRAME_BOTTOM) | (right > FRAME_RIGHT) | (top > FRAME_TOP)
        found += [f"{sheet.name}: {texts[i].text} leaves the frame" for i in np.flatnonzero(out)]
        over = (left[:, None] < right) & (left < right[:, None]) & (bottom[:, None] < top) & (bottom < top[:, None])
        found += [f"{sheet.name}: {texts[i].text} over {texts[j].text}" for i, j in np.argwhere(np.triu(over, 1))]
    return found


@pytest.mark.parametrize("serial", [*SAMPLES, *BANK])
def test_no_two_words_overlap_and_none_leaves_the_frame(serial: str) -> None:
    assert out_of_place(drawn(serial)) == []


@pytest.mark.parametrize("style", STYLES, ids=lambda style: f"{style.units}-{style.projection}")
@pytest.mark.parametrize("serial", ["P-1001", "T-2001", "S-3001", "T-2152", "P-1195"])
def test_nor_in_other_units_and_projections(serial: str, style: DrawingStyle) -> None:
    assert out_of_place(draw(plans()[serial], style)) == []


def test_the_twenty_serials_are_of_all_families() -> None:
    assert len(plans()) == 20
    assert {made.order.family.id for made in plans().values()} == {"plough-carrier", "timber-tractor", "street-sweeper"}
    assert any(made.order.rail.liner for made in plans().values())
    assert any(made.order.rail.taper for made in plans().values())


@pytest.mark.parametrize("serial", [*SAMPLES, *BANK])
def test_a_set_has_every_sheet_and_weighs_less_than_a_megabyte(serial: str) -> None:
    rail = plans()[serial].order.rail
    expected = ["General arrangement", "Elevation, LH rail", "Elevation, RH rail"]
    expected += ["Elevation, LH liner", "Elevation, RH liner"] * (rail.liner is not None)
    expected += ["Tail taper"] * (rail.taper is not None) + ["Blank of the rail"]
    expected += ["Blank of the liner"] * (rail.liner is not None) + ["Hole chart", "Components", "Findings"]
    names = [sheet.name.split(" ", 1)[1] for sheet in drawn(serial).sheets]
    assert list(dict.fromkeys(names)) == expected
    assert len(printed(serial)) < 1_000_000


@pytest.mark.parametrize("serial", ["P-1001", "T-2001", "S-3001"])
def test_all_papers_of_a_serial_weigh_less_than_a_megabyte_together(serial: str) -> None:
    made = plans()[serial]
    others = [content for name, content in cards(made).items() if name.endswith(".pdf")]
    stream = BytesIO()
    merge = PdfMerge(stream)
    for pdf in (printed(serial), *others, paper(made, "strength"), paper(made, "slips")):
        merge.add(pdf or b"", "paper")
    merge.close(serial)
    assert len(stream.getvalue()) < 1_000_000


@pytest.mark.parametrize("serial", ["P-1001", "T-2001", "S-3001"])
def test_nothing_finds_no_room_in_a_real_serial(serial: str) -> None:
    words = " ".join(page_words(printed(serial)))
    assert "find no room" not in words


def test_what_a_table_has_no_room_for_stands_on_a_sheet_at_the_end() -> None:
    made = plans()["P-1001"]
    codes = tuple(f"OPT{number:04}" for number in range(600))
    order = replace(made.order, order=made.order.order.model_copy(update={"options": codes}))
    drawing = draw(replace(made, order=order))
    assert out_of_place(drawing) == []
    words = [[text.text for text in sheet.texts] for sheet in drawing.sheets]
    told = " ".join(word for sheet in words for word in sheet)
    assert all(code in told for code in codes)
    assert drawing.sheets[-1].name.endswith("Tables, continued")
    assert "Tables, continued" in words[0]
    assert not any(sheet.name.endswith("continued") for sheet in drawn("P-1001").sheets)


# As printed


def word_boxes(data: bytes, folder: Path) -> list[list[tuple[float, float, float, float, str]]]:
    """Words of each page as poppler finds them: left, top, right, bottom (mm from the upper left corner), the word."""
    file = folder / "drawing.pdf"
    file.write_bytes(data)
    done = subprocess.run(["pdftotext", "-bbox", str(file), "-"], capture_output=True, text=True, check=True)
    form = r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>'
    return [
        [(*(float(edge) * 25.4 / 72 for edge in found[:4]), found[4]) for found in re.findall(form, page)]
        for page in done.stdout.split("<page ")[1:]
    ]


@NEEDS_POPPLER
@pytest.mark.parametrize("serial", ["P-1001", "T-2001", "S-3002"])
def test_words_as_a_reader_of_the_pdf_finds_them_lie_apart_and_on_the_sheet(serial: str, tmp_path: Path) -> None:
    wrong = any(finding.severity == "error" for finding in plans()[serial].findings)
    for page in word_boxes(printed(serial), tmp_path):
        # The pale words across a sheet that is not for production lie behind everything.
        words = [box for box in page if not (wrong and box[3] - box[1] > 12)]
        edges = np.array([box[:4] for box in words])
        left, top, right, bottom = edges.T
        assert left.min() >= 0
        assert top.min() >= 0
        assert right.max() <= WIDTH
        assert bottom.max() <= HEIGHT
        # Poppler's boxes hold the face's whole line; letters fill its middle.
        across, up = right - left, bottom - top
        lying = across >= up
        shrink = np.where(lying, 0.0, 0.2 * across), np.where(lying, 0.2 * up, 0.0)
        left, right, top, bottom = left + shrink[0], right - shrink[0], top + shrink[1], bottom - shrink[1]
        apart = 0.05
        over = (left[:, None] + apart < right) & (left + apart < right[:, None])
        over &= (top[:, None] + apart < bottom) & (top + apart < bottom[:, None])
        met = [(words[i][4], words[j][4]) for i, j in np.argwhere(np.triu(over, 1))]
        assert not met, met[:5]


@NEEDS_POPPLER
@pytest.mark.parametrize("serial", ["P-1001", "T-2001"])
def test_rendered_pages_have_no_ink_outside_the_frame_but_its_centring_marks(serial: str, tmp_path: Path) -> None:
    file = tmp_path / "drawing.pdf"
    file.write_bytes(printed(serial))
    subprocess.run(["pdftoppm", "-r", "60", "-gray", str(file), str(tmp_path / "page")], check=True)
    pages = sorted(tmp_path.glob("page-*.pgm"))
    assert len(pages) == len(PdfReader(BytesIO(printed(serial))).pages)
    for page in pages:
        _, size, _, pixels = page.read_bytes().split(b"\n", 3)
        across, up = map(int, size.split())
        ink = np.frombuffer(pixels, dtype=np.uint8).reshape(up, across) < 200
        dot = 60 / 25.4
        rows, columns = np.flatnonzero(ink.any(axis=1)) / dot, np.flatnonzero(ink.any(axis=0)) / dot
        assert ink.mean() > 0.005
        assert rows.min() >= 5 - 1
        assert columns.min() >= 10 - 1
        inside = (slice(int(10 * dot) - 2, int(287 * dot) + 3), slice(int(20 * dot) - 2, int(410 * dot) + 3))
        outside = ink.copy()
        outside[inside] = False
        y, x = np.nonzero(outside)
        near_middle = (np.abs(x / dot - WIDTH / 2) < 1.5) | (np.abs(y / dot - HEIGHT / 2) < 1.5)
        assert near_middle.all()
