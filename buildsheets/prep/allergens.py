"""Menu entries go in; the allergens they bring come out, each with the path that brought it.

``contains`` and ``may contain`` are kept apart. An entry nobody declared is named as undeclared
with its path: it is never read as "none". What an option leaves out still passed over the same
counter, so its allergens stay as ``may contain`` and no cross-contact statement is ever dropped.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

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
    return _gather([_declared(ingredient.declared, (ingredient,))])


def of_batch(batch: Batch) -> AllergenReport:
    """Allergens of a batch: of everything in it, and of the equipment it shares."""
    return _gather([_batch(batch, (batch,))])


def of_component(component: Component) -> AllergenReport:
    """Allergens of a component: of its source and of its own declaration.

    Ice without a source is the shop's water and needs no declaration; anything else without a
    source must declare for itself.
    """
    return _gather([_component(component, (component,))])


def of_add_on(add_on: AddOn) -> AllergenReport:
    """Allergens of an add-on."""
    return _gather([_component(add_on.component, (add_on, add_on.component))])


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
    chosen = list(add_ons)
    really = None if used is None else {component.id for component in used}
    parts: list[_Found] = []
    for step in drink.steps:
        if not isinstance(step, AddStep) or (cup is not None and cup not in step.amounts):
            continue
        found = _component(step.component, (drink, step.component))
        left_out = really is not None and step.component.id not in really
        parts.append(_left_out(found) if left_out else found)
    for add_on in chosen:
        parts.append(_component(add_on.component, (drink, add_on, add_on.component)))
    return _gather(parts)


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


@dataclass(frozen=True, slots=True)
class _Found:
    contains: tuple[tuple[str, Trace], ...] = ()
    may_contain: tuple[tuple[str, Trace], ...] = ()
    undeclared: tuple[tuple[Entry, ...], ...] = ()


def _declared(declared: Declared, path: tuple[Entry, ...]) -> _Found:
    may = tuple((a, Trace(path, "may-contain")) for a in declared.may_contain)
    if declared.contains is None:
        return _Found((), may, (path,))
    return _Found(tuple((a, Trace(path, "contains")) for a in declared.contains), may)


def _batch(batch: Batch, path: tuple[Entry, ...]) -> _Found:
    found = [_item(part.item, path) for part in batch.parts]
    cross = tuple((a, Trace(path, "cross-contact")) for a in batch.cross_contact)
    return _joined([*found, _Found((), cross)])


def _item(item: Ingredient | Batch, path: tuple[Entry, ...]) -> _Found:
    here = (*path, item)
    return _batch(item, here) if isinstance(item, Batch) else _declared(item.declared, here)


def _component(component: Component, path: tuple[Entry, ...]) -> _Found:
    found: list[_Found] = []
    own = component.declared
    if component.source is not None:
        found.append(_item(component.source, path))
        if own is not None:
            extra = _declared(own, path)
            found.append(_Found(extra.contains, extra.may_contain))
    elif own is not None:
        found.append(_declared(own, path))
    elif component.role != "ice":
        found.append(_Found((), (), (path,)))
    return _joined(found)


def _left_out(found: _Found) -> _Found:
    moved = tuple((a, Trace(trace.path, "left-out")) for a, trace in found.contains)
    return _Found((), moved + found.may_contain, found.undeclared)


def _joined(found: Sequence[_Found]) -> _Found:
    return _Found(
        tuple(entry for one in found for entry in one.contains),
        tuple(entry for one in found for entry in one.may_contain),
        tuple(path for one in found for path in one.undeclared),
    )


def _gather(found: Sequence[_Found]) -> AllergenReport:
    whole = _joined(found)
    contains = _by_allergen(whole.contains)
    may = {a: t for a, t in _by_allergen(whole.may_contain).items() if a not in contains}
    undeclared: dict[tuple[int, ...], tuple[Entry, ...]] = {}
    for path in whole.undeclared:
        undeclared.setdefault(tuple(id(entry) for entry in path), path)
    return AllergenReport(contains, may, tuple(undeclared.values()))


def _by_allergen(entries: Iterable[tuple[str, Trace]]) -> dict[str, tuple[Trace, ...]]:
    grouped: dict[str, dict[tuple[tuple[str, ...], str], Trace]] = {}
    for allergen, trace in entries:
        key = (tuple(type(e).__name__ + ":" + e.id for e in trace.path), trace.because)
        grouped.setdefault(allergen, {}).setdefault(key, trace)
    return {allergen: tuple(ways.values()) for allergen, ways in grouped.items()}
