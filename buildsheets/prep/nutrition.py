"""Servings go in; nutrition, caffeine, sugar and Brix come out, with what is missing named.

Fill model section 7, first in plain numbers, then of a menu's drinks. Figures per gram come from
ingredients and through nested batches; everything a batch's parts bring is taken to end up in its
yield, but of the caffeine of what is brewed only the share the menu says. A missing figure stays
missing: it is never read as zero.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, product
from typing import Literal
from weakref import WeakKeyDictionary

from buildsheets.cup.chill import MELT_DENSITY
from buildsheets.cup.errors import FigureError, each, non_negative, positive, within
from buildsheets.cup.serving import Choice, Serving
from buildsheets.cup.swaps import swap_sets
from buildsheets.menu.model import Batch, Component, Drink, Ingredient, Nutrition
from buildsheets.menu.tables import sucrose_density_g_ml
from buildsheets.prep.batches import Item, figure_batch
from buildsheets.prep.food_labels import (
    Energy,
    LabelAmount,
    label_energy,
    label_rounded,
    named_tea_or_coffee,
    sodium_mg,
)

KJ_PER_KCAL = 4.184
"""Thermochemical calorie."""

NUTRIENTS = (
    "energy_kcal", "energy_kj", "fat_g", "saturates_g", "carbohydrate_g", "sugars_g", "protein_g",
    "salt_g", "fibre_g", "polyols_g", "alcohol_g", "caffeine_mg",
)  # fmt: skip

AT_MOST = "caffeine_at_most_mg"
"""Caffeine with that of brews whose share is not said taken whole: what cautions go by. Of what has
no figure nothing is counted, and it is named as missing: then there is at least so much."""

WHO_SUGARS_G = (50.0, 25.0)
"""Free sugars below 10 % (strong) and 5 % (conditional) of 2000 kcal at 4 kcal/g: WHO 2015."""

EFSA_SINGLE_DOSE_MG = 200.0
"""Caffeine in one go that gives healthy adults no concern: EFSA Journal 2015;13(5):4102."""

EU_HIGH_CAFFEINE_MG_PER_L = 150.0
"""Above it a statement is due: Regulation (EU) 1169/2011, Annex III, 4.1."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A number, or ``None`` and the names of the entries whose figure is missing."""

    value: float | None
    missing: tuple[str, ...] = ()


def added(figures: Iterable[Figure]) -> Figure:
    """The sum; unknown as soon as one is, with everything that is missing named once."""
    total: float | None = 0.0
    missing: dict[str, None] = {}
    for one in figures:
        missing.update(dict.fromkeys(one.missing))
        total = None if total is None or one.value is None else total + one.value
    return Figure(total, tuple(missing))


@dataclass(frozen=True, slots=True)
class SugarPart:
    """``mass_g`` of a component whose sugar (as soluble solids) is ``sugar_pct`` % by mass.

    ``liquid`` is False for beds, caps that are eaten and ice; melt water is a liquid of 0 %.
    """

    mass_g: float
    sugar_pct: float | None
    liquid: bool = True

    def __post_init__(self) -> None:
        non_negative("mass_g", self.mass_g)
        if self.sugar_pct is not None:
            within("sugar_pct", self.sugar_pct, 0.0, 100.0)


def brix(parts: Iterable[SugarPart]) -> float | None:
    """Degrees Brix of the mixed liquid: 100 x sugar / mass over the liquid parts.

    None without liquid, or when the sugar of a liquid part is not known.
    """
    return _brix((part.mass_g, Figure(part.sugar_pct)) for part in parts if part.liquid).value


def sugar_g(parts: Iterable[SugarPart]) -> float | None:
    """Grams of sugar over all parts, liquid or not; None if one is not known."""
    return _sugar((part.mass_g, Figure(part.sugar_pct)) for part in parts).value


def _sugar(parts: Iterable[tuple[float, Figure]]) -> Figure:
    """Grams of sugar of (grams, % of sugar by mass)."""
    return added(
        one if one.value is None else Figure(mass_g * one.value / 100)
        for mass_g, one in parts
        if mass_g > 0
    )


def _brix(parts: Iterable[tuple[float, Figure]], melt_g: float = 0.0) -> Figure:
    """100 x sugar / mass of liquids given as (grams, % of sugar); melt water brings no sugar."""
    liquids = [(mass_g, one) for mass_g, one in parts if mass_g > 0]
    sugar, mass_g = _sugar(liquids), sum((mass_g for mass_g, _ in liquids), melt_g)
    if sugar.value is None or mass_g <= 0:
        return Figure(None, sugar.missing)
    return Figure(100 * sugar.value / mass_g)


def sucrose_density(brix_degrees: float) -> float:
    """g/ml at 20 C of a pure sucrose solution of so many % by mass (Bubnik et al. 1995)."""
    return sucrose_density_g_ml(within("brix_degrees", brix_degrees, 0.0, 100.0))


@dataclass(frozen=True, slots=True)
class Source:
    """An amount with a content per 100 g or per 100 ml: caffeine in mg, energy in kcal or kJ.

    Give ``mass_g`` or ``volume_ml``; ``density`` (g/ml) converts between them where needed.
    """

    content: float | None
    per: Literal["100 g", "100 ml"] = "100 g"
    mass_g: float | None = None
    volume_ml: float | None = None
    density: float | None = None

    def __post_init__(self) -> None:
        if self.per not in ("100 g", "100 ml"):
            raise FigureError("per", self.per, "must be 100 g or 100 ml")
        if (self.mass_g is None) == (self.volume_ml is None):
            raise FigureError("mass_g", self.mass_g, "give grams or ml, one of them")
        each(non_negative, content=self.content, mass_g=self.mass_g, volume_ml=self.volume_ml)
        each(positive, density=self.density)

    @property
    def total(self) -> float | None:
        """The content of the whole amount; None if it, or a density needed for it, is missing."""
        amount = (self.volume_ml if self.mass_g is None else self.mass_g) or 0.0
        measured = "100 ml" if self.mass_g is None else "100 g"
        if amount == 0 or self.content is None:
            return 0.0 if amount == 0 else None
        total = self.content * amount / 100
        if measured == self.per:
            return total
        if self.density is None:
            return None
        return total * self.density if self.per == "100 g" else total / self.density


def total_content(sources: Iterable[Source]) -> float | None:
    """Sum over the sources (mg of caffeine, kcal, kJ ...); None if one cannot be computed."""
    return added(Figure(source.total) for source in sources).value


def per_100_ml(total: float | None, volume_ml: float) -> float | None:
    """Strength: a total spread over the volume, per 100 ml."""
    positive("volume_ml", volume_ml)
    return None if total is None else 100 * non_negative("total", total) / volume_ml


def kcal_to_kj(kcal: float) -> float:
    """kJ of so many kcal, at 4.184; a label's kJ come from :func:`label_energy`."""
    return non_negative("kcal", kcal) * KJ_PER_KCAL


def kj_to_kcal(kj: float) -> float:
    """kcal of so many kJ, at 4.184."""
    return non_negative("kj", kj) / KJ_PER_KCAL


@dataclass(frozen=True, slots=True)
class Facts:
    """One drink as served: each nutrient in its unit, Brix, liquid ml, caffeine in mg per litre."""

    amounts: Mapping[str, Figure]
    brix: Figure
    liquid_ml: float
    caffeine_mg_per_l: Figure

    def __getitem__(self, nutrient: str) -> Figure:
        return self.amounts[nutrient]

    def label(self, rules: str) -> dict[str, LabelAmount | None]:
        """Each nutrient as ``rules`` ("us" or "eu") round it; sodium in mg from salt besides."""
        values = {name: figure.value for name, figure in self.amounts.items()}
        salt = values.get("salt_g")
        values["sodium_mg"] = None if salt is None else sodium_mg(salt)
        return {
            name: None if value is None else label_rounded(name, value, rules)
            for name, value in values.items()
        }

    @property
    def sugar_band(self) -> str:
        """ "over-10-percent", "over-5-percent" or "" of WHO's two shares of 2000 kcal.

        WHO speaks of FREE sugars a day; total sugars count milk's own too, so this errs to the
        safe side.
        """
        sugars_g = self.amounts["sugars_g"].value or 0.0
        if sugars_g > WHO_SUGARS_G[0]:
            return "over-10-percent"
        return "over-5-percent" if sugars_g > WHO_SUGARS_G[1] else ""

    def needs_caffeine_words(self, drink: Drink, language: str) -> bool:
        """Whether the EU wants its caffeine stated: known to pass 150 mg a litre, under a name that
        says neither tea nor coffee to a reader of ``language``."""
        high = (self.caffeine_mg_per_l.value or 0.0) > EU_HIGH_CAFFEINE_MG_PER_L
        return high and not named_tea_or_coffee(drink, language)

    @property
    def over_single_dose(self) -> bool:
        """Whether the drink is known to pass EFSA's single dose of caffeine for adults."""
        return (self.amounts["caffeine_mg"].value or 0.0) > EFSA_SINGLE_DOSE_MG


def facts_of(serving: Serving, only: Sequence[str] = NUTRIENTS) -> Facts:
    """Facts of a serving: what was really used, with the melt water of its shaking.

    ``only`` names the nutrients wanted, where not all are; Brix is then left out.
    """
    chilled = (figure.chilled for figure in serving.steps)
    melt_g = sum(one.melted_g - one.frozen_g for one in chilled if one is not None)
    return facts_of_parts(((u.component, u.mass_g) for u in serving.used), melt_g, only)


_STRONGEST: WeakKeyDictionary[object, Facts] = WeakKeyDictionary()


def strongest(serving: Serving) -> Facts:
    """The most caffeine, and the most a litre, that any choice of this drink and cup may hold, of
    one with swaps any with the same: worked out once for all of them.

    Cautions go by it: with no ice and less syrup there is more tea. Of a brew that does not say how
    much of its leaf's caffeine it takes up, all counts.
    """
    scan = serving.choices.with_swaps(serving.choice.swaps)
    if scan not in _STRONGEST:
        _STRONGEST[scan] = _strongest(serving)
    return _STRONGEST[scan]


def _strongest(serving: Serving) -> Facts:
    drink, every = serving.drink, [facts_of(serving, (AT_MOST,))]
    brings = [a.id for a in serving.offered if content_of(a.component, AT_MOST).value]
    chosen = [some for n in range(1, drink.add_ons_at_most + 1) for some in combinations(brings, n)]
    swaps = [serving.choice.swaps or tuple(one.id for one in some) for some in swap_sets(drink)]
    stronger = any(content_of(swap.component, AT_MOST).value for swap in drink.swaps)
    if chosen or stronger or every[0][AT_MOST].value:
        # The base, and so its caffeine, rises or falls all the way with ice and with sweetness.
        levels = sorted(drink.ice.levels, key=drink.ice.levels.__getitem__) if drink.ice else [None]
        sweets = sorted(drink.sweetness.levels) if drink.sweetness else [None]
        ends = product({sweets[0], sweets[-1]}, {levels[0], levels[-1]}, [(), *chosen], swaps)
        every += [facts_of(serving.choices[Choice(*end)], (AT_MOST,)) for end in ends]
    most = max((one[AT_MOST] for one in every), key=lambda figure: figure.value or 0.0)
    a_litre = max((one.caffeine_mg_per_l for one in every), key=lambda figure: figure.value or 0.0)
    return Facts({"caffeine_mg": most}, Figure(None), every[0].liquid_ml, a_litre)


def facts_of_parts(
    parts: Iterable[tuple[Component, float]], melt_g: float = 0.0, only: Sequence[str] = NUTRIENTS
) -> Facts:
    """Facts of grams of components and grams of melt water, which bring nothing but water."""
    real = [(component, grams) for component, grams in parts if grams > 0]
    amounts = {name: _of_grams((g, content_of(c, name)) for c, g in real) for name in only}
    liquid = [(c, grams) for c, grams in real if c.behaves == "liquid"]
    liquid_ml = sum(grams / c.density_g_ml for c, grams in liquid) + melt_g / MELT_DENSITY
    caffeine = amounts.get("caffeine_mg", amounts.get(AT_MOST, Figure(None)))
    strength = Figure(None, caffeine.missing)
    if caffeine.value is not None and liquid_ml > 0:
        strength = Figure(1000.0 * caffeine.value / liquid_ml, caffeine.missing)
    brix = Figure(None)
    if only is NUTRIENTS:
        brix = _brix(((grams, _brix_of_component(c)) for c, grams in liquid), melt_g)
    return Facts(amounts, brix, liquid_ml, strength)


def _brix_of_component(component: Component) -> Figure:
    degrees, source = component.brix, component.source
    if degrees is None and source is not None:
        degrees = brix_of(source)
    return Figure(degrees, (component.id,) if degrees is None else ())


def brix_of(item: Item) -> float | None:
    """Degrees Brix: an ingredient's own, a batch's by the mass of its parts and its finished mass.

    ``None`` while any part's is unknown. Without a stated Brix an ingredient's sugars per 100 g
    stand in.
    """
    if isinstance(item, Batch):
        sugar = _sugar((part.mass_g, Figure(brix_of(part.item))) for part in item.parts).value
        finished_g = figure_batch(item).finished_g
        return 100.0 * sugar / finished_g if sugar is not None and finished_g else None
    if item.brix is not None:
        return item.brix
    return _ingredient_content(item, "sugars_g", 100.0).value


def content_of(item: Component | Item, nutrient: str) -> Figure:
    """Content of one gram, in the nutrient's unit; the shop's own ice is water and brings none."""
    if isinstance(item, Component):
        if item.source is None:
            return Figure(0.0) if item.role == "ice" else Figure(None, (item.id,))
        return content_of(item.source, nutrient)
    if isinstance(item, Ingredient):
        return _ingredient_content(item, nutrient, 1.0)
    finished_g = figure_batch(item).finished_g
    if not finished_g:
        return Figure(None, (item.id,))
    total = _of_grams((part.mass_g, _from_part(item, part.item, nutrient)) for part in item.parts)
    return total if total.value is None else Figure(total.value / finished_g, total.missing)


def _from_part(batch: Batch, item: Item, nutrient: str) -> Figure:
    """Content that a gram of a part brings into a batch."""
    content = content_of(item, nutrient)
    brewed = batch.brew is not None and batch.brew.id == item.id
    if not (brewed and content.value and nutrient in ("caffeine_mg", AT_MOST)):
        return content
    share = batch.caffeine_extracted
    if share is None:
        return content if nutrient == AT_MOST else Figure(None, (batch.id,))
    return Figure(content.value * share, content.missing)


def _of_grams(parts: Iterable[tuple[float, Figure]]) -> Figure:
    """The content of grams whose content a gram is known."""
    return added(
        one if one.value is None else Figure(one.value * mass_g, one.missing)
        for mass_g, one in parts
    )


def _ingredient_content(item: Ingredient, nutrient: str, mass_g: float) -> Figure:
    facts, value = item.nutrition, None
    if facts is not None:
        per_100 = _per_100(facts, "caffeine_mg" if nutrient == AT_MOST else nutrient)
        value = Source(per_100, facts.per, mass_g=mass_g, density=item.density_g_ml).total
    known = 0.0 if value is None and nutrient == AT_MOST else value
    return Figure(known, (item.id,) if value is None else ())


def _per_100(facts: Nutrition, nutrient: str) -> float | None:
    """A declared figure. Energy that is not declared is computed from the nutrients, if all are
    known; kcal and kJ are always of the same origin."""
    if not nutrient.startswith("energy"):
        declared: float | None = getattr(facts, nutrient)
        return declared
    if facts.energy_kcal is not None:
        kcal = facts.energy_kcal
        return kcal if nutrient == "energy_kcal" else kcal_to_kj(kcal)
    computed = _energy(facts)
    return None if computed is None else getattr(computed, nutrient.removeprefix("energy_"))


def _energy(facts: Nutrition) -> Energy | None:
    """kcal and kJ by Regulation (EU) 1169/2011 Annex XIV; carbohydrate without the polyols.

    Unknown without the fibre, which is no part of a European label's carbohydrate. Polyols and
    alcohol that are not declared count as none: few foods have any.
    """
    carbohydrate, polyols = facts.carbohydrate_g, facts.polyols_g or 0.0
    return label_energy(
        carbohydrate=None if carbohydrate is None else max(0.0, carbohydrate - polyols),
        protein=facts.protein_g,
        fat=facts.fat_g,
        polyols=polyols,
        ethanol=facts.alcohol_g or 0.0,
        fibre=facts.fibre_g,
    )
