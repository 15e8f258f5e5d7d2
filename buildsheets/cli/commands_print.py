"""The commands that print, proof and verify: parsed words in, files and an exit code out."""

from __future__ import annotations

import argparse
import sys
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
    say,
    stopping,
)
from buildsheets.findings.finding import Severity

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Sequence

    from buildsheets import output
    from buildsheets.ledger.publish import EditionCards
    from buildsheets.menu.model import Menu
    from buildsheets.pipeline import Checked
    from buildsheets.print.printing import Press
    from buildsheets.sheets.imposition import SheetOptions
    from buildsheets.views.cardkey import CardKey
    from buildsheets.views.cards import Card


def add_commands(verbs: Any) -> None:
    """Enter the commands."""
    printing = command(verbs, "print", _print, "check the menu and print its cards as PDF")
    menu_argument(printing)
    form_options(printing)
    printing.add_argument("--out", type=Path, default=Path("out"), help="folder (default: out)")
    printing.add_argument(
        "--only",
        action="append",
        default=[],
        metavar="WORD",
        help="a station, drink, batch, cup or kind of card; may be repeated",
    )
    printing.add_argument(
        "--language", action="append", default=[], help="may be repeated (default: the shop's)"
    )
    printing.add_argument(
        "--changed",
        action="store_true",
        help="only cards that differ from the published edition, or those it changed itself",
    )
    form = printing.add_mutually_exclusive_group()
    form.add_argument(
        "--sheet", default="", metavar="NAME", help="several to a sheet: A4, letter, 320x450"
    )
    form.add_argument("--accessible", action="store_true", help="one tagged document a language")
    printing.add_argument(
        "--variant",
        choices=("pdf/ua-1", "pdf/a-3u", "pdf/a-3a"),
        default="pdf/ua-1",
        help="with --accessible: the standard it follows",
    )
    printing.add_argument(
        "--flip",
        choices=("long", "short"),
        default="",
        help="with --sheet: print add-on cards behind build cards, sheet turned by this edge",
    )
    printing.add_argument(
        "--radius", type=float, default=0.0, metavar="MM", help="with --sheet: corner guides"
    )
    printing.add_argument("--check", action="store_true", help="verify what was printed before")
    printing.add_argument("--workers", type=int, default=None, help="processes (default: all)")
    printing.add_argument("--no-cache", action="store_true", help="render every card anew")

    proof = command(verbs, "proof", _proof, "preflight of printed PDFs, in a folder or one file")
    proof.add_argument("path", type=Path, metavar="PATH", help="such as out/W26")
    form_options(proof)


def _print(options: argparse.Namespace) -> int:
    from buildsheets import output
    from buildsheets.ledger import manifest
    from buildsheets.menu.files import load_sources
    from buildsheets.print.inputs import inputs_digest
    from buildsheets.print.render import RenderOptions

    if options.check:
        return _verify(options)
    if not options.sheet and (options.flip or options.radius):
        print("--flip and --radius are for --sheet", file=sys.stderr)
        return COULD_NOT
    place = output.Place.of(options.menu)
    sources, _ = load_sources(options.menu)
    texts = {name: source.text for name, source in sources.items()}
    before = RenderOptions(layouts=place.layouts.own)
    inputs = inputs_digest(texts, place.ledger, before, _asked(options))
    if not (options.no_cache or for_programs(options)):
        for folder in sorted(path.parent for path in options.out.glob(f"*/{manifest.NAME}")):
            if manifest.unchanged(folder, inputs):
                print(f"nothing has changed: {folder} holds what a print would make")
                return CLEAN
    checked = checked_menu(options)
    if barred(checked.findings, options) or checked.menu is None:
        report(checked.findings, checked.sources, options)
        print("nothing was printed, since an error stands", file=sys.stderr)
        return stopping(checked)
    return _printed(options, checked, place, inputs)


def _asked(options: argparse.Namespace) -> list[str]:
    names = (
        "only",
        "language",
        "changed",
        "sheet",
        "flip",
        "radius",
        "accessible",
        "variant",
        "strict",
    )
    return [f"{name}={getattr(options, name)}" for name in names]


def _verify(options: argparse.Namespace) -> int:
    """Whether the files of each printed folder are as they were built."""
    from buildsheets.ledger import manifest

    folders = sorted(path.parent for path in options.out.glob(f"*/{manifest.NAME}"))
    if not folders:
        print(f"nothing was printed in {options.out}", file=sys.stderr)
        return COULD_NOT
    findings = {folder: manifest.check(folder) for folder in folders}
    found = [finding for of_folder in findings.values() for finding in of_folder]
    for folder, of_folder in findings.items():
        if not of_folder:
            say(f"{folder} is as it was printed", options)
    return FOUND if report(found, {}, options) else CLEAN


def _printed(
    options: argparse.Namespace, checked: Checked, place: output.Place, inputs: str
) -> int:
    from buildsheets import output
    from buildsheets.cli.edition_answers import cards_for_print
    from buildsheets.ledger import manifest
    from buildsheets.ledger.publish import Issuer

    menu = checked.menu
    assert menu is not None
    all_cards = output.cards(menu, checked.servings, place.layouts)
    issuer = Issuer(menu.shop.site, place.layouts)
    plan, ledger_findings = cards_for_print(all_cards, options.menu, menu.edition, issuer)
    findings = [*checked.findings, *ledger_findings]
    if barred(findings, options):
        report(findings, checked.sources, options)
        print("nothing was printed, since an error stands", file=sys.stderr)
        return FOUND
    drafts = {planned.card.key for planned in plan.cards if planned.draft}
    try:
        picked = output.chosen(
            [planned.card for planned in plan.cards], options.only, options.language
        )
        if options.changed:
            changed = drafts or _brought(plan)
            picked = tuple(card for card in picked if card.key in changed)
        sheets = _sheets(options, menu)
    except ValueError as wrong:
        print(wrong, file=sys.stderr)
        return COULD_NOT
    if not picked:
        report(findings, checked.sources, options)
        say("no card differs from the published edition", options)
        return CLEAN
    run = _run(options, menu, place, picked, sheets)
    # Notes of cards on larger stock are summed up in a sentence instead.
    findings += [
        f for f in run.findings if f.severity is not Severity.NOTE or for_programs(options)
    ]
    if report(findings, checked.sources, options) or run.stopped:
        print("nothing was printed, since a card could not be made", file=sys.stderr)
        return FOUND
    folder = options.out / f"{menu.edition.code}{_suffix(options)}"
    digest = output.menu_digest(checked.sources)
    manifest.write_folder(folder, run.files, menu.edition.code, digest, inputs)
    for sentence in _summary(run, folder, picked, drafts):
        say(sentence, options)
    return CLEAN


def _brought(plan: EditionCards) -> set[CardKey]:
    """The cards a published edition was new or changed with; the first one's are no change."""
    if plan.base is None or not plan.base.follows:
        return set()
    return {one.card.key for one in plan.cards if one.entry.since == plan.edition.code}


def _sheets(options: argparse.Namespace, menu: Menu) -> SheetOptions | None:
    """How several cards go on a sheet, where that was asked for. Raises ``ValueError``."""
    from buildsheets.sheets.imposition import SheetOptions, sheet_named

    if not options.sheet:
        return None
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


def _run(
    options: argparse.Namespace,
    menu: Menu,
    place: output.Place,
    picked: Sequence[Card],
    sheets: SheetOptions | None,
) -> output.Run:
    from buildsheets import output

    if options.accessible:
        return output.run_accessible(picked, menu, place.layouts)
    how = press(menu, place, cached=not options.no_cache, workers=options.workers)
    if sheets is None:
        return output.run(picked, how)
    return output.run_on_sheets(picked, how, sheets, place.layouts)


def press(menu: Menu, place: output.Place, cached: bool = True, workers: int | None = None
          ) -> Press:  # fmt: skip
    """What cards of this menu are rendered with: its options, the user's cache, all cores."""
    from buildsheets import output
    from buildsheets.print.cache import Cache, user_cache
    from buildsheets.print.printing import Press

    return Press(
        output.render_options(menu, place.layouts),
        Cache(user_cache()) if cached else None,
        workers,
        progress=progress_bar("cards"),
    )


def _suffix(options: argparse.Namespace) -> str:
    """What sets a partial run apart from the edition's own folder, which stays whole."""
    parts = [*options.only, *options.language]
    if options.changed:
        parts.append("changed")
    if options.sheet:
        parts.append("sheets")
    if options.accessible:
        parts.append("accessible")
    return "".join(f"-{part}" for part in parts)


def _summary(
    run: output.Run, folder: Path, picked: Sequence[Card], drafts: Collection[CardKey]
) -> Iterator[str]:
    yield f"{len(run.files)} files, {len(picked)} cards ({run.rendered} rendered anew) in {folder}"
    if run.pages:
        yield f"{run.pages} pages; print at 100 %, the bar on each card must measure 50 mm"
    larger, split = (sum(f.code == code for f in run.findings) for code in ("CARD04", "CARD05"))
    if larger or split:
        yield f"to stay legible, {larger} cards are on larger stock and {split} are split"
    unpublished = sum(card.key in drafts for card in picked)
    if unpublished:
        yield f"{unpublished} cards say DRAFT: publish the edition before they go on the wall"
    if run.summary:
        yield run.summary


def progress_bar(what: str) -> Callable[[int, int], None]:
    """A bar on standard error where somebody watches; nothing in a pipe."""

    def show(done: int, total: int) -> None:
        if not sys.stderr.isatty():
            return
        filled = 24 * done // max(total, 1)
        end = "\n" if done == total else ""
        print(f"\r[{'#' * filled:<24}] {done}/{total} {what}", end=end, file=sys.stderr, flush=True)

    return show


def _proof(options: argparse.Namespace) -> int:
    from buildsheets.proof.proof import proof, proof_folder

    if not options.path.exists():
        print(f"there is nothing at {options.path}", file=sys.stderr)
        return COULD_NOT
    found = proof_folder(options.path) if options.path.is_dir() else proof(options.path)
    if report(found, {}, options):
        return FOUND
    say(f"{options.path}: nothing wrong", options)
    return CLEAN
