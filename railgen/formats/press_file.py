"""``press.json``: the press with its tool crib, and the post-processor, as they were when programs were written.

With it a program can be read, and held against its tools, wherever the library has gone since.
"""

from __future__ import annotations

from pathlib import Path

from railgen.data.messages import InputError, Problem, shown
from railgen.data.plant import Press
from railgen.data.post import PostProcessor
from railgen.data.reading import read_bytes, validate
from railgen.data.values import Model
from railgen.formats.json_text import json_bytes, parse_json


class PressFile(Model):
    """What programs were written for. Lengths are mm; ``post`` is None where the press names none."""

    press: Press
    post: PostProcessor | None = None


def press_json(press: Press, post: PostProcessor | None) -> bytes:
    """A press and its post-processor as JSON, lengths in mm whatever the library's file has."""
    in_mm = press.model_copy(update={"units": "mm"})
    return json_bytes(PressFile(press=in_mm, post=post).model_dump(mode="json", exclude_none=True))


def read_press(path: Path) -> PressFile:
    """A press.json; raises InputError, naming the key, for all that is wrong with it."""
    source = read_bytes(path)
    plain = parse_json(source)
    if not isinstance(plain, dict):
        raise InputError([Problem(source.file, "", shown(plain), "an object")])
    return validate(plain, PressFile, source.file)
