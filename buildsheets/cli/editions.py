"""The commands on editions: publish, compare, current and site; an exit code out."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator, Mapping
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
from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.findings.spelling import count_of
from buildsheets.learn.lesson import KINDS, Lesson
from buildsheets.ledger.payload import with_revisions
from buildsheets.ledger.publish import EditionCards, Issuer
from buildsheets.menu.model import CupSize, Drink, Menu
from buildsheets.pipeline import Checked
from buildsheets.place import Place
from buildsheets.prep.sales import not_sold_now
from buildsheets.print.layouts import Layouts
from buildsheets.site.practice import Practice, practice_of
from buildsheets.site.site import NotSold, SoldOut
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
    coded, drawings, practices = _made_now(checked, checked.menu, options.menu, layouts)
    answer = phone_pages(options.menu, day, shop, language, layouts, not_sold, drawings, practices)
    return _show(answer, checked, options, _behind(coded) if coded else ())


def _behind(coded: EditionCards) -> Iterator[Finding]:
    """That pages of the menu's own edition say something else than its cards do now."""
    code, behind = coded.edition.code, sum(card.draft for card in coded.cards)
    if behind and coded.base is not None and coded.base.code == code:
        message = (
            f"the pages show edition {code} as it was published; {behind} of "
            f"{count_of(len(coded.cards), 'card')} of the menu say something else now"
        )
        hint = "`compare` tells what; publish the menu under a new code, then run `site` again"
        yield finding("PUB08", None, message, hint=hint)


def _made_now(
    checked: Checked, menu: Menu, path: Path, layouts: Layouts
) -> tuple[EditionCards | None, dict[str, CupDrawing], list[Practice]]:
    """The cards of a drink and a counter that the menu makes now, the cup of each build card by the
    card's digest, and what is practised in each language; nothing of a menu with errors, whose
    cards nobody could print."""
    if checked.stopped:
        return None, {}, []
    cards = cards_now(checked, menu, path, KINDS if menu.shop.practice else ("build",))
    drawings = {
        one.entry.digest: one.card.view.drawing
        for one in cards.cards
        if isinstance(one.card.view, BuildCardView)
    }
    held = [one.card for one in cards.cards]
    lessons = [
        Lesson.of(menu, checked.servings, layouts.words(one).measured_in(menu.shop), held)
        for one in menu.shop.languages
        if menu.shop.practice
    ]
    return cards, drawings, [practice_of(lesson, cards) for lesson in lessons]


def _not_sold(menu: Menu, layouts: Layouts, language: str) -> NotSold:
    """What is sold out by language."""
    found = {}
    for one in menu.shop.languages:
        words = layouts.words(one)
        found[one] = [
            SoldOut(
                words.name(each.what),
                not_sold_words(menu, each, words),
                drink=each.what.id if isinstance(each.what, Drink) else "",
                cup=each.what.id if isinstance(each.what, CupSize) else "",
            )
            for each in not_sold_now(menu)
        ]
    return {language: next(iter(found.values()), []), **found}


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
    answer: Answer, checked: Checked, options: argparse.Namespace, before: Iterable[Finding] = ()
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
