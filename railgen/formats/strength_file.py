"""Strength of a serial as plain data: what ``railgen strength --json`` prints, forces in kN, moments in kN m."""

from __future__ import annotations

import numpy as np

from railgen.holes.table import FACES, PARTS, SIDES
from railgen.rules.strength import Strength
from railgen.strength.bending import RailBending
from railgen.strength.criticality import Criticality
from railgen.strength.diagram import drawn
from railgen.strength.joints import MODES, JointCheck

Data = dict[str, object]


def strength_data(serial: str, strength: Strength) -> Data:
    """Rails (none without [loads]), rated joints hole by hole, all holes ranked; null where a margin is boundless."""
    return {
        "serial": serial,
        "rails": [_rail(rail) for rail in strength.bending],
        "joints": _joints(strength, strength.joints),
        "holes": _holes(strength, strength.criticality),
    }


def _rail(rail: RailBending) -> Data:
    loads, line = rail.loads, drawn(rail.loads.diagram)
    supports = zip(loads.supports.station.tolist(), loads.supports.force.tolist(), strict=True)
    return {
        "side": SIDES[loads.side],
        "dynamic_factor": loads.dynamic_factor,
        "front_reaction_kn": loads.front / 1e3,
        "rear_reaction_kn": loads.rear / 1e3,
        "supports": [{"station_mm": station, "force_kn": force / 1e3} for station, force in sorted(supports)],
        "lowest": _line(rail, rail.lowest),
        "lines": [_line(rail, index) for index in range(len(rail.station))],
        "diagram": [
            {"station_mm": station, "shear_kn": shear / 1e3, "moment_knm": moment / 1e6}
            for station, shear, moment in zip(
                *(c.tolist() for c in (line.station, line.shear, line.moment)), strict=True
            )
        ],
    }


def _line(rail: RailBending, index: int) -> Data:
    margin = float(rail.margin[index])
    return {
        "station_mm": float(rail.station[index]),
        "moment_knm": float(rail.moment[index]) / 1e6,
        "resistance_knm": float(rail.resistance[index]) / 1e6,
        "stress_mpa": float(rail.stress[index]),
        "yield_mpa": float(rail.yield_strength[index]),
        "margin": margin if np.isfinite(margin) else None,
    }


def _joints(strength: Strength, check: JointCheck) -> list[Data]:
    holes, forces = strength.pattern.table, check.forces
    rows = []
    for index, row in enumerate(forces.row.tolist()):
        margin = float(check.margin[index])
        rows.append(
            {
                "component": holes.names.components[int(forces.component[index])],
                "load": int(forces.load[index]) + 1,
                "side": SIDES[holes.side[row]],
                "face": FACES[holes.face[row]],
                "hole": holes.hole_id(row),
                "station_mm": float(holes.station[row]),
                "across_mm": float(holes.across[row]),
                "shear_kn": float(forces.shear[index]) / 1e3,
                "tension_kn": float(forces.tension[index]) / 1e3,
                "clamp_kn": float(check.clamp[index]) / 1e3,
                "utilisation": dict(zip(MODES, check.utilisation[:, index].tolist(), strict=True)),
                "governs": MODES[int(check.governing[index])],
                "margin": margin if np.isfinite(margin) else None,
            }
        )
    return rows


def _holes(strength: Strength, found: Criticality) -> list[Data]:
    holes = strength.pattern.table
    return [
        {
            "rank": int(found.rank[index]),
            "side": SIDES[holes.side[row]],
            "part": PARTS[holes.part[row]],
            "face": FACES[holes.face[row]],
            "hole": holes.hole_id(row),
            "components": list(holes.owners_of(row)),
            "station_mm": float(holes.station[row]),
            "across_mm": float(holes.across[row]),
            "nominal_mpa": float(found.nominal[index]),
            "factor": float(found.factor[index]),
            "peak_mpa": float(found.peak[index]),
        }
        for index, row in enumerate(found.row.tolist())
    ]
