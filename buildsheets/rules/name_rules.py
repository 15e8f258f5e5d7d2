"""Rules of what a thing is called: milk that declares none, soda that is not fizzy."""

from __future__ import annotations

from collections.abc import Iterator

from buildsheets.findings.finding import Finding, Label, Severity
from buildsheets.menu.components import Liquid
from buildsheets.menu.model import Component, Ingredient, Menu
from buildsheets.menu.tables import ALLERGEN_KINDS, allergen_group
from buildsheets.rules.names import allergens_named, fizz_named
from buildsheets.rules.registry import each_component, each_ingredient, found, rule


@rule("ALG04", "allergen-in-name", Severity.WARNING, each_ingredient, whole=True)
def allergen_in_name(menu: Menu, item: Ingredient) -> Iterator[Finding]:
    """An ingredient's id or name speaks of an allergen, and its contains: does not.

    Words of four languages are known, for most of the list followed. Coconut milk is no milk, and
    almond milk is almonds. Accept it, with the reason, where the label names none: a hazelnut syrup
    of flavouring alone.

    At the counter: a guest with the allergy reads the card and drinks it.

    Trips it::

        ingredients:
          milk: {contains: []}

    Fixed::

        ingredients:
          milk: {contains: [milk]}

    Source: Regulation (EU) 1169/2011, Article 21 and Annex II; the words are from memory.
    """
    contains = item.declared.contains
    if contains is None:
        return
    on_list = menu.shop.allergens
    for allergen, word in allergens_named(item, item.name).items():
        group = allergen_group(allergen, ALLERGEN_KINDS)
        if group not in on_list:
            group = allergen_group(allergen, ("tree-nuts",))
        if group not in on_list or {allergen, group} & set(contains):
            continue
        declared = ", ".join(contains) or "nothing"
        yield found(
            item.declared.span,
            f"the name of '{item.id}' says {word}, and {allergen} is not declared: it declares "
            f"{declared}",
            f"is its label really silent? Write contains: [{', '.join((*contains, allergen))}], or "
            f"accept it with allow: [{{finding: ALG04, at: {item.id}, reason: …}}]",
        )


@rule("GAS06", "head-not-measured", Severity.NOTE, each_component)
def head_not_measured(menu: Menu, component: Component) -> Iterator[Finding]:
    """Something fizzy does not say how high its foam stands while it is poured.

    At the counter: its foam may run over the rim, though the drink fits once it has fallen.

    Trips it::

        bases:
          tea: {fizzy: yes}

    Fixed::

        bases:
          tea: {fizzy: yes, head: 15 %}

    Source: common practice, no source.
    """
    if isinstance(component, Liquid) and component.fizzy and not component.says("head"):
        yield found(
            component.at("fizzy"),
            f"the head of {component.id} is not measured: its foam is not checked against the rim",
            "pour it five times into a jug with marks; buildsheets measure head figures it",
        )


@rule("GAS07", "fizz-unsaid", Severity.NOTE, each_component)
def fizz_unsaid(menu: Menu, component: Component) -> Iterator[Finding]:
    """A base or sweetener is called soda, tonic or the like, and does not say whether it is fizzy.

    Syrups and powders are left out. fizzy: no says that it holds no gas.

    At the counter: what holds gas must not be shaken; that is checked only of what is fizzy.

    Trips it::

        bases:
          club-soda: {from: water, tool: jug, station: bar}

    Fixed::

        bases:
          club-soda: {from: water, tool: jug, station: bar, fizzy: yes, head: 15 %}

    Source: common practice, no source; the words are from memory.
    """
    if not isinstance(component, Liquid) or component.says("fizzy"):
        return
    source = component.source
    word = fizz_named(component, component.name) or fizz_named(source, source.name)
    if word:
        yield found(
            component.span,
            f"the name of {component.id} says {word}, and nothing says whether it holds gas",
            "write fizzy: yes, or fizzy: no",
            labels=(Label(source.span, "poured from this"),),
        )
