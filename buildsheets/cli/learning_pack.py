"""The commands `learn pack` and `learn sign-off`: parsed words in, a PDF for each hire and an exit
code out."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace

from buildsheets import output
from buildsheets.cli.commands import (
    CLEAN,
    COULD_NOT,
    FOUND,
    Ended,
    refusing,
    report,
    say,
    show,
    sound_menu,
    write_files,
)
from buildsheets.cli.edition_answers import cards_now, unknown_edition
from buildsheets.cli.prep_text import sheet_text
from buildsheets.compare.compare import compare, side_of_cards, side_of_edition
from buildsheets.compare.sentences import edition_name
from buildsheets.findings.finding import Severity
from buildsheets.learn.pack import BothNames
from buildsheets.learn.pack import pack as pack_pages
from buildsheets.learn.sign_off import ChangedAt, brief, changed_at
from buildsheets.learn.sign_off import sign_off as sheets
from buildsheets.ledger.ledger import load
from buildsheets.ledger.publish import Issuer, edition_cards
from buildsheets.menu.model import Menu
from buildsheets.pipeline import Checked
from buildsheets.place import Place
from buildsheets.print import kinds
from buildsheets.views.types import View
from buildsheets.views.words import Words


@dataclass(frozen=True, slots=True)
class Written:
    """What was written: files by their paths in the output folder, how many pages, and what to
    brief again, by station and drink."""

    files: tuple[str, ...]
    pages: int
    brief_by_station: ChangedAt


def pack(options: argparse.Namespace) -> int:
    """The first-day pack of a hire, in a language of the shop."""
    checked, menu = sound_menu(options)
    words = _words(options, menu)
    cards = output.composers_in(words, menu, checked.servings)
    return _written(options, checked, menu, pack_pages(menu, cards, words), "first-day")


def sign_off(options: argparse.Namespace) -> int:
    """The sheet on which a hire is signed off, or what to brief again since an edition."""
    checked, menu = sound_menu(options)
    if options.since:
        return _brief(options, checked, menu)
    words = _words(options, menu)
    servings = [one for one in checked.servings if menu.sells(one.drink)]
    cards = output.composers_in(words, menu, servings)
    return _written(options, checked, menu, sheets(menu, servings, cards, words), "sign-off")


def _brief(options: argparse.Namespace, checked: Checked, menu: Menu) -> int:
    place = Place.of(options.menu)
    with refusing():
        language = menu.shop.language_of(options.language)
    ledger = load(place.ledger)
    if not (ledger.editions or ledger.findings):
        raise Ended(COULD_NOT, "no edition is published yet: there is nothing to compare with")
    edition = ledger.edition(options.since)
    if ledger.findings or edition is None:
        report(ledger.findings or [unknown_edition(options.since, ledger)], {}, options)
        return COULD_NOT
    cards = output.cards(menu, checked.servings, place.layouts)
    plan = edition_cards(cards, ledger, menu.edition, Issuer(menu.shop.site, place.layouts))
    comparison = compare(side_of_edition(ledger, edition), side_of_cards(plan))
    words = place.layouts.words(language)
    changed = changed_at(menu, checked.servings, comparison, words)
    if not changed:
        say(f"nothing changed at any station since {edition.code}: nobody to brief", options)
        _tell(options, Written((), 0, changed))
        return CLEAN
    view = brief(menu, changed, edition_name(edition, language), words)
    say(sheet_text(view), options)
    return _written(options, checked, menu, [view], f"brief-since-{edition.code}", changed)


def _words(options: argparse.Namespace, menu: Menu) -> Words:
    """The words of the hire's language, with names as the wall may have them beside."""
    layouts, spoken = Place.of(options.menu).layouts, menu.shop.languages[0]
    with refusing():
        language = menu.shop.language_of(options.language)
    own, wall = (layouts.words(one).measured_in(menu.shop) for one in (language, spoken))
    if language == spoken or own.is_rtl or wall.is_rtl:  # which no line of text may mix
        return own
    return BothNames(own.language, own.catalogue, own.volumes, beside=wall)


def _written(
    options: argparse.Namespace,
    checked: Checked,
    menu: Menu,
    views: Sequence[View],
    name: str,
    changed: ChangedAt | None = None,
) -> int:
    """Print and proof the pages, as drafts where the cards are, and write them as one PDF."""
    layouts, language = Place.of(options.menu).layouts, views[0].language
    cards = cards_now(checked, menu, options.menu, language=language).cards
    mark = next((one.card.view.watermark for one in cards if one.draft), "")
    views = [replace(one, watermark=mark) for one in views]
    how = replace(output.render_options(menu, layouts, language), title=kinds.title(views[0]))
    made = output.print_views(views, how)
    told = [one for one in made.findings if one.severity is not Severity.NOTE]
    if report([*checked.findings, *told], checked.sources, options):
        raise Ended(FOUND, "nothing was written, since a page could not be made")
    path = f"{menu.edition.code}/learn/{name}-{language}.pdf"
    _tell(options, Written((path,), len(made.pages), changed or {}))
    say_draft(mark, options)
    show(write_files(options.out, {path: made.pdf}), options)
    return CLEAN


def say_draft(mark: str, options: argparse.Namespace) -> None:
    """Why what was written has the mark of a draft, where it has it."""
    if mark:
        say(f"{mark} stands across it: the menu is not published as it is now", options)


def _tell(options: argparse.Namespace, written: Written) -> None:
    if options.outcome is not None:
        options.outcome.result = written
