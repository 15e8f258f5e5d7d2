"""Every command with its arguments; what a command needs is imported when it is run."""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path
from typing import Any

from buildsheets import __version__
from buildsheets.cli import commands_prep
from buildsheets.cli.commands import command, menu_argument, written_as

_DAY = written_as(date.fromisoformat, "a day", "year-month-day: 2027-03-01")


def parser() -> argparse.ArgumentParser:
    """The parser of the whole command line."""
    words = "Turns a drinks shop's YAML menu into checked builds and laminated cards."
    top = argparse.ArgumentParser(prog="buildsheets", description=words)
    top.add_argument("--version", action="version", version=f"buildsheets {__version__}")
    verbs = top.add_subparsers(dest="verb", metavar="COMMAND", required=True)
    _checking(verbs)
    _printing(verbs)
    commands_prep.add_commands(verbs)
    _editions(verbs)
    return top


def _checking(verbs: Any) -> None:
    check = command(verbs, "check", "checking.check", "check the menu; writes nothing")
    menu_argument(check)
    _form_options(check)

    explain = command(verbs, "explain", "checking.explain", "show how a build is worked out")
    explain.add_argument("drink", metavar="DRINK", help="the drink's id")
    explain.add_argument("size", nargs="?", metavar="SIZE", help="the cup's id (default: all)")
    _menu_option(explain)
    explain.add_argument("--sweetness", default="", help="one of the levels: 50")
    explain.add_argument("--ice", default="", help="one of the ice levels: less")
    _repeated(explain, "--add", "ADD_ON", "an add-on", dest="add_ons")
    explain.add_argument("--format", choices=("text", "json"), default="text")

    words = "turn weighings into lines for the menu"
    measure = command(verbs, "measure", "checking.measure", words)
    kinds = measure.add_subparsers(dest="what", metavar="WHAT", required=True)
    cup = kinds.add_parser("cup", help="water poured in so far at each height: 20mm=45g 40mm=102g")
    cup.add_argument("values", nargs="+", metavar="HEIGHT=GRAMS")
    scoop = kinds.add_parser("scoop", help="level scoops weighed one by one: 61 58 63")
    scoop.add_argument("values", nargs="+", metavar="GRAMS")
    ice = kinds.add_parser("ice", help="grams of ice that fill a jug level, and its ml: 505 1000")
    ice.add_argument("values", nargs=2, metavar=("GRAMS", "ML"))
    cap = kinds.add_parser("cap", help="one level cup of liquid and one of foam: 238 120")
    cap.add_argument("values", nargs=2, metavar=("LIQUID_GRAMS", "FOAM_GRAMS"))

    keys = command(verbs, "keys", "checking.keys", "list the keys a menu may have, as Markdown")
    keys.add_argument("section", nargs="?", metavar="SECTION", help="only one: cups, drinks")

    words = "explain a finding's code; without one, list all"
    rule = command(verbs, "rule", "checking.rule", words)
    rule.add_argument("code", nargs="?", metavar="CODE", help="such as FIT01")


def _printing(verbs: Any) -> None:
    words = "check the menu and print its cards as PDF"
    printing = command(verbs, "print", "printing.print_cards", words)
    menu_argument(printing)
    _form_options(printing)
    _out_option(printing)
    _repeated(printing, "--only", "WORD", "a station, drink, batch, cup or kind of card")
    _repeated(printing, "--language", "LANGUAGE", "default: the shop's")
    words = "only cards that differ from the published edition, or those it changed itself"
    printing.add_argument("--changed", action="store_true", help=words)
    form = printing.add_mutually_exclusive_group()
    words = "several to a sheet: A4, letter, 320x450"
    form.add_argument("--sheet", default="", metavar="NAME", help=words)
    form.add_argument("--accessible", action="store_true", help="one tagged document a language")
    standards = ("pdf/ua-1", "pdf/a-3u", "pdf/a-3a")
    words = "with --accessible: the standard it follows"
    printing.add_argument("--variant", choices=standards, default=standards[0], help=words)
    words = "with --sheet: print add-on cards behind build cards, sheet turned by this edge"
    printing.add_argument("--flip", choices=("long", "short"), default="", help=words)
    words = "with --sheet: corner guides"
    printing.add_argument("--radius", type=float, default=0.0, metavar="MM", help=words)
    printing.add_argument("--check", action="store_true", help="verify what was printed before")
    printing.add_argument("--workers", type=int, default=None, help="processes (default: all)")
    printing.add_argument("--no-cache", action="store_true", help="render every card anew")

    words = "preflight of printed PDFs, in a folder or one file"
    proof = command(verbs, "proof", "printing.proof_files", words)
    proof.add_argument("path", type=Path, metavar="PATH", help="such as out/W26")
    _form_options(proof)


def _editions(verbs: Any) -> None:
    words = "freeze the menu's edition in the ledger"
    publish = command(verbs, "publish", "editions.publish", words)
    menu_argument(publish)
    _answer_options(publish)

    compare = command(verbs, "compare", "editions.compare", "what changed between two editions")
    compare.add_argument("before", metavar="BEFORE", help="an edition's code")
    words = "an edition's code (default: menu, the menu as it is now)"
    compare.add_argument("after", metavar="AFTER", nargs="?", default="menu", help=words)
    _menu_option(compare)
    compare.add_argument("--sheet", action="store_true", help="also the change sheet as PDF")
    _out_option(compare)
    _answer_options(compare)

    current = command(verbs, "current", "editions.current", "whether cards on the wall are current")
    words = "as printed, if you can with its revision (r2); or what was scanned"
    current.add_argument("codes", nargs="+", metavar="CODE", help=words)
    _menu_option(current)
    current.add_argument("--day", type=_DAY, default=None, help="default: today")
    _answer_options(current)

    site = command(verbs, "site", "editions.site", "phone pages of all published cards")
    menu_argument(site)
    _out_option(site)
    site.add_argument("--day", type=_DAY, default=None, help="default: today")
    _answer_options(site)


def _form_options(parser: argparse.ArgumentParser) -> None:
    """How findings are shown, and how strictly."""
    forms = ("full", "short", "json", "sarif")
    parser.add_argument("--format", choices=forms, default="full", help="how findings are shown")
    parser.add_argument("--strict", action="store_true", help="treat warnings as errors")


def _repeated(
    parser: argparse.ArgumentParser, name: str, what: str, words: str, dest: str | None = None
) -> None:
    words = f"{words}; may be repeated"
    parser.add_argument(name, action="append", default=[], metavar=what, help=words, dest=dest)


def _menu_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--menu", type=Path, default=Path("menu"), help="default: menu")


def _out_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--out", type=Path, default=Path("out"), help="folder (default: out)")


def _answer_options(parser: argparse.ArgumentParser) -> None:
    _form_options(parser)
    parser.add_argument("--language", default="", help="default: the shop's first")
