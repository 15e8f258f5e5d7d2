"""The commands on editions: publish, compare, current, site; an exit code out."""

from __future__ import annotations

import argparse
import json
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildsheets.cli.commands import (
    CLEAN,
    COULD_NOT,
    FOUND,
    barred,
    checked_menu,
    command,
    for_programs,
    form_options,
    menu_argument,
    report,
    stopping,
    weighed,
    write_files,
    written_as,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from buildsheets.cli.edition_answers import Answer
    from buildsheets.findings.finding import Finding
    from buildsheets.output import Place
    from buildsheets.pipeline import Checked


_DAY = written_as(date.fromisoformat, "a day", "year-month-day: 2027-03-01")


def add_commands(verbs: Any) -> None:
    """Enter the commands."""
    publish = command(verbs, "publish", _publish, "freeze the menu's edition in the ledger")
    menu_argument(publish)
    _answer(publish)

    compare = command(verbs, "compare", _compare, "what changed between two editions")
    compare.add_argument("before", metavar="BEFORE", help="an edition's code")
    compare.add_argument(
        "after",
        metavar="AFTER",
        nargs="?",
        default="menu",
        help="an edition's code (default: menu, the menu as it is now)",
    )
    _ledger_of(compare)
    compare.add_argument("--sheet", action="store_true", help="also the change sheet as PDF")
    compare.add_argument("--out", type=Path, default=Path("out"), help="folder (default: out)")
    _answer(compare)

    current = command(verbs, "current", _current, "whether a card on the wall is current")
    current.add_argument(
        "codes",
        nargs="+",
        metavar="CODE",
        help="as printed, if you can with its revision (r2); or what was scanned",
    )
    _ledger_of(current)
    current.add_argument("--day", type=_DAY, default=None, help="default: today")
    _answer(current)

    site = command(verbs, "site", _site, "phone pages of all published cards")
    menu_argument(site)
    site.add_argument("--out", type=Path, default=Path("out"), help="folder (default: out)")
    site.add_argument("--day", type=_DAY, default=None, help="default: today")
    _answer(site)


def _ledger_of(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--menu", type=Path, default=Path("menu"), help="default: menu")


def _answer(parser: argparse.ArgumentParser) -> None:
    form_options(parser)
    parser.add_argument("--language", default="", help="default: the shop's first")


def _loaded(options: argparse.Namespace) -> tuple[Checked, Place]:
    from buildsheets.output import Place

    return checked_menu(options), Place.of(options.menu)


def _language(options: argparse.Namespace, checked: Checked) -> str:
    if options.language:
        return str(options.language)
    return checked.menu.shop.languages[0] if checked.menu else "en"


def _show(
    answer: Answer,
    checked: Checked,
    options: argparse.Namespace,
    before: Sequence[Finding] = (),
) -> int:
    """Print an answer and write its files; 0 when it is the one hoped for.

    As JSON, the answer and the findings are one document.
    """
    from buildsheets.findings.report import render

    findings = [*before, *answer.findings]
    if options.format == "json":
        found = json.loads(render(weighed(findings, options), checked.sources, "json"))
        print(json.dumps({**answer.data, **found}, indent=2, ensure_ascii=False))
    else:
        report(findings, checked.sources, options)
    if not for_programs(options):
        print(answer.text, end="")
    if answer.files:
        write_files(options.out, answer.files)
    return FOUND if barred(findings, options) or not answer.good else CLEAN


def _publish(options: argparse.Namespace) -> int:
    from buildsheets import output
    from buildsheets.cli.commands_print import press
    from buildsheets.cli.edition_answers import cards_for_print, publish_edition
    from buildsheets.ledger.publish import Issuer

    checked, place = _loaded(options)
    if barred(checked.findings, options) or checked.menu is None:
        report(checked.findings, checked.sources, options)
        return stopping(checked)
    menu = checked.menu
    cards = output.cards(menu, checked.servings, place.layouts)
    issuer = Issuer(menu.shop.site, place.layouts)
    plan, _ = cards_for_print(cards, options.menu, menu.edition, issuer, as_published=True)
    parts: Mapping[str, int] = {}
    if plan.base is None or plan.base.code != menu.edition.code:
        # A frozen edition that cannot be printed would help nobody: its cards are made first,
        # as they will hang, and kept in the cache for the print that follows.
        tried = output.run([planned.card for planned in plan.cards], press(menu, place))
        if tried.stopped:
            report([*checked.findings, *tried.findings], checked.sources, options)
            print("nothing was published, since a card could not be made", file=sys.stderr)
            return FOUND
        parts = tried.parts
    answer = publish_edition(
        cards,
        options.menu,
        menu.edition,
        issuer,
        output.menu_digest(checked.sources),
        _language(options, checked),
        parts,
    )
    return _show(answer, checked, options, checked.findings)


def _compare(options: argparse.Namespace) -> int:
    from buildsheets import output
    from buildsheets.cli.edition_answers import NOW, cards_for_print, compare_editions
    from buildsheets.ledger.publish import Issuer

    checked, place = _loaded(options)
    plan = None
    if NOW in (options.before.casefold(), options.after.casefold()):
        if checked.stopped or checked.menu is None:
            report(checked.findings, checked.sources, options)
            return stopping(checked)
        cards = output.cards(checked.menu, checked.servings, place.layouts)
        issuer = Issuer(checked.menu.shop.site, place.layouts)
        plan, _ = cards_for_print(cards, options.menu, checked.menu.edition, issuer)
    answer = compare_editions(
        options.menu,
        options.before,
        options.after,
        _language(options, checked),
        place.layouts,
        plan,
        options.sheet,
    )
    code = _show(answer, checked, options)
    return COULD_NOT if any(f.code == "PUB07" for f in answer.findings) else code


def _current(options: argparse.Namespace) -> int:
    from buildsheets.cli.edition_answers import cards_current
    from buildsheets.ledger.payload import with_revisions

    checked, place = _loaded(options)
    answer = cards_current(
        with_revisions(options.codes),
        options.menu,
        _day(options, checked),
        _language(options, checked),
        place.layouts,
    )
    return _show(answer, checked, options)


def _site(options: argparse.Namespace) -> int:
    from buildsheets.cli.edition_answers import phone_pages

    checked, place = _loaded(options)
    if checked.menu is None:
        report(checked.findings, checked.sources, options)
        return stopping(checked)
    language = _language(options, checked)
    shop = checked.menu.shop.name.in_language(language)
    answer = phone_pages(options.menu, _day(options, checked), shop, language, place.layouts)
    return _show(answer, checked, options)


def _day(options: argparse.Namespace, checked: Checked) -> date:
    """The day asked about: given, or today by the shop's own clock."""
    if options.day is not None:
        return date.fromisoformat(str(options.day))
    from datetime import datetime
    from zoneinfo import ZoneInfo

    zone = checked.menu.shop.time_zone if checked.menu else "UTC"
    return datetime.now(ZoneInfo(zone)).date()
