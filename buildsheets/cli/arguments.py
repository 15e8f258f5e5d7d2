"""Every command with its arguments; what a command needs is imported when it is run."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import date, datetime, time
from importlib import import_module
from pathlib import Path
from typing import Any, TypeVar

from buildsheets import __version__
from buildsheets.cli.examples import epilog
from buildsheets.cli.outcome import RESULTS
from buildsheets.cli.parser import MENU_FOLDER, Parser

T = TypeVar("T")

MOST_SHEETS, MOST_SEED = 100, 999_999_999
"""Practice sheets at once; seeds that people type. Common practice, no source."""
PORT = 8642
"""Of the preview: one that few programs take; common practice, no source."""


def parser() -> Parser:
    """The parser of the whole command line."""
    words = "Turns a drinks shop's YAML menu into checked builds and laminated cards."
    more = (
        "`buildsheets guide` tells what to do in order, from an empty folder to a laminated card.\n"
        "`buildsheets COMMAND --help` shows a command's options, with examples.\n"
        "Exit codes: 0 clean; 1 something to act on, as findings that stop printing; 2 not run."
    )
    top = Parser(prog="buildsheets", description=words, epilog=more)
    top.add_argument("--version", action="version", version=f"buildsheets {__version__}")
    verbs = top.add_subparsers(dest="verb", metavar="COMMAND", required=True)
    _beginning(verbs)
    _checking(verbs)
    _printing(verbs)
    _prep(verbs)
    _editions(verbs)
    _learning(verbs)
    return top


def _beginning(verbs: Any) -> None:
    words = "begin a menu: one drink that prints, with comments; never overwrites"
    new = _command(verbs, "new", "new.new", words)
    words = "folder to make (default: menu)"
    new.add_argument("folder", nargs="?", type=Path, default=Path("menu"), help=words)
    words = "copy the demo menu of sixteen drinks instead"
    new.add_argument("--demo", action="store_true", help=words)
    new.add_argument("--name", default="", help="what the shop is called on the cards")
    _repeated(new, "--language", "LANGUAGE", "of the cards: en, es, fr, de (default: en)")
    new.add_argument("--units", choices=("metric", "us"), default="", help="default: metric")
    words = "how you know your cups: measured inside, filled on a scale, or as the box says"
    new.add_argument("--cups", choices=("ruler", "pouring", "box"), default="", help=words)
    words = "three letters (default: EUR, or USD with --units us)"
    new.add_argument("--currency", default="", metavar="CODE", help=words)
    words = "as Europe/Lisbon (default: this computer's)"
    new.add_argument("--time-zone", default="", metavar="ZONE", help=words)
    words = "with the drinks of this table, as CSV or XLSX: drink,step,small,large"
    new.add_argument("--from", type=Path, dest="table", metavar="TABLE", help=words)


def _checking(verbs: Any) -> None:
    check = _command(verbs, "check", "checking.check", "check every drink, size and option")
    _add(check, "menu", "--format", "--strict")
    words = "write the fixes that leave no choice into the menu; comments and layout stay"
    check.add_argument("--fix", action="store_true", help=words)
    words = "show them line by line; alone, nothing is written"
    check.add_argument("--diff", action="store_true", help=words)
    words = "check again after every change, until Ctrl-C"
    check.add_argument("--watch", action="store_true", help=words)
    check.not_with("--format json", "--diff", "--watch")
    check.not_with("--format sarif", "--diff", "--watch")
    check.not_with("--watch", "--fix")

    words = "show cards, findings, orders and costs in a browser while you write the menu"
    preview = _command(verbs, "preview", "preview.preview", words)
    _add(preview, "menu", "--open")
    words = f"of this machine (default: {PORT}); 0 takes any that is free"
    preview.add_argument("--port", type=_PORT, default=PORT, metavar="N", help=words)

    explain = _command(verbs, "explain", "checking.explain", "show how a build is worked out")
    words = "as a guest says it: marsh milk tea large less ice 50 + cap (default: every size)"
    explain.add_argument("order", nargs="+", metavar="ORDER", help=words)
    _add(explain, "--menu", "--language")
    explain.add_argument("--sweetness", default="", help="one of the levels: 50")
    explain.add_argument("--ice", default="", help="one of the ice levels: less")
    _repeated(explain, "--add", "ADD_ON", "an add-on", dest="add_ons")
    _repeated(explain, "--swap", "SWAP", "a swap: oat", dest="swaps")
    explain.add_argument("--format", choices=("text", "json"), default="text")

    words = "turn weighings into lines for the menu"
    measure = _command(verbs, "measure", "checking.measure", words)
    kinds = measure.add_subparsers(dest="what", metavar="WHAT", required=True)
    cup = kinds.add_parser("cup", help="water poured in so far at each height: 20mm=45g 40mm=102g")
    cup.add_argument("values", nargs="+", metavar="HEIGHT=GRAMS")
    words = "rim, height and brimful from the cup's box: 91mm 114mm 505ml"
    box = kinds.add_parser("box", help=words)
    box.add_argument("values", nargs=3, metavar="FIGURE", help="91mm 114mm 505ml")
    scoop = kinds.add_parser("scoop", help="level scoops weighed one by one: 61 58 63")
    scoop.add_argument("values", nargs="+", metavar="GRAMS")
    ice = kinds.add_parser("ice", help="grams of ice that fill a jug level, and its ml: 505 1000")
    ice.add_argument("values", nargs=2, metavar="FIGURE", help="grams of ice, then ml of the jug")
    cap = kinds.add_parser("cap", help="one level cup of liquid and one of foam: 238 120")
    cap.add_argument("values", nargs=2, metavar="GRAMS", help="of the liquid, then of the foam")

    words = "ml of soda poured over ice in a jug, where it stands, its foam's tops: 200 290 314 320"
    head = kinds.add_parser("head", help=words)
    head.add_argument("values", nargs="+", metavar="ML")
    words = "ml and g of liquid, g of ice, and ml and g of a jar full of it: 160 170 120 250 217"
    blend = kinds.add_parser("blend", help=words)
    blend.add_argument("values", nargs=5, metavar="FIGURE", help="blended, a full jar of it")

    keys = _command(verbs, "keys", "checking.keys", "list the keys a menu may have")
    words = "for people, or for an editor that knows JSON Schema (default: markdown)"
    forms = ("markdown", "json-schema")
    keys.add_argument("--format", choices=forms, default=forms[0], help=words)
    keys.add_argument("section", nargs="?", metavar="SECTION", help="only one: cups, drinks")

    words = "the JSON Schema of what a command writes with --format json"
    schema = _command(verbs, "schema", "checking.schema", words)
    schema.add_argument("of", choices=tuple(RESULTS), metavar="COMMAND", help="such as plan")

    words = "explain a finding's code; without one, list all"
    rule = _command(verbs, "rule", "checking.rule", words)
    rule.add_argument("code", nargs="?", metavar="CODE", help="such as FIT01")

    words = "read the guide: its chapters, one of them, or all as pages or PDF"
    guide = _command(verbs, "guide", "guide.guide", words)
    words = "such as printing (default: list them)"
    guide.add_argument("chapter", nargs="?", metavar="CHAPTER", help=words)
    form = guide.add_mutually_exclusive_group()
    form.add_argument("--pdf", type=Path, metavar="FILE", help="write all of it as one PDF")
    words = "write all of it as web pages"
    form.add_argument("--html", type=Path, metavar="FOLDER", help=words)
    words = "show it in the browser; alone, as pages in out/guide"
    guide.add_argument("--open", action="store_true", help=words)
    guide.not_with("chapter", "--pdf", "--html", "--open")

    words = "print a script that completes words in your shell"
    completion = _command(verbs, "completion", "checking.completion", words)
    shells = ("bash", "zsh", "tcsh")
    completion.add_argument("shell", choices=shells, metavar="SHELL", help="bash, zsh or tcsh")


def _printing(verbs: Any) -> None:
    words = "check the menu and print its cards as PDF"
    printing = _command(verbs, "print", "chain.print_shops", words)
    words = f"{_MENU_WORDS}; several are printed one after the other, each into a folder of its own"
    printing.add_argument("shops", nargs="*", metavar="MENU", help=words)
    _add(printing, "--menu", "--format", "--strict", "--out", "--open")
    _repeated(printing, "--only", "WORD", "a station, drink, batch, cup or kind of card")
    _repeated(printing, "--language", "LANGUAGE", "default: the shop's")
    words = "only cards that differ from the published edition, or those it changed itself"
    printing.add_argument("--changed", action="store_true", help=words)
    form = printing.add_mutually_exclusive_group()
    words = "several to a sheet: A4, letter, 320x450"
    form.add_argument("--sheet", default="", metavar="NAME", help=words)
    form.add_argument("--accessible", action="store_true", help="one tagged document a language")
    standards = ("pdf/ua-1", "pdf/a-3u", "pdf/a-3a")
    words = f"with --accessible: the standard it follows (default: {standards[0]})"
    printing.add_argument("--variant", choices=standards, default="", help=words)
    words = "with --sheet: print add-on cards behind build cards, sheet turned by this edge"
    printing.add_argument("--flip", choices=("long", "short"), default="", help=words)
    words = "with --sheet: corner guides"
    printing.add_argument("--radius", type=float, default=0.0, metavar="MM", help=words)
    printing.add_argument("--check", action="store_true", help="verify what was printed before")
    workers = _written_as(_from_1, "a number of processes", "1 or more")
    printing.add_argument("--workers", type=workers, default=None, help="processes (default: all)")
    words = "address of a Dask scheduler whose workers do it (buildsheets[chain]): tcp://host:8786"
    printing.add_argument("--scheduler", default="", metavar="ADDRESS", help=words)
    printing.add_argument("--no-cache", action="store_true", help="render every card anew")
    printing.only_with("--sheet", "--flip", "--radius")
    printing.only_with("--accessible", "--variant")
    printing.not_with("--accessible", "--workers", "--scheduler")
    printing.not_with("--scheduler", "--workers")
    makes = ("--only", "--language", "--changed", "--sheet", "--accessible")
    by = ("--workers", "--scheduler", "--no-cache", "--open")
    printing.not_with("--check", *makes, *by)

    words = "preflight of printed PDFs, in a folder or one file"
    proof = _command(verbs, "proof", "printing.proof_files", words)
    proof.add_argument("path", type=Path, metavar="PATH", help="such as out/W26")
    _add(proof, "--format", "--strict")


def _prep(verbs: Any) -> None:
    def prep(name: str, words: str, *more: str) -> Parser:
        command = _command(verbs, name, f"prep.{name}", words)
        command.add_argument("--format", choices=("text", *more, "json", "pdf"), default="text")
        _add(command, "--language", "--open")
        command.add_argument("--out", type=Path, default=Path("out"), help="folder for PDFs")
        command.only_with("--format pdf", "--out", "--open")
        command.not_with("--format json", "--language")
        command.not_with("--format csv", "--language")
        return command

    plan = prep("plan", "a day's plan: what to make and when, what to buy")
    plan.add_argument("day", metavar="DAY", help="a day of the menu: saturday")
    _add(plan, "menu", "--on")

    words = "what to order for some days, less what was counted"
    buy = prep("buy", words, "csv")
    words = "days of the menu, one after the other: friday saturday"
    buy.add_argument("days", nargs="+", metavar="DAY", help=words)
    _add(buy, "--menu", "--on")

    labels = prep("labels", "date labels for batches and opened packs, and what to discard when")
    words = "a batch or an ingredient: cooked-pearls=4 whole-milk"
    labels.add_argument("items", nargs="*", metavar="ID[=COPIES]", help=words)
    _add(labels, "--menu")
    moment = _written_as(_moment, "a time", "09:30 for today, else 2027-03-01T09:30")
    when = "made or opened (default: as logged, else now)"
    labels.add_argument("--at", type=moment, default=None, help=when)
    dated = "the maker's date on the pack that was opened"
    labels.add_argument("--use-by", type=_DAY, default=None, help=dated)
    labels.add_argument("--log", action="store_true", help="also write it in the kitchen log")
    labels.add_argument("--skip", type=int, default=0, help="labels already used on the sheet")
    words = "the discard calendar instead; without ids, of all that is in use"
    labels.add_argument("--calendar", action="store_true", help=words)
    labels.not_with("--calendar", "--skip")
    labels.only_with("--format pdf", "--skip")

    words = "write down what was made, opened, counted, frozen or is gone; or say what is in use"
    log = _command(verbs, "log", "kitchen_log.log", words)
    events = ("made", "opened", "counted", "frozen", "thawed", "gone")
    log.add_argument("event", nargs="?", choices=events, help="what happened")
    words = "batches made, ingredients opened; counted: whole-milk 12 l oat-drink 3 packs"
    log.add_argument("ids", nargs="*", metavar="ID", help=words)
    log.add_argument("--at", type=moment, default=None, help="when (default: now)")
    log.add_argument("--use-by", type=_DAY, default=None, help=dated)
    log.only_with("event", "--at")
    log.only_with("event", "--use-by")
    _add(log, "--menu", "--format", "--strict")

    costs = prep("costs", "cost, price and margin of every drink", "csv")
    _add(costs, "menu")
    costs.add_argument("--what-if", default="", metavar="INGREDIENT=PRICE", help="whole-milk=1.55")
    costs.add_argument("--options", action="store_true", help="of every choice a guest has")

    _add(prep("facts", "nutrition, sugar and caffeine of every drink"), "menu")
    _add(prep("allergens", "every drink against every allergen"), "menu")

    batch = prep("batch", "a batch at the scale you need")
    batch.add_argument("batch", metavar="BATCH", help="the batch's id")
    _add(batch, "menu")
    scale = batch.add_mutually_exclusive_group()
    scale.add_argument("--scale", help="by name: half")
    scale.add_argument("--factor", type=float, help="by number: 1.5")
    _repeated(scale, "--portions", "CUP=N", "small=30")
    scale.add_argument("--packs", type=float, help="of the lead ingredient")
    words = "as many as fill these containers: 3x1000 (ml), '2x64 fl oz', 2x1qt"
    scale.add_argument("--containers", metavar="NxVOLUME", help=words)
    _repeated(scale, "--stock", "ID=GRAMS", "what there is")


def _editions(verbs: Any) -> None:
    words = "freeze the menu's edition in the ledger"
    publish = _command(verbs, "publish", "editions.publish", words)
    _add(publish, "menu", "--format", "--strict", "--language")

    compare = _command(verbs, "compare", "editions.compare", "what changed between two editions")
    compare.add_argument("before", metavar="BEFORE", help="an edition's code")
    words = "an edition's code (default: menu, the menu as it is now)"
    compare.add_argument("after", metavar="AFTER", nargs="?", default="menu", help=words)
    _add(compare, "--menu")
    compare.add_argument("--sheet", action="store_true", help="also the change sheet as PDF")
    _add(compare, "--out", "--open", "--format", "--strict", "--language")
    compare.only_with("--sheet", "--out", "--open")

    words = "whether cards on the wall are current"
    current = _command(verbs, "current", "editions.current", words)
    words = "as printed, if you can with its revision (r2); or what was scanned"
    current.add_argument("codes", nargs="+", metavar="CODE", help=words)
    _add(current, "--menu", "--day", "--format", "--strict", "--language")

    site = _command(verbs, "site", "editions.site", "phone pages of all published cards")
    _add(site, "menu", "--out", "--open", "--day", "--format", "--strict", "--language")


def _learning(verbs: Any) -> None:
    words = "teach new staff from the menu: a first day, practice, sign-off, and how it went"
    learn = verbs.add_parser("learn", help=words, description=words, epilog=epilog("learn"))
    kinds = learn.add_subparsers(dest="what", metavar="WHAT", required=True)
    words = "the first day of a hire as one PDF: counter, cups at true size, tools, drinks, words"
    pack = _command(kinds, "pack", "learning_pack.pack", words)
    words = "what a hire may do, station by station, with room for dates and initials"
    sign_off = _command(kinds, "sign-off", "learning_pack.sign_off", words)
    words = "instead: what of each station changed since an edition, to brief who was signed off"
    sign_off.add_argument("--since", default="", metavar="EDITION", help=words)
    words = "practice sheets made of the menu's cards, with the key to them"
    sheet = _command(kinds, "sheet", "learning.sheet", words)
    words = "whose cards are asked about (default: all of them)"
    sheet.add_argument("--station", default="all", metavar="ID", help=words)
    words = "1: the usual order, 2: sweetness, ice and sizes, 3: all else (default: 1)"
    sheet.add_argument("--level", type=int, choices=(1, 2, 3), default=1, help=words)
    several = _written_as(_from_1_to(MOST_SHEETS), "a number of sheets", f"1 to {MOST_SHEETS}")
    words = "another seed asks in another order; within one, nothing comes twice (default: 1)"
    seed = _written_as(_from_1_to(MOST_SEED), "a seed", f"1 to {MOST_SEED}")
    sheet.add_argument("--seed", type=seed, default=1, metavar="N", help=words)
    sheet.add_argument("--count", type=several, default=1, metavar="N", help="sheets (default: 1)")
    words = "the number of the first of them (default: 1)"
    first = _written_as(_from_1_to(MOST_SEED), "a sheet's number", f"1 to {MOST_SEED}")
    sheet.add_argument("--first", type=first, default=1, metavar="N", help=words)
    words = "instead: so many cups at true size, to draw the lines of an order on"
    sheet.add_argument("--dry-runs", action="store_true", help=words)
    words = "instead: list the questions that are not asked, and why"
    sheet.add_argument("--removed", action="store_true", help=words)
    sheet.not_with("--dry-runs", "--station", "--removed")
    sheet.not_with("--removed", "--seed", "--count", "--first", "--out", "--open")
    words = "what was missed most on sheets that were filled in; nobody is named"
    scored = _command(kinds, "score", "learning.score", words)
    words = "a table as CSV: sheet,missed"
    scored.add_argument("file", type=Path, metavar="FILE", help=words)
    for one in (pack, sign_off, sheet):
        _add(one, "menu", "--language", "--out", "--open", "--format", "--strict")
    _add(scored, "menu", "--format", "--strict")


def _command(verbs: Any, name: str, run: str, words: str) -> Parser:
    """A verb and the ``module.function`` of this room that does it, imported when it is run."""

    def run_it(options: argparse.Namespace) -> int:
        command.finish(options)
        module, _, function = run.partition(".")
        code: int = getattr(import_module(f"buildsheets.cli.{module}"), function)(options)
        return code

    command: Parser = verbs.add_parser(name, help=words, description=words, epilog=epilog(name))
    command.set_defaults(run=run_it, strict=False)
    return command


def _add(parser: argparse.ArgumentParser, *names: str) -> None:
    """Add arguments of :data:`_SHARED`; ``menu`` is a word, and ``--menu`` the same."""
    for name in names:
        if name == "menu":
            parser.add_argument("menu_word", nargs="?", metavar="MENU", help=_MENU_WORDS)
        parser.add_argument("--menu" if name == "menu" else name, **_SHARED[name])


def _repeated(parser: Any, name: str, what: str, words: str, dest: str | None = None) -> None:
    words = f"{words}; may be repeated"
    parser.add_argument(name, action="append", default=[], metavar=what, help=words, dest=dest)


def _written_as(parse: Callable[[str], T], what: str, how: str) -> Callable[[str], T]:
    """An argument's type whose error says how to write it."""

    def read(text: str) -> T:
        try:
            return parse(text)
        except ValueError:
            raise argparse.ArgumentTypeError(f"{text!r} is not {what}; write {how}") from None

    return read


def _from_1(text: str) -> int:
    """A whole number from 1. Raises ``ValueError``."""
    number = int(text)
    if number < 1:
        raise ValueError(text)
    return number


def _from_1_to(most: int) -> Callable[[str], int]:
    """What reads a whole number from 1 to so many."""

    def read(text: str) -> int:
        if len(text) > len(str(most)) or (number := _from_1(text)) > most:
            raise ValueError(text)
        return number

    return read


def _moment(text: str) -> datetime | time:
    """A time of today, or a day and time."""
    try:
        return datetime.strptime(text, "%H:%M").time()
    except ValueError:
        return datetime.fromisoformat(text)


def _port(text: str) -> int:
    """A TCP port (RFC 9293, section 3.1: 16 bits)."""
    port = int(text)
    if not 0 <= port <= 65535:
        raise ValueError
    return port


_PORT = _written_as(_port, "a port", "a number from 0 to 65535")
_DAY = _written_as(date.fromisoformat, "a day", "year-month-day: 2027-03-01")
_MENU_WORDS = f"menu folder or file, - for standard input (default: {MENU_FOLDER})"
_FORMS = ("full", "short", "json", "sarif", "github")
_SHARED: dict[str, dict[str, Any]] = {
    "menu": {"help": "the same"},
    "--menu": {"help": _MENU_WORDS},
    "--open": {"action": "store_true", "help": "show what was written"},
    "--out": {"type": Path, "default": Path("out"), "help": "folder (default: out)"},
    "--day": {"type": _DAY, "default": None, "help": "default: today"},
    "--on": {
        "type": _DAY,
        "default": None,
        "metavar": "DATE",
        "help": "its date (default: the next of its weekday, else today)",
    },
    "--language": {"default": "", "help": "default: the shop's first"},
    "--format": {"choices": _FORMS, "default": "full", "help": "how findings are shown"},
    "--strict": {"action": "store_true", "help": "treat warnings as errors"},
}
"""Arguments that several commands have."""
