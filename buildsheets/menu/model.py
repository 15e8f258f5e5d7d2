"""The linked menu and all that stands in it: what ``link.py`` makes of a menu's nodes.

Names are objects, amounts are plain floats with their unit in the name. Read by figures, checks
and cards; never changed. Each entry keeps ``span`` (where it is written) so that any figure can
name its origin.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import get_args

from buildsheets.menu.components import Amount, Component, Ice, Liquid, Topping
from buildsheets.menu.days import DaySales, SalesLine
from buildsheets.menu.drinks import AddOn, AddStep, DoStep, Drink, LineTo, Step
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
from buildsheets.menu.options import IceLevels, Options, Sweetness
from buildsheets.menu.schema import Record, Text, Written, key, keys_of
from buildsheets.menu.shop import Allow, Edition, LabelSheet, Shop

__all__ = [
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
    "SalesLine",
    "Shop",
    "Station",
    "Step",
    "Sweetness",
    "Text",
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
    batches: Mapping[str, Batch] = key("what is prepared", factory=dict)
    bases: Mapping[str, Liquid] = key("liquid bodies", factory=dict, needed=True)
    sweeteners: Mapping[str, Liquid] = key("what sweetens", factory=dict)
    toppings: Mapping[str, Topping] = key("what is added", factory=dict)
    ice: Mapping[str, Ice] = key("sorts of ice", factory=dict)
    options: Options | None = key("what guests may choose", default=None)
    add_ons: Mapping[str, AddOn] = key("toppings a guest may add", factory=dict)
    drinks: Mapping[str, Drink] = key("the drinks")
    days: Mapping[str, DaySales] = key("expected sales, for the prep plan", factory=dict)
    allows: tuple[Allow, ...] = key(
        "findings the owner accepts, with the reason", "allow", default=()
    )
    components: Mapping[str, Component] = field(default_factory=dict)


def _record_in(hint: object) -> type[Record]:
    if isinstance(hint, type) and issubclass(hint, Record):
        return hint
    return next(_record_in(part) for part in get_args(hint) if part not in (str, type(None), ...))


SECTIONS = {name: _record_in(key.hint) for name, key in keys_of(Menu).items()}
"""What an entry of each section is."""
