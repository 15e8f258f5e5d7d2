"""The printed strings of a card and an order go in; what the card tells to do, step by step, out.

It reads as a person at the counter does and knows nothing of how cards are made: a step is as it
is printed unless a table has a row for the order's add-ons and ice; an add-on goes in where the
card says. What cannot be read in one way only raises :class:`Unclear`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from buildsheets.views.types import (
    AddOnView,
    AmountRow,
    AmountTable,
    BuildCardView,
    StationCardView,
    StationRow,
    StepView,
    SwapView,
)
from buildsheets.views.words import Words
from buildsheets.wall.strings import NOT_MADE, number, reached, said

TOGETHER = " + "
"""Stands between the names of add-ons that are chosen together."""
LINE_WORD = "ml_line"
"""The word for the unit of an amount that is a line to pour to."""


class Unclear(ValueError):
    """A card that does not say one thing only."""


class NotMade(Exception):
    """A card says that the order is not made: it does not fit."""


@dataclass(frozen=True, slots=True)
class Wish:
    """An order in printed words: "Less ice", "50%"; "" where the drink has no such choice."""

    drink: str
    sweetness: str = ""
    ice: str = ""
    add_ons: tuple[str, ...] = ()
    swaps: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Told:
    """One step as a card tells it.

    ``amount`` is ``None`` for an action; ``unit`` is printed beside it. ``level_ml`` is the level
    the step reaches, where one is printed: of what is no line to pour to, on build cards alone.
    ``step`` is the printed number, 0 for an add-on.
    """

    step: int
    thing: str
    amount: float | None
    unit: str
    level_ml: float | None
    vessel: str
    station: str  # its letter
    amount_printed: str = ""  # "½"


def build_card(view: BuildCardView, wish: Wish, words: Words) -> tuple[Told, ...]:
    """What the build card tells to do. Raises :class:`NotMade` and :class:`Unclear`."""
    if view.title != wish.drink:
        raise Unclear(f"the card of {view.title} says nothing of {wish.drink}")
    letters = {mark.name: mark.letter for mark in view.stations}
    _are_made(view.swaps, wish)
    poured = {one.name for step in view.steps for one in step.swaps if one.name in wish.swaps}
    if poured != {*wish.swaps}:
        raise Unclear(f"{view.title}: a step for each of {TOGETHER.join(wish.swaps)} is missing")
    asked = _asked(view.add_ons, wish.add_ons)
    if len(asked) < len(wish.add_ons):
        raise Unclear(f"{view.title}: a step for each of {TOGETHER.join(wish.add_ons)} is missing")
    found = [_extra(one, words) for one in asked if goes_after(one.place, words) == 0]
    for step in view.steps:
        if not _left_out(step, wish, words):
            station = letters.get(step.station, "")
            found.append(_step(step, station, view.amounts, wish, words))
        found += [
            _extra(one, words) for one in asked if goes_after(one.place, words) == step.number
        ]
    if sum(not told.step for told in found) < len(asked):
        raise Unclear(f"{view.title}: an add-on goes in after a step that is not there")
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Visit:
    """A stay at a station: a row of its card that this order passes, and what it tells to do.

    A row that sends the cup to another station for an add-on is passed in two stays, the ``first``
    and the ``last`` of them; others are both.
    """

    card: StationCardView
    row: StationRow
    steps: tuple[Told, ...]
    first: bool = True
    last: bool = True


def visits(cards: Sequence[StationCardView], wish: Wish, words: Words) -> tuple[Visit, ...]:
    """The rows that an order passes, each with its steps, in the order the cup passes them.

    A row without steps of its own is passed only with one of its add-ons.
    """
    found: list[tuple[float, Visit]] = []
    for card in cards:
        for row in card.rows:
            if _drink_of(row.drink, words) == wish.drink:
                found += _stays(card, row, wish, words)
    found.sort(key=lambda one: one[0])
    passed = tuple(visit for _, visit in found)
    poured = {told.thing for visit in passed for told in visit.steps}
    if not {*wish.swaps} <= poured:
        raise Unclear(f"{wish.drink}: the stations do not pour {TOGETHER.join(wish.swaps)}")
    _follow_the_cup([visit for visit in passed if visit.row.adds], wish)
    added = [told.thing for visit in passed for told in visit.steps if not told.step]
    if sorted(added) != sorted(wish.add_ons):
        raise Unclear(
            f"{wish.drink}: of {TOGETHER.join(wish.add_ons)}, the stations add "
            f"{TOGETHER.join(added) or 'none'}"
        )
    return passed


def _stays(
    card: StationCardView, row: StationRow, wish: Wish, words: Words
) -> list[tuple[float, Visit]]:
    """A row as the stays it takes for an order, each with where it comes in the build: at its first
    step, or behind the step its add-ons go in after."""
    letter = card.station.letter
    _are_made(row.swaps, wish)
    asked = _asked(row.add_ons, wish.add_ons)
    places = [_among(one.place, row.adds, words) for one in asked]
    stays: list[list[Told]] = [[]]
    for at in range(len(row.adds) + 1):
        if at and not _left_out(row.adds[at - 1], wish, words):
            step = replace(row.adds[at - 1], line="")  # which only build cards print
            stays[-1].append(_step(step, letter, row.amounts, wish, words))
        for one in (one for one, its in zip(asked, places, strict=True) if its == at):
            if one.station == letter:
                stays[-1].append(_extra(one, words))
            elif stays[-1]:
                stays.append([])
    # A row whose own steps are all left out is passed all the same.
    stays = [stay for stay in stays if stay] or ([[]] if row.adds else [])
    behind = asked[0].after_step + 0.5 if asked else row.adds[0].number if row.adds else 0.0
    return [
        (
            next((told.step for told in stay if told.step), behind),
            Visit(card, row, tuple(stay), stay is stays[0], stay is stays[-1]),
        )
        for stay in stays
    ]


def _follow_the_cup(passed: Sequence[Visit], wish: Wish) -> None:
    """Check that each row sends the cup to the one that follows it."""
    letters = ["", *(visit.card.station.letter for visit in passed if visit.first), ""]
    rows = [visit for visit in passed if visit.first]
    for before, visit, after in zip(letters, rows, letters[2:], strict=False):
        if (visit.row.comes_from, visit.row.goes_to) != (before, after):
            raise Unclear(
                f"{wish.drink}: station {visit.card.station.letter} has the cup come from "
                f"'{visit.row.comes_from}' and go to '{visit.row.goes_to}', not from '{before}' "
                f"to '{after}'"
            )


def _drink_of(name: str, words: Words) -> str:
    """The drink a row is of, however often it passes."""
    for key in ("visit", "only_with_add_on"):
        if found := said(name, key, words):
            return found["drink"]
    return name


def _asked(offered: Iterable[AddOnView], wanted: Sequence[str]) -> list[AddOnView]:
    """The add-ons that are wanted, as the card lists them. One that never fits is not made."""
    asked = [one for one in offered if one.name in wanted]
    for one in asked:
        if not one.fits:
            raise NotMade(f"{one.name}: {one.verdict}")
    return asked


def _are_made(swaps: Iterable[SwapView], wish: Wish) -> None:
    """That a swap that is wanted is made."""
    for one in swaps:
        if one.name in wish.swaps and one.verdict:
            raise NotMade(f"{one.name}: {one.verdict}")


def _step(
    step: StepView, station: str, tables: Sequence[AmountTable], wish: Wish, words: Words
) -> Told:
    amount, unit, thing = step.amount, step.unit, step.what
    here = [one for one in step.swaps if one.name in wish.swaps]
    if len(here) > 1:
        raise Unclear(f"{step.what}: {TOGETHER.join(one.name for one in here)} in its place")
    for swap in here:
        thing = swap.name
        amount, unit = (swap.amount, swap.unit) if swap.amount else (amount, unit)
    others = tuple(name for name in wish.swaps if name not in {one.name for one in here})
    own = [table for table in tables if table.what == thing]
    plain = [table for table in tables if table.what not in {one.name for one in step.swaps}]
    beside = replace(wish, swaps=others)
    if found := amount_of(step.number, own if here and own else plain, beside, words):
        amount, unit = found
    if amount == NOT_MADE:
        raise NotMade(f"{step.what}: {NOT_MADE}")
    return Told(
        step.number,
        thing,
        number(amount, words) if amount else None,
        unit,
        level_of(amount, unit, step.line, words),
        step.vessel,
        station,
        amount,
    )


def _left_out(step: StepView, wish: Wish, words: Words) -> bool:
    """Whether a step's note says that it is left out for the order's sweetness or ice."""
    left_out = [words("left_out_at", choices=wish.sweetness)] if wish.sweetness else []
    left_out += [words("left_out_with", choices=wish.ice)] if wish.ice else []
    return any(part in left_out for part in step.note.split(", "))


def level_of(amount: str, unit: str, line: str, words: Words) -> float | None:
    """The level a step reaches: the line it is poured to, or the level printed beside it."""
    if unit == words(LINE_WORD):
        return number(amount, words) * words.volumes.ml
    return reached(line, words)


VESSELS = ("shaker", "blender")  # beside the cup


def _extra(view: AddOnView, words: Words) -> Told:
    parts = view.place.split(", ")
    vessel = next((words(v) for v in VESSELS if words(f"addon_in_{v}") in parts), "")
    amount = number(view.amount, words)
    return Told(0, view.name, amount, view.unit, None, vessel, view.station, view.amount)


def amount_of(
    step: int, tables: Sequence[AmountTable], wish: Wish, words: Words
) -> tuple[str, str] | None:
    """(amount, unit) of a step by its tables; ``None`` where it is as printed.

    A row that names the order's add-ons goes before one for whatever add-ons, and one that names
    its ice before one for whatever ice.
    """
    own = [(table, row) for table in tables if table.step == step for row in table.rows]
    wanted = {_in_order(name) for name in names_of(wish, words)}
    named = [one for one in own if wanted & {_in_order(name) for name in one[1].add_ons}]
    rows = named or [one for one in own if not one[1].add_ons]
    rows = [one for one in rows if one[1].ice == wish.ice] or [
        one for one in rows if not one[1].ice
    ]
    cells = {(_cell(table, row, wish), table.unit) for table, row in rows}
    if len(cells) > 1:
        raise Unclear(f"{wish}: the tables of step {step} say {sorted(cells)}")
    return next(iter(cells), None)


def names_of(wish: Wish, words: Words) -> set[str]:
    """What a card may call the set of swaps and add-ons of an order."""
    chosen = (*wish.swaps, *wish.add_ons)
    every = {words("order_with", name=name) for name in chosen}
    if wish.add_ons:
        every.add(TOGETHER.join((*wish.add_ons, words("any_swap"))))
    return {*filter(None, [TOGETHER.join(chosen)]), *every}


def _in_order(name: str) -> str:
    return TOGETHER.join(sorted(name.split(TOGETHER)))


def _cell(table: AmountTable, row: AmountRow, wish: Wish) -> str:
    if not table.header:
        (cell,) = row.amounts
        return cell
    cells = dict(zip(table.header, row.amounts, strict=True))
    if wish.sweetness not in cells:
        raise Unclear(f"{table.what}: there is no column for '{wish.sweetness}'")
    return cells[wish.sweetness]


def goes_after(place: str, words: Words) -> int:
    """The number of the step an add-on goes in after: "after step 5, before the lid"."""
    for part in place.split(", "):
        if part == words("addon_first"):
            return 0
        if found := said(part, "addon_after", words):
            return int(number(found["step"], words))
    raise Unclear(f"'{place}' is no place for an add-on")


def _among(place: str, adds: Sequence[StepView], words: Words) -> int:
    """How many of a station's steps come before an add-on: "first", "after Black tea", "after Shake
    to F and back"."""
    for vessel in VESSELS:
        place = place.removesuffix(", " + words(f"addon_in_{vessel}"))
    if not adds or place == words("goes_first"):
        return 0
    found = said(place, "away_after", words) or said(place, "after_what", words)
    at = [i for i, step in enumerate(adds, start=1) if found and found["what"] == step.what]
    if len(at) != 1:
        raise Unclear(f"'{place}' is no place among {[step.what for step in adds]}")
    return at[0]
