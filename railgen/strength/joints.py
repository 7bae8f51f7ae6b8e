"""Rated joints: every way in which a bolt, the rail's steel at its hole, or the clamp may give, and the margin left."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.data.library import Library
from railgen.data.stock import Fastener, SteelBand
from railgen.holes.table import BoolArray, FloatArray, HoleTable, IntArray
from railgen.shop.screws import heads_outside, screws_at, shank_length, washers_of
from railgen.shop.stacks import Stacks
from railgen.strength import bolts
from railgen.strength.rated import BoltForces

MODES = ("shear", "tension", "shear and tension", "bearing", "tear-out", "slip")
"""Ways in which a joint may give, in the order of ``JointCheck.utilisation``."""


@dataclass(frozen=True)
class SteelAround:
    """The rail's steel around the holes of n bolt forces, seen along and across each force, mm; infinite where none.

    end, edge: centre to the free edge along and across the force; pitch, gauge: centre to the next hole's along and
    across it; clear: steel along the force between the hole's edge and the next edge, free or another hole's.
    """

    end: FloatArray
    edge: FloatArray
    pitch: FloatArray
    gauge: FloatArray
    clear: FloatArray


@dataclass(frozen=True)
class BoltData:
    """What the bolts of n bolt forces are: mm, mm2, MPa, N.

    clamp: what settling coats leave of it; sheared_area: of thread or shank, whichever lies in the shear plane.
    """

    diameter: FloatArray
    stress_area: FloatArray
    sheared_area: FloatArray
    thread_in_plane: BoolArray
    tensile: FloatArray
    countersunk: BoolArray
    clamp: FloatArray


@dataclass(frozen=True)
class JointCheck:
    """Utilisation of every bolt and hole of the rated joints.

    forces: n bolts under their loads; clamp: left at each, N; utilisation: (modes, n), 1 where nothing is left.
    """

    forces: BoltForces
    clamp: FloatArray
    utilisation: FloatArray

    @property
    def greatest(self) -> FloatArray:
        """The greatest utilisation of each bolt."""
        return np.asarray(self.utilisation.max(axis=0))

    @property
    def governing(self) -> IntArray:
        """Index into MODES of the way that governs at each bolt."""
        return np.asarray(self.utilisation.argmax(axis=0), dtype=np.int64)

    @property
    def margin(self) -> FloatArray:
        """Margin at each bolt: what it could bear over what it bears, less one; infinite where it bears nothing."""
        with np.errstate(divide="ignore"):
            return np.asarray(1 / self.greatest - 1)

    def by_hole(self) -> tuple[IntArray, IntArray]:
        """Rows of the hole table, each once in order, and the index of the worst bolt force at each."""
        order = np.lexsort((-self.greatest, self.forces.row))
        rows, first = np.unique(self.forces.row[order], return_index=True)
        return rows, order[first]


def check_joints(
    forces: BoltForces,
    bolt: BoltData,
    around: SteelAround,
    hole: FloatArray,
    thickness: float,
    steel: SteelBand,
    friction: float,
) -> JointCheck:
    """All bolts of the rated joints against every mode; the rated load is the design load, with no factor added.

    hole: diameters (n, mm); thickness: of the rail alone, mm: the liner and the plies are taken to help nothing in
    bearing; friction: of two coated faces.
    """
    planes = forces.planes
    sheared = forces.shear / bolts.shear_resistance(
        bolt.sheared_area, bolt.tensile, bolts.shear_factor(bolt.thread_in_plane), planes
    )
    pulled = forces.tension / bolts.tension_resistance(bolt.stress_area, bolt.tensile, bolt.countersunk)
    bearing = bolts.bearing_resistance(
        bolt=bolt.diameter,
        hole=hole,
        thickness=thickness,
        tensile=steel.tensile_least,
        bolt_tensile=bolt.tensile,
        end=around.end,
        edge=around.edge,
        pitch=around.pitch,
        gauge=around.gauge,
    )
    torn = bolts.tear_out_resistance(around.clear, thickness, steel.tensile_least)
    utilisation = np.stack(
        [
            sheared,
            pulled,
            bolts.combined_utilisation(sheared, pulled),
            forces.shear / bearing,
            forces.shear / torn,
            bolts.slip_utilisation(forces.shear, forces.tension, bolt.clamp, friction, planes),
        ]
    )
    return JointCheck(forces, bolt.clamp, utilisation)


def bolt_data(forces: BoltForces, holes: HoleTable, library: Library, stacks: Stacks) -> BoltData:
    """What the bolts are, from the library's fasteners and the stacks they clamp.

    The film of both faces of every ply settles by the share that the finishing file gives of its greatest thickness.
    """
    fasteners = [library.fasteners[holes.fastener_of(row)] for row in forces.row.tolist()]
    grip = stacks.grip[forces.row]
    columns = np.array([_of_fastener(fastener) for fastener in fasteners], dtype=np.float64).reshape(-1, 9).T
    diameter, pitch, stress_area, washer, washers, tensile, clamp, flush, unified = columns
    lengths = np.nan_to_num(screws_at(forces.row, holes, library, stacks).length)
    shank = shank_length(lengths, diameter, pitch, unified > 0)
    # Countersunk screws, and those of no known length, are taken to be threaded all along.
    thread = (flush > 0) | (washer + _deepest_plane(forces, holes, library, stacks) > shank)
    coating = library.finishing.coating
    settled = stacks.plies[forces.row] * 2 * coating.film_most * coating.film_embedding * 1e-3
    lost = bolts.clamp_lost(settled, diameter, grip + washers * washer)
    return BoltData(
        diameter=diameter,
        stress_area=stress_area,
        sheared_area=np.where(thread, stress_area, np.pi / 4 * diameter**2),
        thread_in_plane=thread,
        tensile=tensile,
        countersunk=flush > 0,
        clamp=np.maximum(clamp - lost, 0.0),
    )


def _of_fastener(fastener: Fastener) -> tuple[float, ...]:
    return (
        fastener.diameter,
        fastener.pitch,
        fastener.stress_area,
        fastener.washer_thickness or 0.0,
        washers_of(fastener),
        fastener.tensile_strength or bolts.TENSILE_OVER_PROOF * fastener.proof_stress,
        fastener.clamp * 1e3,
        fastener.kind == "flush screw",
        fastener.thread == "unified",
    )


def _deepest_plane(forces: BoltForces, holes: HoleTable, library: Library, stacks: Stacks) -> FloatArray:
    """From the plies' face under the head (or its washer) to the furthest shear plane of each bolt, mm.

    A part on the head's side has its plane under the plies there; a part on the nut's side has it beyond the steel.
    """
    row = forces.row
    outer = heads_outside(holes, library)[row]
    plies = np.where(outer, stacks.outside[row], stacks.inside[row])
    far = np.where(outer, forces.inside, forces.outside)
    return plies + np.where(far, stacks.steel[row], 0.0)
