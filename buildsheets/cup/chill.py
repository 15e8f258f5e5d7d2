"""A warm liquid and ice go in; the temperature, the melt and what is left come out.

Heat balance to equilibrium (fill model section 4): the upper bound for a real, shorter shake.
"""

from dataclasses import dataclass
from typing import Literal

from buildsheets.cup.errors import (
    FigureError,
    NotEnoughHeatError,
    each,
    finite,
    non_negative,
    positive,
)
from buildsheets.cup.items import ICE_DENSITY, ICE_PACKING, Ice, Liquid

ICE_HEAT = 2.05
"""J/(g K) of ice (IAPWS R10-06: 2.10 at 0 C, 2.02 at -10 C)."""
WATER_HEAT = 4.19
"""J/(g K) of water (IAPWS-95: 4.22 at 0 C, 4.18 at 25 C)."""
LATENT_HEAT = 333.4
"""J/g to melt ice at 0 C (IAPWS-95 and R10-06: 333.43)."""
MELT_DENSITY = 0.9998
"""g/ml of water at 0 C (IAPWS-95: 999.84 kg/m3)."""

ChillRegime = Literal["ice_left", "all_melted", "freezing"]


@dataclass(frozen=True, slots=True)
class Chilled:
    """Equilibrium of a liquid, its ice and its container.

    ``regime``: ice left at the freezing point; all melted and warmer; or part of the liquid frozen
    onto very cold ice. ``net_volume_change_ml`` is that of liquid and solid ice together, negative
    when ice melts. ``dilution`` is melt per liquid mass, None without liquid.
    """

    regime: ChillRegime
    temperature_c: float
    melted_g: float
    frozen_g: float
    liquid_g: float
    liquid_ml: float
    liquid_density: float
    ice_left_g: float
    ice_density: float
    net_volume_change_ml: float
    dilution: float | None

    def strained(self) -> Liquid:
        """What reaches the cup through a strainer: the liquid alone."""
        return Liquid(max(0.0, self.liquid_ml), self.liquid_density)

    def dumped(self, packing: float = ICE_PACKING) -> tuple[Liquid, Ice]:
        """What reaches the cup when everything is dumped: liquid and the ice left."""
        return self.strained(), Ice(self.ice_left_g, self.ice_density, packing)


def chill(
    *,
    liquid_g: float,
    liquid_density: float,
    liquid_c: float,
    ice_g: float,
    liquid_heat: float = WATER_HEAT,
    ice_c: float = 0.0,
    freezing_c: float = 0.0,
    container_j_per_k: float = 0.0,
    container_c: float | None = None,
    heat_gain_j: float = 0.0,
    ice_heat: float = ICE_HEAT,
    latent_heat: float = LATENT_HEAT,
    melt_heat: float = WATER_HEAT,
    melt_density: float = MELT_DENSITY,
    ice_density: float = ICE_DENSITY,
) -> Chilled:
    """Mix ``liquid_g`` at ``liquid_c`` with ``ice_g`` at ``ice_c`` and wait for equilibrium.

    Heats are J/(g K), latent heat J/g, densities g/ml, temperatures C. The container (J/K) starts
    at ``container_c``, by default with the liquid. ``heat_gain_j`` comes from outside.
    Refused: ice above or liquid below the freezing point, and more freezing than there is liquid.
    """
    each(non_negative, liquid_g=liquid_g, ice_g=ice_g, container_j_per_k=container_j_per_k)
    each(finite, heat_gain_j=heat_gain_j, freezing_c=freezing_c, container_c=container_c)
    each(positive, liquid_density=liquid_density, liquid_heat=liquid_heat, ice_heat=ice_heat)
    each(positive, latent_heat=latent_heat, melt_heat=melt_heat)
    each(positive, melt_density=melt_density, ice_density=ice_density)
    if finite("liquid_c", liquid_c) < freezing_c:
        raise FigureError("liquid_c", liquid_c, "is below the freezing point")
    if finite("ice_c", ice_c) > freezing_c:
        raise FigureError("ice_c", ice_c, "is above the freezing point")
    vessel_c = liquid_c if container_c is None else container_c
    heat = (
        liquid_g * liquid_heat * (liquid_c - freezing_c)
        + container_j_per_k * (vessel_c - freezing_c)
        + heat_gain_j
        - ice_g * ice_heat * (freezing_c - ice_c)
    )
    temperature, melted, frozen = freezing_c, 0.0, 0.0
    regime: ChillRegime
    if heat < 0:
        regime, frozen = "freezing", -heat / latent_heat
        if frozen > liquid_g * (1 + 1e-12):  # equal but for rounding: all of it freezes
            raise NotEnoughHeatError("ice_c", ice_c, "would freeze more liquid than there is")
        frozen = min(frozen, liquid_g)
    elif heat <= ice_g * latent_heat:
        regime, melted = "ice_left", heat / latent_heat
    else:
        regime, melted = "all_melted", ice_g
        capacity = liquid_g * liquid_heat + ice_g * melt_heat + container_j_per_k
        if capacity <= 0:
            raise FigureError("liquid_g", liquid_g, "there is nothing to take up the heat")
        temperature += (heat - ice_g * latent_heat) / capacity
    after_g = liquid_g + melted - frozen
    after_ml = liquid_g / liquid_density + (melted - frozen) / melt_density
    return Chilled(
        regime=regime,
        temperature_c=temperature,
        melted_g=melted,
        frozen_g=frozen,
        liquid_g=after_g,
        liquid_ml=after_ml,
        liquid_density=after_g / after_ml if after_g > 0 and after_ml > 0 else melt_density,
        ice_left_g=ice_g - melted + frozen,
        ice_density=ice_density,
        net_volume_change_ml=(melted - frozen) * (1 / melt_density - 1 / ice_density),
        dilution=melted / liquid_g if liquid_g > 0 else None,
    )
