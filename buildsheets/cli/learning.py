"""The commands `learn sheet` and `learn score`: parsed words in, practice sheets or what was missed
out."""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

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
from buildsheets.cli.edition_answers import cards_now
from buildsheets.cli.learning_pack import Written, say_draft
from buildsheets.cli.plain_data import KEYS
from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Source
from buildsheets.findings.spelling import count_of, listed, nearest
from buildsheets.learn.dry_runs import dry_runs, in_turn
from buildsheets.learn.lesson import KINDS, Lesson
from buildsheets.learn.pool import Pool, asked, pool_of
from buildsheets.learn.questions import LEVELS, Choose, Question
from buildsheets.learn.score import Missed, typed_in
from buildsheets.learn.score import score as tally
from buildsheets.learn.sheets import A_SHEET, Made, Office, Sheet, SheetCode, cups, practice
from buildsheets.menu.model import Menu
from buildsheets.pipeline import Checked
from buildsheets.place import Place
from buildsheets.proof.proof import Expectations, proof

ALL = "all"
"""Stands for every station where one may be named."""


def lesson_of(checked: Checked, menu: Menu, path: Path, language: str = "") -> Lesson:
    """What is taught of a menu, with the codes that its cards have or will have.

    Raises ``ValueError`` for a language it has no cards in.
    """
    language = menu.shop.language_of(language)
    words = Place.of(path).layouts.words(language).measured_in(menu.shop)
    cards = cards_now(checked, menu, path, KINDS, language)
    return Lesson.of(menu, checked.servings, words, [one.card for one in cards.cards])


def sheet(options: argparse.Namespace) -> int:
    """Practice sheets or dry runs, with the keys to them, or what is not asked and why."""
    checked, menu = sound_menu(options)
    with refusing():
        station = _station(options.station, menu)
        lesson = lesson_of(checked, menu, options.menu, options.language)
    office = Office(menu, lesson.words, Place.of(options.menu).layouts, lesson.draft)
    pool = (
        Pool("", options.level, ()) if options.dry_runs else pool_of(lesson, station, options.level)
    )
    removed = Counter(why for _, why in pool.removed)
    if options.removed:
        if options.outcome is not None:
            options.outcome.result = Practised((), (), removed)
        else:
            print(_removed(pool))
        return CLEAN
    codes, made = (
        _dry_runs(options, lesson, office)
        if options.dry_runs
        else _practice(options, pool, lesson, office)
    )
    files, findings = dict[str, bytes](), list(checked.findings)
    for name, (pdf, families, why) in made.items():
        if why:
            findings.append(finding("LEARN03", None, f"{name}: {why}"))
            continue
        findings += proof(pdf, Expectations(families=families), name)
        files[f"{menu.edition.code}/learn/{name}.pdf"] = pdf
    if report(findings, checked.sources, options) or len(files) < len(made):
        raise Ended(FOUND, "nothing was written")
    say_draft(lesson.draft, options)
    show(write_files(options.out, files), options)
    if options.outcome is not None:
        options.outcome.result = Practised(tuple(files), tuple(codes), removed)
    elif removed:
        left_out = count_of(sum(removed.values()), "question is", "questions are")
        say(f"{left_out} not asked, having not one right answer: --removed lists them", options)
    return CLEAN


def _practice(
    options: argparse.Namespace, pool: Pool, lesson: Lesson, office: Office
) -> tuple[list[str], dict[str, Made]]:
    where = "this shop" if not pool.station else f"'{pool.station}'"
    if not pool.questions:
        raise Ended(COULD_NOT, f"at level {pool.level} there is nothing to ask of {where}")
    words, station = lesson.words, lesson.menu.stations.get(pool.station)
    whose = words.name(station) if station else words("learn_all")
    sheets = []
    for number in _numbers(options):
        code = SheetCode(
            words.language, pool.station or ALL, pool.level, options.seed, number, pool.mark
        )
        on_it = asked(pool, options.seed, number, A_SHEET)
        level = words(f"learn_level_{pool.level}")
        sheets.append(Sheet(str(code), whose, level, on_it.questions, on_it.used_up))
    name = f"{words.language}-{pool.station or ALL}-level-{pool.level}-seed-{options.seed}"
    return [one.code for one in sheets], {
        name: practice(office, sheets, key=False),
        f"{name}-key": practice(office, sheets, key=True),
    }


def _dry_runs(
    options: argparse.Namespace, lesson: Lesson, office: Office
) -> tuple[list[str], dict[str, Made]]:
    runs = in_turn(list(dry_runs(lesson, options.level)), f"{options.seed}", A_SHEET)
    if not runs:
        raise Ended(COULD_NOT, f"at level {options.level} no order is filled to a line of its cup")
    chosen = [runs[(number - 1) % len(runs)] for number in _numbers(options)]
    name = f"{lesson.words.language}-dry-runs-level-{options.level}-seed-{options.seed}"
    return [one.id for one in chosen], {
        name: cups(office, chosen, key=False),
        f"{name}-key": cups(office, chosen, key=True),
    }


def _numbers(options: argparse.Namespace) -> range:
    return range(options.first, options.first + options.count)


def _station(name: str, menu: Menu) -> str:
    """The id of a station, "" for all. Raises ``ValueError``."""
    if name in menu.stations:
        return name
    if name != ALL:
        near = nearest(name, menu.stations, 3)
        hint = (
            f"did you mean {listed(near)}?" if near else f"there is {listed(menu.stations, 'and')}"
        )
        raise ValueError(f"there is no station '{name}'; {hint}")
    return ""


def _removed(pool: Pool) -> str:
    """What is not asked, by reason."""
    lines = [f"{len(pool.questions)} questions are asked, {len(pool.removed)} are not"]
    for reason in dict.fromkeys(why for _, why in pool.removed):
        some = [one for one, why in pool.removed if why == reason]
        lines.append(f"\n{reason} ({len(some)}):")
        for one in some:
            form = one.form
            wrong = f": {form.options[form.right[0]]}" if isinstance(form, Choose) else ""
            lines.append(f"  {one.id} {one.title}, {one.order or one.kind}, {one.kind}{wrong}")
    return "\n".join(lines)


@dataclass(frozen=True, slots=True)
class Practised:
    """Practice sheets that were written: the files, the code of each sheet or the short name of
    each dry run, and how many questions are not asked by why."""

    files: tuple[str, ...]
    sheets: tuple[str, ...]
    not_asked: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Scored:
    """How many sheets counted, and what was missed on them, the largest share first."""

    sheets_counted: int
    missed: tuple[Missed, ...]


KEYS[Missed] = (
    "subject=point.subject step=point.step kind=point.kind what=point.what asked missed "
    "missed_share=share"
)

AnyLearned = Practised | Scored | Written


def score(options: argparse.Namespace) -> int:
    """What was missed most on practice sheets that hires filled in."""
    checked, menu = sound_menu(options)
    lessons: dict[str, Lesson] = {}
    pools: dict[tuple[str, str, int], Pool] = {}

    def on_sheet(code: SheetCode) -> Sequence[Question] | str:
        if code.language not in menu.shop.languages or code.level not in LEVELS:
            return "a sheet's code begins with a language of the shop, a station and a level"
        try:
            station = _station(code.station, menu)
        except ValueError as unknown:
            return str(unknown)
        if code.language not in lessons:
            lessons[code.language] = lesson_of(checked, menu, options.menu, code.language)
        key = code.language, station, code.level
        if key not in pools:
            pools[key] = pool_of(lessons[code.language], station, code.level)
        if pools[key].mark != code.mark:
            return f"it ends in {code.mark}, those of the menu as it is now in {pools[key].mark}"
        return asked(pools[key], code.seed, code.number, A_SHEET).questions

    text = options.file.read_text("utf-8", errors="replace")
    with refusing():
        rows = typed_in(text, options.file.name)
        missed, sheets, findings = tally(rows, on_sheet)
    sources = {**checked.sources, options.file.name: Source(options.file.name, text)}
    barred = report([*checked.findings, *findings], sources, options)
    if options.outcome is not None:
        options.outcome.result = Scored(sheets, tuple(missed))
    else:
        print("\n".join(_table(menu, missed, sheets)))
    return FOUND if barred or not sheets else CLEAN


def _table(menu: Menu, missed: Sequence[Missed], sheets: int) -> Iterator[str]:
    yield f"{count_of(sheets, 'sheet')} counted"
    if sheets:
        yield "missed  asked  share  what" if missed else "nothing was missed"
    for one in missed:
        drink = menu.drinks.get(one.point.subject)
        whom = drink.name.in_language(menu.shop.languages[0]) if drink else one.point.subject
        what = one.point.what or KIND_WORDS[one.point.kind]
        yield f"{one.missed:6}  {one.asked:5}  {one.share:5.0%}  {whom} · {what}"


KIND_WORDS: Mapping[str, str] = {
    "steps": "the order of its steps",
    "cup": "which cup",
    "sizes": "which sizes",
    "offered": "which add-ons",
    "place": "where an add-on goes in",
    "swap": "which steps a swap changes",
    "allergen": "which drinks contain it",
    "keeps": "how long it keeps",
}
"""What a question that is of no step is called in a table of what was missed."""
