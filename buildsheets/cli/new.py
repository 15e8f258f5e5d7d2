"""The command that begins a menu: flags, or answers to questions, in; a folder of files out."""

from __future__ import annotations

import argparse
import csv
import io
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from zipfile import BadZipFile

from buildsheets.cli.commands import CLEAN, COULD_NOT, Ended, refusing
from buildsheets.cli.spreadsheet import Imported, read_drinks
from buildsheets.cli.starter import Wanted, demo_menu, new_menu
from buildsheets.findings.finding import Finding
from buildsheets.findings.spelling import count_of, listed, nearest
from buildsheets.menu.files import decode_text
from buildsheets.menu.quantity import Measures
from buildsheets.menu.shop import LANGUAGES, time_zone

FLAGS = ("name", "language", "units", "cups", "currency", "time_zone", "table")
"""Any of these, and nothing is asked."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked on a terminal: the words, what Enter stands for after the answers before it,
    and how an answer is read.

    ``read`` raises ``ValueError`` with words for whoever answered.
    """

    words: str
    usual: Callable[[Mapping[str, str]], str]
    read: Callable[[str], str]


def new(options: argparse.Namespace) -> int:
    """Write a new menu where there is none."""
    folder: Path = options.folder
    with refusing():
        if options.demo:
            if _given(options):
                raise ValueError("--demo copies the demo as it is; leave out the other options")
            _refuse_to_overwrite(folder)
            _write(folder, demo_menu())
            print(f"the demo menu is in {folder}")
        else:
            _refuse_to_overwrite(folder)
            _begin(folder, options, asked(options))
    return CLEAN


def asked(options: argparse.Namespace) -> bool:
    """Whether to ask: on a terminal, where nothing was said."""
    return sys.stdin.isatty() and sys.stdout.isatty() and not _given(options)


def _given(options: argparse.Namespace) -> bool:
    return any(getattr(options, flag) for flag in FLAGS)


def _begin(folder: Path, options: argparse.Namespace, ask: bool) -> None:
    given = {**vars(options), "language": " ".join(options.language)}
    said: dict[str, str] = {}
    for name, question in QUESTIONS.items():
        said[name] = _answer(question, question.usual(said), given[name], ask)
    languages = tuple(said.pop("language").split())
    wanted = Wanted(languages=languages, **said)
    table: Path | None = options.table
    drinks = _read_table(table, wanted) if table else None
    shown = str(folder)
    _write(folder, new_menu(wanted, date.today(), shown, drinks, table.name if table else ""))
    print(f"your menu is in {folder}: shop.yaml and drinks.yaml")
    where = "" if shown == "menu" else f" {shown}"
    if drinks is None:
        print("its figures are only usual ones; first measure your cups (shop.yaml), then:")
    else:
        _tell(drinks)
        print("fill in what is blank; the first of these lists it:")
    print(f"  buildsheets check{where}\n  buildsheets print{where}")
    print("buildsheets guide tells the rest in order")


def _tell(drinks: Imported) -> None:
    count = sum(bool(one.steps and one.cups) for one in drinks.drinks.values())
    print(f"{count_of(count, 'drink')} with {count_of(len(drinks.things), 'thing')} to add")
    if drinks.unread:
        print(f"not read ({len(drinks.unread)}):")
        print("".join(f"  {line}\n" for line in drinks.unread), end="")


def _read_table(table: Path, wanted: Wanted) -> Imported:
    text = _workbook(table) if table.suffix.casefold() == ".xlsx" else _text(table)
    measures = Measures.METRIC if wanted.units == "metric" else Measures.US_CUSTOMARY
    drinks = read_drinks(text, table.name, measures)
    if not any(one.steps and one.cups for one in drinks.drinks.values()):
        _tell(drinks)
        raise ValueError(f"{table} holds no drink that could be read; nothing was written")
    return drinks


def _text(table: Path) -> str:
    if table.suffix.casefold() in (".xls", ".ods", ".numbers"):
        raise ValueError(f"{table} is a workbook; save the sheet as CSV (UTF-8) and name that")
    found: list[Finding] = []
    text = decode_text(table.name, table.read_bytes(), found)
    if text is None or found:
        raise ValueError(f"{found[0].message}: {found[0].hint}")
    return text


def _workbook(table: Path) -> str:
    """The first sheet of a workbook, as CSV has it."""
    try:
        from openpyxl import load_workbook
    except ImportError:
        words = "pip install 'buildsheets[xlsx]' reads it; or save the sheet as CSV (UTF-8)"
        raise ValueError(f"{table} is a workbook; {words}") from None
    try:
        sheet = load_workbook(table, read_only=True, data_only=True).worksheets[0]
    except (BadZipFile, KeyError) as broken:
        raise ValueError(f"{table} cannot be read as a workbook: {broken}") from None
    text = io.StringIO()
    csv.writer(text).writerows(sheet.iter_rows(values_only=True))
    return text.getvalue()


def _refuse_to_overwrite(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise ValueError(f"{folder} is a file; name a folder that is not there yet")
    there = [one.name for one in folder.iterdir()] if folder.is_dir() else []
    held = sorted(name for name in there if not name.startswith("."))
    if held:
        some = listed(held[:4], "and")
        raise ValueError(f"{folder} holds {some}; nothing was written, so name another folder")


def _write(folder: Path, files: Mapping[str, str]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        with (folder / name).open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)


def _answer(question: Question, usual: str, given: str, ask: bool) -> str:
    """What was given, or answered, or is usual; a wrong answer is asked for again."""
    while True:
        text = given
        if ask:
            try:
                text = input(f"{question.words} [{usual}]: ").strip()
            except EOFError:
                raise Ended(COULD_NOT, "\nstopped; nothing was written") from None
        try:
            return question.read(text or usual)
        except ValueError as wrong:
            if not ask:
                raise
            print(f"  {wrong}")


def _one_of(*words: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        for word in words:
            if word.startswith(text.casefold()):
                return word
        raise ValueError(f"write {listed(words)}")

    return read


def _languages(text: str) -> str:
    found = dict.fromkeys(text.replace(",", " ").casefold().split())
    for one in found:
        if one not in LANGUAGES:
            known = listed(LANGUAGES, "and")
            raise ValueError(f"cards cannot be printed in '{one}' yet; there are {known}")
    return " ".join(found)


def _currency(text: str) -> str:
    code = text.upper()
    if len(code) != 3 or not (code.isascii() and code.isalpha()):
        raise ValueError(f"'{text}' is no currency code; write three letters, as EUR, USD or GBP")
    return code


def _zone(text: str) -> str:
    if time_zone(text):
        return text
    from zoneinfo import available_timezones

    towns = {zone.rpartition("/")[2]: zone for zone in available_timezones()}
    near = [towns[town] for town in nearest(text.rpartition("/")[2].replace(" ", "_"), towns, 3)]
    hint = f"did you mean {listed(near)}?" if near else "write it as Europe/Lisbon"
    raise ValueError(f"there is no time zone '{text}'; {hint}")


def _zone_here() -> str:
    """The time zone of this computer by name, as far as it says."""
    from babel.localtime import get_localzone

    name = getattr(get_localzone(), "key", "")
    return name if name and time_zone(name) else "UTC"


QUESTIONS = {
    "name": Question("What is the shop called?", lambda said: "My shop", str),
    "language": Question(
        "Languages of the cards, yours first (en es fr de)", lambda said: "en", _languages
    ),
    "units": Question(
        "Units: metric, or us (fl oz, inches)", lambda said: "metric", _one_of("metric", "us")
    ),
    "cups": Question(
        "How do you know your cups: ruler, pouring (water on a scale), or box (as it says)",
        lambda said: "ruler",
        _one_of("ruler", "pouring", "box"),
    ),
    "currency": Question(
        "Currency, three letters", lambda said: "USD" if said["units"] == "us" else "EUR", _currency
    ),
    "time_zone": Question("Time zone", lambda said: _zone_here(), _zone),
}
