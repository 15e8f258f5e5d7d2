"""The commands about the menu alone: check, explain, measure, keys and rule; an exit code out.

What ``check`` does not need is imported where it is used: it is run after every change.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from buildsheets.cli.commands import (
    CLEAN,
    COULD_NOT,
    FOUND,
    Ended,
    checked_menu,
    refuse_stdin,
    refusing,
    report,
    say,
    stopping,
)
from buildsheets.cup.errors import FigureError
from buildsheets.findings.spelling import count_of, listed, nearest
from buildsheets.menu.model import SECTIONS, Menu
from buildsheets.rulebook import rulebook

if TYPE_CHECKING:
    from buildsheets.cli.fixing import Change
    from buildsheets.pipeline import Checked


def check(options: argparse.Namespace) -> int:
    """Every drink, size and option of a menu; writes nothing but the fixes that were asked for."""
    return _watched(options) if options.watch else _checked(options)


def _watched(options: argparse.Namespace) -> int:
    """Check again after every change of the menu's files, until Ctrl-C."""
    from buildsheets.menu.files import watched

    refuse_stdin(options)
    with suppress(KeyboardInterrupt):
        for _ in watched(options.menu):
            clear = "\x1b[2J\x1b[H" if sys.stdout.isatty() else ""
            print(f"{clear}{datetime.now():%H:%M:%S} checked; Ctrl-C ends it")
            _checked(options)
            sys.stdout.flush()
    return CLEAN


def _checked(options: argparse.Namespace) -> int:
    """Check once; with the fixes that were asked for written, or shown."""
    changes: Sequence[Change]
    checked, changes = checked_menu(options), []
    if options.fix or options.diff:
        checked, changes = _fixed(checked, options)
    if options.outcome is not None and checked.menu is not None:
        from buildsheets.cli.edition_results import Checked, Fitted

        fitted = tuple(map(Fitted, checked.servings))
        options.outcome.result = Checked(fitted, tuple(changes))
    if report(checked.findings, checked.sources, options):
        return stopping(checked)
    menu = checked.menu
    if menu is not None and options.format == "full" and not checked.findings:
        drinks, cups = count_of(len(menu.drinks), "drink"), count_of(len(menu.cups), "cup")
        builds = count_of(len(checked.servings), "build")
        print(f"{drinks}, {builds} in {cups}: every one fits")
    return CLEAN


def _fixed(checked: Checked, options: argparse.Namespace) -> tuple[Checked, list[Change]]:
    """Write the fixes that leave no choice, or show them; the menu as its files are then, and what
    was written."""
    from buildsheets.cli.fixing import diff, fixed, left_to_choose
    from buildsheets.menu.files import STDIN

    if options.fix and STDIN in checked.sources:
        raise Ended(COULD_NOT, "standard input cannot be fixed; --diff shows what would be")
    unreadable = [one for one in checked.findings if one.code in ("TXT04", "TXT05")]
    if unreadable:
        report(unreadable, checked.sources, options)
        raise Ended(FOUND, "nothing was fixed, since a file cannot be read as it was written")
    sources, changes = fixed(checked.sources)
    if options.diff:
        print(diff(checked.sources, sources), end="")
    if not options.fix:
        return checked, []
    for name, source in sources.items():
        if source.text != checked.sources[name].text:
            _write_back(Path(name), source.text)
    if not options.diff:
        for change in changes:
            say(str(change), options)
    after = checked_menu(options)
    choices = left_to_choose(after.findings)
    left = f"; {choices} left for you to choose" if choices else ""
    say(f"{count_of(len(changes), 'fix', 'fixes')} written{left}", options)
    return after, changes


def _write_back(path: Path, text: str) -> None:
    """Write a text in place of a file's, with the byte order mark it had."""
    from buildsheets.print.files import write_whole

    mark = b"\xef\xbb\xbf"
    path = path.resolve()  # a link stays one
    write_whole(path, (mark if path.read_bytes().startswith(mark) else b"") + text.encode())


def explain(options: argparse.Namespace) -> int:
    """The whole calculation of an order, in one cup or in all the drink is sold in."""
    from buildsheets.cli.explain import explain_text
    from buildsheets.cli.order import changed, in_cup, read_order
    from buildsheets.cli.told import Wall

    checked = checked_menu(options)
    menu = checked.menu
    if menu is None:
        report(checked.findings, checked.sources, options, "short")
        return stopping(checked)
    with refusing():
        order = read_order(menu, " ".join(options.order))
        choice = changed(order, options.sweetness, options.ice, options.add_ons, options.swaps)
        wall = Wall.of(menu, checked.servings, options.menu, options.language)
    drink = order.drink
    made = [(cup, its) for cup in order.cups if (its := in_cup(drink, cup, choice)) is not None]
    if not made:
        cups = listed((cup.id for cup in drink.cups if in_cup(drink, cup, choice)), "and")
        asked = listed((cup.id for cup in order.cups), "or")
        raise Ended(
            COULD_NOT, f"{drink.id} is not offered so in {asked}; it is in {cups or 'none'}"
        )
    try:
        if options.outcome is not None:
            from buildsheets.cli.explain_results import Explained, explained

            builds = tuple(explained(drink, size, its, wall) for size, its in made)
            options.outcome.result = Explained(builds)
        else:
            print("\n".join(explain_text(drink, size, its, wall) for size, its in made), end="")
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
    """The keys a menu may have, as Markdown for people or a JSON Schema for editors."""
    if options.section not in (None, *SECTIONS):
        raise Ended(COULD_NOT, f"there is no section '{options.section}': {listed(SECTIONS)}")
    record = SECTIONS[options.section] if options.section else Menu
    if options.format == "json-schema":
        from buildsheets.menu.json_schema import schema_text

        print(schema_text(record), end="")
    else:
        from buildsheets.menu.reference import reference

        print(reference(record), end="")
    return CLEAN


def schema(options: argparse.Namespace) -> int:
    """The JSON Schema of what a command writes for programs."""
    import json

    from buildsheets.cli.outcome import json_schema

    print(json.dumps(json_schema(options.of), indent=1))
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


def completion(options: argparse.Namespace) -> int:
    """A script for a shell that completes commands, options and files."""
    import shtab

    from buildsheets.cli.arguments import parser

    whole = parser()
    for command in whole.commands.values():
        for action in command._actions:
            if action.type is Path or action.dest in ("menu", "menu_word"):
                action.complete = shtab.FILE  # type: ignore[attr-defined]
    print(shtab.complete(whole, options.shell))
    return CLEAN


def _did_you_mean(word: str, known: Iterable[str]) -> str:
    close = nearest(word, known, 3)
    return f"did you mean {listed(close)}?" if close else ""
