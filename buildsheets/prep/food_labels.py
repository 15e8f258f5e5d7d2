"""Nutrients of an amount go in; energy, rounded label amounts and required words come out.

Regulation (EU) 1169/2011, the Commission's guidance on tolerances (December 2012) and the FDA Food
Labeling Guide. Fill model section 7. A figure that is missing (None) makes the result None.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from typing import Literal, TypeAlias

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


def label_energy(**grams: float | None) -> Energy | None:
    """Energy of grams of nutrients by their names in :data:`EU_FACTORS`; None if one is None.

    With carbohydrate, protein, fat and ethanol alone the kcal are those of the general Atwater
    factors 4, 4, 9 and 7.
    """
    if unknown := grams.keys() - EU_FACTORS.keys():
        name = min(unknown)
        raise FigureError(name, grams[name], f"must be one of {', '.join(EU_FACTORS)}")
    kcal = kj = 0.0
    for name, factors in EU_FACTORS.items():
        amount = grams.get(name, 0.0)
        if amount is None:
            return None
        kcal += non_negative(name, amount) * factors[0]
        kj += amount * factors[1]
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


_Band: TypeAlias = tuple[str, str]
"""Amounts ("<5" below 5, "5" up to and with 5, "" any) and their step ("<1" for "less than 1")."""

_US_BANDS: Mapping[str, Sequence[_Band]] = {
    "energy": (("<5", "0"), ("50", "5"), ("", "10")),
    "sodium": (("<5", "0"), ("140", "5"), ("", "10")),
    "potassium": (("<5", "0"), ("140", "5"), ("", "10")),
    "fat": (("<0.5", "0"), ("<5", "0.5"), ("", "1")),
    "cholesterol": (("<2", "0"), ("5", "<5"), ("", "5")),
    **dict.fromkeys(
        ("carbohydrate", "fibre", "sugars", "protein"), (("<0.5", "0"), ("<1", "<1"), ("", "1"))
    ),
}
"""FDA Food Labeling Guide, Appendix H."""

_EU_GRAMS: Sequence[_Band] = (("0", "0"), ("0.5", "<0.5"), ("<10", "0.1"), ("", "1"))
_EU_BANDS: Mapping[str, Sequence[_Band]] = {
    **dict.fromkeys(("energy_kcal", "energy_kj", "sodium_mg"), (("", "1"),)),
    "saturates_g": (("0", "0"), ("0.1", "<0.1"), ("<10", "0.1"), ("", "1")),
    "salt_g": (("0", "0"), ("0.0125", "<0.01"), ("<1", "0.01"), ("", "0.1")),
}
"""Commission guidance on tolerances (December 2012), rounding table; other grams as _EU_GRAMS."""

_UNRULED: Mapping[str, Sequence[_Band]] = {"caffeine_mg": (("", "1"),), "alcohol_g": (("", "0.1"),)}
"""Caffeine and alcohol follow no table: whole mg, and tenths of a gram."""

_US_NAMES: Mapping[str, LabelNutrient] = {
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


def label_amount(nutrient: LabelNutrient, value: float) -> LabelAmount:
    """Round as the FDA Food Labeling Guide, Appendix H, says; halves go up.

    ``value`` in kcal for energy, mg for cholesterol, sodium and potassium, else g. The guide states
    half-up for % DV and serving sizes; that it holds for grams as well is our inference.
    """
    if nutrient not in _US_BANDS:
        raise FigureError("nutrient", nutrient, "has no rounding rule")
    return _rounded(non_negative("value", value), _US_BANDS[nutrient])


def label_rounded(nutrient: str, value: float, rules: str) -> LabelAmount:
    """An amount rounded as ``rules`` ("us" or "eu") round it on a label.

    Give sodium in mg as ``sodium_mg``. What the US rules leave out is rounded as in the EU.
    """
    if nutrient in _UNRULED:
        return _rounded(value, _UNRULED[nutrient])
    if rules == "us" and nutrient in _US_NAMES:
        return label_amount(_US_NAMES[nutrient], value)
    return _rounded(value, _EU_BANDS.get(nutrient, _EU_GRAMS))


def _rounded(value: float, bands: Sequence[_Band]) -> LabelAmount:
    # A computed 2.4999999999999996 is a half: drop binary noise before rounding up.
    exact = Decimal(repr(value)).quantize(Decimal("1e-9"), ROUND_HALF_EVEN)
    step = next(step for limit, step in bands if _reaches(limit, exact))
    unit = Decimal(step.removeprefix("<"))
    if step.startswith("<") or unit == 0:
        return LabelAmount(unit, less_than=unit > 0)
    return LabelAmount((exact / unit).quantize(Decimal(1), ROUND_HALF_UP) * unit)


def _reaches(limit: str, amount: Decimal) -> bool:
    if limit.startswith("<"):
        return amount < Decimal(limit[1:])
    return not limit or amount <= Decimal(limit)


def sodium_mg(salt_g: float) -> float:
    """Sodium of an amount of salt: salt = sodium x 2.5 (Regulation (EU) 1169/2011, Annex I)."""
    return salt_g / 2.5 * 1000.0


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
