"""The commands on editions: publish, compare, current and site; an exit code out."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from buildsheets import output
from buildsheets.cli.commands import (
    CLEAN,
    COULD_NOT,
    FOUND,
    Ended,
    barred,
    checked_menu,
    for_programs,
    report,
    show,
    sound_menu,
    stopping,
    write_files,
)
from buildsheets.cli.edition_answers import (
    NOW,
    Answer,
    cards_current,
    cards_for_print,
    cards_now,
    compare_editions,
    phone_pages,
    publish_edition,
)
from buildsheets.cli.printing import press
from buildsheets.findings.finding import Finding
from buildsheets.learn.lesson import KINDS, Lesson
from buildsheets.ledger.payload import with_revisions
from buildsheets.ledger.publish import Issuer
from buildsheets.menu.model import AddOn, Menu, Swap
from buildsheets.pipeline import Checked
from buildsheets.place import Place
from buildsheets.prep.sales import Offered, not_sold_now
from buildsheets.print.layouts import Layouts
from buildsheets.site.practice import Practice, practice_of
from buildsheets.site.site import NotSold
from buildsheets.views.types import BuildCardView, CupDrawing
from buildsheets.views.when import not_sold as not_sold_words


def publish(options: argparse.Namespace) -> int:
    """Freeze the menu's edition in the ledger, once all its cards could be made."""
    checked, menu = sound_menu(options)
    place = Place.of(options.menu)
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
            raise Ended(FOUND, "nothing was published, since a card could not be made")
        parts = tried.parts
    digest, language = output.menu_digest(checked.sources), _language(options, menu)
    answer = publish_edition(cards, options.menu, menu.edition, issuer, digest, language, parts)
    return _show(answer, checked, options, checked.findings)


def compare(options: argparse.Namespace) -> int:
    """What changed between two editions, or an edition and the menu as it is now."""
    checked = checked_menu(options)
    menu, layouts = checked.menu, Place.of(options.menu).layouts
    plan = None
    if NOW in (options.before.casefold(), options.after.casefold()):
        if checked.stopped or menu is None:
            report(checked.findings, checked.sources, options)
            return stopping(checked)
        cards = output.cards(menu, checked.servings, layouts)
        issuer = Issuer(menu.shop.site, layouts)
        plan, _ = cards_for_print(cards, options.menu, menu.edition, issuer)
    codes, language = (options.before, options.after), _language(options, menu)
    answer = compare_editions(options.menu, *codes, language, layouts, plan, options.sheet)
    code = _show(answer, checked, options)
    return COULD_NOT if any(f.code == "PUB07" for f in answer.findings) else code


def current(options: argparse.Namespace) -> int:
    """Whether cards on the wall are current."""
    checked, layouts = checked_menu(options), Place.of(options.menu).layouts
    if checked.menu is None and not Place.of(options.menu).ledger.is_dir():
        report(checked.findings, checked.sources, options)
        return COULD_NOT
    day, language = _day(options, checked.menu), _language(options, checked.menu)
    codes = with_revisions(options.codes)
    now = day == _today(checked.menu)  # what is sold out on another day nobody knows
    not_sold = _not_sold(checked.menu, layouts, language) if checked.menu and now else None
    answer = cards_current(codes, options.menu, day, language, layouts, not_sold)
    return _show(answer, checked, options)


def site(options: argparse.Namespace) -> int:
    """Phone pages of all that was published."""
    checked = checked_menu(options)
    if checked.menu is None:
        report(checked.findings, checked.sources, options)
        return stopping(checked)
    language = _language(options, checked.menu)
    shop = checked.menu.shop.name.in_language(language)
    layouts = Place.of(options.menu).layouts
    not_sold = _not_sold(checked.menu, layouts, language)
    day = _day(options, checked.menu)
    made = _made_now(checked, checked.menu, options.menu, layouts)
    answer = phone_pages(options.menu, day, shop, language, layouts, not_sold, *made)
    return _show(answer, checked, options)


def _made_now(
    checked: Checked, menu: Menu, path: Path, layouts: Layouts
) -> tuple[dict[str, CupDrawing], list[Practice]]:
    """The cup of each build card that the menu makes now, by the card's digest, and what is
    practised in each language; nothing of a menu with errors, whose cards nobody could print."""
    if checked.stopped:
        return {}, []
    cards = cards_now(checked, menu, path, KINDS if menu.shop.practice else ("build",))
    drawings = {
        one.entry.digest: one.card.view.drawing
        for one in cards.cards
        if isinstance(one.card.view, BuildCardView)
    }
    practices = []
    for language in menu.shop.languages if menu.shop.practice else ():
        words = layouts.words(language).measured_in(menu.shop)
        lesson = Lesson.of(menu, checked.servings, words, [one.card for one in cards.cards])
        practices.append(practice_of(lesson, cards))
    return drawings, practices


def _not_sold(menu: Menu, layouts: Layouts, language: str) -> NotSold:
    """What is sold out by language, each with the drinks or the size whose pages say it."""
    found = {}
    for one in menu.shop.languages:
        words = layouts.words(one)
        found[one] = [
            (_concerned(menu, each.what), not_sold_words(menu, each, words))
            for each in not_sold_now(menu)
        ]
    return {language: next(iter(found.values()), []), **found}


def _concerned(menu: Menu, what: Offered) -> tuple[str, ...]:
    if isinstance(what, AddOn | Swap):
        drinks = menu.drinks.items()
        return tuple(id_ for id_, one in drinks if what in (*one.add_ons, *one.swaps))
    return (what.id,)


def _language(options: argparse.Namespace, menu: Menu | None) -> str:
    if options.language:
        Place.of(options.menu).layouts.words(options.language)  # one without words is refused
    return options.language or (menu.shop.languages[0] if menu else "en")


def _day(options: argparse.Namespace, menu: Menu | None) -> date:
    """The day asked about: given, or today."""
    return options.day or _today(menu)


def _today(menu: Menu | None) -> date:
    """Today by the shop's own clock."""
    return datetime.now(ZoneInfo(menu.shop.time_zone if menu else "UTC")).date()


def _show(
    answer: Answer, checked: Checked, options: argparse.Namespace, before: Sequence[Finding] = ()
) -> int:
    """Print an answer and write its files; 0 when it is the one hoped for."""
    findings = [*before, *answer.findings]
    if options.outcome is not None:
        options.outcome.result = answer.data
    report(findings, checked.sources, options)
    if not for_programs(options):
        print(answer.text, end="")
    if answer.files:
        show(write_files(options.out, answer.files), options)
    return FOUND if barred(findings, options) or not answer.good else CLEAN
