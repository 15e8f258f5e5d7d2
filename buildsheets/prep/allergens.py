"""Menu entries go in; the allergens they bring come out, each with the path that brought it.

``contains`` and ``may contain`` are kept apart. An entry nobody declared is named as undeclared
with its path: it is never read as "none". What an option leaves out still passed over the same
counter, so its allergens stay as ``may contain`` and no cross-contact statement is ever dropped.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from buildsheets.menu.model import (
    AddOn,
    AddStep,
    Batch,
    Component,
    Declared,
    Drink,
    Ingredient,
    Menu,
    Shop,
)

Entry = Ingredient | Batch | Component | AddOn | Drink


@dataclass(frozen=True, slots=True)
class Trace:
    """One way an allergen came in: from the entry asked about down to the one that declares it.

    ``because`` is "contains", "may-contain" (declared so), "cross-contact" (a batch's shared
    equipment) or "left-out" (contained by something this choice leaves out of the cup).
    """

    path: tuple[Entry, ...]
    because: str

    def words(self, language: str) -> str:
        """The path in words, without the entry asked about: ``cream cap <- condensed milk``."""
        return " <- ".join(names_of(self.path[1:] or self.path, language))

    @property
    def origin(self) -> Entry:
        """The entry that declares the allergen."""
        return self.path[-1]


@dataclass(frozen=True, slots=True)
class AllergenReport:
    """What an entry contains, what it may contain besides, and what nobody declared.

    Keys are allergen ids; an id in ``contains`` is not repeated in ``may_contain``.
    ``undeclared`` holds the path to each entry without a declaration.
    """

    contains: Mapping[str, tuple[Trace, ...]]
    may_contain: Mapping[str, tuple[Trace, ...]]
    undeclared: tuple[tuple[Entry, ...], ...]

    def verdict(self, allergen: str) -> str:
        """ "contains", "may-contain", "undeclared" or "none-declared" for one allergen.

        "undeclared" wins over "none-declared": while a declaration is missing, nobody can tell.
        """
        if allergen in self.contains:
            return "contains"
        if allergen in self.may_contain:
            return "may-contain"
        return "undeclared" if self.undeclared else "none-declared"


def of_ingredient(ingredient: Ingredient) -> AllergenReport:
    """Allergens an ingredient declares."""
    return _report(_item((ingredient,)))


def of_batch(batch: Batch) -> AllergenReport:
    """Allergens of a batch: of everything in it, and of the equipment it shares."""
    return _report(_item((batch,)))


def of_component(component: Component) -> AllergenReport:
    """Allergens of a component: of its source and of its own declaration.

    Ice without a source is the shop's water and needs no declaration; anything else without a
    source must declare for itself.
    """
    return _report(_component(component))


def of_add_on(add_on: AddOn) -> AllergenReport:
    """Allergens of an add-on."""
    return _report(_component(add_on.component, add_on))


def of_drink(
    drink: Drink,
    *,
    cup: str | None = None,
    add_ons: Iterable[AddOn] = (),
    used: Iterable[Component] | None = None,
) -> AllergenReport:
    """Allergens of a drink, with the add-ons chosen.

    ``cup`` limits it to the steps that add something in that cup; ``used`` names the components
    a choice really put in (sweetness 0 % leaves the sweetener out). What is written for the
    drink and left out by the choice counts as may contain, because ``left-out``.
    """
    in_cup = None if used is None else {component.id for component in used}
    found: list[_Statement] = []
    for step in drink.steps:
        if not isinstance(step, AddStep) or (cup is not None and cup not in step.amounts):
            continue
        component = step.component
        for allergen, trace in _component(component, drink):
            if in_cup is not None and component.id not in in_cup and trace.because == "contains":
                trace = Trace(trace.path, "left-out")
            found.append((allergen, trace))
    for add_on in add_ons:
        found += _component(add_on.component, drink, add_on)
    return _report(found)


def of_everything_sold(menu: Menu) -> tuple[tuple[Drink | AddOn, AllergenReport], ...]:
    """Allergens of each drink as written, then of each add-on."""
    drinks = ((drink, of_drink(drink)) for drink in menu.drinks.values())
    return (*drinks, *((add_on, of_add_on(add_on)) for add_on in menu.add_ons.values()))


def names_of(path: Iterable[Entry], language: str) -> list[str]:
    """Names along a path; a component named as its source is named once."""
    names: list[str] = []
    for entry in path:
        name = entry.name.in_language(language)
        if names[-1:] != [name]:
            names.append(name)
    return names


def ordered(ids: Iterable[str], shop: Shop) -> tuple[str, ...]:
    """Allergen ids in the order of the shop's list; ids outside the list come last, by name."""
    rank = {allergen: place for place, allergen in enumerate(shop.allergens)}
    return tuple(sorted(set(ids), key=lambda a: (rank.get(a, len(rank)), a)))


_Statement: TypeAlias = tuple[str, Trace]
"""An allergen id and how it came in; "" because "undeclared" where a declaration is missing."""


def _declared(declared: Declared, path: tuple[Entry, ...]) -> Iterator[_Statement]:
    for allergen in declared.may_contain:
        yield allergen, Trace(path, "may-contain")
    if declared.contains is None:
        yield "", Trace(path, "undeclared")
    for allergen in declared.contains or ():
        yield allergen, Trace(path, "contains")


def _item(path: tuple[Entry, ...]) -> Iterator[_Statement]:
    """What the ingredient or batch at the end of a path brings."""
    item = path[-1]
    if isinstance(item, Ingredient):
        yield from _declared(item.declared, path)
    elif isinstance(item, Batch):
        for part in item.parts:
            yield from _item((*path, part.item))
        for allergen in item.cross_contact:
            yield allergen, Trace(path, "cross-contact")


def _component(component: Component, *above: Entry) -> Iterator[_Statement]:
    path = (*above, component)
    own = () if component.declared is None else _declared(component.declared, path)
    if component.source is not None:
        yield from _item((*path, component.source))
        yield from (one for one in own if one[1].because != "undeclared")
    elif component.declared is not None:
        yield from own
    elif component.role != "ice":
        yield "", Trace(path, "undeclared")


def _report(statements: Iterable[_Statement]) -> AllergenReport:
    contains: dict[str, dict[object, Trace]] = {}
    may_contain: dict[str, dict[object, Trace]] = {}
    undeclared: dict[object, tuple[Entry, ...]] = {}
    for allergen, trace in statements:
        key = (tuple((type(entry), entry.id) for entry in trace.path), trace.because)
        if trace.because == "undeclared":
            undeclared.setdefault(key, trace.path)
        else:
            kind = contains if trace.because == "contains" else may_contain
            kind.setdefault(allergen, {}).setdefault(key, trace)
    return AllergenReport(
        {allergen: tuple(ways.values()) for allergen, ways in contains.items()},
        {a: tuple(ways.values()) for a, ways in may_contain.items() if a not in contains},
        tuple(undeclared.values()),
    )
