"""A serving goes in; its nutrition, caffeine, sugar and Brix come out, with what is missing named.

Figures per gram come from ingredients and through nested batches; everything a batch's parts
bring is taken to end up in its yield, which is the safe side for leaves that are thrown away.
A missing figure stays missing: it is never read as zero.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Batch, Component, Drink, Ingredient, Nutrition
from buildsheets.prep.batches import brix_of, figure_batch
from buildsheets.prep.nutrition import (
    KJ_PER_KCAL,
    LabelAmount,
    LabelNutrient,
    label_amount,
    label_energy,
)

NUTRIENTS = (
    "energy_kcal",
    "energy_kj",
    "fat_g",
    "saturates_g",
    "carbohydrate_g",
    "sugars_g",
    "protein_g",
    "salt_g",
    "fibre_g",
    "polyols_g",
    "alcohol_g",
    "caffeine_mg",
)

WHO_SUGARS_G = (50.0, 25.0)
"""Free sugars below 10 % (strong) and 5 % (conditional) of 2000 kcal at 4 kcal/g: WHO 2015."""

EFSA_SINGLE_DOSE_MG = 200.0
"""Caffeine in one go that gives healthy adults no concern: EFSA Journal 2015;13(5):4102."""

EU_HIGH_CAFFEINE_MG_PER_L = 150.0
"""Above it a statement is due: Regulation (EU) 1169/2011, Annex III, 4.1."""

MELT_G_PER_ML = 0.9998
"""Water at 0 degC, IAPWS-95."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A number, or ``None`` and the names of the entries whose figure is missing."""

    value: float | None
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Facts:
    """One drink as served: each nutrient in its unit, Brix, liquid ml, caffeine in mg per litre."""

    amounts: Mapping[str, Figure]
    brix: Figure
    liquid_ml: float
    caffeine_mg_per_l: Figure

    def __getitem__(self, nutrient: str) -> Figure:
        return self.amounts[nutrient]


def facts_of(serving: Serving, only: Sequence[str] = NUTRIENTS) -> Facts:
    """Facts of a serving: what was really used, with the melt water of its shaking.

    ``only`` names the nutrients wanted, where not all are.
    """
    melt_g = sum(
        figure.chilled.melted_g - figure.chilled.frozen_g
        for figure in serving.steps
        if figure.chilled is not None
    )
    parts = [(used.component, used.mass_g) for used in serving.used]
    return facts_of_parts(parts, melt_g, only)


def facts_of_parts(
    parts: Iterable[tuple[Component, float]],
    melt_g: float = 0.0,
    only: Sequence[str] = NUTRIENTS,
) -> Facts:
    """Facts of grams of components and grams of melt water, which bring nothing but water."""
    real = [(component, grams) for component, grams in parts if grams > 0]
    amounts = {name: _total(real, name) for name in only}
    liquid = [(c, grams) for c, grams in real if c.behaves == "liquid"]
    liquid_ml = sum(grams / c.density_g_ml for c, grams in liquid) + melt_g / MELT_G_PER_ML
    caffeine = amounts.get("caffeine_mg", Figure(None))
    strength = Figure(None, caffeine.missing)
    if caffeine.value is not None and liquid_ml > 0:
        strength = Figure(1000.0 * caffeine.value / liquid_ml)
    return Facts(amounts, _brix(liquid, melt_g), liquid_ml, strength)


def _total(parts: Iterable[tuple[Component, float]], nutrient: str) -> Figure:
    total = 0.0
    missing: list[str] = []
    for component, grams in parts:
        one = content_of(component, nutrient)
        if one.value is None:
            missing.extend(one.missing)
        else:
            total += one.value * grams
    return Figure(None, tuple(dict.fromkeys(missing))) if missing else Figure(total)


def _brix(liquid: Iterable[tuple[Component, float]], melt_g: float) -> Figure:
    """100 * sum(m w) / sum(m) over the liquids, melt water included (fill model section 7)."""
    sugar, mass = 0.0, melt_g
    missing: list[str] = []
    for component, grams in liquid:
        brix = component.brix
        if brix is None and component.source is not None:
            brix = brix_of(component.source)
        if brix is None:
            missing.append(component.id)
            continue
        sugar += grams * brix / 100.0
        mass += grams
    if missing:
        return Figure(None, tuple(dict.fromkeys(missing)))
    return Figure(100.0 * sugar / mass) if mass > 0 else Figure(None)


def content_of(item: Component | Ingredient | Batch, nutrient: str) -> Figure:
    """Content of one gram, in the nutrient's unit; the shop's own ice is water and brings none."""
    if isinstance(item, Component):
        if item.source is None:
            return Figure(0.0) if item.role == "ice" else Figure(None, (item.id,))
        return content_of(item.source, nutrient)
    if isinstance(item, Ingredient):
        return _ingredient_content(item, nutrient)
    finished = figure_batch(item).finished_g
    if not finished:
        return Figure(None, (item.id,))
    total = 0.0
    missing: list[str] = []
    for part in item.parts:
        one = content_of(part.item, nutrient)
        if one.value is None:
            missing.extend(one.missing)
        else:
            total += one.value * part.mass_g
    return Figure(None, tuple(dict.fromkeys(missing))) if missing else Figure(total / finished)


def _ingredient_content(item: Ingredient, nutrient: str) -> Figure:
    facts = item.nutrition
    per_100 = None if facts is None else _per_100(facts, nutrient)
    if facts is None or per_100 is None:
        return Figure(None, (item.id,))
    if facts.per == "100 g":
        return Figure(per_100 / 100.0)
    if item.density_g_ml is None:
        return Figure(None, (item.id,))
    return Figure(per_100 / 100.0 / item.density_g_ml)


def _per_100(facts: Nutrition, nutrient: str) -> float | None:
    """A declared figure; energy not declared is computed from the nutrients if all are known."""
    if nutrient == "energy_kj":
        computed = _energy(facts)
        if computed is not None:
            return computed[1]
        return None if facts.energy_kcal is None else facts.energy_kcal * KJ_PER_KCAL
    declared: float | None = getattr(facts, nutrient)
    if declared is None and nutrient == "energy_kcal":
        computed = _energy(facts)
        return None if computed is None else computed[0]
    return declared


def _energy(facts: Nutrition) -> tuple[float, float] | None:
    """kcal and kJ by Regulation (EU) 1169/2011 Annex XIV; carbohydrate without the polyols.

    Fibre, polyols and alcohol that are not declared count as none: few labels declare them.
    """
    if facts.carbohydrate_g is None or facts.fat_g is None or facts.protein_g is None:
        return None
    polyols = facts.polyols_g or 0.0
    energy = label_energy(
        carbohydrate=max(0.0, facts.carbohydrate_g - polyols),
        protein=facts.protein_g,
        fat=facts.fat_g,
        polyols=polyols,
        ethanol=facts.alcohol_g or 0.0,
        fibre=facts.fibre_g or 0.0,
    )
    return None if energy is None else (energy.kcal, energy.kj)


def sugar_band(sugars_g: float) -> str:
    """ "over-10-percent", "over-5-percent" or "" against WHO's two shares of 2000 kcal.

    WHO speaks of FREE sugars a day; total sugars count milk's own too, so this errs to the safe
    side.
    """
    if sugars_g > WHO_SUGARS_G[0]:
        return "over-10-percent"
    return "over-5-percent" if sugars_g > WHO_SUGARS_G[1] else ""


def over_single_dose(caffeine_mg: float) -> bool:
    """Whether one drink passes EFSA's single dose of 200 mg for healthy adults."""
    return caffeine_mg > EFSA_SINGLE_DOSE_MG


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


def needs_high_caffeine_words(drink: Drink, mg_per_l: float, language: str) -> bool:
    """Above 150 mg/l, unless the NAME says tea or coffee: plain black tea passes only by name."""
    return mg_per_l > EU_HIGH_CAFFEINE_MG_PER_L and not named_tea_or_coffee(drink, language)


_US_NUTRIENT: Mapping[str, LabelNutrient] = {
    "energy_kcal": "energy",
    "fat_g": "fat",
    "saturates_g": "fat",
    "carbohydrate_g": "carbohydrate",
    "sugars_g": "sugars",
    "protein_g": "protein",
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


def shown(nutrient: str, value: float, rules: str) -> LabelAmount:
    """An amount rounded as ``rules`` ("us" or "eu") round it on a label.

    "us": FDA Food Labeling Guide, Appendix H; give sodium in mg as ``sodium_mg``. "eu": the
    Commission's guidance on tolerances (December 2012), rounding table: whole kJ and kcal; grams
    to 1 from 10, to 0.1 above 0.5; saturates to 0.1 above 0.1; salt to 0.1 from 1, to 0.01 above
    0.0125; at or below the least, "less than". Caffeine and alcohol follow no table: whole mg,
    and tenths of a gram.
    """
    exact = Decimal(repr(round(value, 9)))
    if nutrient == "caffeine_mg":
        return LabelAmount(_to(exact, "1"))
    if nutrient == "alcohol_g":
        return LabelAmount(_to(exact, "0.1"))
    if rules == "us":
        if nutrient == "sodium_mg":
            return label_amount("sodium", value)
        if nutrient in _US_NUTRIENT:
            return label_amount(_US_NUTRIENT[nutrient], value)
    if nutrient in ("energy_kcal", "energy_kj", "sodium_mg"):
        return LabelAmount(_to(exact, "1"))
    if exact == 0:
        return LabelAmount(Decimal(0))
    (whole, step), (least, fine) = _EU_ROUNDING.get(nutrient, _EU_GRAMS)
    if exact >= Decimal(whole):
        return LabelAmount(_to(exact, step))
    if exact > Decimal(least):
        return LabelAmount(_to(exact, fine))
    return LabelAmount(_to(Decimal(least), "0.01" if nutrient == "salt_g" else "0.1"), True)


def _to(value: Decimal, step: str) -> Decimal:
    return (value / Decimal(step)).quantize(Decimal(1), ROUND_HALF_UP) * Decimal(step)


def facts_json(facts: Facts, rules: str) -> dict[str, object]:
    """Facts as plain data: exact and as rounded for a label, ``null`` with what is missing."""

    def one(nutrient: str, figure: Figure) -> dict[str, object]:
        if figure.value is None:
            return {"value": None, "missing": list(figure.missing)}
        label = shown(nutrient, figure.value, rules)
        return {
            "value": figure.value,
            "label": str(label.amount),
            "less_than": label.less_than,
        }

    def plain(figure: Figure) -> dict[str, object]:
        if figure.value is None:
            return {"value": None, "missing": list(figure.missing)}
        return {"value": figure.value}

    return {
        **{name: one(name, figure) for name, figure in facts.amounts.items()},
        "brix": plain(facts.brix),
        "caffeine_mg_per_l": plain(facts.caffeine_mg_per_l),
        "liquid_ml": facts.liquid_ml,
    }
