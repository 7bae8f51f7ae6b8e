"""Whether two lists of findings are the same, and if not, what differs, in words."""

from __future__ import annotations

TOLERANCE = 1e-6
NAMES = ("rule", "measure", "severity", "side", "part", "face")


def differences(product, oracle, with_limits=True):
    """Lines that say how two lists of findings (dicts as in findings.json) differ; none where they agree.

    Rule, measure, severity, side, part, face, holes and components must agree, station and value to 1e-6, a
    utilisation above one, which may be thousands where next to nothing is left, to that share of itself;
    with ``with_limits`` the limit that was broken, too, which sameness as such does not ask for.
    """
    ours, theirs = _by_identity(product), _by_identity(oracle)
    lines = []
    for identity in sorted(set(ours) | set(theirs), key=repr):
        lines += _compare(identity, ours.get(identity, []), theirs.get(identity, []), with_limits)
    return lines


def _identity(finding):
    names = tuple(finding[name] for name in NAMES)
    return (*names, tuple(finding["holes"]), tuple(finding["components"]))


def _by_identity(findings):
    groups = {}
    for finding in findings:
        groups.setdefault(_identity(finding), []).append(finding)
    return groups


def _compare(identity, product, oracle, with_limits):
    """Findings of one identity, matched in order of station and value."""
    product, oracle = sorted(product, key=_numbers), sorted(oracle, key=_numbers)
    lines = []
    for ours, theirs in zip(product, oracle, strict=False):
        keys = ("station_mm", "value", "limit") if with_limits else ("station_mm", "value")
        for key in keys:
            scale = max(1.0, abs(theirs[key])) if identity[0] == "joint" and key == "value" else 1.0
            if not _close(ours[key], theirs[key], scale):
                both = f"{ours[key]!r} in the product, {theirs[key]!r} in the oracle"
                lines.append(f"{_words(identity)}: {key} is {both}")
    for finding in product[len(oracle) :]:
        lines.append(f"{_words(identity)}: only in the product, {_figures(finding)}")
    for finding in oracle[len(product) :]:
        lines.append(f"{_words(identity)}: only in the oracle, {_figures(finding)}")
    return lines


def _numbers(finding):
    return tuple(float("-inf") if finding[key] is None else finding[key] for key in ("station_mm", "value"))


def _close(first, second, scale=1.0):
    if first is None or second is None:
        return first is second
    return abs(first - second) <= TOLERANCE * scale


def _words(identity):
    rule, measure, severity, side, part, face, holes, components = identity
    place = " ".join(word for word in (side, part, face) if word)
    what = " and ".join(holes) if holes else " and ".join(components)
    return f"{rule} {measure} {severity}, {place} {what}".rstrip()


def _figures(finding):
    return f"station {finding['station_mm']}, value {finding['value']}, limit {finding['limit']}"
