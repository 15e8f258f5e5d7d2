"""A checked menu and its servings go in; station card views come out, one a station and cup."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from buildsheets.cup.serving import Serving, StepFigure
from buildsheets.menu.model import AddStep, CupSize, Menu, Station
from buildsheets.views.compose import (
    NO_FOOT,
    allergens_of,
    cautions_of,
    cup_measures,
    gauge_lines,
    station_marks,
)
from buildsheets.views.compose_options import station_choices
from buildsheets.views.compose_steps import level_words, step_view
from buildsheets.views.prep_words import allergen_line
from buildsheets.views.views import GaugeLine, StationCardView, StationRow
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
            rows.append(_row(menu, serving, visit, part, len(visits), words))
            cautions += [_at_this_station(f) for f in visit]
    if not rows:
        return None
    marks = station_marks(menu, words.language)
    route = {station.letter, *(le for row in rows for le in (row.comes_from, row.goes_to))}
    width, height = menu.shop.card_width_mm, menu.shop.card_height_mm
    return StationCardView(
        kind="station",
        language=words.language,
        code="",
        station=marks[station.id],
        cup_name=cup_measures(here[0], words),
        size_name=size.name.in_language(words.language),
        marks=tuple(mark for mark in marks.values() if mark.letter in route),
        rows=tuple(rows),
        gauge=_gauge(station, here, words),
        gauge_floor_mm=size.floor_mm,
        cautions=cautions_of(cautions, words),
        foot=NO_FOOT,
        reading_distance_mm=station.reading_distance_mm,
        # A list of drinks wants a wide card: twice the build card, turned.
        width_mm=round(2 * width + 1.0 if 2 * width > height else width, 1),
        height_mm=height,
    )


def _at_this_station(figure: StepFigure) -> tuple[str, ...]:
    """Cautions of what is handled here; what concerns the whole drink is on the build card."""
    if not isinstance(figure.step, AddStep):
        return ()
    return tuple(one for one in figure.step.component.cautions if one != "caffeine")


def _visits(serving: Serving, station: Station) -> list[list[StepFigure]]:
    """The runs of steps that happen at this station, in order."""

    def here(figure: StepFigure) -> bool:
        return figure.step.station is not None and figure.step.station.id == station.id

    return [list(run) for at, run in groupby(serving.steps, here) if at]


def _row(
    menu: Menu,
    serving: Serving,
    visit: list[StepFigure],
    part: int,
    parts: int,
    words: Words,
) -> StationRow:
    name = serving.drink.name.in_language(words.language)
    if parts > 1:
        name = words("visit", drink=name, part=part, parts=parts)
    first, last = visit[0].number, visit[-1].number
    before = serving.steps[first - 2] if first > 1 else None
    fills_shaker = any(isinstance(f.step, AddStep) and f.step.into == "shaker" for f in visit)
    return StationRow(
        drink=name,
        arrives_at=level_words(before, fills_shaker, words),
        adds=tuple(step_view(serving, figure, words) for figure in visit),
        leaves_at=level_words(visit[-1], False, words),
        check="",
        allergens=allergen_line(words, allergens_of(menu, serving, words)),
        choices=station_choices(serving, visit, words),
        comes_from=_letter(serving, first - 1),
        goes_to=_letter(serving, last + 1),
    )


def _letter(serving: Serving, number: int) -> str:
    """The letter of the station that does a step, or "" before the first and after the last."""
    if not 1 <= number <= len(serving.steps):
        return ""
    station = serving.steps[number - 1].step.station
    return station.letter if station is not None else ""


def _gauge(station: Station, servings: Sequence[Serving], words: Words) -> tuple[GaugeLine, ...]:
    """The levels reached at this station, each once, with the limit and the rim; none at a
    station that brings no level of its own.

    Levels of other stations stay off: their change would make this card be printed again.
    """
    found: dict[str, GaugeLine] = {}
    frame: dict[str, GaugeLine] = {}
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
