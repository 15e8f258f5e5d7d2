"""The commands that print, proof and verify: parsed words in, files and an exit code out."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildsheets.commands import (
    CLEAN,
    COULD_NOT,
    FOUND,
    command,
    form_options,
    menu_argument,
    report,
)
from buildsheets.core.finding import Severity

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from buildsheets import output
    from buildsheets.editions.cards import Card
    from buildsheets.editions.printing import Press
    from buildsheets.pipeline import Checked


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
        "--changed", action="store_true", help="only cards that differ from the published edition"
    )
    printing.add_argument(
        "--sheet", default="", metavar="NAME", help="several to a sheet: A4, letter, 320x450"
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
    printing.add_argument(
        "--accessible", action="store_true", help="one tagged document (PDF/UA-1) a language"
    )
    printing.add_argument("--check", action="store_true", help="verify what was printed before")
    printing.add_argument("--workers", type=int, default=None, help="processes (default: all)")
    printing.add_argument("--no-cache", action="store_true", help="render every card anew")

    proof = command(verbs, "proof", _proof, "preflight of printed PDFs, in a folder or one file")
    proof.add_argument("path", type=Path, metavar="PATH", help="such as out/W26")
    form_options(proof)


def _print(options: argparse.Namespace) -> int:
    from buildsheets import output
    from buildsheets.cards.render import RenderOptions
    from buildsheets.editions import manifest
    from buildsheets.editions.inputs import inputs_digest
    from buildsheets.pipeline import check
    from buildsheets.text.files import load_sources

    place = output.Place.of(options.menu)
    sources, _ = load_sources(options.menu)
    texts = {name: source.text for name, source in sources.items()}
    before = RenderOptions(layouts=place.layouts.own)
    inputs = inputs_digest(texts, place.ledger, before, _asked(options))
    if options.check:
        return _verify(options)
    if not options.no_cache:
        for folder in sorted(path.parent for path in options.out.glob(f"*/{manifest.NAME}")):
            if manifest.unchanged(folder, inputs):
                print(f"nothing has changed: {folder} holds what a print would make")
                return CLEAN
    checked = check(options.menu)
    if report(checked.findings, checked.sources, options) or checked.menu is None:
        print("nothing was printed, since an error stands", file=sys.stderr)
        return FOUND
    return _printed(options, checked, place, inputs)


def _asked(options: argparse.Namespace) -> list[str]:
    names = ("only", "language", "changed", "sheet", "flip", "radius", "accessible", "strict")
    return [f"{name}={getattr(options, name)}" for name in names]


def _verify(options: argparse.Namespace) -> int:
    """Whether the files of each printed folder are as they were built."""
    from buildsheets.editions import manifest
    from buildsheets.editions.commands import check_folder

    folders = sorted(path.parent for path in options.out.glob(f"*/{manifest.NAME}"))
    if not folders:
        print(f"nothing was printed in {options.out}", file=sys.stderr)
        return COULD_NOT
    good = True
    for folder in folders:
        answer = check_folder(folder)
        report(answer.findings, {}, options)
        good = good and answer.good
        if answer.good:
            print(f"{folder} is as it was printed")
    return CLEAN if good else FOUND


def _printed(
    options: argparse.Namespace, checked: Checked, place: output.Place, inputs: str
) -> int:
    from buildsheets import output
    from buildsheets.cards.engine import NativeLibrariesMissing
    from buildsheets.editions import manifest
    from buildsheets.editions.commands import plan_cards
    from buildsheets.editions.publish import Issuer

    menu = checked.menu
    assert menu is not None
    all_cards = output.cards(menu, checked.servings, place.layouts)
    issuer = Issuer(menu.shop.site, place.layouts)
    plan, ledger_findings = plan_cards(all_cards, options.menu, menu.edition, issuer)
    if report(ledger_findings, checked.sources, options):
        return FOUND
    drafts = [planned for planned in plan.cards if planned.draft]
    wanted = [p.card for p in (drafts if options.changed else plan.cards)]
    try:
        picked = output.chosen(wanted, options.only, options.language) if wanted else ()
        if not picked:
            print("no card differs from the published edition")
            return CLEAN
        run = _run(options, checked, place, picked)
    except ValueError as wrong:
        print(wrong, file=sys.stderr)
        return COULD_NOT
    except NativeLibrariesMissing as missing:
        print(missing, file=sys.stderr)
        return COULD_NOT
    worth_saying = [f for f in run.findings if f.severity is not Severity.NOTE]
    if report(worth_saying, checked.sources, options) or run.stopped:
        print("nothing was printed, since a card could not be made", file=sys.stderr)
        return FOUND
    folder = options.out / f"{menu.edition.code}{_suffix(options)}"
    digest = output.menu_digest(checked.sources)
    manifest.write_folder(folder, run.files, menu.edition.code, digest, inputs)
    _said(run, folder, len(picked), len(drafts))
    return CLEAN


def _run(
    options: argparse.Namespace, checked: Checked, place: output.Place, picked: Sequence[Card]
) -> output.Run:
    from buildsheets import output
    from buildsheets.cards.imposition import SheetOptions, sheet_named

    assert checked.menu is not None
    menu, layouts = checked.menu, place.layouts
    if options.accessible:
        return output.run_accessible(picked, menu, layouts)
    press = _press(options, checked, place)
    if not options.sheet:
        return output.run(picked, press)
    sheets = SheetOptions(
        sheet=sheet_named(options.sheet),
        pouch_border_mm=menu.shop.pouch_border_mm,
        radius_mm=options.radius,
        flip=f"{options.flip}-edge" if options.flip else "",
        title=press.options.title,
        author=press.options.author,
        edition=menu.edition.code,
    )
    return output.run_on_sheets(picked, press, sheets, layouts)


def _press(options: argparse.Namespace, checked: Checked, place: output.Place) -> Press:
    from buildsheets import output
    from buildsheets.editions.cache import Cache, user_cache
    from buildsheets.editions.printing import Press

    assert checked.menu is not None
    return Press(
        output.render_options(checked.menu, place.layouts),
        None if options.no_cache else Cache(user_cache()),
        options.workers,
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


def _said(run: output.Run, folder: Path, cards: int, drafts: int) -> None:
    print(f"{len(run.files)} files, {cards} cards ({run.rendered} rendered anew) in {folder}")
    if run.pages:
        print(f"{run.pages} pages; print at 100 %, the bar on each card must measure 50 mm")
    notes = [f for f in run.findings if f.severity is Severity.NOTE]
    larger = sum(f.code == "CARD04" for f in notes)
    split = sum(f.code == "CARD05" for f in notes)
    if larger or split:
        print(f"to stay legible, {larger} cards are on larger stock and {split} are split")
    if drafts:
        print(f"{drafts} cards say DRAFT: publish the edition before they go on the wall")
    if run.summary:
        print(run.summary)


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
    from buildsheets.cards.proof import proof, proof_folder

    if not options.path.exists():
        print(f"there is nothing at {options.path}", file=sys.stderr)
        return COULD_NOT
    found = proof_folder(options.path) if options.path.is_dir() else proof(options.path)
    if report(found, {}, options):
        return FOUND
    print(f"{options.path}: nothing wrong")
    return CLEAN
