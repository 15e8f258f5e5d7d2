"""A checked menu and its servings go in; station card views come out, one a station and cup."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

from buildsheets.cup.fill import FillState
from buildsheets.cup.serving import Serving, StepFigure
from buildsheets.menu.model import AddStep, CupSize, Menu, Station
from buildsheets.views import rounding
from buildsheets.views.addons import choices_of, pours_to_line
from buildsheets.views.allergens import allergen_line, allergens_of, cautions_of
from buildsheets.views.build import station_marks, step_view
from buildsheets.views.cup_drawing import cup_measures
from buildsheets.views.gauge import gauge_lines
from buildsheets.views.rounding import measured
from buildsheets.views.types import GaugeLine, StationCardView, StationRow
from buildsheets.views.words import Words


def station_view(
    menu: Menu, station: Station, size: CupSize, servings: Sequence[Serving], words: Words
) -> StationCardView | None:
    """What a station does for every drink in one cup; ``None`` when nothing passes it."""
    rows: list[StationRow] = []
    cautions: list[tuple[str, ...]] = []
    here = [serving for serving in servings if serving.cup.id == size.id]
    for serving in here:
        visits = _visits(serving, station)
        for part, visit in enumerate(visits, start=1):
            row = _row(menu, serving, visit, words)
            if len(visits) > 1:
                name = words("visit", drink=row.drink, part=part, parts=len(visits))
                row = replace(row, drink=name)
            rows.append(row)
            cautions += [f.step.component.cautions for f in visit if isinstance(f.step, AddStep)]
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


def _visits(serving: Serving, station: Station) -> list[list[StepFigure]]:
    """The runs of steps that happen at this station, in order."""

    def here(figure: StepFigure) -> bool:
        return figure.step.station is not None and figure.step.station.id == station.id

    return [list(run) for at, run in groupby(serving.steps, here) if at]


def _row(menu: Menu, serving: Serving, visit: list[StepFigure], words: Words) -> StationRow:
    letters = [f.step.station.letter if f.step.station else "" for f in serving.steps]
    first, last = visit[0].number, visit[-1].number
    before = serving.steps[first - 2] if first > 1 else None
    fills_shaker = any(isinstance(f.step, AddStep) and f.step.into == "shaker" for f in visit)
    return StationRow(
        drink=words.name(serving.drink),
        arrives_at=level_words(before, fills_shaker, words),
        adds=tuple(step_view(serving, figure, words) for figure in visit),
        leaves_at=level_words(visit[-1], False, words),
        check="",
        allergens=allergen_line(words, allergens_of(menu, serving, words)),
        choices=station_choices(serving, visit, words),
        comes_from="" if before is None else letters[first - 2],
        goes_to=letters[last] if last < len(letters) else "",
    )


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


Row = tuple[str, tuple[tuple[str, str], ...]]


def station_choices(serving: Serving, visit: Sequence[StepFigure], words: Words) -> tuple[Row, ...]:
    """What these steps do differently for each choice, as rows of (choice, amount).

    The choice nobody asked to change is in the row's own amount and stays out, and so does an
    amount of nothing for a choice of nothing.
    """
    usual, ice = serving.choice, serving.drink.ice
    sweets, ices = (
        [(label, choice) for label, choice in of_one if choice != usual]
        for of_one in choices_of(serving, words)
    )
    rows: list[Row] = []
    for figure in visit:
        step = figure.step
        if not isinstance(step, AddStep):
            continue
        if step.component.role == "sweetener":
            others = [(label, choice) for label, choice in sweets if choice.sweetness]
        elif step.component.behaves == "ice":
            others = [(label, one) for label, one in ices if ice and ice.levels[one.ice or ""]]
        elif step.makes_room:
            others = sweets + ices
        else:
            continue
        cells = tuple(
            (label, measured(serving.choices[choice].steps[figure.number - 1], words)[0])
            for label, choice in others
        )
        if step.makes_room and {amount for _, amount in cells} <= {measured(figure, words)[0]}:
            if pours_to_line(serving):
                rows.append((words("same_line_any"), ()))
            continue
        rows.append((words.name(step.component), cells))
    return tuple(rows)


def level_words(figure: StepFigure | None, shaker: bool, words: Words) -> str:
    """What a cup looks like when it is handed on: empty, with its bed or level, and the shaker.

    ``shaker`` says that the steps to come fill the shaker, so that an empty one is worth a word.
    """
    if figure is None:
        return words("empty_shaker") if shaker else words("empty_cup")
    cup = _cup_words(figure.state, words)
    if figure.shaker_ml <= 0.0:
        return cup
    level = words("level_ml", ml=rounding.about_ml(figure.shaker_ml))
    in_shaker = words("in_shaker", level=level)
    seen = figure.state.seen_ml > 0.0
    return words("and_level", first=cup, second=in_shaker) if seen else in_shaker


def _cup_words(state: FillState, words: Words) -> str:
    """What is seen from outside: a drink under resting ice has no level anyone could read."""
    bed = state.bed_top_ml > 0.0 and state.cap_top_ml is None
    bed_words = words("with_bed", level=rounding.level(words, state.bed_top_ml))
    if state.ice_regime == "rests":
        ice = words("ice_in")
        return words("and_level", first=bed_words, second=ice) if bed else ice
    if state.seen_ml <= 0.0:
        return words("empty_cup")
    if bed and state.bed_top_ml >= state.liquid_level_ml:
        return bed_words
    return rounding.level(words, state.seen_ml)
