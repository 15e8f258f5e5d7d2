"""A lesson goes in; every question that can be asked of it, right or not, comes out.

What is right is taken from the figures through the views that the cards are printed with. Whether
the cards say so, and nothing else, is for ``checker.py`` to find out.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import replace
from itertools import islice
from random import Random

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
    Source,
    with_id,
)
from buildsheets.menu.model import AddStep, Batch, CupSize, Ingredient, KeepsFor
from buildsheets.views.keeps import days_of
from buildsheets.views.rounding import clock

FEWEST_STEPS = 3  # to put in order, or to look for a mistake in; common practice, no source
OPTIONS = 6  # drinks to choose from; common practice, no source
OPENS_MIN, QUARTER_MIN, LATEST_MIN = 7 * 60, 15, 24 * 60 - 1
"""When things are made in a question: from seven in the morning, at full quarters, so that they are
good until before midnight. Common practice, no source."""


def questions(lesson: Lesson, station: str, level: int) -> Iterator[Question]:
    """Every question of a level, of the cards of a station or, for "", of the build cards."""
    for make in MAKERS[level]:
        yield from map(with_id, make(lesson, station))


def _of(
    lesson: Lesson,
    order: Serving,
    station: str,
    kind: Kind,
    level: int,
    form: Form,
    ask: str,
    reason: str,
    *,
    about: tuple[str, ...] = (),
    sources: Sequence[Source] = (),
    of_drink: bool = False,
) -> Question:
    """A question about an order, looked up on the card of its drink or station; ``of_drink``: about
    the drink whatever its size."""
    (title, named), drink = lesson.named(order), order.choices.build.drink
    return Question(
        kind=kind,
        level=level,
        drink=drink.id,
        cup=order.cup.id,
        station=station,
        title=lesson.words.name(drink) if of_drink else title,
        order=named,
        ask=ask,
        form=form,
        reason=reason,
        sources=tuple(sources) or (_card(lesson, order, station),),
        wish=lesson.wish(order),
        about=about,
    )


def _card(lesson: Lesson, order: Serving, station: str) -> Source:
    subject = ("station", station) if station else ("build", order.choices.build.drink.id)
    return lesson.source(*subject, order.cup.id)


def _row(line: Line, station: str) -> Row:
    """A row to fill in; a station's card has no numbers beside its steps."""
    label = line.what if station else f"{line.step} · {line.what}"
    label = label if line.step else f"+ {line.what}"
    return Row(label, line.amount, line.many, line.step, line.printed)


def usual_amounts(lesson: Lesson, station: str) -> Iterator[Question]:
    """All amounts of a build as nobody asked to change it; what is done stands between them."""
    for serving in lesson.at(station):
        rows = tuple(_row(line, station) for line in lesson.lines(serving, station))
        if any(row.answer for row in rows):
            ask, why = lesson.words("learn_ask_amounts"), lesson.words("learn_why_amounts")
            yield _of(lesson, serving, station, "amounts", 1, Fill(rows), ask, why)


def asked_amounts(lesson: Lesson, station: str) -> Iterator[Question]:
    """The amounts that a choice of sweetness and ice may change, for each such choice."""
    for serving in lesson.at(station):
        changing = _changing(lesson, serving)
        for order in lesson.orders(serving):
            if order.choice.add_ons or order.choice.swaps or order.choice == serving.choice:
                continue
            yield from _amounts(lesson, order, station, 2, changing)


def extra_amounts(lesson: Lesson, station: str) -> Iterator[Question]:
    """Of an order with one add-on or swap: what goes in of it, and what it may change."""
    for serving in lesson.at(station):
        changing = _changing(lesson, serving, with_extras=True)
        usual = serving.choice
        for order in lesson.orders(serving):
            choice, extras = order.choice, (*order.choice.add_ons, *order.choice.swaps)
            if len(extras) != 1 or (choice.sweetness, choice.ice) != (usual.sweetness, usual.ice):
                continue
            yield from _amounts(lesson, order, station, 3, changing)


def _changing(lesson: Lesson, serving: Serving, with_extras: bool = False) -> set[int]:
    """The steps that the card has tables for; ``with_extras``: those that name add-ons."""
    tables = lesson.build(serving).amounts
    return {one.step for one in tables if not with_extras or any(r.add_ons for r in one.rows)}


def _amounts(
    lesson: Lesson, order: Serving, station: str, level: int, changing: set[int]
) -> Iterator[Question]:
    def is_asked(line: Line) -> bool:
        step = line.figure.step
        extra = not line.step or (isinstance(step, AddStep) and step.swap is not None)
        return bool(line.amount) and (extra or line.step in changing)

    rows = tuple(_row(line, station) for line in lesson.lines(order, station) if is_asked(line))
    if rows:
        ask, why = lesson.words("learn_ask_amounts"), lesson.words("learn_why_choice")
        yield _of(lesson, order, station, "amounts", level, Fill(rows), ask, why)


def steps_in_order(lesson: Lesson, station: str) -> Iterator[Question]:
    """The steps of a drink in a wrong order; once for sizes that have the same."""
    asked = set()
    for serving in lesson.at(station):
        lines = lesson.lines(serving, station)
        texts = [_does(line, lesson) for line in lines]
        if len(texts) < FEWEST_STEPS or (serving.drink.id, *texts) in asked:
            continue
        asked.add((serving.drink.id, *texts))
        mixed = _mixed(range(len(texts)), f"{station} {serving.drink.id} {texts}")
        form = Arrange(
            tuple(texts[at] for at in mixed),
            tuple(at + 1 for at in mixed),
            tuple(lines[at].step for at in mixed),
        )
        ask, why = lesson.words("learn_ask_steps"), lesson.words("learn_why_steps")
        yield _of(lesson, serving, station, "steps", 1, form, ask, why)


def _does(line: Line, lesson: Lesson) -> str:
    """What a step adds or does, and into what where that is not the cup."""
    step, words = line.figure.step, lesson.words
    into = step.into if isinstance(step, AddStep) and step.into != "cup" else ""
    return f"{line.what} ({words('in_vessel', vessel=words(into))})" if into else line.what


def _mixed(places: Sequence[int], key: str) -> list[int]:
    """Places in an order that is not theirs, always the same for a key."""
    mixed, draw = list(places), Random(key)
    while mixed == list(places):
        draw.shuffle(mixed)
    return mixed


def which_cup(lesson: Lesson, station: str) -> Iterator[Question]:
    """Which cup a drink in a size is made in, once a drink, each time of another size."""
    cups: dict[str, str] = {}
    drinks: dict[str, list[Serving]] = {}
    for serving in lesson.servings:
        cups.setdefault(serving.cup.id, lesson.build(serving).cup_name)
    for serving in lesson.at(station):
        drinks.setdefault(serving.drink.id, []).append(serving)
    ids = [id_ for id_ in lesson.menu.cups if id_ in cups]
    for number, sizes in enumerate(drinks.values() if len(ids) > 1 else ()):
        serving = sizes[number % len(sizes)]
        name = lesson.build(serving).cup_name
        form = Choose(tuple(cups[id_] for id_ in ids), (ids.index(serving.cup.id),))
        ask, why = lesson.words("learn_ask_cup"), lesson.words("learn_why_cup", cup=name)
        yield _of(lesson, serving, station, "cup", 1, form, ask, why)


def which_sizes(lesson: Lesson, station: str) -> Iterator[Question]:
    """In which sizes a drink is sold."""
    words, cups = lesson.words, list(_sold_cups(lesson))
    for sizes in _by_drink(lesson, station):
        right = tuple(at for at, cup in enumerate(cups) if any(one.cup is cup for one in sizes))
        if len(cups) < 2 or station:
            continue
        form = Choose(tuple(map(words.name, cups)), right, several=True)
        yield _of(
            lesson, sizes[0], station, "sizes", 1, form, words("learn_ask_sizes"),
            words("learn_why_sizes"), sources=[_card(lesson, one, station) for one in sizes],
            of_drink=True,
        )  # fmt: skip


def amounts_by_size(lesson: Lesson, station: str) -> Iterator[Question]:
    """How much of one thing goes into each size of a drink."""
    words = lesson.words
    for sizes in _by_drink(lesson, station):
        if len(sizes) < 2:
            continue
        lines = [lesson.lines(one, station) for one in sizes]
        for line in lines[0] if len({len(one) for one in lines}) == 1 else ():
            same = [next((x for x in one if x.step == line.step), None) for one in lines]
            rows = tuple(
                Row(words.name(one.cup), at.amount, at.many, at.step, at.printed)
                for one, at in zip(sizes, same, strict=True)
                if at is not None and at.what == line.what and at.amount
            )
            if len(rows) == len(sizes):
                yield _of(
                    lesson, sizes[0], station, "by-size", 2, Fill(rows),
                    words("learn_ask_sizes_of", what=line.what), words("learn_why_sizes_of"),
                    about=(line.what,), sources=[_card(lesson, one, station) for one in sizes],
                    of_drink=True,
                )  # fmt: skip


def _by_drink(lesson: Lesson, station: str) -> list[list[Serving]]:
    drinks: dict[str, list[Serving]] = {}
    for serving in lesson.at(station):
        drinks.setdefault(serving.drink.id, []).append(serving)
    return list(drinks.values())


def _sold_cups(lesson: Lesson) -> Iterator[CupSize]:
    sold = {one.cup.id for one in lesson.servings}
    return (cup for cup in lesson.menu.cups.values() if cup.id in sold)


def mistakes(lesson: Lesson, station: str) -> Iterator[Question]:
    """A build with one line that is wrong: an amount that another size takes, or something else in
    place of what goes in; one question for each line that can be so."""
    words, others = lesson.words, _others(lesson)
    for sizes in _by_drink(lesson, station):
        for serving in sizes:
            lines = lesson.lines(serving, station)
            for at, line in enumerate(lines if len(lines) >= FEWEST_STEPS else ()):
                for wrong in islice(_wrong(lesson, serving, sizes, line, station, others), 1):
                    texts = [one.text for one in lines]
                    right, texts[at] = texts[at], wrong
                    why = words("learn_why_mistake", right=right, wrong=wrong)
                    form = Choose(tuple(texts), (at,), mend=right)
                    ask = words("learn_ask_mistake")
                    one = _of(
                        lesson, serving, station, "mistake", 3, form, ask, why, about=(line.what,)
                    )
                    yield replace(one, step=line.step)


def _wrong(
    lesson: Lesson, serving: Serving, sizes: Sequence[Serving], line: Line, station: str,
    others: dict[Hashable, list[str]],
) -> Iterator[str]:  # fmt: skip
    """What may stand in place of a line: the amounts of other sizes, then other things."""
    step = line.figure.step
    if not isinstance(step, AddStep):
        return
    for size in sizes:
        for other in lesson.lines(size, station):
            same = (other.step, other.what, other.many) == (line.step, line.what, line.many)
            if same and other.amount != line.amount:
                yield other.text
    drink = sizes[0].drink
    named = {lesson.words.name(swap) for swap in drink.swaps} | {
        one.what for size in sizes for one in lesson.lines(size)
    }
    free = [what for what in others[_looks(line)] if what not in named]
    key = f"{drink.id} {serving.cup.id} {line.step}"
    for what in Random(key).sample(free, len(free)):
        yield line._replace(what=what).text


def _others(lesson: Lesson) -> dict[Hashable, list[str]]:
    """The names of what some drink is made of, by how it goes in and what it is measured with."""
    found: dict[Hashable, dict[str, None]] = {}
    for serving in lesson.servings:
        for line in lesson.lines(serving):
            found.setdefault(_looks(line), {})[line.what] = None
    return {key: list(names) for key, names in found.items()}


def _looks(line: Line) -> Hashable:
    step = line.figure.step
    return isinstance(step, AddStep) and (step.component.behaves, step.component.role, line.many)


def offered(lesson: Lesson, station: str) -> Iterator[Question]:
    """Which of the shop's add-ons a drink in a size is made with."""
    words = lesson.words
    names = tuple(words.name(one) for one in lesson.menu.add_ons.values())
    for serving in lesson.at(station) if not station and len(names) > 1 else ():
        made = {id_ for order in serving.choices.made for id_ in order.choice.add_ons}
        right = tuple(at for at, id_ in enumerate(lesson.menu.add_ons) if id_ in made)
        if right:
            ask, why = words("learn_ask_offered"), words("learn_why_offered")
            form = Choose(names, right, several=True)
            yield _of(lesson, serving, station, "offered", 3, form, ask, why)


def places(lesson: Lesson, station: str) -> Iterator[Question]:
    """After which step an add-on goes in."""
    words = lesson.words
    for serving in lesson.at(station) if not station else ():
        view = lesson.build(serving)
        options = [words("addon_first")]
        options += [f"{words('addon_after', step=s.number)} ({s.what})" for s in view.steps[:-1]]
        for one in view.add_ons:
            if not one.fits:
                continue
            form = Choose(tuple(options), (one.after_step,))
            why = words("learn_why_place", place=one.place)
            ask = words("learn_ask_place", name=one.name)
            yield _of(lesson, serving, station, "place", 3, form, ask, why, about=(one.name,))


def allergens_of(lesson: Lesson, station: str) -> Iterator[Question]:
    """Which of some drinks contain an allergen; drinks that may, or of which that is not known,
    are not among them."""
    words = lesson.words
    drinks = [words.name(one) for one in lesson.menu.drinks.values()]
    for id_, name in lesson.allergens():
        with_it, without = [], []
        for sizes in _by_drink(lesson, station):
            told = [one.allergens() for one in sizes]
            drink = words.name(sizes[0].drink)
            if all(id_ in one.contains for one in told):
                with_it.append(drink)
            elif all(one.verdict(id_) == "none-declared" for one in told):
                without.append(drink)
        draw = Random(f"{station} {name}")
        draw.shuffle(with_it)
        draw.shuffle(without)
        for few in _groups(with_it, without, draw):
            order = sorted(few, key=drinks.index)
            right = tuple(at for at, drink in enumerate(order) if drink in with_it)
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


def _groups(with_it: list[str], without: list[str], draw: Random) -> Iterator[list[str]]:
    """Some of both to choose from, as often as there are; never none that hold it."""
    while with_it and without:
        held = draw.randint(1, OPTIONS - 2)
        yield with_it[:held] + without[: OPTIONS - held]
        del with_it[:held], without[: OPTIONS - held]


def keeping(lesson: Lesson, station: str) -> Iterator[Question]:
    """Until when something made or opened at some time is good, or within how many days."""
    asked = set()
    for serving in lesson.servings:
        steps = [f.step for f in serving.steps if isinstance(f.step, AddStep)]
        parts = [(one.component, one.station) for one in steps]
        parts += [(one.component, one.component.station) for one in serving.offered]
        for component, at in parts:
            kept = component.kept
            here = not station or (at is not None and at.id == station)
            if kept is None or kept.keeps_for is None or kept.id in asked or not here:
                continue
            if isinstance(kept, Ingredient) and kept.on_tap:
                continue
            asked.add(kept.id)
            yield from _keeping(lesson, serving, station, kept, kept.keeps_for)


def _keeping(
    lesson: Lesson, serving: Serving, station: str, kept: Batch | Ingredient, keeps: KeepsFor
) -> Iterator[Question]:
    words, name = lesson.words, lesson.words.name(kept)
    hours, days = keeps.hours, days_of(lesson.menu.shop, keeps)
    if hours is not None:
        latest = (LATEST_MIN - OPENS_MIN - round(60 * hours)) // QUARTER_MIN
        if latest < 1:
            return
        begun = OPENS_MIN + QUARTER_MIN * Random(kept.id).randrange(latest)
        at, until = clock(words, begun), clock(words, begun + round(60 * hours))
        ask, row = words("learn_ask_keeps", name=name, time=at), Row(words("learn_until"), until)
        said = words("keeps_hours", name=name, hours=round(hours, 1))
    else:
        at, ask = "", words("learn_ask_keeps_days", name=name)
        row = Row("", str(days), words("learn_days"))
        said = words("keeps_days", name=name, count=days)
    yield Question(
        kind="keeps",
        level=3,
        station=station,
        title=name,
        ask=ask,
        form=Fill((row,)),
        reason=words("learn_why_keeps", keeps=said),
        sources=(lesson.source("build", serving.drink.id, serving.cup.id),),
        about=tuple(filter(None, (name, at))),
    )


MAKERS: dict[int, tuple[Callable[[Lesson, str], Iterator[Question]], ...]] = {
    1: (usual_amounts, steps_in_order, which_cup, which_sizes),
    2: (asked_amounts, amounts_by_size),
    3: (extra_amounts, mistakes, offered, places, allergens_of, keeping),
}
"""What is asked at each level."""
