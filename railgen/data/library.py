"""The library: a folder of data files, read, validated and cross-checked as one."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, Field

from railgen.data.component import Component, Family, Option
from railgen.data.limit_sets import LimitSet
from railgen.data.messages import InputError, Problem, nearest
from railgen.data.plant import Finishing, Jig, Press
from railgen.data.post import PostProcessor
from railgen.data.reading import Source, parse_toml, read_bytes, validate
from railgen.data.stock import Fastener, FastenersFile, SectionEntry, SectionsFile, Steel, SteelsFile, StockLengths
from railgen.data.values import Model, Revision, Text, Units

ENVIRONMENT_VARIABLE = "RAILGEN_LIBRARY"
DEFAULT_FOLDER = "hole_libraries"
M = TypeVar("M", bound=BaseModel)


class LibraryFile(Model):
    """``library.toml``: what the library is."""

    name: Text
    revision: Revision
    units: Units = "mm"
    press: str
    jig: Jig = Field(default_factory=Jig)


@dataclass(frozen=True)
class Library:
    """Everything in a library folder, by name; nothing in it changes after reading."""

    folder: str
    about: LibraryFile
    sections: Mapping[str, SectionEntry]
    steels: Mapping[str, Steel]
    fasteners: Mapping[str, Fastener]
    presses: Mapping[str, Press]
    finishing: Finishing
    limit_sets: Mapping[str, LimitSet]
    families: Mapping[str, Family]
    options: Mapping[str, Option]
    components: Mapping[str, Component]
    sources: Mapping[str, str] = field(repr=False)
    """sha256 of each file by its path inside the folder."""
    files: Mapping[str, str] = field(repr=False)
    """The file an item stands in, by "kind/name"."""
    posts: Mapping[str, PostProcessor] = field(default_factory=dict)
    stock: StockLengths | None = None
    """What blanks are cut from, where the library says so."""

    @property
    def press(self) -> Press:
        """The press that cut files are made for."""
        return self.presses[self.about.press]

    @property
    def digest(self) -> str:
        """One sha256 over all files: changes when any file of the library does."""
        lines = "".join(f"{name} {digest}\n" for name, digest in sorted(self.sources.items()))
        return hashlib.sha256(lines.encode()).hexdigest()


@dataclass(frozen=True, eq=False)
class LibraryKey:
    """A library as a key of a cache: by identity, since it never changes after reading."""

    library: Library

    def __hash__(self) -> int:
        return id(self.library)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, LibraryKey) and other.library is self.library


@dataclass
class _Gathered:
    """What has been read so far: items, the files they came from, and every problem met."""

    problems: list[Problem]
    sources: dict[str, str]
    files: dict[str, str]


def find_library(named: str | None) -> Path:
    """The library folder: as named, else RAILGEN_LIBRARY, else ./hole_libraries, else the one shipped with railgen."""
    if named:
        return _existing(Path(named), "--library")
    from_environment = os.environ.get(ENVIRONMENT_VARIABLE)
    if from_environment:
        return _existing(Path(from_environment), ENVIRONMENT_VARIABLE)
    here = Path(DEFAULT_FOLDER)
    if here.is_dir():
        return here
    package = Path(__file__).resolve().parent.parent
    for shipped in (package / "_hole_libraries", package.parent / DEFAULT_FOLDER):
        if shipped.is_dir():
            return shipped
    raise InputError(
        [
            Problem(
                DEFAULT_FOLDER,
                "",
                "no library here",
                "a library folder",
                f"Name one by --library or {ENVIRONMENT_VARIABLE}.",
            )
        ]
    )


def _existing(folder: Path, named_by: str) -> Path:
    if not folder.is_dir():
        raise InputError([Problem(str(folder), named_by, "no such folder", "a library folder", "Check the path.")])
    return folder


def load_library(folder: Path) -> Library:
    """Read and cross-check a whole library; raises InputError with the problems of all its files at once."""
    from railgen.data.library_checks import cross_check

    gathered = _Gathered([], {}, {})
    about = _read_one(folder, "library.toml", LibraryFile, gathered)
    finishing = _read_one(folder, "finishing.toml", Finishing, gathered)
    tables = {
        "sections": _read_tables(folder, "sections*.toml", SectionsFile, "sections", gathered),
        "steels": _read_tables(folder, "steels*.toml", SteelsFile, "steels", gathered),
        "fasteners": _read_tables(folder, "fasteners*.toml", FastenersFile, "fasteners", gathered),
        "presses": _read_items(folder, "presses", Press, _id, gathered),
        "posts": _read_items(folder, "posts", PostProcessor, _id, gathered, needed=False),
        "limit_sets": _read_items(folder, "limits", LimitSet, _id, gathered),
        "families": _read_items(folder, "families", Family, _id, gathered),
        "options": _read_items(folder, "options", Option, _code, gathered),
        "components": _read_items(folder, "components", Component, _id, gathered),
    }
    stock = _read_one(folder, "stock.toml", StockLengths, gathered) if (folder / "stock.toml").exists() else None
    if about is None or finishing is None:
        raise InputError(gathered.problems)
    library = Library(
        folder=str(folder),
        about=about,
        finishing=finishing,
        stock=stock,
        sources=gathered.sources,
        files=gathered.files,
        **tables,
    )
    problems = [*gathered.problems, *cross_check(library, complete=not gathered.problems)]
    if problems:
        raise InputError(problems)
    return library


def _id(item: Any) -> str:
    return str(item.id)


def _code(item: Any) -> str:
    return str(item.code)


def _read_one(folder: Path, name: str, model: type[M], gathered: _Gathered) -> M | None:
    try:
        source = _read_source(folder, folder / name, gathered)
        return validate(parse_toml(source), model, source.file)
    except InputError as error:
        gathered.problems.extend(error.problems)
        return None


def _read_source(folder: Path, path: Path, gathered: _Gathered) -> Source:
    source = read_bytes(path)
    gathered.sources[path.relative_to(folder).as_posix()] = source.sha256
    return source


def _files(folder: Path, pattern: str) -> Iterator[Path]:
    yield from sorted(path for path in folder.glob(pattern) if path.is_file())


def _read_tables(folder: Path, pattern: str, model: type[BaseModel], key: str, gathered: _Gathered) -> dict[str, Any]:
    items: dict[str, Any] = {}
    paths = list(_files(folder, pattern))
    if not paths:
        gathered.problems.append(Problem(str(folder), "", f"no file {pattern}", "at least one"))
    for path in paths:
        entry = _read_one(folder, path.name, model, gathered)
        for name, item in (getattr(entry, key) if entry else {}).items():
            _add(items, f"{key}/{name}", name, item, str(path), gathered)
    return dict(sorted(items.items()))


def _read_items(
    folder: Path,
    under: str,
    model: type[BaseModel],
    name_of: Callable[[Any], str],
    gathered: _Gathered,
    needed: bool = True,
) -> dict[str, Any]:
    items: dict[str, Any] = {}
    paths = list(_files(folder, f"{under}/**/*.toml"))
    if not paths and needed:
        gathered.problems.append(Problem(str(folder / under), "", "no .toml files", "at least one"))
    for path in paths:
        item = _read_one(folder, path.relative_to(folder).as_posix(), model, gathered)
        if item is None:
            continue
        name = name_of(item)
        if path.stem != name:
            hint = f"Rename the file {name}.toml, or correct the name in it."
            gathered.problems.append(Problem(str(path), "", repr(name), f"the file's own name, {path.stem!r}", hint))
        _add(items, f"{under}/{name}", name, item, str(path), gathered)
    return dict(sorted(items.items()))


def _add(items: dict[str, Any], place: str, name: str, item: Any, file: str, gathered: _Gathered) -> None:
    if name in items:
        first = gathered.files[place]
        gathered.problems.append(Problem(file, name, "a second definition", "one", f"The first stands in {first}."))
        return
    items[name] = item
    gathered.files[place] = file


def look_up(table: Mapping[str, M], name: str, file: str, key: str, kind: str) -> M:
    """An item of the library by name, or an InputError with the nearest valid name."""
    if name in table:
        return table[name]
    raise InputError([unknown(name, table, file, key, kind)])


def with_press(library: Library, press: str) -> Library:
    """The library with another of its presses to make files for; raises InputError where it has none of that name."""
    look_up(library.presses, press, library.folder, "press", "press")
    return replace(library, about=library.about.model_copy(update={"press": press}))


def unknown(name: str, table: Mapping[str, object], file: str, key: str, kind: str) -> Problem:
    """The problem of a name that the library does not define."""
    from railgen.data.messages import one_of

    article = "an" if kind[0] in "aeiou" else "a"
    return Problem(file, key, repr(name), f"the name of {article} {kind}: {one_of(table)}", nearest(name, table))
