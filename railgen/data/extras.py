"""Packages that only some commands need: the optional extras of the installation."""

from __future__ import annotations

from importlib.util import find_spec

from railgen.data.messages import InputError, Problem


def need(package: str, extra: str, place: str) -> None:
    """Raise InputError, with what to install, where a package of an optional extra is missing.

    package: as it is imported; place: what needs it, as messages name it.
    """
    if find_spec(package) is None:
        hint = f"Install it: pip install 'railgen[{extra}]'."
        raise InputError([Problem(place, "", f"no package {package}", f"the optional extra {extra}", hint)])
