"""A lesson goes in; every question that can be asked of it, right or not, comes out.

What is right is taken from the figures through the views that the cards are printed with. Whether
the cards say so, and nothing else, is for ``checker.py`` to find out.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import islice
from random import Random
from typing import Any

from buildsheets.cup.serving import Serving
from buildsheets.learn.lesson import Lesson, Line
from buildsheets.learn.questions import (
    Arrange,
    Choose,
    Fill,
    Form,
    Kind,
    Question,
    Row,
    with_id,
)
from buildsheets.menu.model import AddStep, Batch, Ingredient
from buildsheets.views.keeps import days_of
from buildsheets.views.rounding import clock

FEWEST_STEPS = 3  # to put in order, or to look for a mistake in; common practice, no source
OPTIONS = 6  # drinks to choose from; common practice, no source
OPENS_MIN, QUARTER_MIN, LATEST_MIN = 7 * 60, 15, 24 * 60 - 1
"""When things are made in a question: from seven in the morning, at full quarters, so that they are
good until before midnight. Common practice, no source."""

Others = dict[Hashable, list[str]]
"""What goes in, by what it may be taken for."""


def questions(lesson: Lesson, station: str, level: int) -> Iterator[Question]:
    """Every question of a level, of the cards of a station or, for "", of the build cards."""
    for make in MAKERS[level]:
        yield from map(with_id, make(lesson, station, level))


def _of(
    lesson: Lesson, of: Sequence[Serving], station: str, kind: Kind, level: int, form: Form,
    *about: str, **said: Any,
) -> Question:  # fmt: skip
    """A question about an order or about all sizes of a drink, looked up on their cards; ``said``
    goes into its words."""
    order, words = of[0], lesson.words
    title, named = lesson.named(order)
    drink = order.choices.build.drink
    subject = ("station", station) if station else ("build", drink.id)
    return Question(
        kind=kind,
        level=level,
        drink=drink.id,
        cup=order.cup.id,
        station=station,
        title=words.name(drink) if kind in ("sizes", "by-size") else title,
        order=named if kind in ("amounts", "by-size", "steps", "mistake") else "",
        ask=words(f"learn_ask_{kind}", **said),
        form=form,
        reason=words(f"learn_why_{kind}", **said),
        sources=tuple(lesson.source(*subject, one.cup.id) for one in of),
        wish=lesson.wish(order),
        about=about,
    )


def amounts(lesson: Lesson, station: str, level: int) -> Iterator[Question]:
    """Level 1: all amounts of a build, what is done between them. Level 2: those that sweetness and
    ice may change. Level 3: what an add-on or swap takes, and what it may change."""
    for serving in lesson.at(station):
        tables = lesson.build(serving).amounts
        changing = {t.step for t in tables if level < 3 or any(row.add_ons for row in t.rows)}
        for order in lesson.orders(serving):
            lines = lesson.lines(order, station) if lesson.level(order) == level else []
            if level > 1:
                lines = [x for x in lines if x.amount and (x.is_extra or x.step in changing)]
            rows = tuple(_row(line, station) for line in lines)
            if any(row.answer for row in rows):
                yield _of(lesson, [order], station, "amounts", level, Fill(rows))


def _row(line: Line, station: str) -> Row:
    """A row to fill in; a station's card has no numbers beside its steps."""
    label = line.what if station else f"{line.step} · {line.what}"
    label = label if line.step else f"+ {line.what}"
    return Row(label, line.amount, line.many, line.step, line.printed)


def steps(lesson: Lesson, station: str, level: int) -> Iterator[Question]:
    """The steps of a drink in a wrong order; once for sizes that have the same."""
    asked = set()
    for serving in lesson.at(station):
        lines = lesson.lines(serving, station)
        texts = [_does(line, lesson) for line in lines]
        if len(texts) < FEWEST_STEPS or (serving.drink.id, *texts) in asked:
            continue
        asked.add((serving.drink.id, *texts))
        mixed, draw = list(range(len(texts))), Random(f"{station} {serving.drink.id} {texts}")
        while mixed == sorted(mixed):
            draw.shuffle(mixed)
        form = Arrange(
            tuple(texts[at] for at in mixed),
            tuple(at + 1 for at in mixed),
            tuple(lines[at].step for at in mixed),
        )
        yield _of(lesson, [serving], station, "steps", 1, form)


def _does(line: Line, lesson: Lesson) -> str:
    """What a step adds or does, and into what where that is not the cup."""
    step, words = line.figure.step, lesson.words
    into = step.into if isinstance(step, AddStep) and step.into != "cup" else ""
    return f"{line.what} ({words('in_vessel', vessel=words(into))})" if into else line.what


def cup_and_sizes(lesson: Lesson, station: str, level: int) -> Iterator[Question]:
    """Which cup a drink is made in, each time in another of its sizes; and which sizes it has."""
    names = {one.cup.id: lesson.build(one).cup_name for one in lesson.servings}
    cups = [cup for cup in lesson.menu.cups.values() if cup.id in names]
    for number, sizes in enumerate(_by_drink(lesson, station) if len(cups) > 1 else ()):
        one = sizes[number % len(sizes)]
        form = Choose(tuple(names[cup.id] for cup in cups), (cups.index(one.cup),))
        yield _of(lesson, [one], station, "cup", 1, form, cup=names[one.cup.id])
        if not station:
            right = tuple(at for at, cup in enumerate(cups) if any(x.cup is cup for x in sizes))
            form = Choose(tuple(map(lesson.words.name, cups)), right, several=True)
            yield _of(lesson, sizes, station, "sizes", 1, form)


def by_size(lesson: Lesson, station: str, level: int) -> Iterator[Question]:
    """How much of one thing goes into each size of a drink."""
    for sizes in _by_drink(lesson, station):
        others = [{x.step: x for x in lesson.lines(one, station)} for one in sizes]
        for line in lesson.lines(sizes[0], station) if len(sizes) > 1 else ():
            same = [lines.get(line.step, line) for lines in others]
            if line.amount and all(one.what == line.what for one in same):
                rows = tuple(
                    Row(lesson.words.name(one.cup), at.amount, at.many, at.step, at.printed)
                    for one, at in zip(sizes, same, strict=True)
                )
                one = _of(
                    lesson, sizes, station, "by-size", 2, Fill(rows), line.what, what=line.what
                )
                to_lines = all(one.to for one in same)
                ask = lesson.words("learn_ask_by-size_line", what=line.what)
                yield replace(one, ask=ask) if to_lines else one


def _by_drink(lesson: Lesson, station: str) -> list[list[Serving]]:
    drinks: dict[str, list[Serving]] = {}
    for serving in lesson.at(station):
        drinks.setdefault(serving.drink.id, []).append(serving)
    return list(drinks.values())


def mistakes(lesson: Lesson, station: str, level: int) -> Iterator[Question]:
    """A build with one line that is wrong: an amount that another size takes, or something else in
    place of what goes in; one question for each line that can be so."""
    others: Others = {}
    for serving in lesson.servings:
        for line in lesson.lines(serving):
            held = others.setdefault(_looks(line), [])
            held += [line.what] if line.what not in held else []
    for sizes in _by_drink(lesson, station):
        for serving in sizes:
            lines = lesson.lines(serving, station)
            for at, line in enumerate(lines if len(lines) >= FEWEST_STEPS else ()):
                for wrong in islice(_wrong(lesson, serving, sizes, line, others), 1):
                    texts = [one.text for one in lines]
                    right, texts[at] = texts[at], wrong
                    form = Choose(tuple(texts), (at,), mend=right)
                    one = _of(
                        lesson, [serving], station, "mistake", 3, form, line.what,
                        right=right, wrong=wrong,
                    )  # fmt: skip
                    yield replace(one, step=line.step)


def _wrong(
    lesson: Lesson, serving: Serving, sizes: Sequence[Serving], line: Line, others: Others
) -> Iterator[str]:
    """What may stand in place of a line: the amounts of other sizes, then other things."""
    if not line.amount:
        return
    named = {lesson.words.name(swap) for swap in serving.drink.swaps}
    for size in sizes:
        for other in lesson.lines(size):
            named.add(other.what)
            same = (other.step, other.what, other.many) == (line.step, line.what, line.many)
            if same and other.amount != line.amount:
                yield other.text
    free = [what for what in others[_looks(line)] if what not in named]
    key = f"{serving.drink.id} {serving.cup.id} {line.step}"
    yield from (line._replace(what=w).text for w in Random(key).sample(free, len(free)))


def _looks(line: Line) -> Hashable:
    step = line.figure.step
    return isinstance(step, AddStep) and (step.component.behaves, step.component.role, line.many)


def add_ons(lesson: Lesson, station: str, level: int) -> Iterator[Question]:
    """Which of the shop's add-ons a drink in a size is made with, and after which step each goes
    in."""
    words = lesson.words
    names = tuple(words.name(one) for one in lesson.menu.add_ons.values())
    for serving in lesson.at(station) if not station else ():
        made = {id_ for order in serving.choices.made for id_ in order.choice.add_ons}
        right = tuple(at for at, id_ in enumerate(lesson.menu.add_ons) if id_ in made)
        if right and len(names) > 1:
            form = Choose(names, right, several=True)
            yield _of(lesson, [serving], station, "offered", 3, form)
        view = lesson.build(serving)
        options = [words("addon_first")]
        # After the last step, the lid as a rule, goes only what a card says so of.
        last = max((len(view.steps) - 1, *(one.after_step for one in view.add_ons)))
        options += [f"{words('addon_after', step=s.number)} ({s.what})" for s in view.steps[:last]]
        for one in (one for one in view.add_ons if one.fits):
            form = Choose(tuple(options), (one.after_step,))
            yield _of(
                lesson, [serving], station, "place", 3, form, one.name,
                name=one.name, place=one.place,
            )  # fmt: skip


def swaps(lesson: Lesson, station: str, level: int) -> Iterator[Question]:
    """Which steps of a drink in a size change with a swap."""
    for serving in lesson.at(station) if not station else ():
        usual, view = lesson.lines(serving), lesson.build(serving)
        for order in lesson.orders(serving):
            if lesson.level(order) != level or not order.choice.swaps:
                continue
            now = {one.step: one[1:5] for one in lesson.lines(order)}  # what, amount and units
            right = tuple(at for at, one in enumerate(usual) if now.get(one.step) != one[1:5])
            form = Choose(tuple(f"{x.step} · {x.what}" for x in usual), right, several=True)
            (name,) = lesson.wish(order).swaps
            (card,) = (one for one in view.swaps if one.name == name)
            yield _of(
                lesson, [order], station, "swap", level, form, name,
                name=name, replaced=card.replaced, allergens=card.allergens,
            )  # fmt: skip


def allergens(lesson: Lesson, station: str, level: int) -> Iterator[Question]:
    """Which of some drinks contain an allergen; drinks that may, or of which that is not known,
    are not among them."""
    words = lesson.words
    drinks = [words.name(one) for one in lesson.menu.drinks.values()]
    for id_, name in lesson.allergens():
        verdicts = {
            words.name(sizes[0].drink): {one.allergens().verdict(id_) for one in sizes}
            for sizes in _by_drink(lesson, station)
        }
        with_it, without = (
            [drink for drink, found in verdicts.items() if found == {verdict}]
            for verdict in ("contains", "none-declared")
        )
        draw = Random(f"{station} {name}")
        draw.shuffle(with_it)
        draw.shuffle(without)
        while with_it and without:  # some of both; never none that holds it
            held = draw.randint(1, OPTIONS - 2)
            few = {*with_it[:held], *without[: OPTIONS - held]}
            order = [drink for drink in drinks if drink in few]
            right = tuple(at for at, drink in enumerate(order) if drink in with_it[:held])
            yield Question(
                kind="allergen",
                level=3,
                station=station,
                title=name,
                ask=words("learn_ask_allergen", allergen=name),
                form=Choose(tuple(order), right, several=True),
                reason=words("learn_why_allergen"),
                sources=(lesson.source("allergens", "all", ""),),
                caution=" ".join((words("prep_matrix_ask"), words("caution_cross"))),
                about=(name,),
            )
            del with_it[:held], without[: OPTIONS - held]


def keeping(lesson: Lesson, station: str, level: int) -> Iterator[Question]:
    """Until when something made or opened at some time is good, or on which day for the last time:
    the day it is made or opened is day 1, as the batch cards and labels count."""
    words, asked = lesson.words, set()
    for serving in lesson.servings:
        steps = [f.step for f in serving.steps if isinstance(f.step, AddStep)]
        parts = [(one.component, one.station) for one in steps]
        parts += [(one.component, one.component.station) for one in serving.offered]
        for component, at in parts:
            kept = component.kept
            if kept is None or kept.id in asked or (station and (not at or at.id != station)):
                continue
            if isinstance(kept, Ingredient) and kept.on_tap:
                continue
            asked.add(kept.id)
            if asks := _until(lesson, kept):
                ask, row, said, about = asks
                yield Question(
                    kind="keeps",
                    level=3,
                    station=station,
                    title=words.name(kept),
                    ask=ask,
                    form=Fill((row,)),
                    reason=words("learn_why_keeps", keeps=said),
                    sources=(lesson.source("build", serving.drink.id, serving.cup.id),),
                    about=about,
                )


def _until(
    lesson: Lesson, kept: Batch | Ingredient
) -> tuple[str, Row, str, tuple[str, ...]] | None:
    """What is asked and answered of how long a thing keeps, and what its cards say; ``None`` where
    nobody said, or where it is past midnight."""
    words, name, keeps = lesson.words, lesson.words.name(kept), kept.keeps_for
    begun = "made" if isinstance(kept, Batch) else "opened"
    if keeps is None:
        return None
    if keeps.hours is None:
        days = days_of(lesson.menu.shop, keeps)
        row = Row(words("learn_day"), str(days))
        said = words("keeps_days", name=name, count=days)
        return words(f"learn_ask_keeps_days_{begun}", name=name), row, said, (name,)
    good_min = round(60 * keeps.hours)
    latest = (LATEST_MIN - OPENS_MIN - good_min) // QUARTER_MIN
    if latest < 1:
        return None
    at_min = OPENS_MIN + QUARTER_MIN * Random(kept.id).randrange(latest)
    at, row = clock(words, at_min), Row(words("learn_until"), clock(words, at_min + good_min))
    said = words("keeps_hours", name=name, hours=round(keeps.hours, 1))
    return words(f"learn_ask_keeps_{begun}", name=name, time=at), row, said, (name, at)


MAKERS: Mapping[int, Sequence[Callable[[Lesson, str, int], Iterator[Question]]]] = {
    1: (amounts, steps, cup_and_sizes),
    2: (amounts, by_size),
    3: (amounts, add_ons, swaps, mistakes, allergens, keeping),
}
"""What is asked at each level."""
