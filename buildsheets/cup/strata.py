"""Liquids that stand on each other go in; what a pour makes of them, and how deep ice floats in
them, come out.

Of a drink that is served in layers. A liquid stays on one that is heavier by more than
``APART_G_ML`` until something stirs it; poured onto another it runs together with that.
"""

from __future__ import annotations

from typing import NamedTuple

STIRS = ("stir", "swirl", "chill")
"""What makes one liquid of all that is in the cup."""
APART_G_ML = 0.01
"""Liquids nearer to each other in density run together as they are poured (common practice, no
source). It is about 2.5 degrees Brix (sucrose, 20 degC: 0.9982 at 0, 1.0381 at 10; ICUMSA); warm
water of 30 degC is 0.004 lighter than cold (IAPWS-95), and a syrup strays by as much."""


class Stratum(NamedTuple):
    """One liquid of those in a cup, the lowest first."""

    ml: float
    g: float

    @property
    def density_g_ml(self) -> float:
        return self.g / self.ml


Strata = tuple[Stratum, ...]


def poured_on(strata: Strata, ml: float, g: float) -> Strata:
    """What stands in the cup after so much more is poured on it, the heaviest lowest."""
    if ml <= 0.0:
        return strata
    standing, new = list(strata), Stratum(ml, g)
    while standing and standing[-1].density_g_ml - new.density_g_ml <= APART_G_ML:
        under = standing.pop()
        new = Stratum(under.ml + new.ml, under.g + new.g)
    return (*standing, new)


def among_ice_ml(strata: Strata, ice_g: float, packing: float) -> float | None:
    """The ml of the upper liquids that stand among floating ice; None if they cannot lift it.

    Archimedes: in each liquid the ice pushes away packing / (1 - packing) of what stands among it,
    and all that is pushed away weighs as much as the ice.
    """
    left_g, among_ml = ice_g * (1.0 - packing) / packing, 0.0
    for ml, g in reversed(strata):
        if g >= left_g:
            return among_ml + ml * left_g / g
        among_ml += ml
        left_g -= g
    return None
