"""Rules about the guest: allergens, cautions, nutrition and caffeine; findings out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from buildsheets.cup.allergens import allergen_report
from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding, Label, Severity
from buildsheets.findings.spelling import listed
from buildsheets.menu.components import HEAPED
from buildsheets.menu.model import AddStep, Component, Drink, Ingredient, Menu
from buildsheets.menu.tables import ALLERGEN_KINDS, SCALD_C, US_SPECIES
from buildsheets.prep.nutrition import (
    EFSA_SINGLE_DOSE_MG,
    EU_HIGH_CAFFEINE_MG_PER_L,
    Facts,
    strongest,
)
from buildsheets.rules.amounts import degrees
from buildsheets.rules.registry import (
    all_servings,
    each_component,
    each_ingredient,
    each_serving,
    found,
    rule,
)

_HONEY = re.compile(r"\b(?:honey|miel|\w*honig|honigsirup|mel|miele)\b", re.IGNORECASE)

_ASKED_FOR = (
    "energy_kcal",
    "fat_g",
    "saturates_g",
    "carbohydrate_g",
    "sugars_g",
    "protein_g",
    "salt_g",
    "caffeine_mg",
)
"""Energy and the six nutrients of Regulation (EU) 1169/2011, Article 30(1), and caffeine."""


@rule("ALG01", "allergen-undeclared", Severity.ERROR, all_servings)
def allergen_undeclared(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
    """Something that goes into a drink has no allergen declaration.

    At the counter: a guest with an allergy reads silence as "none". An ingredient without
    allergens says so with an explicit empty list; nothing is printed while one is missing.

    Trips it: an ingredient without ``contains`` (a menu file is refused as soon as it is read; this
    rule guards menus made in other ways).
    Fixed: ``contains: [milk]``, or ``contains: []`` where its label names none.

    Source: Regulation (EU) 1169/2011, Articles 9(1)(c) and 44; US Federal Food, Drug, and
    Cosmetic Act 403(w).
    """
    told: set[str] = set()
    for component in menu.components.values():
        for path in allergen_report(component).undeclared:
            last = path[-1]
            if last.id not in told:
                told.add(last.id)
                way = " <- ".join(entry.id for entry in path)
                yield found(
                    last.span,
                    f"'{last.id}' does not declare its allergens ({way})",
                    "add contains: with what its label says, or contains: [] for none",
                    subject=(last.id,),
                    labels=(Label(component.span, "used here"),),
                )


@rule("ALG02", "allergen-kind-unsaid", Severity.WARNING, each_ingredient)
def allergen_kind_unsaid(menu: Menu, item: Ingredient) -> Iterator[Finding]:
    """An ingredient contains gluten or nuts and does not say of which cereal or nut.

    At the counter: many guests react to one nut and eat the others; the law asks for the name. Of
    fish and crustaceans the US law asks for the species too.

    Trips it::

        ingredients:
          milk: {contains: [nuts]}

    Fixed::

        ingredients:
          milk: {contains: [almonds]}

    Source: Regulation (EU) 1169/2011, Annex II, 1 and 8, and Article 21(1)(a); US Federal Food,
    Drug, and Cosmetic Act 403(w)(2).
    """
    contains = item.declared.contains or ()
    for group in contains:
        kinds = ALLERGEN_KINDS.get(group, ())
        hint = f"name it: {listed(kinds)}"
        if menu.shop.allergen_list == "us9" and group in US_SPECIES:
            kinds = tuple(menu.shop.more_allergens)
            hint = (
                "add the species to the shop's more_allergens, as {cod: cod}, and name it beside "
                f"the group: contains: [{group}, cod]"
            )
        elif not kinds:
            continue
        if not set(kinds) & set(contains):
            message = f"'{item.id}' contains {group} and does not say which"
            yield found(item.declared.span, message, hint)


@rule("ALG05", "trace-kind-unsaid", Severity.WARNING, each_ingredient)
def trace_kind_unsaid(menu: Menu, item: Ingredient) -> Iterator[Finding]:
    """An ingredient may contain gluten or nuts and does not say which cereal or nut.

    At the counter: many guests react to one nut and eat the others. The law leaves the words of
    such a warning to the maker, so ask the maker. Who gets no answer keeps the group, which stands
    for every one of it, and accepts this under ``allow``.

    Trips it::

        ingredients:
          milk: {contains: [], may_contain: [nuts]}

    Fixed::

        ingredients:
          milk: {contains: [], may_contain: [hazelnuts]}

    Source: Regulation (EU) 1169/2011, Article 36(2)(b) and (3)(a): such words must not be
    ambiguous, and no act says how to put them. To name the kind is our choice of the safe side.
    """
    traces = item.declared.may_contain
    for group in traces:
        kinds = ALLERGEN_KINDS.get(group, ())
        if kinds and not set(kinds) & set(traces):
            hint = f"ask the maker and name it: {listed(kinds)}"
            message = f"'{item.id}' may contain {group} and does not say which"
            yield found(item.at("may_contain"), message, hint)


@rule("CAU01", "honey-caution-missing", Severity.WARNING, each_ingredient)
def honey_caution_missing(menu: Menu, item: Ingredient) -> Iterator[Finding]:
    """An ingredient is called honey and carries no honey caution.

    At the counter: honey is not for children under 12 months, raw or cooked; the card has to
    say so.

    Trips it::

        ingredients:
          milk: {name: Clover honey}

    Fixed::

        ingredients:
          milk: {name: Clover honey, cautions: [honey]}

    Source: Institut national de santé publique du Québec, "Honey: never for babies under age 1".
    """
    names = (item.id.replace("-", " "), *item.name.by_language.values())
    if "honey" not in item.cautions and any(_HONEY.search(name) for name in names):
        message = f"'{item.id}' is honey by its name and carries no honey caution"
        yield found(item.span, message, "add cautions: [honey]")


@rule("CAU02", "choking-caution-missing", Severity.WARNING, each_component)
def choking_caution_missing(menu: Menu, component: Component) -> Iterator[Finding]:
    """A topping that settles or swims says nothing of choking.

    At the counter: pearls, jelly cubes and juice bursts sucked through a wide straw can be
    drawn into the airway, of children up to 4 above all. ``cautions: []`` at the topping says that
    you looked and there is nothing to choke on, as in a scoop of ice cream.

    Trips it::

        toppings:
          pearls:
            from: milk
            behaves: settled
            density: 1.1 g/ml
            bulk_density: 0.66 g/ml

    Fixed::

        toppings:
          pearls:
            from: milk
            behaves: settled
            density: 1.1 g/ml
            bulk_density: 0.66 g/ml
            cautions: [choking]

    Source: German Federal Institute for Risk Assessment (BfR), 3 August 2012; Hong Kong Centre
    for Food Safety, choking hazards.
    """
    looked = component.says_none("cautions")
    if component.behaves in HEAPED and not looked and "choking" not in _cautions(component):
        does = "settles in the cup" if component.behaves == "settled" else "swims in the drink"
        message = f"'{component.id}' {does} and carries no choking caution"
        hint = "add cautions: [choking], or cautions: [] where nothing in it can be choked on"
        yield found(component.span, message, hint)


@rule("CAU03", "hot-caution-missing", Severity.WARNING, all_servings)
def hot_caution_missing(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
    """Something is poured above 60 °C and neither it nor the drink carries a scald caution.

    At the counter: at 60 °C a burn takes six seconds, at 66 °C two.

    Trips it::

        bases:
          tea: {temperature: 85 °C}

    Fixed::

        bases:
          tea: {temperature: 85 °C, cautions: [hot]}

    Source: US Consumer Product Safety Commission, document 5098.
    """
    told: set[str] = set()
    for drink, component in _uses(menu):
        cautions = (*_cautions(component), *drink.cautions)
        hot = component.poured_c > SCALD_C
        if hot and component.id not in told and "hot" not in cautions:
            told.add(component.id)
            poured_at = degrees(component.poured_c, menu.shop)
            yield found(
                component.span,
                f"'{component.id}' is poured at {poured_at}, above "
                f"{degrees(SCALD_C, menu.shop)}, and carries no scald caution",
                "add cautions: [hot] to it or to the drink",
                subject=(component.id, drink.id),
                labels=(Label(drink.span, "in this drink"),),
            )


@rule("NUT01", "nutrition-missing", Severity.NOTE, each_ingredient)
def nutrition_missing(menu: Menu, item: Ingredient) -> Iterator[Finding]:
    """An ingredient that is used has no nutrition figures, or not all of them.

    At the counter: the drinks it goes into show "not computed" instead of a number that would
    be wrong.

    Trips it::

        ingredients:
          milk:
            nutrition: {per: 100 g, energy_kcal: 61}

    Fixed::

        ingredients:
          milk:
            nutrition:
              {per: 100 g, energy_kcal: 61, fat_g: 3.3, saturates_g: 1.9, carbohydrate_g: 4.8,
               sugars_g: 4.8, protein_g: 3.2, salt_g: 0.1, caffeine_mg: 0}

    Source: Regulation (EU) 1169/2011, Article 30(1).
    """
    facts = item.nutrition
    lacks = [n for n in _ASKED_FOR if facts is None or getattr(facts, n) is None]
    if lacks:
        what = "all of it" if facts is None else ", ".join(lacks)
        message = f"nutrition of '{item.id}' is not complete: {what} missing"
        hint = "the drinks it goes into show 'not computed' for these"
        yield found(item.span, message, hint)


@rule("NUT02", "caffeine-statement-missing", Severity.WARNING, each_serving)
def caffeine_statement_missing(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """A drink above 150 mg/l of caffeine is not named tea or coffee and carries no caution.

    At the counter: plain black tea is above it too; only the NAME tells the guest. Under
    another name the card has to state the caffeine. The strongest choice counts: no ice and less
    syrup leave room for more tea.

    Trips it::

        ingredients:
          milk:
            nutrition: {per: 100 ml, caffeine_mg: 32}

    Fixed::

        ingredients:
          milk:
            nutrition: {per: 100 ml, caffeine_mg: 32}
            cautions: [caffeine]

    Source: Regulation (EU) 1169/2011, Annex III, 4.1.
    """
    facts, drink = strongest(serving), serving.drink
    strength = facts.caffeine_mg_per_l.value or 0.0
    cautions = [drink.cautions, *(_cautions(used.component) for used in serving.used)]
    silent = [lang for lang in menu.shop.languages if facts.needs_caffeine_words(drink, lang)]
    if silent and not any("caffeine" in some for some in cautions):
        yield found(
            drink.span,
            f"'{drink.id}' in {serving.cup.id} holds {_up_to(facts)} {strength:.0f} mg/l of "
            f"caffeine, above the EU's {EU_HIGH_CAFFEINE_MG_PER_L:.0f}, and its name says neither "
            f"tea nor coffee ({', '.join(silent)})",
            "add cautions: [caffeine] to the ingredient or the drink",
        )


@rule("NUT03", "caffeine-over-single-dose", Severity.NOTE, each_serving)
def caffeine_over_single_dose(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """One drink holds more caffeine than the single dose of no concern for healthy adults.

    At the counter: it is the day's whole amount for a pregnant guest; the counter should know.

    Trips it::

        ingredients:
          milk:
            nutrition: {per: 100 ml, caffeine_mg: 120}
            cautions: [caffeine]

    Fixed::

        ingredients:
          milk:
            nutrition: {per: 100 ml, caffeine_mg: 40}
            cautions: [caffeine]

    Source: EFSA Journal 2015;13(5):4102: 200 mg.
    """
    facts = strongest(serving)
    caffeine = facts["caffeine_mg"].value
    if caffeine is not None and facts.over_single_dose:
        yield found(
            serving.drink.span,
            f"'{serving.drink.id}' in {serving.cup.id} holds {_up_to(facts)} {caffeine:.0f} mg of "
            f"caffeine, above the {EFSA_SINGLE_DOSE_MG:.0f} mg of a single dose",
        )


def _up_to(facts: Facts) -> str:
    """Where a figure is missing, there may be more."""
    return "at least" if facts["caffeine_mg"].missing else "up to"


def _cautions(component: Component) -> tuple[str, ...]:
    """Cautions of a component, its source's included."""
    source = component.source
    return component.cautions + (source.cautions if source is not None else ())


def _uses(menu: Menu) -> Iterator[tuple[Drink, Component]]:
    for drink in menu.drinks.values():
        for step in drink.steps:
            if isinstance(step, AddStep):
                yield drink, step.component
        for component in (
            *(s.component for s in drink.swaps),
            *(a.component for a in drink.add_ons),
        ):
            yield drink, component
