"""The lists of a kit's card: what to pick in all, torque and clamp, low grip, and what each component takes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Spacer

from railgen.data.findings import VALUE_TOLERANCE
from railgen.papers.card_lists import INDENT, heading, listing
from railgen.papers.card_page import WIDTH, style
from railgen.papers.cell_text import paragraph
from railgen.papers.wording import Wording
from railgen.rules.pattern import pattern_of
from railgen.shop.kit import CAP_SCREW, FLUSH_SCREW, NUT, WASHER, Kit, KitLine, summed


def length_words(length: float | None, words: Wording) -> str:
    """A screw's length in words."""
    return words.say("kit_sum.no_length") if length is None else f"{length:.8g}"


def sum_table(kit: Kit, lines: Sequence[KitLine], words: Wording) -> list[Flowable]:
    """Everything to pick, summed, with a place to sign for each line."""
    body, pieces = [], Counter[str]()
    for line in summed(kit, lines):
        is_screw = line.item in (CAP_SCREW, FLUSH_SCREW)
        length = length_words(line.length, words) if is_screw else words.say("kit_sum.none")
        item = words.say(f"kit_item.{line.item.replace(' ', '_')}")
        body.append([item, line.size, length, str(line.count), ""])
        pieces["screws" if is_screw else line.item] += line.count
    told = words.say("kit_sum.total", screws=pieces["screws"], washers=pieces[WASHER], nuts=pieces[NUT])
    total = [told, "", "", str(sum(pieces.values())), ""]
    widths = [42 * mm, 42 * mm, 26 * mm, 20 * mm]
    head = ("item", "size", "length", "count", "picked")
    return listing("kit_sum", head, [*body, total], [*widths, WIDTH - sum(widths)], words, sums=3, whole=False)


def torque_table(kit: Kit, words: Wording) -> list[Flowable]:
    """Torque and clamp of each fastener with the friction that they stand for, and how screws are tightened."""
    used = Counter(kit.holes.fastener_of(row) for row in kit.screws.row.tolist())
    body = []
    for name, count in sorted(used.items(), key=lambda item: (kit.library.fasteners[item[0]].diameter, item[0])):
        fastener = kit.library.fasteners[name]
        share = fastener.clamp * 1e3 / (fastener.stress_area * fastener.proof_stress)
        numbers = (fastener.torque, fastener.clamp, fastener.friction, fastener.stress_area)
        shown = words.say("kit_torque.share_value", share=share)
        body.append([name, str(count), *(f"{number:.8g}" for number in numbers), shown, fastener.source])
    head = ("size", "screws", "torque", "clamp", "friction", "area", "share", "source")
    widths = [28 * mm, 14 * mm, 17 * mm, 16 * mm, 11 * mm, 18 * mm, 16 * mm]
    told = [
        paragraph(words.say(f"kit_torque.{key}"), style(7.5, indent=INDENT), bullet="•")
        for key in ("rule", "turn", "again")
    ]
    made = listing("kit_torque", head, body, [*widths, WIDTH - sum(widths)], words, sums=0)
    return [KeepTogether([*made, Spacer(1, 3), *told])]


def low_grips(kit: Kit) -> list[tuple[int, float]]:
    """Screws that clamp less of their diameters than the order's limit set asks for: places, with what it asks.

    Nothing where the set says nothing of grip.
    """
    limits = pattern_of(kit.plan.order, kit.holes)
    if not limits.limits.holds("grip", "bolt-diameters"):
        return []
    least = limits.limit("grip", "bolt-diameters").at(kit.screws.row)
    asked = np.fmax(least.error, least.warning)
    diameter = np.array([kit.fastener_at(place).diameter for place in range(len(kit.screws.row))])
    low = np.flatnonzero(kit.screws.grip / diameter < asked - VALUE_TOLERANCE)
    return [(int(place), float(asked[place])) for place in low]


def low_grip_block(kit: Kit, words: Wording) -> list[Flowable]:
    """The screws of low grip, named by their components; nothing where there are none."""
    counts: Counter[tuple[tuple[str, ...], str, float, float]] = Counter()
    for place, least in low_grips(kit):
        row, grip = int(kit.screws.row[place]), round(float(kit.screws.grip[place]), 3)
        counts[kit.holes.owners_of(row), kit.holes.fastener_of(row), grip, least] += 1
    if not counts:
        return []
    lines = [
        words.say(
            "kit_grip.line",
            components=", ".join(components),
            screws=count,
            fastener=fastener,
            grip=grip,
            diameters=grip / kit.library.fasteners[fastener].diameter,
            least=least,
        )
        for (components, fastener, grip, least), count in sorted(counts.items())
    ]
    told = paragraph(words.say("kit_grip.told"), style(8, bold=True))
    listed = [paragraph(line, style(8, indent=INDENT), bullet="•") for line in lines]
    return [heading("kit_grip.title", words), told, *listed]


def component_table(kit: Kit, lines: Sequence[KitLine], words: Wording) -> list[Flowable]:
    """What the holes of each component take, of both rails; components that share holes stand together."""
    gathered: dict[tuple[str, ...], list[KitLine]] = {}
    for line in lines:
        gathered.setdefault(line.components, []).append(line)
    body = []
    for components, own in sorted(gathered.items()):
        screws = [_screw_words(line, words) for line in own if line.item in (CAP_SCREW, FLUSH_SCREW)]
        pieces = [_pieces_words(own, item, words) for item in (WASHER, NUT)]
        body.append([", ".join(components), ", ".join(screws), *pieces])
    head = ("components", "screws", "washers", "nuts")
    widths = [62 * mm, 52 * mm, 36 * mm]
    return listing("kit_component", head, body, [*widths, WIDTH - sum(widths)], words, sums=0, whole=False)


def _screw_words(line: KitLine, words: Wording) -> str:
    length = length_words(line.length, words)
    return words.say("kit_component.screw_value", count=line.count, size=line.size, length=length)


def _pieces_words(lines: Sequence[KitLine], item: str, words: Wording) -> str:
    own = [line for line in lines if line.item == item]
    return ", ".join(words.say("kit_component.piece_value", count=line.count, size=line.size) for line in own)
