"""A checked menu and its servings go in; station card views come out, one a station and cup."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from buildsheets.cup.fill import FillState
from buildsheets.cup.serving import Serving, StepFigure
from buildsheets.menu.model import (
    EMPTIES,
    AddOn,
    AddStep,
    Component,
    CupSize,
    Menu,
    Station,
    Swap,
)
from buildsheets.views import rounding
from buildsheets.views.addons import add_on_views
from buildsheets.views.allergens import (
    allergens_of_row,
    cautions_of,
    cautions_with,
    drink_cautions,
    swap_views,
)
from buildsheets.views.amounts import amount_tables, dash_said, swaps_at
from buildsheets.views.build import at_hand_over, station_marks, step_view, what_of
from buildsheets.views.cup_drawing import cup_measures
from buildsheets.views.gauge import Poured, gauge_lines, lines_poured, marks_of
from buildsheets.views.grids import grids
from buildsheets.views.keeps import keeps_of
from buildsheets.views.once import once
from buildsheets.views.paper import neighbour
from buildsheets.views.types import (
    AddOnView,
    GaugeLine,
    StationCardView,
    StationRow,
    SwapView,
)
from buildsheets.views.when import sold_when
from buildsheets.views.words import Words


def station_view(
    menu: Menu, station: Station, size: CupSize, servings: Sequence[Serving], words: Words
) -> StationCardView | None:
    """What a station does for every drink in one cup; ``None`` when nothing passes it."""
    here = [one for one in servings if one.cup.id == size.id and passes(one, station)]
    gauge, levels = _gauge(station, here, words)
    rows, cautions = _with_cautions(
        [
            (one, replace(row, levels=levels[one.drink.id]))
            for one in here
            for row in station_rows(menu, one, station, words)
        ],
        words,
    )
    if not rows:
        return None
    marks = station_marks(menu, words)
    route = {station.letter, *(le for row in rows for le in (row.comes_from, row.goes_to))}
    width, height = _stock(menu, rows, gauge)
    return StationCardView(
        kind="station",
        language=words.language,
        station=marks[station.id],
        cup_name=cup_measures(here[0], words),
        size_name=words.name(size),
        marks=tuple(mark for mark in marks.values() if mark.letter in route),
        rows=tuple(rows),
        gauge=gauge,
        gauge_floor_mm=size.floor_mm,
        cautions=cautions,
        keeps=keeps_of(menu.shop, _stands_here(station, here), words),
        reading_distance_mm=station.reading_distance_mm,
        width_mm=width,
        height_mm=height,
    )


def _stands_here(station: Station, servings: Sequence[Serving]) -> Iterator[Component]:
    """What a station puts into cups, with swaps and add-ons."""
    for serving in servings:
        for figure in (figure for visit in _visits(serving, station) for figure in visit):
            if figure.used is not None:
                yield figure.used.component
            yield from (swap.component for swap in swaps_at(serving, figure))
        for add_on in serving.offered:
            if add_on.component.station is not None and add_on.component.station.id == station.id:
                yield add_on.component


HEADROOM_MM = 6.0  # above the rim's mark, so that its label keeps clear of the edge
FEW_LINES = 8
"""A station's card of so few lines is as large as a build card, turned; common practice, no
source."""


def _stock(
    menu: Menu, rows: Sequence[StationRow], gauge: Sequence[GaugeLine]
) -> tuple[float, float]:
    """Width and height: a list of drinks wants a wide card, twice the build card; for few the build
    card turned does, if the cup beside it is not higher."""
    short, long = sorted((menu.shop.card_width_mm, menu.shop.card_height_mm))
    few = sum(map(lines, rows)) <= FEW_LINES
    highest = max((line.height_mm for line in gauge), default=0.0)
    if few and highest + HEADROOM_MM <= short:
        return long, short
    twice = neighbour(short, long, 1)
    if twice is None:
        return round(2 * short + 1.0, 1), long
    return twice.height_mm, twice.width_mm


def lines(row: StationRow) -> int:
    """About how many lines a row takes: its drink's name and allergens take two."""
    tables = (grid for table in row.amounts if not table.in_line for grid in grids([table]))
    amounts = sum(1 + len(grid.rows) for grid in tables)
    return max(2, len(row.adds) + len(row.add_ons) + len(row.swaps) + bool(row.check) + amounts)


def _with_cautions(
    rows: Sequence[tuple[Serving, StationRow]], words: Words
) -> tuple[list[StationRow], tuple[str, ...]]:
    """The rows, each with the cautions that are not those of the whole card, and these; where a
    drink is handed over, how."""
    own = [_cautions_here(serving, row) for serving, row in rows]
    every = {key for key in _WHOLE_CARD if any(key in keys for keys in own)}
    every |= set.intersection(*map(set, own)) if own else set()
    often = _often(rows, own, every, words)
    of_card = (*often.values(), *cautions_of([tuple(every)], words))
    said = {*of_card, *(words(f"caution_{key}") for key in often)}
    found = []
    for (serving, row), keys in zip(rows, own, strict=True):
        names = [one.name for one in row.add_ons]
        last = not row.goes_to
        offered: list[AddOn | Swap] = [
            one for one in serving.offered if last or words.name(one) in names
        ]
        swaps = [one.name for one in row.swaps]
        offered += [one for one in serving.drink.swaps if words.name(one) in swaps]
        of_row = cautions_with([keys], offered, words)
        told = at_hand_over(serving, words) if last else []
        if dash := dash_said(row.amounts, words):
            told.insert(0, f"{dash}.")
        check = " ".join([*told, *(one for one in of_row if one not in said)])
        found.append(replace(row, check=check))
    return found, of_card


def _often(
    rows: Sequence[tuple[Serving, StationRow]], own: Sequence[tuple[str, ...]],
    every: Collection[str], words: Words,
) -> dict[str, str]:  # fmt: skip
    """Cautions of many drinks, but not of the whole card: said once; each drink's build card says
    whether it is one of them."""
    drinks: dict[str, set[str]] = {}
    for (serving, _), keys in zip(rows, own, strict=True):
        for key in keys:
            drinks.setdefault(key, set()).add(serving.drink.id)
    return {
        key: words("caution_of_some", caution=words(f"caution_{key}"))
        for key, having in drinks.items()
        if len(having) > FEW_DRINKS and key not in every
    }


FEW_DRINKS = 2
"""A caution of no more drinks stands in their rows; common practice, no source."""
_WHOLE_CARD = ("choking",)  # a caution to guests, that so many rows have that it is said once


def _cautions_here(serving: Serving, row: StationRow) -> tuple[str, ...]:
    """What goes in here brings with it; where the drink is handed over, all that concerns it."""
    if not row.goes_to:
        return drink_cautions(serving)
    numbers = [step.number for step in row.adds]
    steps = [figure.step for figure in serving.steps if figure.number in numbers]
    return tuple(
        key for step in steps if isinstance(step, AddStep) for key in step.component.cautions
    )


def passes(serving: Serving, station: Station) -> bool:
    """Whether a drink may pass the station, be it with an add-on alone."""
    at = [figure.step.station for figure in serving.steps]
    at += [add_on.component.station for add_on in serving.offered]
    return any(one is not None and one.id == station.id for one in at)


def _visits(serving: Serving, station: Station) -> list[list[StepFigure]]:
    """The runs of steps that happen at this station, in order."""

    def here(figure: StepFigure) -> bool:
        return figure.step.station is not None and figure.step.station.id == station.id

    return [list(run) for at, run in groupby(serving.steps, here) if at]


@once
def station_rows(
    menu: Menu, serving: Serving, station: Station, words: Words
) -> tuple[StationRow, ...]:
    """What a station does for a drink, without cautions."""
    return tuple(_rows(menu, serving, station, words))


def _rows(menu: Menu, serving: Serving, station: Station, words: Words) -> Iterator[StationRow]:
    """A row for each time the drink passes; an add-on goes in on the way that passes nearest
    before its place, or on a way of its own. A way that is broken off for an add-on of another
    station says so."""
    visits, every = _visits(serving, station), add_on_views(menu, serving, words)
    offered = [one for one in every if one.station == station.letter]
    stops: list[tuple[int, list[StepFigure], list[AddOnView]]] = []
    for visit in visits:
        first, last = visit[0].number, visit[-1].number
        held = [one for one in offered if first - 1 <= one.after_step <= last]
        offered = [one for one in offered if one not in held]
        away = [one for one in every if one.station not in ("", station.letter)]
        held += [one for one in away if first <= one.after_step < last]
        stops.append((first - 1, visit, sorted(held, key=every.index)))
    for after, held_views in groupby(offered, lambda one: one.after_step):
        stops.append((after, [], list(held_views)))
    stops.sort(key=lambda stop: stop[0])
    for after, visit, add_ons in stops:
        row = _row(menu, serving, station, after, visit, add_ons, words)
        if not visit:
            name = words("only_with_add_on", drink=row.drink)
        elif len(visits) > 1:
            name = words("visit", drink=row.drink, part=visits.index(visit) + 1, parts=len(visits))
        else:
            name = row.drink
        yield replace(row, drink=name)


def _row(
    menu: Menu, serving: Serving, station: Station, after: int, visit: list[StepFigure],
    add_ons: list[AddOnView], words: Words,
) -> StationRow:  # fmt: skip
    letters = [f.step.station.letter if f.step.station else "" for f in serving.steps]
    last = visit[-1].number if visit else after
    names = [one.name for one in add_ons if one.station == station.letter]
    passing = list(_passing(serving, [figure.number for figure in visit], names, words))
    before = [figure for figure, _ in passing] or [serving.steps[after - 1] if after else None]
    return StationRow(
        drink=words.name(serving.drink),
        arrives_at=cup_words(before, visit, words),
        adds=tuple(step_view(serving, figure, words) for figure in visit),
        leaves_at=(
            cup_words([leaves for _, leaves in passing], [], words)
            if visit
            else words("cup_with_add_on")
        ),
        check="",
        allergens=allergens_of_row(menu, serving, words),
        amounts=amount_tables(serving, visit, words),
        add_ons=tuple(_in_row(serving, station, one, visit, words) for one in add_ons),
        swaps=_swaps_here(menu, serving, visit, last >= len(letters), words),
        comes_from=letters[after - 1] if after else "",
        goes_to=letters[last] if last < len(letters) else "",
        sold=sold_when(menu, serving.drink, words),
    )


def _swaps_here(
    menu: Menu, serving: Serving, visit: list[StepFigure], hands_over: bool, words: Words
) -> tuple[SwapView, ...]:
    """The swaps that go in here; all of them where the drink is handed over."""
    here = {swap.id for figure in visit for swap in swaps_at(serving, figure)}
    views = zip(serving.drink.swaps, swap_views(menu, serving, words), strict=True)
    return tuple(view for swap, view in views if hands_over or swap.id in here)


def _passing(
    serving: Serving, numbers: Sequence[int], add_ons: Sequence[str], words: Words
) -> Iterator[tuple[StepFigure | None, StepFigure]]:
    """The step before a row and its last one, for every choice that passes it, the usual first; of
    a row for an add-on alone, that add-on in a cup as usual."""

    def unlike(one: Serving) -> tuple[bool, int, int]:
        usual = (one.choice.sweetness, one.choice.ice) == (
            serving.choice.sweetness,
            serving.choice.ice,
        )
        return not usual, len(one.choice.swaps), len(one.choice.add_ons)

    for one in (serving, *sorted(serving.choices.made, key=unlike)):
        steps, here, own = one.steps, [], 0
        for at, figure in enumerate(steps):
            own += figure.add_on is None
            of_row = words.name(figure.add_on) in add_ons if figure.add_on else own in numbers
            here += [at] if of_row else []
        if here:
            yield steps[here[0] - 1] if here[0] else None, steps[here[-1]]


def _in_row(
    serving: Serving, station: Station, add_on: AddOnView, visit: list[StepFigure], words: Words
) -> AddOnView:
    """An add-on as the row says it: where it goes in among what the station does, or that the cup
    goes to another station for it and comes back."""
    what = [what_of(serving, f, words) for f in visit if f.number == add_on.after_step]
    if add_on.station != station.letter:
        place = words("away_after", what=what[0], station=add_on.station)
        return AddOnView(add_on.name, "", "", "", add_on.station, add_on.after_step, place)
    parts = [words("after_what", what=what[0])] if what else [words("goes_first")] if visit else []
    into = [words("addon_in_shaker"), words("addon_in_blender")]
    parts += [part for part in add_on.place.split(", ") if part in into]
    return replace(add_on, place=", ".join(parts))


def _gauge(
    station: Station, servings: Sequence[Serving], words: Words
) -> tuple[tuple[GaugeLine, ...], dict[str, tuple[str, ...]]]:
    """The levels reached at this station, each once, with the limit and the rim, and what each
    drink comes to, each line by itself; none at a station that brings no level of its own.

    Levels of other stations stay off: their change would make this card be printed again.
    """
    found: dict[str, GaugeLine] = {}
    frame: dict[str, GaugeLine] = {}  # the limit and the rim
    levels: dict[str, tuple[str, ...]] = {}
    poured: list[Poured] = []
    for serving in servings:
        figures = {f.number: f for visit in _visits(serving, station) for f in visit}
        here, own, mine = figures.keys(), list[str](), list[Poured]()
        if any(f.used is not None and f.used.to_line_ml is not None for f in figures.values()):
            mine = [one for one in lines_poured(serving, words) if one.step in here]
        for line in gauge_lines(serving, words):
            if line.of_cup:
                frame[line.kind] = line
            elif line.kind != "line" and line.step in here:
                found[line.label] = GaugeLine(line.height_mm, line.label, line.kind)
                own.append(line.label)
        own += [rounding.level(words, one.reading_ml) for one in mine]
        levels[serving.drink.id] = tuple(dict.fromkeys(own))
        poured += mine
    marks = [replace(line, step=0) for line, _ in marks_of(poured, words)]
    every = (*marks, *found.values(), *frame.values()) if found or marks else ()
    return tuple(sorted(every, key=lambda line: line.height_mm)), levels


def cup_words(
    figures: Sequence[StepFigure | None], to_come: Sequence[StepFigure], words: Words
) -> str:
    """What a cup, and the shaker or blender, look like after a step, the usual choice's first, for
    the steps to come: as usual, and said to be so where a guest's choice changes it."""
    fills_cup = any(map(_fills_cup, to_come))
    usual = figures[0]
    begins_in_cup = fills_cup and not (to_come[0].vessel and isinstance(to_come[0].step, AddStep))
    filled = any(one is not None and one.state.top_ml > 0.0 for one in figures)
    if usual is None and to_come and not begins_in_cup:
        vessel = next((f.vessel for f in to_come if f.vessel), "shaker")
        return words(f"{vessel}_and_cup" if filled else f"empty_{vessel}")

    def said(one: StepFigure | None) -> str:
        in_cup = _cup_words(one.state, words) if one else ""
        if one is None or one.shaker_ml <= 0.0:
            return in_cup or words("empty_cup")
        vessel = words(f"in_{one.vessel}", level=rounding.level(words, one.shaker_ml))
        return words("and_level", first=in_cup, second=vessel) if in_cup else vessel

    state = said(usual)
    if any(said(one) != state for one in figures):
        state = words("usually", state=state)
    if usual and usual.shaker_ml > 0.0 and fills_cup and not _cup_words(usual.state, words):
        cup = words("take_that_cup" if filled else "take_cup")
        state = words("and_level", first=state, second=cup)
    return state


def _fills_cup(figure: StepFigure) -> bool:
    """Whether something comes into the cup at a step."""
    step = figure.step
    return step.into == "cup" if isinstance(step, AddStep) else step.action in EMPTIES


def _cup_words(state: FillState, words: Words) -> str:
    """What is seen from outside: a drink under resting ice has no level anyone could read."""
    bed = state.bed_top_ml > 0.0 and state.cap_top_ml is None
    bed_words = words("with_bed", level=rounding.level(words, state.bed_top_ml)) if bed else ""
    if state.ice_regime == "rests":
        ice = words("ice_in" if state.contents.has_ice else "pieces_in")
        return words("and_level", first=bed_words, second=ice) if bed else ice
    if state.seen_ml <= 0.0:
        return ""
    if bed and state.bed_top_ml >= state.liquid_level_ml:
        return bed_words
    if state.in_dome_mm:
        return words("over_rim")
    return rounding.level(words, state.seen_ml)
