"""The commands about the menu alone: check, explain, measure, keys and rule; an exit code out.

What ``check`` does not need is imported where it is used: it is run after every change.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable

from buildsheets.cli.commands import (
    CLEAN,
    COULD_NOT,
    Ended,
    checked_menu,
    refusing,
    report,
    stopping,
)
from buildsheets.cup.errors import FigureError
from buildsheets.findings.spelling import count_of, listed, nearest
from buildsheets.menu.model import SECTIONS, Menu
from buildsheets.rulebook import rulebook


def check(options: argparse.Namespace) -> int:
    """Every drink, size and option of a menu; writes nothing."""
    checked = checked_menu(options)
    if report(checked.findings, checked.sources, options):
        return stopping(checked)
    menu = checked.menu
    if menu is not None and options.format == "full" and not checked.findings:
        drinks, cups = count_of(len(menu.drinks), "drink"), count_of(len(menu.cups), "cup")
        builds = count_of(len(checked.servings), "build")
        print(f"{drinks}, {builds} in {cups}: every one fits")
    return CLEAN


def explain(options: argparse.Namespace) -> int:
    """The whole calculation of an order, in one cup or in all the drink is sold in."""
    import json

    from buildsheets.cli.explain import explain_json, explain_text
    from buildsheets.cli.order import changed, read_order
    from buildsheets.cli.told import Wall

    checked = checked_menu(options)
    menu = checked.menu
    if menu is None:
        report(checked.findings, checked.sources, argparse.Namespace(format="short", strict=False))
        return stopping(checked)
    with refusing():
        order = read_order(menu, " ".join(options.order))
        choice = changed(order, options.sweetness, options.ice, options.add_ons, options.swaps)
        wall = Wall.of(menu, checked.servings, options.menu, options.language)
    drink = order.drink
    sizes = [order.size] if order.size else drink.cups
    try:
        if options.format == "json":
            found = [explain_json(drink, size, choice, wall) for size in sizes]
            print(json.dumps(found, indent=2, ensure_ascii=False))
        else:
            print("\n".join(explain_text(drink, size, choice, wall) for size in sizes), end="")
    except FigureError as refused:
        raise Ended(COULD_NOT, f"{drink.id} cannot be figured: {refused}") from None
    return CLEAN


def measure(options: argparse.Namespace) -> int:
    """Weighings as lines for the menu."""
    from buildsheets.cli.measure_words import MEASURES

    with refusing():
        print(MEASURES[options.what](options.values))
    return CLEAN


def keys(options: argparse.Namespace) -> int:
    """The keys a menu may have, as Markdown."""
    from buildsheets.menu.reference import reference

    if options.section not in (None, *SECTIONS):
        raise Ended(COULD_NOT, f"there is no section '{options.section}': {listed(SECTIONS)}")
    print(reference(SECTIONS[options.section] if options.section else Menu), end="")
    return CLEAN


def rule(options: argparse.Namespace) -> int:
    """What a finding's code means; without a code, the list of all."""
    book = rulebook()
    if options.code is None:
        for code, entry in sorted(book.items()):
            print(f"{code:<8}{entry.severity:<9}{entry.name}")
        return CLEAN
    code = options.code.upper()
    if code not in book:
        hint = _did_you_mean(code, book)
        raise Ended(COULD_NOT, f"there is no rule '{options.code}'{hint and f'; {hint}'}")
    print(f"{code} {book[code].name} ({book[code].severity})\n\n{book[code].documentation}")
    return CLEAN


def _did_you_mean(word: str, known: Iterable[str]) -> str:
    close = nearest(word, known, 3)
    return f"did you mean {listed(close)}?" if close else ""
