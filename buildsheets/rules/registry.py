"""The list of rules: each is a documented function from what it looks at to findings."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import wraps
from itertools import chain
from typing import TypeVar

from buildsheets.cup.serving import Serving
from buildsheets.findings.catalogue import enter
from buildsheets.findings.finding import Finding, Fix, Label, Severity, Span, SumLine
from buildsheets.menu.model import Batch, Component, Drink, Ingredient, Menu
from buildsheets.menu.schema import Entry

T = TypeVar("T")
Check = Callable[[Menu, Sequence[Serving]], Iterator[Finding]]


@dataclass(frozen=True, slots=True)
class Rule:
    """A check under its code; the check's docstring is the rule's documentation.

    It says what is checked, why it matters, a menu that trips it, the same fixed, and sources.
    ``whole``: it speaks of what is nowhere in the menu, so it waits until all of it can be read.
    ``of_serving``: what it says of a serving does not depend on the others.
    """

    code: str
    check: Check
    whole: bool = False
    of_serving: bool = False


RULES: dict[str, Rule] = {}


# What a rule looks at one after another.


def all_servings(menu: Menu, servings: Sequence[Serving]) -> Iterable[Sequence[Serving]]:
    return [servings]


def each_serving(menu: Menu, servings: Sequence[Serving]) -> Iterable[Serving]:
    return servings


def all_ways(menu: Menu, servings: Sequence[Serving]) -> Iterable[Iterable[Serving]]:
    """All servings, as written and then with each set of swaps."""
    return [chain(servings, (other for one in servings for other in one.choices.swapped))]


def each_way(menu: Menu, servings: Sequence[Serving]) -> Iterable[Serving]:
    """Each serving as written, then with each set of swaps."""
    for serving in servings:
        yield serving
        yield from serving.choices.swapped


def each_order(menu: Menu, servings: Sequence[Serving]) -> Iterable[Serving]:
    """Each way, then with each add-on that is poured."""
    for way in each_way(menu, servings):
        yield from way.with_each(one for one in way.offered if one.component.behaves == "liquid")


OF_SERVING = (each_serving, each_way, each_order)
"""What looks at one serving after another."""


def each_batch(menu: Menu, servings: Sequence[Serving]) -> Iterable[Batch]:
    return menu.batches.values()


def each_component(menu: Menu, servings: Sequence[Serving]) -> Iterable[Component]:
    return menu.components.values()


def each_drink(menu: Menu, servings: Sequence[Serving]) -> Iterable[Drink]:
    return menu.drinks.values()


def each_build(menu: Menu, servings: Sequence[Serving]) -> Iterable[Drink]:
    """Every drink, one sold hot and iced as each of the two."""
    return (one for drink in menu.drinks.values() for one in drink.each_build)


def each_ingredient(menu: Menu, servings: Sequence[Serving]) -> Iterable[Ingredient]:
    return menu.ingredients.values()


def rule(
    code: str,
    name: str,
    severity: Severity,
    each: Callable[[Menu, Sequence[Serving]], Iterable[T]],
    whole: bool = False,
) -> Callable[[Callable[[Menu, T], Iterator[Finding]]], Check]:
    """Enter a check of each of some things in the list of rules and in the catalogue of codes.

    The check yields what :func:`found` makes; the code and, where it names none, the subject
    (an entry's id, a serving's drink and cup) are added here. What is found of a drink as written
    is not said again of the drink with swaps or an add-on, nor what is found of its hot build of
    its iced one.
    """

    def add(check_one: Callable[[Menu, T], Iterator[Finding]]) -> Check:
        @wraps(check_one)
        def check(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
            known: set[tuple[Span | None, tuple[str, ...]]] = set()
            for thing in each(menu, servings):
                choice = thing.choice if isinstance(thing, Serving) else None
                again = bool(choice and (choice.swaps or choice.add_ons))
                again = again or (isinstance(thing, Drink) and bool(thing.served))
                for one in check_one(menu, thing):
                    subject = one.subject or _subject(thing)
                    if again and (one.span, subject) in known:
                        continue
                    known.add((one.span, subject))
                    yield replace(one, code=code, name=name, severity=severity, subject=subject)

        enter(code, name, severity, inspect.getdoc(check_one) or "")
        RULES[code] = Rule(code, check, whole, each in OF_SERVING)
        return check

    return add


def found(
    span: Span | None,
    message: str,
    hint: str = "",
    *,
    labels: tuple[Label, ...] = (),
    sums: tuple[SumLine, ...] = (),
    fixes: tuple[Fix, ...] = (),
    subject: tuple[str, ...] = (),
) -> Finding:
    """A finding of the rule at hand."""
    return Finding("", "", Severity.NOTE, span, message, labels, sums, fixes, hint, subject)


def _subject(thing: object) -> tuple[str, ...]:
    if isinstance(thing, Serving):
        return (thing.drink.id, thing.cup.id)
    return (thing.id,) if isinstance(thing, Entry) else ()
