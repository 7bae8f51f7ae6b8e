"""Papers of many serials as one PDF: the pages of each, in build order, with flat memory; and the command."""

from __future__ import annotations

import re
import shutil
import subprocess
import tracemalloc
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

import pytest
from click.testing import CliRunner
from demo_serials import ROOT, SAMPLES, sample
from pypdf import PdfReader

from railgen.bank.run import in_build_order
from railgen.cli.main import main
from railgen.papers.merge import PdfMerge
from railgen.pipeline import paper

DEMO = ROOT / "hole_libraries"


def merged(*pdfs: tuple[str, bytes]) -> bytes:
    stream = BytesIO()
    merge = PdfMerge(stream)
    for bookmark, pdf in pdfs:
        merge.add(pdf, bookmark)
    merge.close("all of them")
    return stream.getvalue()


def texts(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(BytesIO(pdf), strict=True).pages]


def test_pages_sizes_and_bookmarks_are_kept() -> None:
    kit, jig = paper(sample("P-1001"), "kit"), paper(sample("T-2001"), "jig")
    both = merged(("P-1001 kit", kit), ("T-2001 jig", jig))
    reader = PdfReader(BytesIO(both), strict=True)
    assert texts(both) == texts(kit) + texts(jig)
    sizes = [(round(float(page.mediabox.width)), round(float(page.mediabox.height))) for page in reader.pages]
    assert sizes == [(595, 842)] * len(texts(kit)) + [(1191, 842)] * len(texts(jig))
    places = [(item.title, reader.get_destination_page_number(item)) for item in reader.outline]  # type: ignore[union-attr, arg-type]
    assert places == [("P-1001 kit", 0), ("T-2001 jig", len(texts(kit)))]
    assert reader.metadata is not None
    assert reader.metadata.title == "all of them"


def test_fonts_stay_embedded_and_bytes_are_the_same_every_time() -> None:
    kit = paper(sample("P-1001"), "kit")
    once = merged(("kit", kit))
    assert once == merged(("kit", kit))
    for page in PdfReader(BytesIO(once)).pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index, union-attr]
            assert "/FontFile2" in font.get_object()["/FontDescriptor"]


def test_faces_that_papers_have_alike_are_written_once() -> None:
    papers = [(name, paper(sample("P-1001"), name)) for name in ("kit", "jig")]
    apart, both = [merged(one) for one in papers], merged(*papers)
    assert all(pdf.count(b"/FontFile2") == 2 for pdf in (*apart, both))
    assert len(both) < sum(map(len, apart)) - 30_000
    assert texts(both) == [text for pdf in apart for text in texts(pdf)]


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler (pdftoppm) is not installed")
def test_pages_look_as_they_did(tmp_path: Path) -> None:
    jig = paper(sample("S-3001"), "jig")
    pictures = []
    for name, pdf in (("alone", jig), ("merged", merged(("kit", paper(sample("P-1001"), "kit")), ("jig", jig)))):
        file = tmp_path / f"{name}.pdf"
        file.write_bytes(pdf)
        page = str(len(texts(pdf)))
        subprocess.run(["pdftoppm", "-f", page, "-singlefile", "-r", "60", str(file), str(tmp_path / name)], check=True)
        pictures.append((tmp_path / f"{name}.ppm").read_bytes())
    assert pictures[0] == pictures[1]


class Nowhere:
    """A stream that forgets what it is given."""

    def write(self, content: bytes) -> int:
        return len(content)


def test_memory_does_not_grow_with_the_number_of_papers() -> None:
    jig = paper(sample("S-3001"), "jig")

    def peak(count: int) -> int:
        stream: BinaryIO = Nowhere()  # type: ignore[assignment]
        merge = PdfMerge(stream)
        tracemalloc.start()
        for number in range(count):
            merge.add(jig, f"S-{number}")
        merge.close("many")
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most

    peak(2)
    few, many = peak(20), peak(120)
    # What is kept of each paper are places of its objects; rings of what was read wait for the collector.
    assert many - few < 0.15 * 100 * len(jig)


def order(folder: Path, serial: str, build_date: str, changes: Callable[[str], str] = str) -> Path:
    """A sample order under another serial and build date."""
    family = {"P": "P-1001", "T": "T-2001", "S": "S-3001"}[serial[0]]
    text = (SAMPLES / f"{family}.toml").read_text()
    text = text.replace(f'serial = "{family}"', f'serial = "{serial}"')
    path = folder / f"{serial}.toml"
    path.write_text(changes(re.sub(r"build_date = \S+", f"build_date = {build_date}", text)))
    return path


def run(*arguments: object) -> tuple[int, str]:
    result = CliRunner().invoke(main, ["papers", *map(str, arguments)], catch_exceptions=False)
    return result.exit_code, result.output


def serials_in(file: Path) -> list[str]:
    """Serials of the pages, each once where neighbours agree."""
    found = [match[0] for text in texts(file.read_bytes()) if (match := re.search(r"[PST]-\d+", text))]
    return [serial for place, serial in enumerate(found) if place == 0 or serial != found[place - 1]]


def test_build_order_is_by_date_then_serial(tmp_path: Path) -> None:
    dates = {"S-40": "2027-03-02", "S-9": "2027-03-02", "T-2": "2027-03-01", "P-77": "2027-03-03"}
    paths = [order(tmp_path, serial, date) for serial, date in dates.items()]
    assert [given.serial for given in in_build_order(paths)] == ["T-2", "S-9", "S-40", "P-77"]
    status, text = run(*paths, "--kind", "jig", "--library", DEMO, "--output", tmp_path / "out")
    assert status == 0, text
    assert serials_in(tmp_path / "out" / "papers.pdf") == ["T-2", "S-9", "S-40", "P-77"]


def test_same_bytes_whatever_the_order_on_the_command_line(tmp_path: Path) -> None:
    paths = [SAMPLES / "S-3001.toml", SAMPLES / "T-2001.toml"]
    for name, given in (("a", paths), ("b", paths[::-1])):
        assert run(*given, "--kind", "kit,jig", "--library", DEMO, "--output", tmp_path / name)[0] == 0
    assert (tmp_path / "a" / "papers.pdf").read_bytes() == (tmp_path / "b" / "papers.pdf").read_bytes()


def test_kinds_are_printed_in_the_order_asked_for(tmp_path: Path) -> None:
    status, _ = run(SAMPLES / "S-3001.toml", "--kind", "jig,kit", "--library", DEMO, "--output", tmp_path)
    assert status == 0
    reader = PdfReader(tmp_path / "S-3001-papers.pdf")
    assert [item.title for item in reader.outline] == ["S-3001 jig sheet", "S-3001 fastener kit"]  # type: ignore[union-attr]


def test_a_scrapped_part_is_printed_again_alone(tmp_path: Path) -> None:
    status, text = run(SAMPLES / "P-1001.toml", "--part", "RH-rail", "--library", DEMO, "--output", tmp_path)
    assert status == 0, text
    (file,) = tmp_path.iterdir()
    assert file.name == "P-1001-RH-rail-papers.pdf"
    pages = texts(file.read_bytes())
    assert all(re.search(r"P-1001\s+RH rail\s+page \d+ of \d+", page) for page in pages)
    assert not any(re.search(r"LH rail\s+page|liner\s+page", page) for page in pages)
    first = re.sub(r"\s+", " ", pages[0])
    assert "Printed again for this part alone" in first
    assert "P-1001-RH-rail.dxf" in first


def test_the_days_setup_sheets_of_the_press_come_in_build_order(tmp_path: Path) -> None:
    paths = [order(tmp_path, "S-9", "2027-03-02"), order(tmp_path, "T-2", "2027-03-01")]
    status, text = run(*paths, "--kind", "setup", "--library", DEMO, "--output", tmp_path / "out")
    assert status == 0, text
    reader = PdfReader(tmp_path / "out/papers.pdf")
    assert [item.title for item in reader.outline] == ["T-2 press setup", "S-9 press setup"]  # type: ignore[union-attr]
    for page, serial in ((reader.pages[0], "T-2"), (reader.pages[-1], "S-9")):
        assert serial in page.extract_text()


def test_an_error_finding_leaves_drawing_and_strength_sheets_alone(tmp_path: Path) -> None:
    status, text = run(SAMPLES / "P-1002.toml", SAMPLES / "T-2001.toml", "--library", DEMO, "--output", tmp_path)
    assert status == 1
    assert "P-1002: no route-card, kit, jig" in text
    reader = PdfReader(tmp_path / "papers.pdf")
    titles = [item.title for item in reader.outline]  # type: ignore[union-attr]
    assert [title for title in titles if title.startswith("P-1002")] == ["P-1002 drawing", "P-1002 strength"]
    assert len([title for title in titles if title.startswith("T-2001")]) == 5


def test_with_nothing_to_print_no_file_is_touched(tmp_path: Path) -> None:
    file = tmp_path / "P-1002-papers.pdf"
    file.write_bytes(b"from before")
    status, text = run(SAMPLES / "P-1002.toml", "--kind", "kit", "--library", DEMO, "--output", tmp_path)
    assert status == 1
    assert "nothing to print" in text
    assert [path.name for path in tmp_path.iterdir()] == [file.name]
    assert file.read_bytes() == b"from before"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--part", "RH-liner"), "a part of T-2001: one of LH-rail, RH-rail"),
        (("--kind", "kitt"), "Did you mean 'kit'?"),
        (("--kind", "jig", "--part", "LH-rail"), "the other papers are of the whole serial"),
    ],
)
def test_what_cannot_be_printed_is_named(tmp_path: Path, arguments: tuple[str, ...], told: str) -> None:
    status, text = run(SAMPLES / "T-2001.toml", *arguments, "--library", DEMO, "--output", tmp_path / "out")
    assert status == 2
    assert told in text
    assert not (tmp_path / "out").exists() or not list((tmp_path / "out").iterdir())


def test_a_wrong_order_is_named_and_the_others_are_printed(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("serial = 3\n")
    arguments = ("--kind", "jig", "--library", DEMO, "--output", tmp_path / "out")
    status, text = run(wrong, SAMPLES / "S-3001.toml", *arguments)
    assert status == 2
    assert "wrong.toml" in text
    assert serials_in(tmp_path / "out" / "papers.pdf") == ["S-3001"]
