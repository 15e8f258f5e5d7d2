"""Rules of the menu as a whole: cups against their declared size, colours, languages, hot and
cold, and the findings an owner has accepted."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import chain
from typing import TypeVar

from buildsheets.cup.contents import Contents
from buildsheets.cup.serving import Serving
from buildsheets.cup.simulate import EMPTY
from buildsheets.cup.steps import cup_of
from buildsheets.findings.finding import Finding, Label, Severity, Span
from buildsheets.menu.model import EMPTIES, AddStep, Drink, Menu, Shop, Text, Tool
from buildsheets.menu.tables import MIN_CONTRAST, SCALD_C, contrast
from buildsheets.rules.amounts import degrees, other_ice, percent, place, volume, what
from buildsheets.rules.registry import all_servings, each_order, each_way, found, rule

Named = TypeVar("Named", Drink, Tool)

BRIMFUL_SHARE = 0.03
"""A declared capacity may differ by this share from the geometry (fill model section 2)."""

MELTS_C = 30.0
"""A mix warmer than this melts its ice while it is carried to the guest; common practice, no
source."""


@rule("CUP05", "declared-capacity-differs", Severity.WARNING, all_servings)
def declared_capacity_differs(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
    """A cup's declared brimful capacity should agree with its measured inside within 3 %.

    At the counter: every fill line comes from the inside; a caliper slip of 2 mm moves them all.

    Trips it: 55, 84 and 94 mm (361.8 ml) declared as 400 ml.
    Fixed: measure again, or correct the declared capacity.

    Source: frustum volume; OIML R 138:2007 gives the tolerances of capacity measures.
    """
    for cup in menu.cups.values():
        if cup.declared_brimful_ml is None:
            continue
        figured = cup_of(cup.shape).brimful_ml
        off = abs(cup.declared_brimful_ml - figured) / figured
        if off > BRIMFUL_SHARE:
            yield found(
                cup.written("brimful").span,
                f"cup {cup.id} is declared as {volume(cup.declared_brimful_ml, cup.volumes)}, and "
                f"its inside holds {volume(figured, cup.volumes)}: {percent(off)} apart, at most "
                f"{percent(BRIMFUL_SHARE)}",
                "fill it with water on a scale: grams are ml",
                labels=(Label(cup.shape_written.span, cup.shape_written.text),),
                subject=(cup.id,),
            )


@rule("STN05", "accent-too-pale", Severity.ERROR, all_servings)
def accent_too_pale(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
    """A station's accent colour must be readable on white: at least 4.5 to 1.

    At the counter: pale print behind a steamed-up laminate cannot be read.

    Trips it: accent "#ffcc00" (1.5 to 1 on white).
    Fixed: accent "#7a5c00".

    Source: WCAG 2.2, success criterion 1.4.3.
    """
    for station in menu.stations.values():
        ratio = contrast(station.accent, "#ffffff")
        if ratio < MIN_CONTRAST:
            yield found(
                station.written("accent").span,
                f"the accent {station.accent} of station {station.id} stands {ratio:.1f} to 1 "
                f"on white; at least {MIN_CONTRAST} to 1 is needed",
                "take a darker shade of it",
                subject=(station.id,),
            )


@rule("DRK11", "drink-name-twice", Severity.ERROR, all_servings)
def drink_name_twice(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
    """Two drinks need two names, in each language the shop prints.

    At the counter: station cards, the allergen table and the guest know a drink by its name alone;
    of two alike somebody makes, or says the allergens of, the wrong one.

    Trips it: hot-cocoa and iced-cocoa, both with the name Cocoa.
    Fixed: Hot Cocoa and Iced Cocoa.

    Source: common practice, no source.
    """
    yield from _named_alike(menu.shop, [*menu.drinks.values()])


@rule("TOOL04", "tool-name-twice", Severity.ERROR, all_servings)
def tool_name_twice(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
    """Two scales or jugs that show different steps need two names.

    In each language the shop prints. Of a pump or a scoop the card says what one holds; of a scale
    or a jug it says the name alone.

    At the counter: 2.4 g of matcha "on the scale" are weighed on the one that shows whole grams.

    Trips it::

        tools:
          fine: {name: scale, kind: scale, step: 0.1 g}
          coarse: {name: scale, kind: scale, step: 1 g}

    Fixed::

        tools:
          fine: {name: fine scale, kind: scale, step: 0.1 g}
          coarse: {name: scale, kind: scale, step: 1 g}

    Source: common practice, no source.
    """
    marked = [tool for tool in menu.tools.values() if tool.unit in ("ml", "g")]
    yield from _named_alike(menu.shop, marked, lambda tool: (tool.unit, tool.step))


def _named_alike(
    shop: Shop, entries: Sequence[Named], shows: Callable[[Named], object] = id
) -> Iterator[Finding]:
    """Each two of them that have one name in a language and do not show the same, once."""
    told: set[tuple[str, str]] = set()
    for language in shop.languages:
        first: dict[str, Named] = {}
        for one in entries:
            name = one.name.in_language(language)
            other = first.setdefault(" ".join(name.casefold().split()), one)
            if shows(other) == shows(one) or (other.id, one.id) in told:
                continue
            told.add((other.id, one.id))
            yield found(
                one.written("name").span,
                f"{other.id} and {one.id} are both called '{name}' in {language}",
                "say in the name what tells them apart",
                labels=(Label(other.written("name").span, "also called so"),),
                subject=(one.id,),
            )


@rule("LNG02", "not-translated", Severity.WARNING, all_servings)
def not_translated(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
    """Names that print on a card should exist in each language the shop prints.

    A missing one falls back to the first language written.

    At the counter: half a card in another language is read half.

    Trips it: languages: [en, es] and a drink named {en: Marsh Tea}.
    Fixed: {en: Marsh Tea, es: Té del Lago}.

    Source: common practice, no source.
    """
    entries: list[tuple[str, str, Text, Span]] = [
        ("edition", "edition", menu.edition.name, menu.edition.span)
    ]
    for kind, section in (
        ("station", menu.stations),
        ("cup", menu.cups),
        ("component", menu.components),
        ("batch", menu.batches),
        ("add-on", menu.add_ons),
        ("swap", menu.swaps),
        ("drink", menu.drinks),
        ("packaging", {id: one for id, one in menu.packaging.items() if one.kind == "straw"}),
    ):
        entries += [(f"{kind} {key}", key, e.name, e.span) for key, e in section.items()]
    seen: set[tuple[tuple[str, str], ...]] = set()
    for entry, id, name, span in entries:
        key = tuple(sorted(name.by_language.items()))
        missing = [language for language in menu.shop.languages if not name.has(language)]
        if missing and key not in seen:
            seen.add(key)
            message = f"the name of {entry} is missing in: {', '.join(missing)}"
            hint = f"cards will print '{name.in_language(missing[0])}'"
            yield found(span, message, hint, subject=(id,))


@rule("HOT01", "hot-in-cold-cup", Severity.ERROR, each_way)
def hot_in_cold_cup(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """A scalding drink goes only into a cup made for hot drinks.

    Looks at each step that brings something into the cup, out of the shaker too, with each add-on,
    and with as little ice as a guest may ask for.

    At the counter: a cold cup softens, and 60 degC burns a hand within seconds.

    Trips it: hot milk of 62 degC in a cup without hot: yes.
    Fixed: sell it in the hot cup, or pour it onto ice or onto so much cold milk that the two
    together stay below.

    Source: CPSC document 5098 (60 degC: third-degree burn in 6 s).
    """
    drink, cup = serving.drink, serving.cup
    hot = [one for one in serving.offered if one.component.poured_c > SCALD_C]
    written = (step.component for step in drink.steps if isinstance(step, AddStep))
    if cup.hot or not (hot or any(one.poured_c > SCALD_C for one in written)):
        return
    orders = chain(serving.with_each(hot), serving.with_least_ice.with_each(hot))
    for made, at in ((one, at) for one in orders for at in range(len(one.steps))):
        step, warm_c = made.steps[at].step, _came_c(made, at)
        if warm_c > SCALD_C and not _cooled_in_cup(made, at):
            asked, added = other_ice(made), isinstance(step, AddStep)
            name = what(step) if added else f"what is in the {EMPTIES[what(step)]}"
            yield found(
                step.span,
                f"{drink.id}: {name} at {degrees(warm_c, menu.shop)} goes into {cup.id}{asked}, "
                "which is not a cup for hot drinks",
                "pour what is cold before it, or write ice: fixed at the drink"
                if asked
                else "sell it in a cup with hot: yes",
                labels=(Label(cup.span, "the cup"),),
            )
            return


def _came_c(serving: Serving, at: int) -> float:
    """How warm is what a step brings into the cup, from the shaker as well; 0 where nothing."""
    step = serving.steps[at].step
    if isinstance(step, AddStep):
        return step.component.poured_c if step.into == "cup" else 0.0
    before, after = _before(serving, at), serving.steps[at].state.contents
    came_g = after.liquid_g - before.liquid_g
    pours = step.action in EMPTIES and came_g > 0.0
    return (after.heat_g_c - before.heat_g_c) / came_g if pours else 0.0


def _cooled_in_cup(serving: Serving, at: int) -> bool:
    """Whether a step pours onto ice, or with it, or onto so much that is colder that both together
    scald nobody."""
    before, after = _before(serving, at), serving.steps[at].state.contents
    mixed = before.liquid_g > 0.0 and after.heat_g_c <= SCALD_C * after.liquid_g
    return after.ice_g > 0.0 or mixed


def _before(serving: Serving, at: int) -> Contents:
    return serving.steps[at - 1].state.contents if at else EMPTY


@rule("HOT02", "ice-melts-unsaid", Severity.ERROR, each_order)
def ice_melts_unsaid(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """Hot drink on ice needs a chill step, so that the melted ice is counted, with each add-on too.

    At the counter: 200 g of tea at 90 degC melt 100 g of ice to the last cube and still stand at
    33 degC; the line, the strength and the food-safety time are all different from what was
    written.

    Trips it: ice in the cup, then hot tea, then the lid.
    Fixed: add do: chill after the tea, and check its temperature.

    Source: heat balance with IAPWS-95 and R10-06 figures; fill model section 4.
    """
    contents = serving.final.contents
    if contents.ice_g > 0.0 and contents.heat_g_c > MELTS_C * contents.liquid_g:
        warm = degrees(contents.heat_g_c / contents.liquid_g, menu.shop)
        yield found(
            serving.drink.span,
            f"{place(serving)}: the drink is {warm} warm "
            "when it meets the ice, and no step says that it chills",
            "add do: chill after the last warm liquid",
        )


@rule("HOT03", "never-gets-cold", Severity.WARNING, each_order)
def never_gets_cold(menu: Menu, serving: Serving) -> Iterator[Finding]:
    """A drink that is chilled with ice should end cold, with each add-on too.

    It is worked out with the usual ice: who asks for less gets a warmer drink.

    At the counter: hot tea straight onto a scoop of ice is warm when served, and warm sweet milk
    is where germs grow; the ice is gone and the drink thin.

    Trips it: 200 g at 90 degC on 100 g of ice (33 degC).
    Fixed: cool the brew first, or shake it with twice the ice.

    Source: FDA Food Code 3-501.16 (cold holding); fill model section 4.
    """
    limit = menu.shop.cold_limit_c
    for figure in serving.steps:
        chilled = figure.chilled
        if chilled is not None and chilled.temperature_c > limit:
            yield found(
                figure.step.span,
                f"{place(serving)}: all the ice melts and the drink ends at "
                f"{degrees(chilled.temperature_c, menu.shop)}, above {degrees(limit, menu.shop)}",
                "more ice, or a colder base",
            )
