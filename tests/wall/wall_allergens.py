"""Cards and an order go in; what they say otherwise of its allergens than was figured comes out.

A reader takes the drink's own line, and that of each add-on and each swap of the order; an allergen
is gone only where a swap says that it takes it away, and no other line has it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from buildsheets.cup.allergens import allergen_report
from buildsheets.cup.serving import Serving
from buildsheets.menu.model import AddStep, Menu, Swap
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
            first, *tools = text.split("; ")
            if taken := said(first, "takes_away", words):
                gone |= _in(taken["list"], names)
                yield from _tool_not_told(menu, made, swap.name, gone, tools, names, words)
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
    yield from _not_pointed_at(menu, card, passed, made, wish, words)
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


def _tool_not_told(
    menu: Menu, made: Serving, swap: str, gone: set[str], told: Sequence[str],
    names: dict[str, str], words: Words,
) -> Iterator[str]:  # fmt: skip
    """A tool that a swap shares with what has an allergen that it takes away, and nothing of it."""
    steps = [step for drink in menu.drinks.values() for step in drink.steps]
    for step in made.drink.steps:
        if not (isinstance(step, AddStep) and step.swap and words.name(step.swap) == swap):
            continue
        others = [one.component for one in steps if isinstance(one, AddStep)
                  and one.tool and one.tool == step.tool]  # fmt: skip
        has = {names[id_] for one in others for id_ in allergen_report(one).contains}
        dry = step.tool is None or step.tool.kind in ("line", "scale")
        named = [f["tool"] for one in told if (f := said(one, "same_tool", words))]
        if has & gone and not dry and step.tool and words.name(step.tool) not in named:
            yield f"{swap} takes away {sorted(has & gone)}, and nothing of {step.tool.id}"


def _not_pointed_at(
    menu: Menu, card: BuildCardView, passed: Sequence[Visit], made: Serving, wish: Wish,
    words: Words,
) -> Iterator[str]:  # fmt: skip
    """What a swap or an add-on of the order brings besides the usual order, and the frame or
    a station's row says nothing of; neither names who brings nothing."""
    own = {*card.allergens.contains}
    perhaps = own | {*card.allergens.may_contain}
    usual = words("in_usual_order")
    told = card.allergens.others
    if told and not told.startswith(usual):
        yield f"'{told}' does not say that it is of the usual order"
    parts = told.removeprefix(usual).strip().removesuffix(".").split(". ")
    texts = [part[:1].lower() + part[1:] for part in parts]
    pointed = [found["names"] for text in texts if (found := said(text, "more_below", words))]
    each = (said(text, "with_also", words) or _with_swap(text, words) for text in texts)
    named = [found for found in each if found]
    offered = [*made.drink.swapped, *(a for a in made.drink.add_ons if a.id in made.choice.add_ons)]
    for one in offered:
        report, name = allergen_report(one), words.name(one)
        more = {allergen_name(words, menu, id_) for id_ in report.contains} - own
        more |= {allergen_name(words, menu, id_) for id_ in report.may_contain} - perhaps
        lists = [found["list"] for found in named if _says(found["names"], name)]
        here = {a for text in lists for a in more if _says(text, a)}
        if isinstance(one, Swap):
            for text in lists:
                yield from _wrongly_gone(menu, text, made, words)
        in_frame = any(_says(names, name) for names in pointed) or here == more
        if not in_frame or (not more and any(_says(f["names"], name) for f in named)):
            yield f"the frame says '{told}', and {name} brings {sorted(more)} besides"
        for visit in passed:
            (*_, last) = visit.row.allergens.removesuffix(".").split(". ")
            found = said(last[:1].lower() + last[1:], "more_with", words)
            who = name if isinstance(one, Swap) else words("some_add_ons")
            told_of = found is not None and _says(found["names"], who)
            if told_of < bool(more) or (isinstance(one, Swap) and told_of > bool(more)):
                yield (
                    f"'{visit.row.drink}' at station {visit.card.station.letter} says "
                    f"'{visit.row.allergens}', and {name} brings {sorted(more)} besides"
                )


def _with_swap(text: str, words: Words) -> dict[str, str] | None:
    """Of whom a line is, and all that follows: its later parts may have a colon of their own."""
    first, *rest = text.split("; ")
    found = said(first, "with_swap", words)
    return found and {**found, "list": "; ".join([found["list"], *rest])}


def _wrongly_gone(menu: Menu, told: str, made: Serving, words: Words) -> Iterator[str]:
    """What the frame says that a swap is in place of, and the drink made with it, or an add-on of
    the order, has: an add-on that brings it again is named."""
    names = {one: allergen_name(words, menu, one) for one in menu.shop.every_allergen}
    first, *rest = told.split("; ")
    taken = said(first, "in_place_of", words)
    gone = taken["gone"] if taken else (said(first, "takes_away", words) or {"list": ""})["list"]
    for id_, name in names.items():
        if not _says(gone, name):
            continue
        again = [found["names"] for text in rest
                 if (found := said(text, "again_with", words) or said(text, "perhaps_with", words))
                 and _says(found["allergen"], name)]  # fmt: skip
        still = [found for text in rest if (found := said(text, "may_still_contain", words))
                 and _says(found["allergen"], name)]  # fmt: skip
        own, add_ons = made.allergens(), made.drink.add_ons
        if (id_ in own.contains and not again) or (id_ in own.may_contain and not (still or again)):
            yield f"the frame says '{told}', and {name} is in the drink"
        for one in (one for one in add_ons if one.id in made.choice.add_ons):
            report = allergen_report(one)
            by = any(_says(text, words.name(one)) for text in again)
            if id_ in {*report.contains, *report.may_contain} and not by:
                yield f"the frame says '{told}', and {one.id} brings {name}"


def _says(text: str, name: str) -> bool:
    return re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text) is not None


def _in(text: str, names: dict[str, str]) -> set[str]:
    """The allergens that a text names."""
    return {name for name in names.values() if _says(text, name)}
