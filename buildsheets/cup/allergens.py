"""Menu entries go in; the allergens they bring come out, each with the path that brought it.

``contains`` and ``may contain`` are kept apart. An entry nobody declared is named as undeclared
with its path: it is never read as "none".
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from buildsheets.cup.swaps import swap_sets, swapped
from buildsheets.menu.model import (
    AddOn,
    AddStep,
    Batch,
    Component,
    Declared,
    Drink,
    Ingredient,
    Menu,
    Swap,
    Tool,
)
from buildsheets.menu.tables import ALLERGEN_KINDS

Entry = Ingredient | Batch | Component | AddOn | Swap | Drink


@dataclass(frozen=True, slots=True)
class Trace:
    """One way an allergen came in: from the entry asked about down to the one that declares it.

    ``because`` is "contains", "may-contain" (declared so) or "cross-contact" (a batch's shared
    equipment).
    """

    path: tuple[Entry, ...]
    because: str

    def words(self, language: str) -> str:
        """The path in words, without the entry asked about: ``cream cap <- condensed milk``."""
        return " <- ".join(names_of(self.path[1:] or self.path, language))


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

        A group's is that of anything in it, as oats for gluten. "undeclared" wins over
        "none-declared": while a declaration is missing, nobody can tell.
        """
        group = {allergen, *ALLERGEN_KINDS.get(allergen, ())}
        if group & self.contains.keys():
            return "contains"
        if group & self.may_contain.keys():
            return "may-contain"
        return "undeclared" if self.undeclared else "none-declared"

    def together(self, others: Iterable[AllergenReport]) -> AllergenReport:
        """What this and the others bring in one cup."""
        every = (self, *others)
        contains = {id_: how for one in every for id_, how in one.contains.items()}
        return AllergenReport(
            contains,
            {
                id_: how
                for one in every
                for id_, how in one.may_contain.items()
                if id_ not in contains
            },
            tuple(dict.fromkeys(path for one in every for path in one.undeclared)),
        )

    def besides(self, other: AllergenReport) -> AllergenReport:
        """What of this is not in another entry, or only may be."""
        perhaps = {*other.contains, *other.may_contain}
        return AllergenReport(
            {id_: how for id_, how in self.contains.items() if id_ not in other.contains},
            {id_: how for id_, how in self.may_contain.items() if id_ not in perhaps},
            self.undeclared,
        )


def allergen_report(entry: Entry, cup: str = "") -> AllergenReport:
    """Allergens of an entry and of everything in it, equipment that a batch shares included.

    ``cup`` limits a drink to the steps that add something in that cup. Ice without a source is the
    shop's water and needs no declaration; any other component without one must declare for itself.
    """
    contains: dict[str, dict[object, Trace]] = {}
    may_contain: dict[str, dict[object, Trace]] = {}
    undeclared: dict[object, tuple[Entry, ...]] = {}
    for allergen, trace in _statements((entry,), cup):
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


@dataclass(frozen=True, slots=True)
class SwapReport:
    """What a swap brings into a drink, and what becomes of each allergen of what it replaces.

    ``still`` and ``perhaps_still`` name the parts of the drink through which one is, or may be, in
    it even so; ``gone`` are those the drink no longer contains, ``again`` and ``perhaps_again`` the
    add-ons and other swaps that bring one of them back.
    """

    brings: AllergenReport
    gone: tuple[str, ...]
    still: Mapping[str, tuple[Component, ...]]
    perhaps_still: Mapping[str, tuple[Component, ...]]
    again: Mapping[str, tuple[AddOn | Swap, ...]]
    perhaps_again: Mapping[str, tuple[AddOn | Swap, ...]]


def swap_report(swap: Swap, made: AllergenReport, others: Sequence[AddOn | Swap]) -> SwapReport:
    """A swap in a drink: ``made`` is of the drink with it, ``others`` what else may be chosen."""
    old, new = allergen_report(swap.replaced), allergen_report(swap.component)
    # What the swap itself contains, its own line says.
    left = [one for one in old.contains if new.verdict(one) != "contains"]
    still = _through(made.contains, left)
    gone = tuple(one for one in left if one not in still and new.verdict(one) != "may-contain")
    reports = [(other, allergen_report(other)) for other in others]

    def brought(verdict: str) -> Mapping[str, tuple[AddOn | Swap, ...]]:
        found = {
            one: tuple(other for other, report in reports if report.verdict(one) == verdict)
            for one in gone
        }
        return {one: by for one, by in found.items() if by}

    perhaps = _through(made.may_contain, gone)
    return SwapReport(new, gone, still, perhaps, brought("contains"), brought("may-contain"))


def _through(
    found: Mapping[str, Sequence[Trace]], allergens: Iterable[str]
) -> Mapping[str, tuple[Component, ...]]:
    """The parts of a drink that bring each allergen, or one of its group; of none, nothing."""
    parts: dict[str, dict[str, Component]] = {}
    for allergen in allergens:
        for one in (allergen, *ALLERGEN_KINDS.get(allergen, ())):
            for trace in found.get(one, ()):
                if isinstance(part := trace.path[1], Component):
                    parts.setdefault(allergen, {})[part.id] = part
    return {allergen: tuple(by.values()) for allergen, by in parts.items()}


def measures_any(menu: Menu, tool: Tool, allergens: Collection[str]) -> bool:
    """Whether a tool also measures something with one of these allergens, be it a trace.

    A line of the cup and a scale touch nothing.
    """
    if tool.kind in ("line", "scale"):
        return False
    steps = [step for drink in menu.drinks.values() if menu.sells(drink) for step in drink.steps]
    used = {step.component.id: step.component for step in steps
            if isinstance(step, AddStep) and step.tool and step.tool.id == tool.id}  # fmt: skip
    offered: list[AddOn | Swap] = [*menu.add_ons.values(), *menu.swaps.values()]
    used |= {one.component.id: one.component for one in offered
             if one.component.tool and one.component.tool.id == tool.id}  # fmt: skip
    reports = [allergen_report(component) for component in used.values()]
    measured = {"contains", "may-contain"}
    return any(report.verdict(one) in measured for report in reports for one in allergens)


def of_everything_sold(menu: Menu) -> tuple[tuple[Drink | AddOn, AllergenReport], ...]:
    """Allergens of each drink of the edition as written and with its swaps, then of each add-on."""
    sold: list[Drink | AddOn] = []
    for drink in menu.drinks.values():
        if menu.sells(drink):
            for one in _told_apart(drink):
                sold += [swapped(one, [swap.id for swap in chosen]) for chosen in swap_sets(one)]
    sold += menu.add_ons.values()
    return tuple((entry, allergen_report(entry)) for entry in sold)


def _told_apart(drink: Drink) -> tuple[Drink, ...]:
    """A drink, or its hot and its iced build where, or with a swap, these bring other allergens."""
    said = []
    for build in drink.each_build:
        each = [tuple(swap.id for swap in chosen) for chosen in swap_sets(build)]
        reports = {ids: allergen_report(swapped(build, ids)) for ids in each}
        said.append(
            {
                ids: (one.contains.keys(), one.may_contain.keys(), bool(one.undeclared))
                for ids, one in reports.items()
            }
        )
    return (drink,) if all(one == said[0] for one in said) else drink.each_build


def names_of(path: Iterable[Entry], language: str) -> list[str]:
    """Names along a path; a component named as its source is named once."""
    names: list[str] = []
    for entry in path:
        name = entry.name.in_language(language)
        if names[-1:] != [name]:
            names.append(name)
    return names


_Statement: TypeAlias = tuple[str, Trace]
"""An allergen id and how it came in; "" because "undeclared" where a declaration is missing."""


def _statements(path: tuple[Entry, ...], cup: str) -> Iterator[_Statement]:
    """What the entry at the end of a path brings."""
    entry = path[-1]
    if isinstance(entry, Drink):
        for step in entry.steps:
            if isinstance(step, AddStep) and (not cup or cup in step.amounts):
                yield from _statements((*path, step.component), cup)
    elif isinstance(entry, AddOn | Swap):
        yield from _statements((*path, entry.component), cup)
    elif isinstance(entry, Component):
        own = () if entry.declared is None else _declared(entry.declared, path)
        if entry.source is not None:
            yield from _statements((*path, entry.source), cup)
            yield from (one for one in own if one[1].because != "undeclared")
        elif entry.declared is not None:
            yield from own
        elif entry.role != "ice":
            yield "", Trace(path, "undeclared")
    elif isinstance(entry, Batch):
        for part in entry.parts:
            yield from _statements((*path, part.item), cup)
        for allergen in entry.cross_contact:
            yield allergen, Trace(path, "cross-contact")
    else:
        yield from _declared(entry.declared, path)


def _declared(declared: Declared, path: tuple[Entry, ...]) -> Iterator[_Statement]:
    for allergen in declared.may_contain:
        yield allergen, Trace(path, "may-contain")
    if declared.contains is None:
        yield "", Trace(path, "undeclared")
    for allergen in declared.contains or ():
        yield allergen, Trace(path, "contains")
