"""The commands: parsed words in, their work done and an exit code out. Imports stay inside."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from buildsheets.findings.finding import Finding, Severity

if TYPE_CHECKING:
    from buildsheets.findings.finding import Source
    from buildsheets.pipeline import Checked

T = TypeVar("T")

CLEAN, FOUND, COULD_NOT = 0, 1, 2
FORMS = ("full", "short", "json", "sarif")


def add_commands(verbs: Any) -> None:
    """Enter every command."""
    check = command(verbs, "check", _check, "check the menu; writes nothing")
    menu_argument(check)
    form_options(check)

    explain = command(verbs, "explain", _explain, "show the whole calculation of a build")
    explain.add_argument("drink", metavar="DRINK", help="the drink's id")
    explain.add_argument("size", nargs="?", metavar="SIZE", help="the cup's id (default: all)")
    explain.add_argument("--menu", type=Path, default=Path("menu"), help="default: menu")
    explain.add_argument("--sweetness", default="", help="one of the levels: 50")
    explain.add_argument("--ice", default="", help="one of the ice levels: less")
    explain.add_argument(
        "--add", dest="add_ons", action="append", default=[], help="an add-on; may be repeated"
    )
    explain.add_argument("--format", choices=("text", "json"), default="text")

    measure = command(verbs, "measure", _measure, "turn weighings into lines for the menu")
    kinds = measure.add_subparsers(dest="what", metavar="WHAT", required=True)
    cup = kinds.add_parser("cup", help="water poured in so far at each height: 20mm=45g 40mm=102g")
    cup.add_argument("values", nargs="+", metavar="HEIGHT=GRAMS")
    scoop = kinds.add_parser("scoop", help="level scoops weighed one by one: 61 58 63")
    scoop.add_argument("values", nargs="+", metavar="GRAMS")
    ice = kinds.add_parser("ice", help="grams of ice that fill a jug level, and its ml: 505 1000")
    ice.add_argument("values", nargs=2, metavar=("GRAMS", "ML"))
    cap = kinds.add_parser("cap", help="one level cup of liquid and one of foam: 238 120")
    cap.add_argument("values", nargs=2, metavar=("LIQUID_GRAMS", "FOAM_GRAMS"))

    keys = command(verbs, "keys", _keys, "list the keys a menu may have, as Markdown")
    keys.add_argument("section", nargs="?", metavar="SECTION", help="only one: cups, drinks")

    rule = command(verbs, "rule", _rule, "explain a finding's code; without one, list all")
    rule.add_argument("code", nargs="?", metavar="CODE", help="such as FIT01")


def command(verbs: Any, name: str, run: Any, words: str) -> argparse.ArgumentParser:
    """A verb of the command line and the function that does it."""
    parser: argparse.ArgumentParser = verbs.add_parser(name, help=words, description=words)
    parser.set_defaults(run=run)
    return parser


def written_as(parse: Callable[[str], T], what: str, how: str) -> Callable[[str], T]:
    """An argument's type whose error says how to write it."""

    def read(text: str) -> T:
        try:
            return parse(text)
        except ValueError:
            raise argparse.ArgumentTypeError(f"{text!r} is not {what}; write {how}") from None

    return read


def menu_argument(parser: argparse.ArgumentParser) -> None:
    """MENU: a folder or a single file."""
    parser.add_argument(
        "menu",
        nargs="?",
        default=Path("menu"),
        type=Path,
        metavar="MENU",
        help="menu folder or file (default: menu)",
    )


def form_options(parser: argparse.ArgumentParser) -> None:
    """How findings are shown, and how strictly."""
    parser.add_argument("--format", choices=FORMS, default="full", help="how findings are shown")
    parser.add_argument("--strict", action="store_true", help="treat warnings as errors")


def checked_menu(options: argparse.Namespace) -> Checked:
    """The menu that was asked for, after all checks; with a word on layouts that are not read."""
    from buildsheets.pipeline import check
    from buildsheets.print.layouts import misplaced_layouts

    checked = check(options.menu)
    return replace(checked, findings=(*checked.findings, *misplaced_layouts(options.menu)))


def stopping(checked: Checked) -> int:
    """The exit code for a menu that stops a command: whether there was one to read at all."""
    return FOUND if checked.sources else COULD_NOT


def weighed(findings: Sequence[Finding], options: argparse.Namespace) -> list[Finding]:
    """The findings with the severity this run gives them."""
    from buildsheets.rules.run import strict

    return strict(findings) if options.strict else list(findings)


def barred(findings: Sequence[Finding], options: argparse.Namespace) -> bool:
    """Whether any finding stands at or above the bar."""
    return any(f.severity is Severity.ERROR for f in weighed(findings, options))


def report(
    findings: Sequence[Finding], sources: Mapping[str, Source], options: argparse.Namespace
) -> bool:
    """Print the findings; whether any stands at or above the bar.

    For programs (JSON, SARIF) this is the whole of standard output: call it once.
    """
    from buildsheets.findings.report import render, wants_colour

    shown = weighed(findings, options)
    if shown or for_programs(options):
        colour = options.format == "full" and wants_colour(sys.stdout, os.environ)
        print(render(shown, sources, options.format, colour=colour).rstrip("\n"))
    return barred(findings, options)


def for_programs(options: argparse.Namespace) -> bool:
    """Whether standard output is one document for a program."""
    return options.format in ("json", "sarif")


def say(text: str, options: argparse.Namespace) -> None:
    """A sentence for people: not into what a program reads."""
    print(text, file=sys.stderr if for_programs(options) else sys.stdout)


def _check(options: argparse.Namespace) -> int:
    checked = checked_menu(options)
    if report(checked.findings, checked.sources, options):
        return stopping(checked)
    if checked.menu is not None and options.format == "full" and not checked.findings:
        menu = checked.menu
        print(
            f"{len(menu.drinks)} drinks, {len(checked.servings)} builds in {len(menu.cups)} cups: "
            "every one fits"
        )
    return CLEAN


def write_files(out: Path, files: Mapping[str, bytes]) -> None:
    """Write each file whole, and say where."""
    from buildsheets.print.files import write_whole

    for name, data in sorted(files.items()):
        path = out / name
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, data)
    if len(files) == 1:
        print(f"written: {out / next(iter(files))}", file=sys.stderr)
    else:
        folders = {name.partition("/")[0] for name in files}
        folder = out / folders.pop() if len(folders) == 1 else out
        print(f"{len(files)} files in {folder}", file=sys.stderr)


def _explain(options: argparse.Namespace) -> int:
    from buildsheets.cli.explain import explain_json, explain_text, parse_choice
    from buildsheets.cup.errors import FigureError
    from buildsheets.findings.spelling import listed, nearest

    checked = checked_menu(options)
    menu = checked.menu
    if menu is None:
        report(checked.findings, checked.sources, argparse.Namespace(format="short", strict=False))
        return stopping(checked)
    if options.drink not in menu.drinks:
        close = nearest(options.drink, menu.drinks, 3)
        hint = (
            f"did you mean {listed(close)}?" if close else f"there is {listed(menu.drinks, 'and')}"
        )
        print(f"no drink '{options.drink}' can be figured; {hint}", file=sys.stderr)
        return COULD_NOT
    drink = menu.drinks[options.drink]
    sizes = [cup for cup in drink.cups if options.size in (None, cup.id)]
    if not sizes:
        offered = listed([cup.id for cup in drink.cups])
        print(f"{drink.id} is not sold in '{options.size}'; its cups: {offered}", file=sys.stderr)
        return COULD_NOT
    try:
        choice = parse_choice(drink, vars(options))
        if options.format == "json":
            found = [explain_json(drink, size, choice) for size in sizes]
            print(json.dumps(found, indent=2, ensure_ascii=False))
        else:
            print("\n".join(explain_text(drink, size, choice) for size in sizes), end="")
    except FigureError as refused:
        print(f"{drink.id} cannot be figured: {refused}", file=sys.stderr)
        return COULD_NOT
    except ValueError as wrong:
        print(wrong, file=sys.stderr)
        return COULD_NOT
    return CLEAN


def _measure(options: argparse.Namespace) -> int:
    from buildsheets.cli import measure_words

    try:
        if options.what == "cup":
            print(measure_words.measure_cup(options.values))
        elif options.what == "scoop":
            print(measure_words.measure_scoop(options.values))
        elif options.what == "ice":
            print(measure_words.measure_ice(*options.values))
        else:
            print(measure_words.measure_cap(*options.values))
    except ValueError as wrong:
        print(wrong, file=sys.stderr)
        return COULD_NOT
    return CLEAN


def _keys(options: argparse.Namespace) -> int:
    from buildsheets.findings.spelling import listed
    from buildsheets.menu.decode import reference
    from buildsheets.menu.written_drinks import SECTIONS, WrittenMenu

    if options.section is None:
        print(reference(WrittenMenu), end="")
        return CLEAN
    if options.section not in SECTIONS:
        print(f"there is no section '{options.section}': {listed(SECTIONS)}", file=sys.stderr)
        return COULD_NOT
    print(reference(SECTIONS[options.section]), end="")
    return CLEAN


def _rule(options: argparse.Namespace) -> int:
    from buildsheets.rulebook import rulebook

    book = rulebook()
    if options.code is None:
        for code, fault in sorted(book.items()):
            print(f"{code:<8}{fault.severity:<9}{fault.name}")
        return CLEAN
    entry = book.get(options.code.upper())
    if entry is None:
        from buildsheets.findings.spelling import listed, nearest

        close = nearest(options.code.upper(), book, 3)
        hint = f"; did you mean {listed(close)}?" if close else ""
        print(f"there is no rule '{options.code}'{hint}", file=sys.stderr)
        return COULD_NOT
    print(f"{options.code.upper()} {entry.name} ({entry.severity})\n\n{entry.documentation}")
    return CLEAN
