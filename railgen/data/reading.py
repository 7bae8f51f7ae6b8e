"""Reading TOML files into models, with every problem of a file reported at once."""

from __future__ import annotations

import hashlib
import tomllib
import typing
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from railgen.data.messages import InputError, Problem, nearest, one_of, shown
from railgen.data.values import WORDS_OF_PATTERN

_LARGEST_FILE = 4_000_000  # bytes; no order or library file comes near
M = TypeVar("M", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class Source:
    """The bytes of an input file with its name as shown and its digest."""

    file: str
    content: bytes

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.content).hexdigest()


def read_bytes(path: Path) -> Source:
    """A file's bytes, or an InputError that says why it cannot be read."""
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise InputError([Problem(str(path), "", "a folder", "a file", "Name a file in it.")])
        if size > _LARGEST_FILE:
            raise InputError([Problem(str(path), "", f"{size} bytes", f"at most {_LARGEST_FILE} bytes")])
        return Source(str(path), path.read_bytes())
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise InputError([Problem(str(path), "", reason, "a file that can be read", "Check the path.")]) from None


def decoded(source: Source, kind: str) -> str:
    """The text of a file in UTF-8, a mark at its beginning left out; ``kind`` says in messages what is expected."""
    try:
        return source.content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        found = f"byte 0x{source.content[error.start]:02x} at offset {error.start}"
        raise InputError([Problem(source.file, "", found, f"{kind} in UTF-8")]) from None


def parse_toml(source: Source) -> dict[str, Any]:
    """The table in a TOML file."""
    text = decoded(source, "TOML text")
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError([Problem(source.file, "", str(error), "valid TOML")]) from None
    except RecursionError:
        raise InputError([Problem(source.file, "", "tables or lists nested too deep", "a few levels")]) from None
    except (ValueError, OverflowError) as error:
        raise InputError([Problem(source.file, "", str(error)[:80], "valid TOML")]) from None
    if not table:
        raise InputError([Problem(source.file, "", "an empty file", "the keys of this kind of file")])
    return table


def read_model(path: Path, model: type[M]) -> tuple[M, Source]:
    """Read and validate one TOML file."""
    source = read_bytes(path)
    return validate(parse_toml(source), model, source.file), source


def validate(table: Mapping[str, Any], model: type[M], file: str) -> M:
    """Validate a table as a model; lengths are converted when the table says ``units = "in"``."""
    units = table.get("units", "mm")
    try:
        return model.model_validate(table, context={"units": units})
    except ValidationError as error:
        problems = [_problem(detail, model, file) for detail in _own(error.errors(include_url=False))]
        raise InputError(dict.fromkeys(problems)) from None
    except RecursionError:
        raise InputError([Problem(file, "", "tables or lists nested too deep", "a few levels")]) from None


def _own(details: list[ErrorDetails]) -> list[ErrorDetails]:
    """The errors without those of lists that are too short for no other reason than that their entries are wrong."""
    places = {detail["loc"][:length] for detail in details for length in range(len(detail["loc"]))}
    return [detail for detail in details if detail["type"] != "too_short" or detail["loc"] not in places]


def _problem(detail: ErrorDetails, model: type[BaseModel], file: str) -> Problem:
    path = [part for part in detail["loc"] if not _is_branch(part)]
    key = _key_path(path)
    found = shown(detail["input"])
    kind = detail["type"]
    context = detail.get("ctx", {})
    if kind == "extra_forbidden":
        names = _field_names(model, path[:-1])
        return Problem(file, key, "an unknown key", one_of(names, 40), nearest(path[-1], names))
    if kind == "missing":
        return Problem(file, key, "nothing", "this key is required")
    if kind == "literal_error":
        names = _literal_names(str(context.get("expected", "")))
        return Problem(file, key, found, str(context.get("expected", "")), nearest(detail["input"], names))
    if kind == "value_error":
        return Problem(file, key, "" if isinstance(detail["input"], dict) else found, str(context.get("error", "")))
    if kind == "string_pattern_mismatch":
        return Problem(file, key, found, WORDS_OF_PATTERN[str(context.get("pattern", ""))])
    return Problem(file, key, found, _plain(detail["msg"]))


def _plain(message: str) -> str:
    text = message.replace("Input should be ", "").replace("Input should ", "").replace("Value should ", "")
    return text[0].lower() + text[1:] if text else text


def _is_branch(part: int | str) -> bool:
    return isinstance(part, str) and (part.endswith("]") or part in ("date", "[key]"))


def _key_path(path: list[int | str]) -> str:
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else (f".{part}" if text else str(part))
    return text


def _literal_names(expected: str) -> list[str]:
    return [name.strip(" '") for name in expected.replace(" or ", ",").split(",")]


def _field_names(model: type[BaseModel], path: list[int | str]) -> list[str]:
    """Names of the keys allowed at a path inside a model."""
    at: Any = model
    for part in path:
        at = _step_into(at, part)
        if at is None:
            return []
    for candidate in _alternatives(at):
        if isinstance(candidate, type) and issubclass(candidate, BaseModel):
            return [field.alias or name for name, field in candidate.model_fields.items()]
    return []


def _step_into(at: Any, part: int | str) -> Any:
    for candidate in _alternatives(at):
        if isinstance(candidate, type) and issubclass(candidate, BaseModel):
            for name, field in candidate.model_fields.items():
                if part in (name, field.alias):
                    return field.annotation
        arguments = typing.get_args(candidate)
        if typing.get_origin(candidate) is dict:
            return arguments[1]
        if typing.get_origin(candidate) is tuple and arguments:
            return arguments[0]
    return None


def _alternatives(annotation: Any) -> list[Any]:
    origin = typing.get_origin(annotation)
    if origin is typing.Annotated:
        return _alternatives(typing.get_args(annotation)[0])
    if origin is typing.Union or origin is type(int | str):
        return [inner for argument in typing.get_args(annotation) for inner in _alternatives(argument)]
    return [annotation]
