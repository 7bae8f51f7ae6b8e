"""``kit.csv``: what is written is read back, and what is wrong with a file is named."""

from __future__ import annotations

import pytest
from demo_serials import sample

from railgen.data.messages import InputError
from railgen.data.reading import Source
from railgen.formats.kit_file import COLUMNS, kit_csv, kit_rows
from railgen.shop.kit import kit_lines, kit_of


def source(text: str) -> Source:
    return Source("kit.csv", text.encode())


@pytest.mark.parametrize("serial", ["P-1001", "S-3001", "T-2001"])
def test_round_trip(serial: str) -> None:
    lines = kit_lines(kit_of(sample(serial)))
    written = kit_csv(lines).decode()
    assert written.splitlines()[0] == "item,size,length_mm,count,components" == ",".join(COLUMNS)
    assert kit_rows(source(written)) == lines


def test_rows_as_a_shop_reads_them() -> None:
    written = kit_csv(kit_lines(kit_of(sample("P-1001")))).decode().splitlines()
    assert "cap screw,M18x1.5,90,12,front-closing-cross-member;recovery-pin-bracket" in written
    assert "hardened washer,M18x1.5,,24,front-closing-cross-member;recovery-pin-bracket" in written
    assert "cap screw,1/2-20,50.8,42,hopper-plate" in kit_csv(kit_lines(kit_of(sample("S-3001")))).decode().splitlines()


@pytest.mark.parametrize(
    ("row", "place"),
    [
        ("cap screw,M12x1.25,50,4", "line 2"),
        ("bolt,M12x1.25,50,4,a", "column item"),
        ("cap screw,,50,4,a", "column size"),
        ("cap screw,M12x1.25,-5,4,a", "column length_mm"),
        ("lock nut,M12x1.25,50,4,a", "column length_mm"),
        ("cap screw,M12x1.25,50,0,a", "column count"),
        ("cap screw,M12x1.25,50,4,a;;b", "column components"),
    ],
)
def test_what_is_wrong_is_named(row: str, place: str) -> None:
    with pytest.raises(InputError) as caught:
        kit_rows(source(",".join(COLUMNS) + "\n" + row + "\n"))
    assert place in str(caught.value.problems[0])


def test_another_header_is_refused() -> None:
    with pytest.raises(InputError):
        kit_rows(source("item,size\n"))
