"""The library's components compiled once into flat arrays, so that a serial's features are gathered without a loop."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from railgen.data.library import Library
from railgen.data.local import Feature, HoleGroup, datum_across
from railgen.holes.table import FACES, NONE, OPERATIONS, SHAPES, BoolArray, FloatArray, IntArray, Names


@dataclass(frozen=True)
class Catalogue:
    """Features of all components of a library, component i having rows ``start[i]:start[i + 1]``.

    across = ``across`` + ``of_depth`` x section depth + ``of_flange`` x section flange width, mm.
    """

    library: Library
    names: Names
    start: IntArray
    face: IntArray
    station: FloatArray
    across: FloatArray
    of_depth: FloatArray
    of_flange: FloatArray
    shape: IntArray
    diameter: FloatArray
    length: FloatArray
    angle: FloatArray
    corner_radius: FloatArray
    fastener: IntArray
    operation: IntArray
    locating: BoolArray
    strings: BoolArray
    feature: IntArray
    shareable: BoolArray

    @cached_property
    def index(self) -> dict[str, int]:
        """Row of each component by its id."""
        return {name: row for row, name in enumerate(self.names.components)}

    @cached_property
    def component_of_feature(self) -> IntArray:
        """Component index of each feature row."""
        return np.repeat(np.arange(len(self.names.components)), np.diff(self.start))


def compile_catalogue(library: Library) -> Catalogue:
    """Flat arrays of every component's features; ids and fasteners become indices into ``names``."""
    components = list(library.components.values())
    fasteners = tuple(library.fasteners)
    tools = tuple(tool.id for tool in library.press.tools)
    rows = [(c, g, f) for c in components for g in c.groups for f in g.features]
    features = tuple(dict.fromkeys(f.id for _, _, f in rows))
    feature_index = {name: index for index, name in enumerate(features)}
    fastener_index = {name: index for index, name in enumerate(fasteners)}
    counts = [sum(len(g.features) for g in c.groups) for c in components]
    sized = [_size(library, g, f) for _, g, f in rows]

    def ints(values: list[int]) -> IntArray:
        return np.array(values, dtype=np.int64)

    def floats(values: list[float]) -> FloatArray:
        return np.array(values, dtype=np.float64)

    return Catalogue(
        library=library,
        names=Names(tuple(c.id for c in components), features, fasteners, tools),
        start=ints([0, *np.cumsum(counts).tolist()]),
        face=ints([FACES.index(g.face) for _, g, _ in rows]),
        station=floats([g.station + f.station for _, g, f in rows]),
        across=floats([g.across + f.across for _, g, f in rows]),
        of_depth=floats([datum_across(g.datum, 1.0, 0.0) for _, g, _ in rows]),
        of_flange=floats([datum_across(g.datum, 0.0, 1.0) for _, g, _ in rows]),
        shape=ints([SHAPES.index(f.shape) for _, _, f in rows]),
        diameter=floats([size for size, _ in sized]),
        length=floats([np.nan if f.length is None else f.length for _, _, f in rows]),
        angle=floats([f.angle for _, _, f in rows]),
        corner_radius=floats([f.corner_radius or 0.0 for _, _, f in rows]),
        fastener=ints([fastener_index[name] if name else NONE for _, name in sized]),
        operation=ints([OPERATIONS.index(f.operation or g.operation) for _, g, f in rows]),
        locating=np.array([_locating(g, f) for _, g, f in rows], dtype=np.bool_),
        strings=np.array([_strings(g, f) for _, g, f in rows], dtype=np.bool_),
        feature=ints([feature_index[f.id] for _, _, f in rows]),
        shareable=np.array([c.shared_holes for c, _, _ in rows], dtype=np.bool_),
    )


def _locating(group: HoleGroup, feature: Feature) -> bool:
    return group.locating if feature.locating is None else feature.locating


def _strings(group: HoleGroup, feature: Feature) -> bool:
    return group.strings if feature.strings is None else feature.strings


def _size(library: Library, group: HoleGroup, feature: Feature) -> tuple[float, str | None]:
    """Diameter (mm, NaN for a mark) and fastener name of a feature; its own entries stand before its group's."""
    name = feature.fastener or group.fastener
    diameter = feature.diameter or (None if feature.fastener else group.diameter)
    if feature.shape == "mark":
        return float("nan"), name
    if diameter is not None:
        return diameter, name
    holes = library.fasteners[name].holes if name else None
    if holes is None:
        raise ValueError(f"feature {feature.id} has no size")
    return float(getattr(holes, feature.fit or group.fit)), name
