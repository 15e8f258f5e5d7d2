"""A checked menu and its servings go in; station card views come out, one a station and cup."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from buildsheets.cup.fill import FillState
from buildsheets.cup.serving import Serving, StepFigure
from buildsheets.menu.model import AddStep, Component, CupSize, Menu, Station
from buildsheets.views import rounding
from buildsheets.views.addons import add_on_views
from buildsheets.views.allergens import allergen_line, allergens_of, cautions_of
from buildsheets.views.amounts import amount_tables, holds_always
from buildsheets.views.build import station_marks, step_view, what_of
from buildsheets.views.cup_drawing import cup_measures
from buildsheets.views.gauge import gauge_lines
from buildsheets.views.types import AddOnView, GaugeLine, StationCardView, StationRow
from buildsheets.views.words import Words


def station_view(
    menu: Menu, station: Station, size: CupSize, servings: Sequence[Serving], words: Words
) -> StationCardView | None:
    """What a station does for every drink in one cup; ``None`` when nothing passes it."""
    rows: list[StationRow] = []
    cautions: list[tuple[str, ...]] = []
    here = [serving for serving in servings if serving.cup.id == size.id]
    for serving in here:
        rows += _rows(menu, serving, station, words)
        cautions += [
            component.cautions for component in _added_here(serving, station) if component.cautions
        ]
    if not rows:
        return None
    marks = station_marks(menu, words)
    route = {station.letter, *(le for row in rows for le in (row.comes_from, row.goes_to))}
    width, height = menu.shop.card_width_mm, menu.shop.card_height_mm
    # What concerns the whole drink is on the build card.
    here_only = [tuple(one for one in each if one != "caffeine") for each in cautions]
    return StationCardView(
        kind="station",
        language=words.language,
        station=marks[station.id],
        cup_name=cup_measures(here[0], words),
        size_name=words.name(size),
        marks=tuple(mark for mark in marks.values() if mark.letter in route),
        rows=tuple(rows),
        gauge=_gauge(station, here, words),
        gauge_floor_mm=size.floor_mm,
        cautions=cautions_of(here_only, words),
        reading_distance_mm=station.reading_distance_mm,
        # A list of drinks wants a wide card: twice the build card, turned.
        width_mm=round(2 * width + 1.0 if 2 * width > height else width, 1),
        height_mm=height,
    )


def _added_here(serving: Serving, station: Station) -> list[Component]:
    """What the station may put into a drink."""
    own = [f.step.component for visit in _visits(serving, station) for f in visit
           if isinstance(f.step, AddStep)]  # fmt: skip
    offered = [a.component for a in serving.offered]
    return own + [one for one in offered if one.station and one.station.id == station.id]


def _visits(serving: Serving, station: Station) -> list[list[StepFigure]]:
    """The runs of steps that happen at this station, in order."""

    def here(figure: StepFigure) -> bool:
        return figure.step.station is not None and figure.step.station.id == station.id

    return [list(run) for at, run in groupby(serving.steps, here) if at]


def _rows(menu: Menu, serving: Serving, station: Station, words: Words) -> Iterator[StationRow]:
    """A row for each time the drink passes; an add-on goes in on the way that passes nearest
    before its place, or on a way of its own."""
    visits = _visits(serving, station)
    offered = [one for one in add_on_views(menu, serving, words) if one.station == station.letter]
    stops: list[tuple[int, list[StepFigure], list[AddOnView]]] = []
    for visit in visits:
        first, last = visit[0].number, visit[-1].number
        held = [one for one in offered if first - 1 <= one.after_step <= last]
        offered = [one for one in offered if one not in held]
        stops.append((first - 1, visit, held))
    for after, held_views in groupby(offered, lambda one: one.after_step):
        stops.append((after, [], list(held_views)))
    stops.sort(key=lambda stop: stop[0])
    for after, visit, add_ons in stops:
        row = _row(menu, serving, after, visit, add_ons, words)
        if not visit:
            name = words("only_with_add_on", drink=row.drink)
        elif len(visits) > 1:
            name = words("visit", drink=row.drink, part=visits.index(visit) + 1, parts=len(visits))
        else:
            name = row.drink
        yield replace(row, drink=name)


def _row(
    menu: Menu, serving: Serving, after: int, visit: list[StepFigure], add_ons: list[AddOnView],
    words: Words,
) -> StationRow:  # fmt: skip
    letters = [f.step.station.letter if f.step.station else "" for f in serving.steps]
    last = visit[-1].number if visit else after
    before = serving.steps[after - 1] if after else None
    leaves = serving.steps[last - 1] if last else None
    return StationRow(
        drink=words.name(serving.drink),
        arrives_at=cup_words(serving, before, visit, words),
        adds=tuple(step_view(serving, figure, words) for figure in visit),
        leaves_at=cup_words(serving, leaves, [], words) if visit else "",
        check="",
        allergens=allergen_line(words, allergens_of(menu, serving, words)),
        amounts=amount_tables(serving, visit, words),
        add_ons=tuple(replace(one, place=_place(serving, one, visit, words)) for one in add_ons),
        comes_from=letters[after - 1] if after else "",
        goes_to=letters[last] if last < len(letters) else "",
    )


def _place(serving: Serving, add_on: AddOnView, visit: list[StepFigure], words: Words) -> str:
    """Where an add-on goes in among what the station does: first, or after one of its adds."""
    for figure in visit:
        if figure.number == add_on.after_step:
            return words("after_what", what=what_of(serving, figure, words))
    return words("goes_first") if visit else ""


def _gauge(station: Station, servings: Sequence[Serving], words: Words) -> tuple[GaugeLine, ...]:
    """The levels reached at this station, each once, with the limit and the rim; none at a
    station that brings no level of its own.

    Levels of other stations stay off: their change would make this card be printed again.
    """
    found: dict[str, GaugeLine] = {}
    frame: dict[str, GaugeLine] = {}  # the limit and the rim
    for serving in servings:
        here = {figure.number for visit in _visits(serving, station) for figure in visit}
        for line in gauge_lines(serving, words):
            if line.kind in ("working", "rim"):
                frame[line.kind] = line
            elif line.step in here:
                found[line.label] = GaugeLine(line.height_mm, line.label, line.kind)
    if not found:
        return ()
    return tuple(sorted((*found.values(), *frame.values()), key=lambda line: line.height_mm))


def cup_words(
    serving: Serving, figure: StepFigure | None, to_come: Sequence[StepFigure], words: Words
) -> str:
    """What a cup, and the shaker, look like after a step, for the steps to come: as usual, and said
    to be so where a guest's choice changes it."""
    fills_cup = any(
        f.step.into == "cup" if isinstance(f.step, AddStep) else f.step.action in _FROM_SHAKER
        for f in to_come
    )
    if figure is None:
        return words("empty_cup") if fills_cup or not to_come else words("empty_shaker")

    def said(one: StepFigure) -> str:
        in_cup = _cup_words(one.state, words)
        if one.shaker_ml <= 0.0:
            return in_cup or words("empty_cup")
        shaker = words("in_shaker", level=rounding.level(words, one.shaker_ml))
        return words("and_level", first=shaker, second=in_cup) if in_cup else shaker

    state = said(figure)
    if not holds_always(serving, figure, said):
        state = words("usually", state=state)
    if figure.shaker_ml > 0.0 and fills_cup and not _cup_words(figure.state, words):
        state = words("and_level", first=state, second=words("empty_cup"))
    return state


_FROM_SHAKER = ("shake", "pour")  # what brings the shaker's drink into the cup


def _cup_words(state: FillState, words: Words) -> str:
    """What is seen from outside: a drink under resting ice has no level anyone could read."""
    bed = state.bed_top_ml > 0.0 and state.cap_top_ml is None
    bed_words = words("with_bed", level=rounding.level(words, state.bed_top_ml))
    if state.ice_regime == "rests":
        ice = words("ice_in")
        return words("and_level", first=bed_words, second=ice) if bed else ice
    if state.seen_ml <= 0.0:
        return ""
    if bed and state.bed_top_ml >= state.liquid_level_ml:
        return bed_words
    return rounding.level(words, state.seen_ml)
