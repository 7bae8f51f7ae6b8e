"""The route card as a PDF: what it says, that nothing is cut off, and that the same plan gives the same bytes."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import replace
from functools import cache
from io import BytesIO
from pathlib import Path

import pytest
from builders import Hole
from clearance_cases import component
from pypdf import PdfReader
from reportlab.pdfbase.pdfmetrics import stringWidth
from shop_plans import FAMILY, FINISHING, HOLES, PRESS, shop_library, shop_plan

from railgen.data.findings import Finding
from railgen.data.library import Library
from railgen.data.plant import Finishing, Press
from railgen.formats.cautions import CAUTIONS
from railgen.holes.table import SHAPES
from railgen.layout.plan import SerialPlan
from railgen.papers.card_page import LEFT, TOP, WIDTH
from railgen.papers.fonts import font_name
from railgen.papers.route_card import write_route_card
from railgen.papers.wording import wording
from railgen.shop.card_line import CardLine, Value, line
from railgen.shop.part_work import parts_of
from railgen.shop.route import route

A4 = (595.28, 841.89)
ERROR = Finding(
    rule="edge-distance",
    measure="edge",
    severity="error",
    side="RH",
    part="rail",
    face="web",
    holes=("bracket.1.f0",),
    components=("bracket",),
    station_mm=0.0,
    value=10.0,
    limit=25.5,
    unit="mm",
    source="common practice",
    message="too near",
)


@cache
def full_plan() -> SerialPlan:
    return shop_plan("after-forming", liner=True)


@cache
def full_card() -> bytes:
    return write_route_card(full_plan())


def pages(pdf: bytes) -> list[str]:
    """Text of each page, its white space made single blanks."""
    return [plain(page.extract_text()) for page in PdfReader(BytesIO(pdf)).pages]


def plain(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def cards(pdf: bytes) -> dict[str, str]:
    """Text of all pages of each part's card."""
    found: dict[str, str] = {}
    for page in pages(pdf):
        match = re.search(r"P-1001 ([LR]H (?:rail|liner)) page \d+ of \d+", page)
        assert match, page
        found[match[1]] = f"{found.get(match[1], '')} {page}"
    return found


def test_a_card_for_each_part_in_order() -> None:
    assert list(cards(full_card())) == ["LH rail", "RH rail", "LH liner", "RH liner"]
    assert list(cards(write_route_card(shop_plan()))) == ["LH rail", "RH rail"]


def test_head_of_the_card() -> None:
    text = cards(full_card())["RH liner"]
    for words in (
        "P-1001",
        "Plough carrier",
        "right, as seen by the driver",
        "RH rail of P-1001, in which it is nested",
        "Revision A",
        "2025-01-02",
        "280x76x6: 280 × 76 × 6, inside radius 16",
        "S500MC (EN 10149-2)",
        "tensile 750 to 950 MPa",
        "2000.0 × 402.4 × 6",
        "3 and 0 marks",
    ):
        assert words in text


def test_every_line_of_every_operation_is_on_its_card() -> None:
    found, words = cards(full_card()), wording()
    for part, side in parts_of(full_plan()):
        text = found[f"{side} {part}"]
        for step in route(full_plan(), part, side):
            assert plain(words.say(f"operation.{step.kind}")) in text
            for told in (*step.inputs, *step.instructions, *step.targets, *step.limits, *step.cautions):
                assert plain(words.text(told)) in text, told


def test_operations_stand_in_shop_order() -> None:
    text = cards(full_card())["LH rail"]
    places = [
        text.index(f" {step.number} {wording().say(f'operation.{step.kind}')}")
        for step in route(full_plan(), "rail", "LH")
    ]
    assert places == sorted(places)


def test_tools_and_holes_are_listed_with_their_counts() -> None:
    text = cards(full_card())["LH rail"]
    assert "R 17 Ø 17 5 361.5 1200 of 30000" in text
    assert "Q 40x70 rectangle 40 × 70 1 1431.0" in text
    assert "Marker centre mark 1 - 0 of 30000" in text
    assert "All hits 9" in text
    assert "Ø 17 punch - 3 1 0 4" in text
    assert "Ø 17.5 drill, countersink M16x1.5 flush 1 0 0 1" in text
    assert "centre mark stud weld stud M8 1 0 0 1" in text
    assert "All features 10 1 0 11" in text


def test_cautions_and_release_are_on_every_card() -> None:
    for text in cards(full_card()).values():
        for caution in CAUTIONS:
            assert caution in text
        assert "checks, not approvals" in text
        assert "Released by the responsible chassis engineer" in text
    assert all(CAUTIONS[0] in page for page in pages(full_card()))


def test_pages_are_counted_a_card_and_a_set() -> None:
    texts = pages(full_card())
    counts: dict[str, list[tuple[int, int]]] = {}
    for number, page in enumerate(texts, 1):
        assert f"sheet {number} of {len(texts)}" in page
        match = re.search(r"P-1001 ([LR]H \w+) page (\d+) of (\d+)", page)
        assert match
        counts.setdefault(match[1], []).append((int(match[2]), int(match[3])))
    for told in counts.values():
        assert told == [(page, len(told)) for page in range(1, len(told) + 1)]


def test_heads_are_repeated_where_the_operations_go_on() -> None:
    for page in pages(full_card()):
        if re.search(r" \d+ (Electrocoat|Forming) ", page):
            assert "No. Operation What to do Target, limit" in page


def test_error_findings_bar_every_page() -> None:
    barred = pages(write_route_card(replace(full_plan(), findings=(ERROR,))))
    assert all("NOT FOR PRODUCTION: 1 error findings" in page for page in barred)
    assert "1 errors, 0 warnings on this part" in cards(write_route_card(shop_plan(findings=(ERROR,))))["RH rail"]
    assert "0 errors, 0 warnings on this part" in cards(write_route_card(shop_plan(findings=(ERROR,))))["LH rail"]
    warned = write_route_card(shop_plan(findings=(replace(ERROR, severity="warning"),)))
    for text in ("".join(pages(warned)), "".join(pages(full_card()))):
        assert "NOT FOR PRODUCTION" not in text
    assert "0 errors, 1 warnings on this part" in cards(warned)["RH rail"]


def check_pages(pdf: bytes) -> None:
    """Pages are A4 portrait, all their type is embedded, and no line of text leaves the margins."""
    for page in PdfReader(BytesIO(pdf)).pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(A4, abs=0.1)
        for font in page["/Resources"]["/Font"].values():
            assert "/FontFile2" in font.get_object()["/FontDescriptor"]
        lines: list[tuple[float, float, float]] = []

        def visit(text: str, cm: list[float], tm: list[float], font: dict[str, str], size: float) -> None:
            if text.strip():
                left = tm[4] * cm[0] + cm[4]
                width = stringWidth(text.strip(), font_name("Bold" in font["/BaseFont"]), size)
                lines.append((left, left + width, tm[5] * cm[3] + cm[5]))  # noqa: B023 - used within the loop

        page.extract_text(visitor_text=visit)
        assert len(lines) > 20
        for left, right, height in lines:
            assert LEFT - 0.1 <= left <= right <= LEFT + WIDTH + 0.1
            assert 20 <= height <= A4[1] - TOP


def test_pages_hold_their_text() -> None:
    check_pages(full_card())


def test_long_names_many_sizes_and_odd_letters_fit() -> None:
    many = [Hole(40.0 * n, 150, 9.0 + n / 10, operation="drill", sides=("LH",)) for n in range(90)]
    name = "A family whose name goes on & on " * 8
    library = shop_library()
    tools = [{"id": "An uncommonly long name of a tool in the crib", "shape": "round", "diameter": 17.0}]
    press = Press.model_validate(PRESS.model_dump() | {"tools": tools})
    finishing = Finishing.model_validate(
        FINISHING.model_dump() | {"weld_procedure": "P " * 140, "stud_procedure": "Łódź ш & 中" * 20}
    )
    library = replace(library, presses={PRESS.id: press}, finishing=finishing)
    plan = shop_plan("after-forming", holes=[*HOLES, *many], library=library)
    family = FAMILY.model_copy(update={"name": name.strip()})
    pdf = write_route_card(replace(plan, order=replace(plan.order, family=family)))
    check_pages(pdf)
    text = cards(pdf)["LH rail"]
    assert name.strip() in text
    assert "An uncommonly long name of a tool in the crib" in text
    for n in range(90):
        assert f"Drill 1 × Ø {9.0 + n / 10:.8g}." in text or f"Drill 2 × Ø {9.0 + n / 10:.8g}." in text


def test_a_part_without_holes_still_has_a_card() -> None:
    plan = shop_plan(holes=[Hole(1000, 150, 9.0, operation="drill", sides=("LH",))])
    text = cards(write_route_card(plan))["RH rail"]
    assert "0 and 0 marks" in text
    assert "Tools of this part" not in text
    assert "Shot peening" not in text


def test_same_plan_same_bytes() -> None:
    assert write_route_card(full_plan()) == full_card()


@pytest.mark.parametrize(("zone", "seed"), [("Pacific/Kiritimati", "1"), ("America/Los_Angeles", "2")])
def test_same_bytes_in_other_processes_and_time_zones(tmp_path: Path, zone: str, seed: str) -> None:
    code = (
        "import sys; from pathlib import Path; from shop_plans import shop_plan;"
        "from railgen.papers.route_card import write_route_card;"
        "Path(sys.argv[1]).write_bytes(write_route_card(shop_plan('after-forming', liner=True)))"
    )
    tests = Path(__file__).parent
    path = os.pathsep.join([str(tests), str(tests.parent), os.environ.get("PYTHONPATH", "")])
    environment = os.environ | {"TZ": zone, "PYTHONHASHSEED": seed, "PYTHONPATH": path}
    out = tmp_path / "card.pdf"
    subprocess.run([sys.executable, "-c", code, str(out)], check=True, env=environment)
    assert out.read_bytes() == full_card()


def keys_of(told: CardLine) -> set[str]:
    """Key of a line and of all lines within it."""
    found = {told.key}
    for value in told.values.values():
        inner: tuple[Value, ...] = value if isinstance(value, tuple) else (value,)
        for part in inner:
            if isinstance(part, CardLine):
                found |= keys_of(part)
    return found


def test_words_without_their_line_or_value_are_refused() -> None:
    with pytest.raises(KeyError):
        wording().say("blank.nowhere")
    with pytest.raises(KeyError):
        wording().say("blank.cut", length=1.0)
    listed = line("part.rail", side=(line("sign_off.date"), line("sign_off.initials")))
    assert wording().text(listed) == "Date, Initials rail"


def hung(tables: dict[str, object] | None = None, **rack: object) -> Library:
    """The test library with other rack data, and other tables of the finishing file; components called earth masked."""
    plain = FINISHING.model_dump()
    finishing = Finishing.model_validate(plain | (tables or {}) | {"rack": plain["rack"] | rack})
    return replace(shop_library(), finishing=finishing, components={"earth": component("earth", masked=True)})


def test_no_words_of_the_operations_lie_idle() -> None:
    """Every line that the shop can say has words, and no words of the operations' tables are never said."""
    press = PRESS.model_dump() | {"force": 1.0, "tools": [{"id": "M", "shape": "mark"}]}
    rack = {"slope": -2.0, "open_side": "up", "longest_part": 1.0, "highest_mass": 1.0}
    weak = replace(hung(**rack), presses={PRESS.id: Press.model_validate(press)})
    side = hung(open_side="side")
    odd = [*HOLES, Hole(2000, 150, 13.0, operation="countersink"), Hole(2300, 150, shape="mark", operation="stud")]
    plain_plan = shop_plan()
    steel = plain_plan.order.rail_steel.model_copy(update={"least_bend_radius": 9.0})
    tables = {
        "forming": {"force": 1.0},
        "peening": FINISHING.peening.model_dump() | {"edge_width": 10.0, "seam_width": 20.0},
    }
    earths = [
        Hole(1000, z, 9.0, face=face, component="earth") for face, z in (("web", 90), ("top", 60), ("bottom", 60))
    ]
    plans = [
        full_plan(),
        shop_plan("in-blank"),
        shop_plan("after-forming", library=hung(tables), holes=earths),
        shop_plan(library=hung(open_side="up", slope=0.0, hook_stations=(0.0, 6000.0)), holes=HOLES[:1]),
        shop_plan(library=hung(open_side="down", slope=0.0, hook_stations=(1500.0, 4500.0)), holes=HOLES[:1]),
        shop_plan(library=hung(open_side="down", slope=0.0, hook_stations=(0.0, 100.0)), holes=HOLES[:1]),
        shop_plan(liner=True, library=weak, holes=odd),
        shop_plan(library=side),
        replace(plain_plan, order=replace(plain_plan.order, rail_steel=steel)),
    ]
    said: set[str] = set()
    for plan in plans:
        for part, hand in parts_of(plan):
            for step in route(plan, part, hand):
                for told in (*step.inputs, *step.instructions, *step.targets, *step.limits, *step.cautions):
                    said |= keys_of(told)
                    assert wording().text(told)
    kinds = {step.kind for step in route(full_plan(), "rail", "LH")} | {"press", "tool", "part"}
    spoken = {key for key in wording().words if key.partition(".")[0] in kinds}
    assert spoken - said == set()
    assert {f"size.{shape}" for shape in SHAPES} <= set(wording().words)
