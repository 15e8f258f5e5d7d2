"""A menu's nodes go in; the linked menu and a finding for everything wrong in it come out.

Names are objects, amounts are plain floats with their unit in the name. Read by figures, checks
and cards; never changed. Each entry keeps ``span`` (where it is written) so that any figure can
name its origin.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, get_args

from buildsheets.findings.finding import Finding, Label
from buildsheets.findings.spelling import listed
from buildsheets.menu import nodes
from buildsheets.menu.amounts import Amount
from buildsheets.menu.components import LIQUID, Component, Ice, Liquid, Topping
from buildsheets.menu.drinks import (
    EMPTIES,
    AddStep,
    DaySales,
    DoStep,
    Drink,
    LineTo,
    SalesLine,
    Step,
)
from buildsheets.menu.equipment import CupShape, CupSize, Station, Tolerance, Tool
from buildsheets.menu.ingredients import (
    Batch,
    BatchPart,
    BatchStep,
    Declared,
    Ingredient,
    KeepsFor,
    Nutrition,
    Pack,
)
from buildsheets.menu.kitchen import People, Thing
from buildsheets.menu.linker import Failed, Linker
from buildsheets.menu.nodes import Pair, text_at
from buildsheets.menu.options import AddOn, IceLevels, Options, Sweetness
from buildsheets.menu.packaging import Packaging
from buildsheets.menu.quantity import Measures
from buildsheets.menu.schema import NOWHERE, Record, Text, Written, key, keys_of, maybe
from buildsheets.menu.shop import NO_EDITION, NO_SHOP, Allow, Edition, LabelSheet, Shop
from buildsheets.menu.swaps import Swap
from buildsheets.menu.values import meant_keys

__all__ = [
    "EMPTIES",
    "AddOn",
    "AddStep",
    "Allow",
    "Amount",
    "Batch",
    "BatchPart",
    "BatchStep",
    "Component",
    "CupShape",
    "CupSize",
    "DaySales",
    "Declared",
    "DoStep",
    "Drink",
    "Edition",
    "IceLevels",
    "Ingredient",
    "KeepsFor",
    "LabelSheet",
    "LineTo",
    "Menu",
    "Nutrition",
    "Options",
    "Pack",
    "Packaging",
    "People",
    "SalesLine",
    "Shop",
    "Station",
    "Step",
    "Swap",
    "Sweetness",
    "Text",
    "Thing",
    "Tolerance",
    "Tool",
    "Written",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Menu(Record):
    """A whole menu: the sections of one file or of several files together.

    ``components`` are the bases, sweeteners, toppings and ice.
    """

    shop: Shop = key("the shop's own choices")
    edition: Edition = key("the season's menu")
    stations: Mapping[str, Station] = key("places at the counter")
    tools: Mapping[str, Tool] = key("measuring tools", factory=dict)
    cups: Mapping[str, CupSize] = key("the cups sold, by size")
    ingredients: Mapping[str, Ingredient] = key("what is bought", factory=dict)
    kitchen: Mapping[str, Thing] = key(
        "what steps of prep need: kettles, burners, pots, ovens, ice baths, fridges", factory=dict
    )
    packaging: Mapping[str, Packaging] = key(
        "what drinks go out in and with: cups, lids, straws", factory=dict
    )
    batches: Mapping[str, Batch] = key("what is prepared", factory=dict)
    bases: Mapping[str, Liquid] = key("liquid bodies", factory=dict, needed=True)
    sweeteners: Mapping[str, Liquid] = key("what sweetens", factory=dict)
    toppings: Mapping[str, Topping] = key("what is added", factory=dict)
    ice: Mapping[str, Ice] = key("sorts of ice", factory=dict)
    options: Options | None = maybe("what guests may choose")
    add_ons: Mapping[str, AddOn] = key("toppings a guest may add", factory=dict)
    swaps: Mapping[str, Swap] = key("what a guest may have instead", factory=dict)
    drinks: Mapping[str, Drink] = key("the drinks")
    days: Mapping[str, DaySales] = key("expected sales, for the prep plan", factory=dict)
    allows: tuple[Allow, ...] = key(
        "findings the owner accepts, with the reason", "allow", default=()
    )
    components: Mapping[str, Component] = field(default_factory=dict)

    def sells(self, drink: Drink) -> bool:
        """Whether a drink is sold on any day of the edition."""
        return drink.is_sold_between(self.edition.valid_from, self.edition.valid_to)

    def cups_with(self, add_on: AddOn) -> tuple[CupSize, ...]:
        """The cups that some drink is offered in with an add-on."""
        drinks = self.drinks.values()
        with_it = [one for one in drinks if any(its.id == add_on.id for its in one.add_ons)]
        sold = {cup.id for drink in with_it for cup in drink.cups if cup.id in add_on.amounts}
        return tuple(cup for cup in self.cups.values() if cup.id in sold)

    def always_sells(self, drink: Drink) -> bool:
        """Whether a drink is sold on every day of the edition."""
        edition = self.edition
        return drink.is_sold_on(edition.valid_from) and drink.is_sold_on(edition.valid_to)


def _record_in(hint: object) -> type[Record]:
    if isinstance(hint, type) and issubclass(hint, Record):
        return hint
    return next(_record_in(part) for part in get_args(hint) if part not in (str, type(None), ...))


SECTIONS = {name: _record_in(key.hint) for name, key in keys_of(Menu).items()}
"""What an entry of each section is."""

BY_ID = tuple(name for name in SECTIONS if name not in ("shop", "edition", "options", "allow"))
"""The sections that have entries by id."""

COMPONENTS = ("bases", "sweeteners", "toppings", "ice")
SHARED_NAMES = (("ingredients", "batches", "packaging"), COMPONENTS)
"""Sections whose entries are named in one place, so that no name may stand twice in them."""


def link(root: nodes.Mapping) -> tuple[Menu, list[Finding]]:
    """The menu with whatever could be linked, and a finding for everything that could not.

    An entry that fails is left out; whatever needs it is left out without a second finding. A shop
    or an edition that could not be read has a stand-in, so that the rest is checked all the same.
    """
    declared = text_at(root, "shop", "measures")  # known before anything is read with it
    linker = Linker(measures=next((one for one in Measures if one == declared), None))
    keys = keys_of(Menu)
    given = {key.key: pair for key, pair in meant_keys(root, Menu, None, linker.findings).items()}
    for name in BY_ID:
        linker.add_section(keys[name], given.get(name), root.broken)
    for names in SHARED_NAMES:
        _refuse_doubles(linker, names)
    shop = linker.record_over(given.get("shop"), NO_SHOP)
    edition = linker.record_over(given.get("edition"), NO_EDITION)
    linker.allergens = shop.every_allergen
    linker.allergens_lost = bool({"allergen_list", "more_allergens"} & shop.failed)
    linker.shop = shop
    linker.options = _value(linker, given, "options") or Options(span=NOWHERE)
    _refuse_twin_letters(linker)
    sections: dict[str, Any] = {name: linker.section(name) for name in BY_ID}
    cups = sections["cups"].values()
    menu = Menu(
        span=root.span,
        shop=replace(shop, in_inches=bool(cups) and all(cup.in_inches for cup in cups)),
        edition=edition,
        options=linker.options,
        allows=_value(linker, given, "allow") or (),
        components={id: one for name in COMPONENTS for id, one in sections[name].items()},
        **sections,
    )
    _clear_packs(linker, menu)
    return menu, linker.findings


def _clear_packs(linker: Linker, menu: Menu) -> None:
    """Refuse plain ounces of a pack that may be of a liquid: of what is poured as one, or has a
    density and is no topping."""
    ways: dict[str, set[str]] = {}
    for one in menu.components.values():
        if one.source is not None:
            ways.setdefault(one.source.id, set()).add(one.behaves)
    for item in menu.ingredients.values():
        behaves = ways.get(item.id)
        solid = item.density_g_ml is None if behaves is None else behaves.isdisjoint(LIQUID)
        if item.pack is not None and not solid:
            linker.clear_ounces(item.pack, "quantity", item.pack.holds)


def _value(linker: Linker, given: dict[str, Pair], name: str) -> Any:
    if name not in given:
        return None
    value = linker.value(given[name].value, keys_of(Menu)[name].hint, given[name].key)
    return None if isinstance(value, Failed) else value


def _refuse_doubles(linker: Linker, names: tuple[str, ...]) -> None:
    """Leave out an entry whose name stands in an earlier section that shares its names."""
    seen: dict[str, Pair] = {}
    for section in names:
        pairs = linker.sections[section].pairs
        for id in [id for id in pairs if id in seen]:
            span, labels = pairs.pop(id).key.span, (Label(seen[id].key.span, "first here"),)
            hint = f"{listed(names, 'and')} share one list of names"
            linker.error("REF02", span, f"'{id}' is the name of two things", hint, labels=labels)
        seen |= pairs


def _refuse_twin_letters(linker: Linker) -> None:
    """Leave out a station whose letter another has, since letters mark cards in grey print."""
    first: dict[str, Station] = {}
    for id, station in linker.section("stations").items():
        other = first.setdefault(station.letter, station)
        if other is not station:
            linker.sections["stations"].linked[id] = None
            linker.error(
                "STN02",
                station.written("letter").span,
                f"two stations are marked '{station.letter}'; in grey print nobody could tell "
                "them apart",
                labels=(Label(other.written("letter").span, "also marked so"),),
            )
