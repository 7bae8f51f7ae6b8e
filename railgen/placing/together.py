"""Which options and components can ever be on one truck of a family: requires, excludes and validity."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from railgen.data.component import Component, Family, Option, serial_key
from railgen.data.library import Library
from railgen.data.messages import Problem

_Bound = tuple[str, float]


@dataclass(frozen=True)
class Window:
    """Serials and build dates for which something holds, ends included."""

    first: _Bound
    last: _Bound
    start: datetime.date
    end: datetime.date

    def and_(self, other: Window) -> Window:
        """What two windows have in common."""
        return Window(
            max(self.first, other.first),
            min(self.last, other.last),
            max(self.start, other.start),
            min(self.end, other.end),
        )

    @property
    def is_empty(self) -> bool:
        """Whether no serial has it."""
        return self.first > self.last or self.start > self.end


def _window(item: Component | Option, family: Family) -> Window:
    """When an item holds for serials of a family."""
    found = Window(
        (family.serial_prefix, 0), (family.serial_prefix, float("inf")), datetime.date.min, datetime.date.max
    )
    whole = found
    for bound, is_first in ((item.valid_from, True), (item.valid_to, False)):
        if isinstance(bound, datetime.date):
            start, end = (bound, whole.end) if is_first else (whole.start, bound)
            found = found.and_(Window(whole.first, whole.last, start, end))
        elif bound is not None:
            key: _Bound = serial_key(bound)
            first, last = (key, whole.last) if is_first else (whole.first, key)
            found = found.and_(Window(first, last, whole.start, whole.end))
    return found


@dataclass(frozen=True, eq=False)
class Together:
    """What a family's options and components rule out among themselves."""

    library: Library
    family: Family

    @cached_property
    def sold(self) -> tuple[str, ...]:
        """Codes of the options sold in the family that can be ordered at all."""
        sold = [code for code, option in self.library.options.items() if self.family.id in option.families]
        return tuple(code for code in sold if not self.refusal(code))

    @cached_property
    def brought(self) -> Mapping[str, tuple[Component, ...]]:
        """Components that each option brings, valid for some serial that may have the option."""
        found: dict[str, list[Component]] = {code: [] for code in self.sold}
        for component in self.library.components.values():
            for code in component.options:
                if code in found and not self.windows[code].and_(_window(component, self.family)).is_empty:
                    found[code].append(component)
        return {code: tuple(components) for code, components in found.items()}

    @cached_property
    def closure(self) -> Mapping[str, frozenset[str]]:
        """Each option with all that it requires, through every chain."""
        return {code: frozenset(_closure(code, self.library.options)) for code in self.library.options}

    @cached_property
    def windows(self) -> Mapping[str, Window]:
        """When each option can be ordered with all that it requires."""
        found = {}
        for code in self.library.options:
            window = _window(self.library.options[code], self.family)
            for needed in self.closure[code]:
                window = window.and_(_window(self.library.options[needed], self.family))
            found[code] = window
        return found

    @cached_property
    def _excluded(self) -> Mapping[str, frozenset[str]]:
        """Options that each one excludes or is excluded by, itself or by what it requires."""
        direct: dict[str, set[str]] = {code: set(option.excludes) for code, option in self.library.options.items()}
        for code, option in self.library.options.items():
            for other in option.excludes:
                direct[other].add(code)
        return {code: frozenset().union(*(direct[one] for one in self.closure[code])) for code in direct}

    def may_meet(self, one: str, other: str) -> bool:
        """Whether two options can be on one truck."""
        if self._excluded[one] & self.closure[other]:
            return False
        return not self.windows[one].and_(self.windows[other]).is_empty

    def may_stand(self, options: Iterable[str], components: Iterable[Component]) -> bool:
        """Whether some components of some options hold for one serial."""
        window = _window_of(self.windows[code] for code in options)
        return not window.and_(_window_of(_window(component, self.family) for component in components)).is_empty

    def refusal(self, code: str) -> str:
        """Why an option can never be ordered in the family; empty where it can."""
        for one in sorted(self.closure[code]):
            clash = sorted(self._excluded_by(one) & self.closure[code])
            if clash:
                return (
                    f"{code} excludes itself: it requires {one}, which excludes {clash[0]}"
                    if one != code
                    else (f"{code} excludes itself: it requires {clash[0]}, which it excludes")
                )
            if self.family.id not in self.library.options[one].families:
                return f"{code} requires {one}, which is not sold in {self.family.id}"
        return "" if not self.windows[code].is_empty else f"{code} is valid for no serial of {self.family.id}"

    def _excluded_by(self, code: str) -> frozenset[str]:
        return frozenset(self.library.options[code].excludes)


def _window_of(windows: Iterable[Window]) -> Window:
    found, *rest = windows
    for window in rest:
        found = found.and_(window)
    return found


def _closure(code: str, options: Mapping[str, Option]) -> Iterator[str]:
    seen, waiting = {code}, [code]
    while waiting:
        one = waiting.pop()
        yield one
        new = [needed for needed in options[one].requires if needed not in seen]
        seen.update(new)
        waiting += new


def refusals(library: Library, family: Family, codes: Iterable[str]) -> list[Problem]:
    """Which of some options, sold in a family, can never be ordered there, as problems of their files."""
    together, problems = Together(library, family), []
    for code in codes:
        reason = together.refusal(code) if family.id in library.options[code].families else ""
        if reason:
            allowed = f"an option that can be ordered in {family.id}"
            problems.append(Problem(library.files[f"options/{code}"], "requires", reason, allowed))
    return problems
