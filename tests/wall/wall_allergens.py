"""Cards and an order go in; what they say otherwise of its allergens than was figured comes out.

A reader takes the drink's own line, and that of each add-on and each swap of the order; an allergen
is gone only where a swap says that it takes it away, and no other line has it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from buildsheets.cup.allergens import allergen_report
from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Menu
from buildsheets.views.allergens import allergen_name
from buildsheets.views.types import BuildCardView
from buildsheets.views.words import Words
from buildsheets.wall.reading import Visit, Wish
from buildsheets.wall.strings import said


def wrong_of_allergens(
    menu: Menu, card: BuildCardView, passed: Sequence[Visit], made: Serving, wish: Wish,
    words: Words,
) -> Iterator[str]:  # fmt: skip
    """Allergens of an order that no line of its build card tells, and those said to be gone that
    are there; swaps that whoever pours them, or hands the drink over, reads nothing of."""
    names = {one: allergen_name(words, menu, one) for one in menu.shop.every_allergen}
    contains = {*card.allergens.contains}
    perhaps = {*card.allergens.may_contain}
    lines = [one.allergens for one in card.add_ons if one.name in wish.add_ons]
    swaps = [one for one in card.swaps if one.name in wish.swaps]
    gone: set[str] = set()
    again: set[tuple[str, str]] = set()
    for swap in swaps:
        for part in swap.allergens.removesuffix(".").split(". "):
            text = part[:1].lower() + part[1:]
            if taken := said(text, "takes_away", words):
                gone |= _in(taken["list"], names)
            elif back := said(text, "again_with", words) or said(text, "perhaps_with", words):
                again |= {(one, back["names"]) for one in _in(back["allergen"], names)}
            elif still := said(text, "may_still_contain", words):
                perhaps |= _in(still["allergen"], names)
            elif said(text, "still_contains", words) is None:
                lines.append(part)
    contains -= gone
    for line in lines:
        for part in line.split("; "):
            text = part[:1].lower() + part[1:]
            held = said(text, "may_list", words)
            if held:
                perhaps |= _in(held["list"], names)
            elif held := said(part, "contains_list", words) or said(text, "contains_list", words):
                contains |= _in(held["list"], names)
    drink = made.allergens()
    add_ons = [one for one in made.drink.add_ons if one.id in made.choice.add_ons]
    reports = [drink, *map(allergen_report, add_ons)]
    for report in reports:
        for one in report.contains:
            if names[one] not in contains:
                yield f"nothing of {names[one]}, which is in it"
        for one in report.may_contain:
            if names[one] not in contains | perhaps:
                yield f"nothing of {names[one]}, which it may contain"
    for one, name in names.items():
        if name in gone and one in drink.contains:
            yield f"{name} is said to be gone"
        for add_on in add_ons:
            report = allergen_report(add_on)
            brings = one in {*report.contains, *report.may_contain}
            said_so = any(name == back and words.name(add_on) in by for back, by in again)
            if name in gone and brings and not said_so:
                yield f"{name} is said to be gone, and {add_on.id} brings it"
    pouring = [v.row for v in passed if any(told.thing in wish.swaps for told in v.steps)]
    for row in (*pouring, passed[-1].row):
        told = {(one.name, one.allergens) for one in row.swaps}
        here = {told.thing for v in passed if v.row is row for told in v.steps}
        for swap in swaps:
            concerns = row is passed[-1].row or swap.name in here
            if concerns and (swap.name, swap.allergens) not in told:
                yield f"'{row.drink}' says nothing of what {swap.name} brings"


def _in(text: str, names: dict[str, str]) -> set[str]:
    """The allergens that a text names."""
    return {name for name in names.values() if re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text)}
