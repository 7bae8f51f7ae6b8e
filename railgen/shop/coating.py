"""Electrocoat: film volume, solids and charge of a part."""

from __future__ import annotations

from dataclasses import dataclass

from railgen.data.plant import Coating


@dataclass(frozen=True, slots=True)
class Film:
    """A cured film: ``thickness`` micrometres, ``volume`` cm3, ``solids`` g, ``charge`` C to deposit it."""

    thickness: float
    volume: float
    solids: float
    charge: float


def film(coating: Coating, area: float, thickness: float) -> Film:
    """The film of a thickness (micrometres) on a wetted area (mm2), hole walls included.

    volume = area x thickness; solids = volume x density of the cured film; charge = solids / coulombic yield
    (mg/C), with no allowance for the bath's losses. Source: follows from the definitions.
    """
    volume = area * thickness * 1e-6  # mm2 x um = 1e-3 mm3 = 1e-6 cm3
    solids = volume * coating.solids_density * 1e-3  # cm3 x kg/m3 = 1e-3 g
    return Film(thickness, volume, solids, solids * 1e3 / coating.coulombic_yield)
