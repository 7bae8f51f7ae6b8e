"""findings.json and manifest.json: written the same each time, read back, and refused where they are broken."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from builders import small_library

import railgen
from railgen.data.findings import Finding
from railgen.data.messages import InputError
from railgen.data.reading import Source
from railgen.formats.findings_file import KEYS, findings_json, read_findings
from railgen.formats.manifest import inputs_of, manifest_json, manifest_of, read_manifest

FINDINGS = (
    Finding(
        rule="hole-spacing",
        measure="ligament",
        severity="warning",
        side="LH",
        part="rail",
        face="web",
        holes=("a.1.f1", "b.1.f1"),
        components=("a", "b"),
        station_mm=1234.5,
        value=23.0,
        limit=25.0,
        unit="mm",
        source="common practice",
        message="ligament of 23.0 mm",
    ),
    Finding(
        rule="option-rule",
        measure="requires",
        severity="error",
        side="",
        part="",
        face="",
        holes=(),
        components=("ABC01", "ABC02"),
        station_mm=None,
        value=1,
        limit=0,
        unit="violations",
        source="common practice",
        message="option ABC01 requires ABC02",
        remedy="Order ABC02 too.",
    ),
)


def written(folder: Path, content: bytes) -> Path:
    file = folder / "file.json"
    file.write_bytes(content)
    return file


def test_findings_file() -> None:
    content = findings_json(FINDINGS).decode()
    assert content.endswith("]\n")
    rows = json.loads(content)
    assert [row["severity"] for row in rows] == ["error", "warning"]
    assert all(tuple(row) == KEYS for row in rows)
    assert (
        *("rule", "measure", "severity", "side", "part", "face", "holes", "components", "station_mm"),
        *("value", "limit", "unit", "source", "message", "remedy"),
    ) == KEYS
    assert findings_json(()) == b"[]\n"


def test_findings_come_back(tmp_path: Path) -> None:
    assert read_findings(written(tmp_path, findings_json(FINDINGS))) == FINDINGS[::-1]
    assert read_findings(written(tmp_path, b"[]")) == ()


def changed(**values: object) -> bytes:
    return json.dumps([FINDINGS[0].as_dict() | values]).encode()


BROKEN_FINDINGS = {
    "empty": (b"", "line 1, column 1"),
    "half": (findings_json(FINDINGS)[:200], "valid JSON"),
    "binary": (b"\xff\x00", "byte 0xff"),
    "an object": (b"{}", "a list of findings"),
    "a list of numbers": (b"[1]", "[1]: found 1; allowed: an object"),
    "no severity": (b'[{"rule": "off-rail"}]', "[1].severity: found nothing"),
    "a severity unheard of": (changed(severity="fatal"), "[1].severity: found 'fatal'"),
    "an unknown key": (changed(mesage="x"), "Did you mean 'message'?"),
    "a word for a number": (changed(value="much"), "[1].value"),
    "yes for a number": (changed(limit=True), "[1].limit"),
    "not a number": (changed(value=float("nan")), "NaN is no JSON number"),
    "endless": (b"[" + changed(value=1)[1:-1].replace(b'"value": 1', b'"value": 1e999') + b"]", "[1].value"),
    "a hole that is none": (changed(holes=[1]), "[1].holes"),
    "a number for a text": (changed(unit=5), "[1].unit"),
    "a list for a side": (changed(side=["LH"]), "[1].side"),
    "nested": (b"[" * 200_000, "nested too deep"),
}


@pytest.mark.parametrize("name", BROKEN_FINDINGS)
def test_broken_findings_are_refused(name: str, tmp_path: Path) -> None:
    content, words = BROKEN_FINDINGS[name]
    with pytest.raises(InputError) as refused:
        read_findings(written(tmp_path, content))
    assert words in str(refused.value)


FILES = {"P-1001-holes.csv": b"holes", "P-1001-findings.json": b"[]\n", "manifest.json": b"not itself"}
ORDER = Source("some/where/P-1001.toml", b'serial = "P-1001"\n')


def test_manifest_digests_files_and_inputs(tmp_path: Path) -> None:
    manifest = manifest_of("P-1001", FILES, inputs_of(ORDER.file, ORDER.sha256, small_library()), {"limits": "house"})
    content = manifest_json(manifest)
    read = read_manifest(written(tmp_path, content))
    assert read == manifest
    assert read.version == railgen.__version__
    assert read.files == {
        "P-1001-findings.json": hashlib.sha256(b"[]\n").hexdigest(),
        "P-1001-holes.csv": hashlib.sha256(b"holes").hexdigest(),
    }
    assert read.inputs["order/P-1001.toml"] == hashlib.sha256(ORDER.content).hexdigest()
    assert set(read.inputs) == {"order/P-1001.toml", "library/library.toml", "library/components/bracket.toml"}


def test_manifest_does_not_depend_on_order_or_place() -> None:
    inputs = inputs_of(ORDER.file, ORDER.sha256, small_library())
    elsewhere = inputs_of("/another/P-1001.toml", ORDER.sha256, small_library())
    first = manifest_json(manifest_of("P-1001", FILES, inputs))
    backwards = dict(reversed(FILES.items())), dict(reversed(elsewhere.items()))
    assert manifest_json(manifest_of("P-1001", *backwards)) == first
    assert b"where" not in first


GOOD = json.loads(manifest_json(manifest_of("P-1001", FILES, {})))
BROKEN_MANIFESTS = {
    "a list": ([], "an object"),
    "no files": ({key: value for key, value in GOOD.items() if key != "files"}, "files: found nothing"),
    "an unknown key": (GOOD | {"clock": "noon"}, "an unknown key"),
    "a short digest": (GOOD | {"files": {"a": "abc"}}, "files.a: found 'abc'"),
    "a number": (GOOD | {"serial": 5}, "serial: found 5"),
    "a setting that is a list": (GOOD | {"settings": {"limits": []}}, "settings.limits"),
    "inputs as a list": (GOOD | {"inputs": []}, "inputs: found []"),
}


@pytest.mark.parametrize("name", BROKEN_MANIFESTS)
def test_broken_manifest_is_refused(name: str, tmp_path: Path) -> None:
    plain, words = BROKEN_MANIFESTS[name]
    with pytest.raises(InputError) as refused:
        read_manifest(written(tmp_path, json.dumps(plain).encode()))
    assert words in str(refused.value)
