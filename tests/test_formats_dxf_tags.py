"""The lean DXF reader gives what ezdxf gives, and refuses everything that this program does not write."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from builders import Hole, rail_shape, rail_table, resolved_order

from railgen.data.messages import InputError
from railgen.formats.cut_file import cut_file
from railgen.formats.dxf import read_dxf
from railgen.formats.dxf_tags import read_dxf_tags
from railgen.formats.taper_template import taper_file

HOLES = [
    Hole(-700, 61.7, diameter=13, operation="drill"),
    Hole(-500, 120, diameter=11, shape="slot", length=27.3, angle=33.3),
    Hole(-400, 150, diameter=40, shape="rectangle", length=90, angle=12.5),
    Hole(-200, 150, shape="mark"),
    Hole(-100, 55, diameter=9, face="top", shape="slot", length=20, angle=160),
    Hole(700.1, 140, diameter=17),
    Hole(4300, 250.5, diameter=17),
]
RAILS = {
    "liner": rail_shape(liner=True),
    "cut later": rail_shape("after-forming"),
    "cut in blank": rail_shape("in-blank", liner=True),
}


def files(name: str, version: str) -> list[bytes]:
    rail = RAILS[name]
    order, table = resolved_order(rail), rail_table(rail, HOLES)
    parts = ("rail", "liner") if rail.liner else ("rail",)
    found = [cut_file(order, table, side, part, version=version) for side in ("LH", "RH") for part in parts]
    return found + ([taper_file(order, side, version) for side in ("LH", "RH")] if rail.taper else [])


@pytest.mark.parametrize("version", ["R12", "R2018"])
@pytest.mark.parametrize("name", RAILS)
def test_same_entities_as_ezdxf(name: str, version: str, tmp_path: Path) -> None:
    file = tmp_path / "blank.dxf"
    for content in files(name, version):
        file.write_bytes(content)
        assert read_dxf_tags(file) == read_dxf(file)
        file.write_bytes(content.replace(b"\n", b"\r\n"))
        assert read_dxf_tags(file) == read_dxf(file)


@pytest.mark.parametrize("version", ["R12", "R2018"])
def test_damaged_files_are_refused_or_read_as_ezdxf_reads_them(version: str, tmp_path: Path) -> None:
    """A line lost, doubled or changed: never a crash, and never other geometry than ezdxf sees."""
    rng = random.Random(4)
    content = files("cut later", version)[0]
    lines = content.split(b"\n")
    first = lines.index(b"ENTITIES")
    last = lines.index(b"ENDSEC", first)
    file, refused = tmp_path / "blank.dxf", list[str]()
    for _ in range(60):
        damaged, at = list(lines), rng.randrange(first, last)
        change = rng.randrange(4)
        if change == 0:
            del damaged[at]
        elif change == 1:
            damaged.insert(at, damaged[at])
        elif change == 2:
            damaged[at] = damaged[at][:-1]
        else:
            damaged = damaged[:at]
        file.write_bytes(b"\n".join(damaged))
        try:
            read = read_dxf_tags(file)
        except InputError as error:
            refused.append(str(error))
            continue
        assert read == read_dxf(file)
    assert len(refused) > 30
    assert all(message.startswith(str(file)) for message in refused)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (b"8\nHOLES\n", b"8\nHOLE\n", "line .*: found layer 'HOLE'; allowed: one of BEND, HOLES"),
        (b"0\nCIRCLE\n", b"0\nELLIPSE\n", "found 'ELLIPSE'; allowed: one of CIRCLE"),
        (b"0\nCIRCLE\n8\nHOLES\n", b"0\nCIRCLE\n8\nHOLES\n230\n-1.0\n", "group 230 in a CIRCLE: '-1.0'"),
        (b"0\nCIRCLE\n8\nHOLES\n", b"0\nCIRCLE\n8\nHOLES\n30\n5.0\n", "group 30 in a CIRCLE: '5.0'"),
        (b"0\nCIRCLE\n8\nHOLES\n10\n", b"0\nCIRCLE\n8\nHOLES\n10\n1\n10\n", "a group code twice"),
        (b"0\nCIRCLE\n8\nHOLES\n10\n", b"0\nCIRCLE\n8\nHOLES\n6\n", "a CIRCLE without group 10"),
        (b"20\n217.05", b"20\nnan", "'nan.*' in group 20; allowed: a finite number"),
        (b"0\nSEQEND\n", b"", "a polyline without its end"),
        (b"0\nSECTION\n2\nENTITIES\n", b"0\nSECTION\n2\nBLOCKS\n", "no ENTITIES section"),
        (b"0\nEOF\n", b"", "no EOF; allowed: a complete DXF file"),
        (b"0\nENDSEC\n0\nEOF\n", b"0\nEOF\n", "without ENDSEC|found 'EOF'"),
    ],
)
def test_what_is_refused(old: bytes, new: bytes, words: str, tmp_path: Path) -> None:
    rail = RAILS["cut later"]
    content = cut_file(resolved_order(rail), rail_table(rail, [Hole(0, 150), *HOLES]), "LH", "rail")
    assert old in content
    at = content.rindex(old) if old == b"0\nENDSEC\n0\nEOF\n" else content.index(old)
    file = tmp_path / "blank.dxf"
    file.write_bytes(content[:at] + new + content[at + len(old) :])
    with pytest.raises(InputError, match=words):
        read_dxf_tags(file)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="No such file"):
        read_dxf_tags(tmp_path / "no.dxf")
    (tmp_path / "empty.dxf").write_bytes(b"")
    with pytest.raises(InputError, match="no EOF"):
        read_dxf_tags(tmp_path / "empty.dxf")
