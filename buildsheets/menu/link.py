"""A menu's nodes go in; the linked menu and a finding for everything wrong in it come out."""

from __future__ import annotations

from typing import Any

from buildsheets.findings.finding import Finding, Label
from buildsheets.findings.spelling import listed
from buildsheets.menu.keys import meant_keys
from buildsheets.menu.linker import Failed, Linker
from buildsheets.menu.model import SECTIONS, Menu, Options, Station
from buildsheets.menu.nodes import Mapping, Pair, text_at
from buildsheets.menu.quantity import Measures
from buildsheets.menu.schema import NOWHERE, keys_of
from buildsheets.menu.shop import NO_EDITION, NO_SHOP

BY_ID = tuple(name for name in SECTIONS if name not in ("shop", "edition", "options", "allow"))
"""The sections that have entries by id."""

COMPONENTS = ("bases", "sweeteners", "toppings", "ice")
SHARED_NAMES = (("ingredients", "batches"), COMPONENTS)
"""Sections whose entries are named in one place, so that no name may stand twice in them."""


def link(root: Mapping) -> tuple[Menu, list[Finding]]:
    """The menu with whatever could be linked, and a finding for everything that could not.

    An entry that fails is left out; whatever needs it is left out without a second finding. A shop
    or an edition that could not be read has a stand-in, so that the rest is checked all the same.
    """
    linker = Linker(measures=declared_measures(root))
    keys = keys_of(Menu)
    given = {key.key: pair for key, pair in meant_keys(root, Menu, None, linker.findings).items()}
    for name in BY_ID:
        linker.add_section(keys[name], given.get(name), root.broken)
    for names in SHARED_NAMES:
        _refuse_doubles(linker, names)
    shop = linker.record_over(given.get("shop"), NO_SHOP)
    edition = linker.record_over(given.get("edition"), NO_EDITION)
    linker.allergens = shop.allergens
    linker.allergens_lost = bool({"allergen_list", "more_allergens"} & shop.failed)
    linker.options = _value(linker, given, "options") or Options(span=NOWHERE)
    _refuse_twin_letters(linker)
    sections: dict[str, Any] = {name: linker.section(name) for name in BY_ID}
    menu = Menu(
        span=root.span,
        shop=shop,
        edition=edition,
        options=linker.options,
        allows=_value(linker, given, "allow") or (),
        components={id: one for name in COMPONENTS for id, one in sections[name].items()},
        **sections,
    )
    return menu, linker.findings


def declared_measures(root: Mapping) -> Measures | None:
    """The spoon system the shop declares, known before anything is read with it."""
    try:
        return Measures(text_at(root, "shop", "measures") or "")
    except ValueError:
        return None


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
            linker.error(
                "REF02",
                pairs.pop(id).key.span,
                f"'{id}' is the name of two things",
                hint=f"{listed(names, 'and')} share one list of names",
                labels=(Label(seen[id].key.span, "first here"),),
            )
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
