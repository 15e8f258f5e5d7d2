"""The commands that print, proof and verify: parsed words in, files and an exit code out.

A print for which nothing has changed begins and ends here, so that nothing slow is imported at
the top.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from buildsheets.cli.commands import (
    CLEAN,
    COULD_NOT,
    FOUND,
    Ended,
    barred,
    for_programs,
    progress_of,
    refusing,
    report,
    say,
    show,
    sound_menu,
)
from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Severity, any_error
from buildsheets.findings.report import render, visible
from buildsheets.findings.spelling import count_of
from buildsheets.ledger import manifest
from buildsheets.menu.files import load_sources
from buildsheets.place import Place
from buildsheets.print.inputs import inputs_digest

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from buildsheets import output
    from buildsheets.ledger.publish import EditionCards
    from buildsheets.menu.model import Menu
    from buildsheets.pipeline import Checked
    from buildsheets.print.printing import Press
    from buildsheets.sheets.imposition import SheetOptions
    from buildsheets.views.card import Card, CardKey

FIRST = "nothing was printed: this is the first edition, `print` alone prints all its cards"
NOTHING = "nothing was printed, since {}"

ASKED = (
    *("only", "language", "changed", "strict"),
    *("sheet", "flip", "radius", "accessible", "variant"),
)
"""Options that decide what a print makes: with others of them it is another print."""


def print_cards(options: argparse.Namespace, executor: Executor | None = None) -> int:
    """Check the menu and print its cards, unless they lie there as they would be printed."""
    if options.check:
        return _verify(options)
    place = Place.of(options.menu)
    sources, unread = load_sources(options.menu)
    stands = NOTHING.format("an error stands")
    if any_error(unread):
        sound_menu(options, stands)  # ends here, with the findings: what was read is not the menu
    texts = {name: source.text for name, source in sources.items()}
    asked = [f"{name}={getattr(options, name)}" for name in ASKED]
    inputs = inputs_digest(texts, place.ledger, place.own_layouts, asked)
    if not (options.no_cache or for_programs(options)):
        for folder in _printed_folders(options.out):
            if manifest.unchanged(folder, inputs):
                for line in manifest.warnings_in(folder).splitlines():
                    print(visible(line))
                print(f"nothing has changed: {folder} holds what a print would make")
                show(folder, options)
                return CLEAN
    checked, menu = sound_menu(options, stands)
    how = press(menu, place, not options.no_cache, options.workers, executor)
    return _printed(options, checked, menu, place, inputs, how)


def _printed_folders(out: Path) -> list[Path]:
    return sorted(path.parent for path in out.glob(f"*/{manifest.NAME}"))


def _verify(options: argparse.Namespace) -> int:
    """Whether the files of each printed folder are as they were built."""
    folders = _printed_folders(options.out)
    if not folders:
        raise Ended(COULD_NOT, f"nothing was printed in {options.out}")
    found: list[Finding] = []
    as_printed: dict[str, bool] = {}
    for folder in folders:
        wrong = manifest.check(folder)
        found += wrong
        if not wrong:
            say(f"{folder} is as it was printed", options)
        as_printed[folder.as_posix()] = not wrong
    if options.outcome is not None:
        from buildsheets.cli.edition_results import Verified

        options.outcome.result = Verified(as_printed)
    return FOUND if report(found, {}, options) else CLEAN


def _printed(
    options: argparse.Namespace, checked: Checked, menu: Menu, place: Place, inputs: str, how: Press
) -> int:
    from buildsheets import output
    from buildsheets.cli.edition_answers import cards_for_print
    from buildsheets.ledger.publish import Issuer
    from buildsheets.print.tagged import VARIANTS

    with refusing():
        sheets = _sheets(options, menu)
        languages = [menu.shop.language_of(one) for one in options.language]
    all_cards = output.cards(menu, checked.servings, place.layouts)
    issuer = Issuer(menu.shop.site, place.layouts)
    plan, ledger_findings = cards_for_print(all_cards, options.menu, menu.edition, issuer)
    findings = [*checked.findings, *ledger_findings]
    if barred(findings, options):
        report(findings, checked.sources, options)
        raise Ended(FOUND, NOTHING.format("an error stands"))
    drafts = {planned.card.key for planned in plan.cards if planned.draft}
    planned_cards = [planned.card for planned in plan.cards]
    with refusing():
        picked = output.chosen(planned_cards, options.only, languages)
    if options.changed:
        changed = drafts or _brought(plan)
        picked = tuple(card for card in picked if card.key in changed)
    folder = options.out / f"{menu.edition.code}{_suffix(options)}"
    if not picked:
        _tell(options, plan, folder)
        report(findings, checked.sources, options)
        first = plan.base is not None and not plan.base.follows
        say(FIRST if first else "no card differs from the published edition", options)
        return CLEAN
    if options.accessible:
        run = output.run_accessible(
            picked, menu, place.layouts, options.variant or VARIANTS[0], progress_of("languages")
        )
    elif sheets:
        run = output.run_on_sheets(picked, how, sheets, place.layouts)
    else:
        run = output.run(picked, how)
    # Notes of cards on larger stock are summed up in a sentence instead.
    notes = for_programs(options)
    findings += [one for one in run.findings if notes or one.severity is not Severity.NOTE]
    if report(findings, checked.sources, options) or run.stopped:
        raise Ended(FOUND, NOTHING.format("a card could not be made"))
    digest = output.menu_digest(checked.sources)
    here = sum(card.key in drafts for card in picked)
    warned = [one for one in run.findings if one.severity is Severity.WARNING]
    warnings = render(warned, checked.sources, "short") if warned else ""
    manifest.write_folder(folder, run.files, menu.edition.code, digest, inputs, here, warnings)
    _tell(options, plan, folder, run, picked)
    for sentence in _summary(run, folder, picked, here):
        say(sentence, options)
    others = len(drafts.difference(card.key for card in picked))
    if others and plan.base is not None:
        differ = count_of(others, "other card differs", "other cards differ")
        say(f"{differ} from the published edition: `print --changed` prints all that do", options)
    if not drafts:
        for sentence in _without_drafts(options.out, menu.edition.code):
            say(sentence, options)
    files = [folder / name for name in run.files]
    show(files[0] if len(files) == 1 else folder, options)
    return CLEAN


def _tell(
    options: argparse.Namespace,
    plan: EditionCards,
    folder: Path,
    run: output.Run | None = None,
    picked: Sequence[Card] = (),
) -> None:
    """What was printed, for a program where that was asked for."""
    if options.outcome is not None:
        from buildsheets import output
        from buildsheets.cli.edition_results import Printed

        keys, run = {card.key for card in picked}, run or output.Run({}, 0, 0, ())
        printed = tuple(one for one in plan.cards if one.card.key in keys)
        options.outcome.result = Printed(
            plan.edition.code, folder.as_posix(), (*run.files,), printed, run.pages, run.rendered
        )


def _without_drafts(out: Path, edition: str) -> Iterator[str]:
    """Remove what was printed of the edition before it was published: nobody may hang it up."""
    for folder in _printed_folders(out):
        if manifest.drafts_in(folder, edition):
            manifest.remove(folder)
            yield f"{folder} held drafts of {edition}; they are removed"


def _brought(plan: EditionCards) -> set[CardKey]:
    """The cards a published edition was new or changed with; the first one's are no change."""
    if plan.base is None or not plan.base.follows:
        return set()
    return {one.card.key for one in plan.cards if one.entry.since == plan.edition.code}


def _sheets(options: argparse.Namespace, menu: Menu) -> SheetOptions | None:
    """How several cards go on a sheet, where that was asked for. Raises ``ValueError``."""
    if not options.sheet:
        return None
    from buildsheets.sheets.imposition import SheetOptions, sheet_named

    language = menu.shop.languages[0]
    return SheetOptions(
        sheet=sheet_named(options.sheet),
        pouch_border_mm=menu.shop.pouch_border_mm,
        radius_mm=options.radius,
        flip=f"{options.flip}-edge" if options.flip else "",
        title=menu.edition.name.in_language(language),
        author=menu.shop.name.in_language(language),
        edition=menu.edition.code,
    )


def press(
    menu: Menu,
    place: Place,
    cached: bool = True,
    workers: int | None = None,
    executor: Executor | None = None,
) -> Press:
    """What cards of this menu are rendered with: its options, the user's cache, all cores."""
    from buildsheets import output
    from buildsheets.print.cache import Cache, user_cache
    from buildsheets.print.printing import Press

    return Press(
        output.render_options(menu, place.layouts),
        Cache(user_cache()) if cached else None,
        workers,
        executor,
        progress=progress_of("cards"),
    )


def _suffix(options: argparse.Namespace) -> str:
    """What sets a partial run apart from the edition's own folder, which stays whole."""
    kinds = {"changed": options.changed, "sheets": options.sheet, "accessible": options.accessible}
    parts = [*options.only, *options.language, *(kind for kind, asked in kinds.items() if asked)]
    return "".join(f"-{part}" for part in parts)


def _summary(run: output.Run, folder: Path, picked: Sequence[Card], drafts: int) -> Iterator[str]:
    files, cards = count_of(len(run.files), "file"), count_of(len(picked), "card")
    yield f"{files}, {cards} ({run.rendered} rendered anew) in {folder}"
    if run.pages:
        pages = count_of(run.pages, "page")
        yield f"{pages}; print at 100 %, the bar on each card must measure 50 mm"
    larger, split = (sum(f.code == code for f in run.findings) for code in ("CARD04", "CARD05"))
    if larger or split:
        on_larger = f"{count_of(larger, 'card is', 'cards are')} on larger stock"
        split_words = f"{count_of(split, 'is', 'are')} split"
        yield f"to stay legible and hold each cup's lines, {on_larger} and {split_words}"
    if drafts:
        yield f"{_say_draft(drafts)}: publish the edition before hanging up any"
    if run.summary:
        yield run.summary


def _say_draft(drafts: int) -> str:
    return f"{count_of(drafts, 'card says', 'cards say')} DRAFT"


def proof_files(options: argparse.Namespace) -> int:
    """Everything wrong with a printed PDF, or with those of a folder."""
    from buildsheets.proof.proof import proof, proof_folder

    if not options.path.exists():
        words = f"there is nothing at {options.path}; `buildsheets print` makes what it looks at"
        raise Ended(COULD_NOT, words)
    if options.outcome is not None:
        from buildsheets.cli.edition_results import Proofed

        options.outcome.result = Proofed(options.path.as_posix())
    if options.path.is_dir():
        found = proof_folder(options.path, progress=progress_of("files"))
    else:
        found = proof(options.path)
    found += _drafts_at(options.path)
    if report(found, {}, options):
        return FOUND
    say(f"{options.path}: nothing {'else ' if found else ''}wrong", options)
    return CLEAN


def _drafts_at(path: Path) -> Iterator[Finding]:
    """A finding for each printed folder at a path, below it or, of a single file, above it, that
    has drafts."""
    above = [] if path.is_dir() else [folder / manifest.NAME for folder in path.parents[:3]]
    for held in sorted(path.rglob(manifest.NAME)) if path.is_dir() else above:
        if drafts := manifest.drafts_in(held.parent):
            message = f"{_say_draft(drafts)} in {held.parent}"
            yield finding("OUT05", None, message, hint="publish, print again, and hang up those")
