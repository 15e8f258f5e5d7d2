"""Masses, temperatures and a power go in; heats, minutes and the ice that melts come out.

Heat = mass x specific heat x change of temperature; time = heat / power; ice = heat / what a gram
of it takes up. Pots and losses are part of the power an owner measures in that very pot.
"""

from __future__ import annotations

from collections.abc import Iterable

from buildsheets.cup.chill import LATENT_HEAT, WATER_HEAT
from buildsheets.cup.errors import non_negative, positive, within
from buildsheets.menu.model import Batch, Ingredient
from buildsheets.prep.batches import Item

_SOLIDS = (
    "fat_g", "carbohydrate_g", "protein_g", "salt_g", "fibre_g", "polyols_g",
)  # fmt: skip


def specific_heat(solids_share: float) -> float:
    """J/(g K) of an unfrozen food by the share of it that is no water.

    Chen 1985, as ASHRAE Handbook - Refrigeration, "Thermal properties of foods", has it (formula
    from memory): 4.19 - 2.30 x - 0.628 x^3. Dry sugar comes to 1.26 (CRC Handbook 1.24); a sugar
    solution of 50 Brix to 2.96 (Bubnik 1995: 3.0).
    """
    x = within("solids_share", solids_share, 0.0, 1.0)
    return WATER_HEAT - 2.30 * x - 0.628 * x**3


def solids_share(item: Item) -> float:
    """What of an item is no water: from its Brix, else its nutrition, else that of its parts.

    Nothing known counts as water, which takes the most heat: no time comes out too short.
    """
    if isinstance(item, Batch):
        whole_g = sum(part.mass_g for part in item.parts)
        if whole_g <= 0:
            return 0.0
        dry_g = sum(part.mass_g * solids_share(part.item) for part in item.parts)
        return min(1.0, dry_g / (whole_g * item.yield_factor))
    if item.brix is not None:
        return item.brix / 100.0
    return _of_nutrition(item)


def _of_nutrition(item: Ingredient) -> float:
    known = item.nutrition
    if known is None:
        return 0.0
    of_g = 100.0 if known.per == "100 g" else 100.0 * (item.density_g_ml or 1.0)
    return min(1.0, sum(getattr(known, name) or 0.0 for name in _SOLIDS) / of_g)


def heat_j(parts: Iterable[tuple[float, float]], from_c: float, to_c: float) -> float:
    """Joules that parts (grams, J/(g K)) take up from one temperature to another; given off < 0."""
    capacity = sum(non_negative("mass_g", grams) * heat for grams, heat in parts)
    return capacity * (to_c - from_c)


def minutes(joules: float, power_w: float) -> float:
    """How long a power takes to move a heat, in or out."""
    return abs(joules) / positive("power_w", power_w) / 60.0


def ice_g(joules: float, melts_to_c: float = 0.0) -> float:
    """Grams of ice at 0 °C that take up a heat; their water ends at ``melts_to_c``.

    A bath that still has ice in it stands at 0 °C, which asks for the most ice: the safe side.
    """
    return non_negative("joules", joules) / (LATENT_HEAT + WATER_HEAT * melts_to_c)
