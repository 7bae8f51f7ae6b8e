"""JSON as all files of a serial hold it: two spaces in, a line end, no NaN; and reading it with a message."""

from __future__ import annotations

import json
from typing import Any

from railgen.data.messages import InputError, Problem
from railgen.data.reading import Source, decoded


def json_bytes(value: object) -> bytes:
    """A value as JSON text in UTF-8 with a line end; keys stay in the order given."""
    return (json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8")


def parse_json(source: Source) -> Any:
    """The value in a JSON file. Raises InputError, naming the line, where it is none."""
    text = decoded(source, "JSON text")
    try:
        return json.loads(text, parse_constant=_refuse)
    except json.JSONDecodeError as error:
        key = f"line {error.lineno}, column {error.colno}"
        raise InputError([Problem(source.file, key, error.msg, "valid JSON")]) from None
    except RecursionError:
        raise InputError([Problem(source.file, "", "lists or objects nested too deep", "a few levels")]) from None
    except ValueError as error:
        raise InputError([Problem(source.file, "", str(error)[:80], "valid JSON")]) from None


def _refuse(name: str) -> float:
    raise ValueError(f"{name} is no JSON number")
