"""Cross-checks between the files of a library: every name that is used must be defined, and make sense there."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from railgen.data.component import BUILT_IN_ANCHORS, ORDER_DIMENSIONS, Component, Option, Station
from railgen.data.library import Library, unknown
from railgen.data.limit_sets import LimitSet
from railgen.data.local import Feature, HoleGroup
from railgen.data.messages import Problem, nearest, one_of

BUILT_IN_ZONES = (
    "ahead_of_front_hanger",
    "between_front_hanger_and_last_axle",
    "behind_last_axle",
    "ahead_of_last_axle",
)
"""Zones that every family has, from its named stations."""


def cross_check(library: Library, complete: bool) -> list[Problem]:
    """Problems between files. With files missing (complete false) only what is certain is reported."""
    if not complete:
        return []
    problems: list[Problem] = []
    for check in (_about, _stock, _families, _options, _components, _mates, _limit_sets):
        problems.extend(check(library))
    return problems


def _about(library: Library) -> Iterator[Problem]:
    if library.about.press not in library.presses:
        yield unknown(library.about.press, library.presses, f"{library.folder}/library.toml", "press", "press")
    for press in library.presses.values():
        if press.post is not None and press.post not in library.posts:
            yield unknown(press.post, library.posts, library.files[f"presses/{press.id}"], "post", "post-processor")


def _stock(library: Library) -> Iterator[Problem]:
    if library.stock is None:
        return
    for steel in library.stock.of_steel:
        if steel not in library.steels:
            yield unknown(steel, library.steels, f"{library.folder}/stock.toml", "of_steel", "steel")


def _families(library: Library) -> Iterator[Problem]:
    for family in library.families.values():
        file = library.files[f"families/{family.id}"]
        if family.section not in library.sections:
            yield unknown(family.section, library.sections, file, "section", "section")
        if family.steel not in library.steels:
            yield unknown(family.steel, library.steels, file, "steel", "steel")
        elif family.section in library.sections:
            thickness = library.sections[family.section].thickness
            if library.steels[family.steel].band(thickness) is None:
                yield Problem(file, "steel", f"{family.steel} at {thickness:g} mm", "a thickness the steel comes in")
        anchors = BUILT_IN_ANCHORS | family.anchors
        for name, form in family.anchors.items():
            yield from _dimensions(form.per, file, f"anchors.{name}.per", library)
        for name, zone in family.zones.items():
            for key, station in (("from", zone.start), ("to", zone.end)):
                place = f"zones.{name}.{key}"
                if station.anchor not in anchors:
                    yield unknown(station.anchor, anchors, file, f"{place}.anchor", "station")
                yield from _dimensions(station.per, file, f"{place}.per", library)


def _dimensions(per: Mapping[str, float], file: str, key: str, library: Library) -> Iterator[Problem]:
    for name in per:
        code, _, parameter = name.partition(".")
        if not parameter:
            if name not in ORDER_DIMENSIONS:
                yield Problem(file, key, repr(name), one_of(ORDER_DIMENSIONS), nearest(name, ORDER_DIMENSIONS))
        elif code not in library.options:
            yield unknown(code, library.options, file, key, "option")
        elif parameter not in library.options[code].parameters:
            yield unknown(parameter, library.options[code].parameters, file, key, f"parameter of {code}")


def _options(library: Library) -> Iterator[Problem]:
    for option in library.options.values():
        file = library.files[f"options/{option.code}"]
        for index, name in enumerate(option.families, 1):
            if name not in library.families:
                yield unknown(name, library.families, file, f"families[{index}]", "family")
        for key in ("requires", "excludes"):
            for index, code in enumerate(getattr(option, key), 1):
                place = f"{key}[{index}]"
                if code not in library.options:
                    yield unknown(code, library.options, file, place, "option")
                elif code == option.code:
                    yield Problem(file, place, repr(code), "another option", f"{code} {key} itself.")
        both = sorted(set(option.requires) & set(option.excludes))
        if both:
            yield Problem(file, "excludes", ", ".join(both), "options that it does not require")
    yield from circles(
        {code: option.requires for code, option in library.options.items()},
        lambda code: Problem(
            library.files[f"options/{code}"],
            "requires",
            f"a circle through {code}",
            "options that do not require it back",
        ),
    )


def circles(graph: Mapping[str, tuple[str, ...]], problem: Callable[[str], Problem]) -> Iterator[Problem]:
    """A problem for each name that lies on a circle of references of two or more."""
    for start in graph:
        reached: set[str] = set()
        waiting = [name for name in graph[start] if name != start]
        while waiting:
            name = waiting.pop()
            if name in reached or name not in graph:
                continue
            reached.add(name)
            waiting.extend(graph[name])
        if start in reached:
            yield problem(start)


def _components(library: Library) -> Iterator[Problem]:
    for component in library.components.values():
        file = library.files[f"components/{component.id}"]
        yield from _component_references(component, file, library)
        for number, group in enumerate(component.groups, 1):
            for index, feature in enumerate(group.features, 1):
                yield from _feature(group, feature, file, f"groups[{number}].features[{index}]", library)


def _component_references(component: Component, file: str, library: Library) -> Iterator[Problem]:
    bringing: list[Option] = []
    for index, code in enumerate(component.options, 1):
        if code in library.options:
            bringing.append(library.options[code])
        else:
            yield unknown(code, library.options, file, f"options[{index}]", "option")
    families = sorted({name for option in bringing for name in option.families})
    stations: list[tuple[str, Station]] = [("position", component.position)]
    if component.repeat and component.repeat.to:
        stations.append(("repeat.to", component.repeat.to))
    for place, station in stations:
        yield from _dimensions(station.per, file, f"{place}.per", library)
        for name in families:
            anchors = BUILT_IN_ANCHORS | (library.families[name].anchors if name in library.families else {})
            if station.anchor not in anchors:
                yield unknown(station.anchor, anchors, file, f"{place}.anchor", f"station of {name}")
    if component.present:
        yield from _dimensions({component.present.dimension: 1.0}, file, "present.dimension", library)
    for index, name in enumerate(component.stacks_onto, 1):
        if name not in library.components:
            yield unknown(name, library.components, file, f"stacks_onto[{index}]", "component")


def _feature(group: HoleGroup, feature: Feature, file: str, key: str, library: Library) -> Iterator[Problem]:
    name = feature.fastener or group.fastener
    diameter = feature.diameter or (group.diameter if feature.fastener is None else None)
    operation = feature.operation or group.operation
    if name is not None and name not in library.fasteners:
        yield unknown(name, library.fasteners, file, f"{key}.fastener", "fastener")
        return
    fastener = library.fasteners[name] if name else None
    if feature.shape == "mark":
        if operation not in ("punch", "stud"):
            yield Problem(file, f"{key}.operation", repr(operation), "stud, or punch for a centre mark")
        if (operation == "stud") != (fastener is not None and fastener.kind == "stud"):
            yield Problem(file, key, f"operation {operation!r} with fastener {name!r}", "a stud operation with a stud")
        return
    if operation == "stud":
        yield Problem(file, f"{key}.operation", "'stud'", "stud is for marks", 'Give shape = "mark".')
    if fastener is None and diameter is None:
        yield Problem(file, key, "no size", "a fastener (with a fit) or a diameter")
    if fastener is not None and fastener.kind == "stud":
        yield Problem(file, f"{key}.fastener", repr(name), "a screw: a hole takes no stud")
    if (operation == "countersink") != (fastener is not None and fastener.kind == "flush screw"):
        yield Problem(file, key, f"operation {operation!r} with fastener {name!r}", "countersink with a flush screw")
    width = diameter if diameter is not None else _clearance(feature, group, library, name)
    if feature.length is not None and width is not None and feature.length <= width:
        yield Problem(file, f"{key}.length", f"{feature.length:g}", f"more than the width, {width:g} mm")


def _clearance(feature: Feature, group: HoleGroup, library: Library, name: str | None) -> float | None:
    holes = library.fasteners[name].holes if name else None
    return getattr(holes, feature.fit or group.fit) if holes else None


def _mates(library: Library) -> Iterator[Problem]:
    mated: dict[str, list[Component]] = {}
    for component in library.components.values():
        if component.mates:
            mated.setdefault(component.mates, []).append(component)
    for name, parts in mated.items():
        file = library.files[f"components/{parts[0].id}"]
        sides = sorted(part.side for part in parts)
        if sides not in (["LH", "RH"], ["driver", "passenger"]):
            yield Problem(
                file, "mates", f"{name!r} joins {', '.join(sides)}", "one LH and one RH part (or driver and passenger)"
            )
            continue
        first, second = ({f.id: g.face for g in part.groups for f in g.features} for part in parts)
        if first != second:
            differing = sorted(set(first.items()) ^ set(second.items()))
            yield Problem(
                file, "mates", f"features that differ: {differing[0][0]}", "the same feature ids on the same faces"
            )


def _limit_sets(library: Library) -> Iterator[Problem]:
    zones = {*BUILT_IN_ZONES, *(name for family in library.families.values() for name in family.zones)}
    for limit_set in library.limit_sets.values():
        file = library.files[f"limits/{limit_set.id}"]
        yield from _inheritance(limit_set, file, library)
        for index, row in enumerate(limit_set.rows, 1):
            if row.when and row.when.zone and row.when.zone not in zones:
                hint = nearest(row.when.zone, zones)
                yield Problem(file, f"rows[{index}].when.zone", repr(row.when.zone), one_of(zones), hint)
    yield from circles(
        {name: (s.inherits,) if s.inherits else () for name, s in library.limit_sets.items()},
        lambda name: Problem(
            library.files[f"limits/{name}"],
            "inherits",
            f"a circle through {name}",
            "a set that does not inherit it back",
        ),
    )


def _inheritance(limit_set: LimitSet, file: str, library: Library) -> Iterator[Problem]:
    if limit_set.inherits is None:
        return
    if limit_set.inherits not in library.limit_sets:
        yield unknown(limit_set.inherits, library.limit_sets, file, "inherits", "limit set")
    elif limit_set.inherits == limit_set.id:
        yield Problem(file, "inherits", repr(limit_set.id), "another set", "A set cannot inherit itself.")
