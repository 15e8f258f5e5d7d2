"""An amount and its densities go in; an item to put in a cup, checked, comes out (fill model
section 2)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self, TypeAlias

from buildsheets.cup.errors import FigureError, non_negative, positive

ICE_DENSITY = 0.9167
"""g/ml of solid ice at 0 C (IAPWS R10-06: 916.72 kg/m3)."""
ICE_PACKING = 0.55
"""Solid share of a scoop of cubes; loose cubes pack to 0.54 (Baker and Kudrolli 2010)."""
ICE_PIECE_MM = 25.0
"""Edge of a usual ice cube; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Liquid:
    """``volume_ml`` of a liquid of ``density`` g/ml, as measured before any air came into it.

    ``air_share`` of that volume is air in it, steamed milk's: it stands on top as foam.
    """

    volume_ml: float
    density: float
    air_share: float = 0.0

    def __post_init__(self) -> None:
        non_negative("volume_ml", self.volume_ml)
        positive("density", self.density)
        non_negative("air_share", self.air_share)

    @classmethod
    def of_mass(cls, mass_g: float, density: float) -> Liquid:
        """A liquid given in grams."""
        return cls(non_negative("mass_g", mass_g) / positive("density", density), density)

    @property
    def amount(self) -> float:
        return self.volume_ml

    @property
    def per_ml(self) -> float:
        return 1.0

    def with_amount(self, amount: float) -> Liquid:
        return replace(self, volume_ml=amount)


@dataclass(frozen=True, slots=True)
class _Weighed:
    """What is given in grams: the ``amount`` of all items but liquids."""

    mass_g: float

    @property
    def amount(self) -> float:
        return self.mass_g

    def with_amount(self, amount: float) -> Self:
        return replace(self, mass_g=amount)


@dataclass(frozen=True, slots=True)
class Bed(_Weighed):
    """``mass_g`` of a topping that settles on the floor, with open voids between the particles.

    ``particle_density`` is that of one piece, ``bulk_density`` that of the heap (g/ml), the lower.
    """

    particle_density: float
    bulk_density: float

    def __post_init__(self) -> None:
        non_negative("mass_g", self.mass_g)
        positive("particle_density", self.particle_density)
        bulk = positive("bulk_density", self.bulk_density)
        if bulk >= self.particle_density:
            raise FigureError("bulk_density", bulk, "must be below the particle density")

    @property
    def per_ml(self) -> float:
        """g in a ml of the heap."""
        return self.bulk_density


@dataclass(frozen=True, slots=True)
class Ice(_Weighed):
    """``mass_g`` of loose ice: solid ``density`` g/ml, ``packing`` its solid share of the heap.

    ``piece_mm``, the size of one piece, only serves the warning about less than one layer of ice.
    """

    density: float = ICE_DENSITY
    packing: float = ICE_PACKING
    piece_mm: float = ICE_PIECE_MM

    def __post_init__(self) -> None:
        non_negative("mass_g", self.mass_g)
        positive("density", self.density)
        if positive("packing", self.packing) >= 1:
            raise FigureError("packing", self.packing, "must be between 0 and 1")
        positive("piece_mm", self.piece_mm)

    @property
    def per_ml(self) -> float:
        """g in a ml of the heap."""
        return self.density * self.packing


@dataclass(frozen=True, slots=True)
class Swimmer(_Weighed):
    """``mass_g`` of pieces lighter than the drink: slices, leaves. They float as ice does, one
    loose heap with it; densities are those of a :class:`Bed`."""

    particle_density: float
    bulk_density: float

    def __post_init__(self) -> None:
        Bed(self.mass_g, self.particle_density, self.bulk_density)  # refuses what no heap can be

    @property
    def per_ml(self) -> float:
        """g in a ml of the heap."""
        return self.bulk_density


@dataclass(frozen=True, slots=True)
class Slice(_Weighed):
    """``mass_g`` that is held in the drink, such as a slice on the wall of the cup: all of its
    volume takes room, taken to be under the drink."""

    density: float

    def __post_init__(self) -> None:
        non_negative("mass_g", self.mass_g)
        positive("density", self.density)

    @property
    def per_ml(self) -> float:
        return self.density


@dataclass(frozen=True, slots=True)
class Cap(_Weighed):
    """``mass_g`` of foam that floats on top: unaerated ``density`` g/ml, ``overrun_pct`` of air."""

    density: float
    overrun_pct: float

    def __post_init__(self) -> None:
        non_negative("mass_g", self.mass_g)
        positive("density", self.density)
        non_negative("overrun_pct", self.overrun_pct)

    @property
    def per_ml(self) -> float:
        """g in a ml of the foam."""
        return self.density / (1 + self.overrun_pct / 100)

    @property
    def volume_ml(self) -> float:
        return self.mass_g / self.per_ml


@dataclass(frozen=True, slots=True)
class Dusted(_Weighed):
    """A powder on top: it has a mass for the costing, and takes no volume."""

    mass_g: float = 0.0

    def __post_init__(self) -> None:
        non_negative("mass_g", self.mass_g)


Item: TypeAlias = Liquid | Bed | Ice | Swimmer | Slice | Cap | Dusted
