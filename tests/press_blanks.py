"""Blanks with hits of realistic density, and what a press does with them reckoned step by step in plain loops."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from math import sqrt
from typing import Any

from builders import Hole
from shop_plans import PRESS, shop_library, shop_plan

from railgen.data.plant import Axis, Press
from railgen.shop.hit_order import HitOrder
from railgen.shop.hits import Hits, hits_of
from railgen.shop.part_work import PartWork, part_work

ROUNDS = (11.0, 13.0, 15.5, 17.0, 17.5, 19.0, 21.0, 25.0)


def press_with(**changes: Any) -> Press:
    """A gantry press like the demo's, with eight round tools, two slots, a rectangle and a marker."""
    tools: list[dict[str, Any]] = [{"id": f"R {d:g}", "shape": "round", "diameter": d} for d in ROUNDS]
    tools += [
        {"id": f"S {w:g}x{length:g}", "shape": "slot", "diameter": w, "length": length}
        for w, length in ((18.0, 40.0), (13.0, 30.0))
    ]
    tools += [{"id": "Q 40x70", "shape": "rectangle", "diameter": 40.0, "length": 70.0}]
    tools += [{"id": "Marker", "shape": "mark"}]
    plain = PRESS.model_dump() | {
        "along": {"speed": 1200.0, "acceleration": 2500.0},
        "across": {"speed": 800.0, "acceleration": 3000.0},
        "hit_time": 0.45,
        "change_time": 1.6,
        "tools": tools,
    }
    return Press.model_validate(plain | changes)


def work_of(holes: Sequence[Hole], press: Press | None = None, side: str = "LH") -> PartWork:
    """The work on one rail of some holes; those of feature ids that begin with loc are locating ones."""
    press = press or press_with()
    library = shop_library()
    library = replace(library, presses={press.id: press}, about=library.about.model_copy(update={"press": press.id}))
    plan = shop_plan(holes=holes, library=library)
    table = plan.holes
    located = [table.names.features[f].startswith("loc") for f in table.feature.tolist()]
    return part_work(replace(plan, holes=table.with_columns(locating=located == table.side * 0 + 1)), "rail", side)


def hits_on(holes: Sequence[Hole], press: Press | None = None, side: str = "LH") -> Hits:
    """The hits of some holes."""
    return hits_of(work_of(holes, press, side))


def dense_holes(seed: int, count: int, locating: int = 2) -> list[Hole]:
    """As many holes as asked for, in groups as components have them, over a rail from -1000 to 5000."""
    rng = random.Random(seed)
    holes = [Hole(-900.0 + 5700.0 * n / max(locating - 1, 1), 150.0, 17.0, feature=f"loc{n}") for n in range(locating)]
    while len(holes) < count:
        holes += _group(rng)[: count - len(holes)]
    return [replace(hole, feature=hole.feature or f"f{number}") for number, hole in enumerate(holes)]


def _group(rng: random.Random) -> list[Hole]:
    x, z = rng.uniform(-960.0, 4700.0), rng.choice((50.0, 80.0, 110.0, 140.0, 170.0))
    pitch_x, pitch_z = rng.choice((40.0, 50.0, 60.0, 75.0)), rng.choice((40.0, 50.0))
    size = rng.choice(ROUNDS)
    draw = rng.random()
    if draw < 0.08:
        return [Hole(x, 60.0, 17.0, face=rng.choice(("top", "bottom")))]
    if draw < 0.16:
        return [Hole(x, z, shape="mark", operation="stud", fastener="stud M8")]
    if draw < 0.22:
        return [Hole(x, 150.0, 18.0, shape="slot", length=40.0)]
    if draw < 0.25:
        return [Hole(x, 150.0, 40.0, shape="rectangle", length=70.0)]
    columns, rows = rng.randint(1, 4), rng.randint(1, 3)
    group = [Hole(x + i * pitch_x, z + j * pitch_z, size) for i in range(columns) for j in range(rows)]
    return group + ([Hole(x - 35.0, 150.0, rng.choice(ROUNDS))] if draw > 0.75 else [])


def axis_time(distance: float, axis: Axis) -> float:
    """Seconds from rest to rest: up to the peak speed, at it, and down again."""
    if distance == 0.0:
        return 0.0
    peak = min(axis.speed, sqrt(axis.acceleration * abs(distance)))
    return 2 * peak / axis.acceleration + (abs(distance) - peak**2 / axis.acceleration) / peak


def simulated(found: HitOrder) -> dict[str, float]:
    """Seconds of each part of the cycle, by playing the press hit after hit; clamps are watched on the way."""
    hits, press, stages = found.hits, found.hits.press, found.stages.stages
    time = dict.fromkeys(("load", "moves", "changes", "hits", "repositions", "mountings"), 0.0)
    far = hits.lie.stop_x if press.feed_may_return else hits.lie.length - hits.lie.stop_x
    x = y = reached = 0.0
    tool, shift, mounting, feed_pass = -1, 0, 1, 0

    def drive(to_x: float, to_y: float, to_tool: int) -> None:
        move = max(axis_time(to_x - x, press.along), axis_time(to_y - y, press.across))
        time["moves"] += move
        if tool not in (-1, to_tool) and to_tool != -1:
            change = press.change_time
            time["changes"] += max(change - move, 0.0) if press.change_while_moving else change

    for hit, number in zip(found.order.tolist(), found.stage.tolist(), strict=True):
        stage = stages[number]
        if stage.feed_pass != feed_pass:
            if feed_pass:
                drive(far, 0.0, -1)
            time["load"] += press.load_time
            x, y, tool, shift, feed_pass, reached = hits.lie.stop_x, 0.0, -1, 0, stage.feed_pass, 0.0
        if stage.shift != shift:
            time["repositions"] += press.reposition_time
            shift = stage.shift
        if stage.mounting != mounting:
            time["mountings"] += press.mount_time
            mounting = stage.mounting
        station = hits.stations[int(hits.station[hit])]
        assert station.mounting == mounting, "the tool is not mounted"
        assert hits.clear[hit, shift], "a clamp is in the way"
        drive(float(hits.x[hit]), float(hits.y[hit]), int(hits.station[hit]))
        x, y, tool = float(hits.x[hit]), float(hits.y[hit]), int(hits.station[hit])
        if not press.feed_may_return:
            assert abs(x - hits.lie.stop_x) >= reached - 1e-3, "the feed goes back"
            reached = abs(x - hits.lie.stop_x)
        time["hits"] += press.hit_time
    drive(far, 0.0, -1)
    return time
