"""Nutrients of an amount go in; energy, rounded label amounts and required words come out.

Regulation (EU) 1169/2011, the Commission's guidance on tolerances (December 2012) and the FDA Food
Labeling Guide. Fill model section 7. A figure that is missing (None) makes the result None.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from typing import Literal

from buildsheets.cup.errors import FigureError, non_negative
from buildsheets.menu.model import Drink

EU_FACTORS: dict[str, tuple[float, float]] = {
    "carbohydrate": (4.0, 17.0),
    "polyols": (2.4, 10.0),
    "protein": (4.0, 17.0),
    "fat": (9.0, 37.0),
    "salatrims": (6.0, 25.0),
    "ethanol": (7.0, 29.0),
    "organic_acids": (3.0, 13.0),
    "fibre": (2.0, 8.0),
    "erythritol": (0.0, 0.0),
}
"""(kcal, kJ) per gram: Regulation (EU) 1169/2011, Annex XIV. Carbohydrate without the polyols."""


@dataclass(frozen=True, slots=True)
class Energy:
    """Label energy; kJ has factors of its own and is not kcal x 4.184."""

    kcal: float
    kj: float


def label_energy(
    *,
    carbohydrate: float | None = 0.0,
    protein: float | None = 0.0,
    fat: float | None = 0.0,
    polyols: float | None = 0.0,
    ethanol: float | None = 0.0,
    fibre: float | None = 0.0,
    organic_acids: float | None = 0.0,
    salatrims: float | None = 0.0,
    erythritol: float | None = 0.0,
) -> Energy | None:
    """Energy of grams of each nutrient by :data:`EU_FACTORS`; None if one is given as None.

    With carbohydrate, protein, fat and ethanol alone the kcal are those of the general Atwater
    factors 4, 4, 9 and 7.
    """
    grams = {
        "carbohydrate": carbohydrate,
        "polyols": polyols,
        "protein": protein,
        "fat": fat,
        "salatrims": salatrims,
        "ethanol": ethanol,
        "organic_acids": organic_acids,
        "fibre": fibre,
        "erythritol": erythritol,
    }
    kcal = kj = 0.0
    for name, amount in grams.items():
        if amount is None:
            return None
        non_negative(name, amount)
        kcal += amount * EU_FACTORS[name][0]
        kj += amount * EU_FACTORS[name][1]
    return Energy(kcal, kj)


LabelNutrient = Literal[
    "energy", "fat", "cholesterol", "sodium", "potassium", "carbohydrate", "fibre", "sugars",
    "protein",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class LabelAmount:
    """A rounded amount; ``less_than`` marks "less than 1 g" and "less than 5 mg"."""

    amount: Decimal
    less_than: bool = False


def label_amount(nutrient: LabelNutrient, value: float) -> LabelAmount:
    """Round as the FDA Food Labeling Guide, Appendix H, says; halves go up.

    ``value`` in kcal for energy, mg for cholesterol, sodium and potassium, else g. The guide states
    half-up for % DV and serving sizes; that it holds for grams as well is our inference.
    """
    exact = Decimal(repr(non_negative("value", value)))
    # A computed 2.4999999999999996 is a half: drop binary noise before rounding up.
    exact = exact.quantize(Decimal("1e-9"), rounding=ROUND_HALF_EVEN)
    if nutrient == "energy":
        return LabelAmount(_stepped(exact, least=5, small=5, up_to=50, large=10))
    if nutrient in ("sodium", "potassium"):
        return LabelAmount(_stepped(exact, least=5, small=5, up_to=140, large=10))
    if nutrient == "fat":
        if exact < Decimal("0.5"):
            return LabelAmount(Decimal(0))
        return LabelAmount(_nearest(exact, Decimal("0.5") if exact < 5 else Decimal(1)))
    if nutrient == "cholesterol":
        if exact < 2:
            return LabelAmount(Decimal(0))
        if exact <= 5:
            return LabelAmount(Decimal(5), less_than=True)
        return LabelAmount(_nearest(exact, Decimal(5)))
    if nutrient not in ("carbohydrate", "fibre", "sugars", "protein"):
        raise FigureError("nutrient", nutrient, "has no rounding rule")
    if exact < Decimal("0.5"):
        return LabelAmount(Decimal(0))
    if exact < 1:
        return LabelAmount(Decimal(1), less_than=True)
    return LabelAmount(_nearest(exact, Decimal(1)))


def _stepped(exact: Decimal, *, least: int, small: int, up_to: int, large: int) -> Decimal:
    if exact < least:
        return Decimal(0)
    return _nearest(exact, Decimal(small if exact <= up_to else large))


def _nearest(exact: Decimal, step: Decimal) -> Decimal:
    return (exact / step).quantize(Decimal(1), rounding=ROUND_HALF_UP) * step


_US_NUTRIENT: Mapping[str, LabelNutrient] = {
    "energy_kcal": "energy",
    "fat_g": "fat",
    "saturates_g": "fat",
    "carbohydrate_g": "carbohydrate",
    "sugars_g": "sugars",
    "protein_g": "protein",
    "sodium_mg": "sodium",
    "fibre_g": "fibre",
    "polyols_g": "carbohydrate",
}

_EU_ROUNDING: Mapping[str, tuple[tuple[str, str], ...]] = {
    # (above this, to this step), largest first; at or below the last: "less than" it
    "saturates_g": (("10", "1"), ("0.1", "0.1")),
    "salt_g": (("1", "0.1"), ("0.0125", "0.01")),
}
_EU_GRAMS = (("10", "1"), ("0.5", "0.1"))


def sodium_mg(salt_g: float) -> float:
    """Sodium of an amount of salt: salt = sodium x 2.5 (Regulation (EU) 1169/2011, Annex I)."""
    return salt_g / 2.5 * 1000.0


def label_rounded(nutrient: str, value: float, rules: str) -> LabelAmount:
    """An amount rounded as ``rules`` ("us" or "eu") round it on a label.

    "us": FDA Food Labeling Guide, Appendix H; give sodium in mg as ``sodium_mg``. "eu": the
    Commission's guidance on tolerances (December 2012), rounding table: whole kJ and kcal; grams
    to 1 from 10, to 0.1 above 0.5; saturates to 0.1 above 0.1; salt to 0.1 from 1, to 0.01 above
    0.0125; at or below the least, "less than". Caffeine and alcohol follow no table: whole mg,
    and tenths of a gram.
    """
    exact = Decimal(repr(round(value, 9)))
    if nutrient == "caffeine_mg":
        return LabelAmount(_nearest(exact, Decimal("1")))
    if nutrient == "alcohol_g":
        return LabelAmount(_nearest(exact, Decimal("0.1")))
    if rules == "us" and nutrient in _US_NUTRIENT:
        return label_amount(_US_NUTRIENT[nutrient], value)
    if nutrient in ("energy_kcal", "energy_kj", "sodium_mg"):
        return LabelAmount(_nearest(exact, Decimal("1")))
    if exact == 0:
        return LabelAmount(Decimal(0))
    (whole, step), (least, fine) = _EU_ROUNDING.get(nutrient, _EU_GRAMS)
    if exact >= Decimal(whole):
        return LabelAmount(_nearest(exact, Decimal(step)))
    if exact > Decimal(least):
        return LabelAmount(_nearest(exact, Decimal(fine)))
    return LabelAmount(_nearest(Decimal(least), Decimal(fine)), True)


_TEA_OR_COFFEE = {
    "en": r"\b(?:tea|coffee)s?\b",
    "es": r"\b(?:té|tés|café|cafés)\b",
    "fr": r"\b(?:thé|thés|café|cafés)\b",
    "de": r"kaffee|tee\b|\btee",
}
"""The two words of Annex III 4.1 in each language; German writes them inside compounds."""


def named_tea_or_coffee(drink: Drink, language: str) -> bool:
    """Whether the name a reader of ``language`` sees contains "tea" or "coffee".

    A name written once for every language may use the words of any of them.
    """
    name = drink.name.in_language(language).casefold()
    own = _TEA_OR_COFFEE.get(language.split("-")[0])
    shared = language not in drink.name.by_language
    patterns = list(_TEA_OR_COFFEE.values()) if own is None or shared else [own]
    return any(re.search(pattern, name) for pattern in patterns)
