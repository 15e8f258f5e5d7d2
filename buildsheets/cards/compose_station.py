"""A checked menu and its servings go in; station card views come out, one a station and cup."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from buildsheets.cards.compose import (
    NO_FOOT,
    allergens_of,
    cautions_of,
    cup_name,
    gauge_lines,
    station_marks,
)
from buildsheets.cards.compose_options import station_options
from buildsheets.cards.compose_steps import last_state, level_words, step_view, visible_ml
from buildsheets.cards.views import GaugeLine, StationCardView, StationRow
from buildsheets.cards.words import Words
from buildsheets.core.model import AddStep, CupSize, Menu, Station
from buildsheets.figures.plan import cup_of
from buildsheets.figures.serving import Serving, StepFigure


def station_view(
    menu: Menu, station: Station, size: CupSize, servings: Sequence[Serving], words: Words
) -> StationCardView | None:
    """What a station does for every drink in one cup; ``None`` when nothing passes it."""
    rows: list[StationRow] = []
    cautions: list[tuple[str, ...]] = []
    for serving in servings:
        if serving.cup.id != size.id:
            continue
        visits = _visits(serving, station)
        for part, visit in enumerate(visits, start=1):
            rows.append(_row(menu, serving, visit, part, len(visits), words))
            cautions += [f.step.component.cautions for f in visit if isinstance(f.step, AddStep)]
    if not rows:
        return None
    width, height = menu.shop.card_width_mm, menu.shop.card_height_mm
    return StationCardView(
        kind="station",
        language=words.language,
        code="",
        station=station_marks(menu, words.language)[station.id],
        cup_name=cup_name(size, words),
        rows=tuple(rows),
        gauge=_gauge(size, station, servings, words),
        gauge_floor_mm=size.floor_mm,
        cautions=cautions_of(cautions, words),
        foot=NO_FOOT,
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
    allergens = allergens_of(menu, serving, words)
    said = (
        [words("contains_list", list=words.list(allergens.contains))]
        if (allergens.contains)
        else [words("ask")]
    )
    return StationRow(
        drink=name,
        arrives_at=level_words(last_state(serving, visit[0].number), words),
        adds=tuple(step_view(figure, words) for figure in visit),
        leaves_at=level_words(visit[-1], words),
        check=_check(serving, visit[-1], words),
        allergens=", ".join(said),
        options=station_options(serving, visit, words),
    )


def _check(serving: Serving, last: StepFigure, words: Words) -> str:
    """How high the level stands above the counter, to hold against a ruler or the gauge."""
    state = last.state
    if state is None or last.shaker_ml > 0.0 or visible_ml(state) <= 0.0:
        return ""
    cup = cup_of(serving.cup.shape)
    height = cup.height_mm(min(visible_ml(state), cup.brimful_ml)) + serving.cup.floor_mm
    return words("step_height", mm=int(height))


def _gauge(
    size: CupSize, station: Station, servings: Sequence[Serving], words: Words
) -> tuple[GaugeLine, ...]:
    """The lines poured to at this station, each once, with the limit and the rim.

    Lines of other stations stay off: their change would make this card be printed again.
    """
    found: dict[tuple[str, str], GaugeLine] = {}
    for serving in servings:
        if serving.cup.id != size.id:
            continue
        here = {figure.number for visit in _visits(serving, station) for figure in visit}
        for line in gauge_lines(serving, words):
            if line.kind in ("working", "rim") or (line.kind == "line" and line.step in here):
                found[(line.kind, line.label)] = GaugeLine(line.height_mm, line.label, line.kind)
    return tuple(sorted(found.values(), key=lambda line: line.height_mm))
