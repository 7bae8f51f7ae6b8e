"""Parts of pages about options on the orders of a bank."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from railgen.papers.page import details, section, table, tiles
from railgen.records.option_bank import OpenOnBank, OptionOnSerial

_MOST = 200


def serials_section(serials: Sequence[OptionOnSerial]) -> str:
    """Serials with the option, or that could take it, and the errors that come with it there."""
    counts = Counter(serial.state for serial in serials)
    affected = [serial for serial in serials if serial.errors]
    figures = tiles(
        [
            (f"{counts['has it']:,}", "serials have it", ""),
            (f"{counts['could take it']:,}", "could take it", ""),
            (f"{counts['cannot have it']:,}", "cannot have it", ""),
            (f"{len(affected):,}", "with errors that come with it", "errors" if affected else "clean"),
        ]
    )
    about = (
        "Every order of the bank is planned and checked with the option and without it, with what the option requires; "
        "errors that are there only with it are listed."
    )
    rows = [
        (serial.serial, serial.family, serial.state, len(serial.errors), "; ".join(told_errors(serial)))
        for serial in affected[:_MOST]
    ]
    more = f" The first {_MOST} of {len(affected):,}." if len(affected) > _MOST else ""
    listing = table(["serial", "family", "", "errors", "what"], rows) if rows else ""
    return section("On the orders of the bank", about + more, figures, listing)


def told_errors(serial: OptionOnSerial) -> list[str]:
    """Rules with the components they name, each once."""
    return list(dict.fromkeys(f"{error.rule}: {', '.join(error.components)}" for error in serial.errors))


def open_section(count: int, found: Sequence[OpenOnBank]) -> str:
    """What pairs left open, as the rules find it on a bank."""
    about = (
        f"{count:,} orders of the family planned and checked: errors of rules that pairs do not decide, and of "
        "floating components that found no room."
    )
    if not found:
        return section("Left open, on the orders of the bank", f"{about} None.")
    rows = [
        (one.rule, ", ".join(one.components), len(one.serials), ", ".join(one.serials[:12])) for one in found[:_MOST]
    ]
    listing = table(["rule", "components", "serials", "first of them"], rows)
    return section(
        "Left open, on the orders of the bank", about, details(f"{len(found)} findings by components", listing)
    )
