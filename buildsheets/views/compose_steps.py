"""The steps of a figured serving go in; what each step prints on a card comes out."""

from __future__ import annotations

from buildsheets.cup.build import Fitter
from buildsheets.cup.fill import FillState
from buildsheets.cup.plan import plan
from buildsheets.cup.serving import Choice, Serving, StepFigure, Used
from buildsheets.menu.model import AddStep, DoStep
from buildsheets.views import shown
from buildsheets.views.views import StepView
from buildsheets.views.words import Words

_KINDS = {
    "liquid": "liquid",
    "settled": "settled",
    "floated": "floated",
    "dusted": "dusted",
    "ice": "ice",
}


WARM_C, COLD_C = 30.0, 8.0
"""Above the first a card says the temperature, up to the second it says cold; between them a
component stands at the counter. Common practice, no source."""

EVERY_CHOICE_ML = 10.0
"""A level is printed as a check only if it holds for every choice to within this; one that moved
with the sweetness would have somebody top it up."""


def step_views(serving: Serving, words: Words) -> tuple[StepView, ...]:
    """Every step, in order, with the levels that hold for every sweetness and ice."""
    every = choice_levels(serving)
    return tuple(step_view(serving, figure, every, words) for figure in serving.steps)


def choice_levels(serving: Serving) -> tuple[tuple[float, float], ...]:
    """Lowest and highest visible level after each step, over every sweetness and ice."""
    drink = serving.drink
    fitter = Fitter(plan(drink, serving.cup))
    sweets = drink.sweetness.levels if drink.sweetness else (None,)
    ices = tuple(drink.ice.levels) if drink.ice else (None,)
    made = [fitter.serving(Choice(s, i)) for s in sweets for i in ices]
    found = []
    for index in range(len(serving.steps)):
        states = [one.steps[index].state for one in made]
        readings = [visible_ml(state) for state in states if state is not None]
        found.append((min(readings, default=0.0), max(readings, default=0.0)))
    return tuple(found)


def step_view(
    serving: Serving,
    figure: StepFigure,
    every: tuple[tuple[float, float], ...],
    words: Words,
) -> StepView:
    """One step: its amount as its tool measures it, and the level it reaches."""
    low, high = every[figure.number - 1]
    line = reached(figure, low, words) if high - low <= EVERY_CHOICE_ML else ""
    if isinstance(figure.step, DoStep):
        return _action(serving, figure, figure.step, line, words)
    assert figure.used is not None
    return _addition(figure, figure.step, figure.used, line, words)


def _addition(figure: StepFigure, step: AddStep, used: Used, line: str, words: Words) -> StepView:
    component = step.component
    amount, unit, tool = measured(step, used, words)
    kind = "line" if used.to_line_ml is not None else _KINDS[component.behaves]
    return StepView(
        number=figure.number,
        amount=amount,
        unit=unit,
        what=component.name.in_language(words.language),
        tool=tool,
        line="" if kind in ("line", "floated") else line,
        note=_note(step, words),
        station=step.station.name.in_language(words.language) if step.station else "",
        kind=kind,
        vessel=words("shaker") if step.into == "shaker" else "",
    )


def measured(step: AddStep, used: Used, words: Words) -> tuple[str, str, str]:
    """(amount, unit, what helps to measure it): counts of a tool, else ml or grams."""
    if used.to_line_ml is not None:
        line = shown.level_ml(used.to_line_ml)
        return words.number(line), words("ml_line"), words("fill_to_line")
    liquid = used.component.behaves == "liquid"
    if used.count is not None and step.tool is not None:
        one = step.tool
        each = (
            words("mls", ml=shown.amount(words, used.volume_ml))
            if one.holds_ml is not None
            else words("grams", g=shown.amount(words, used.mass_g))
        )
        return shown.count(words, used.count), shown.unit(words, one, used.count), each
    name = step.tool.name.in_language(words.language) if step.tool else ""
    name = words("with_tool", tool=name) if name else ""
    if liquid:
        return shown.amount(words, used.volume_ml), "ml", name
    return shown.amount(words, used.mass_g), "g", name


def _note(step: AddStep, words: Words) -> str:
    parts = []
    warm = step.component.temperature_c
    if warm is not None and warm > WARM_C:
        parts.append(words("at_temperature", t=words.number(round(warm))))
    elif warm is not None and warm <= COLD_C and step.component.behaves == "liquid":
        parts.append(words("cold"))
    if step.note is not None:
        parts.append(step.note.in_language(words.language))
    return ", ".join(parts)


def _action(
    serving: Serving, figure: StepFigure, step: DoStep, line: str, words: Words
) -> StepView:
    key = f"do_{step.action}" + (f"_{step.pour}" if step.action == "shake" else "")
    if step.action == "lid":
        key = f"lid_on_{serving.cup.lid}"
    parts = []
    if step.seconds:
        seconds = words.number(round(step.seconds))
        parts.append(words("shake_for" if step.action == "shake" else "seconds", s=seconds))
    if step.note is not None:
        parts.append(step.note.in_language(words.language))
    moves = step.action in ("shake", "pour", "chill")
    return StepView(
        number=figure.number,
        amount="",
        unit="",
        what=words(key),
        tool="",
        line=line if moves else "",
        note=", ".join(parts),
        station=step.station.name.in_language(words.language) if step.station else "",
        kind="action",
        vessel="",
    )


def reached(figure: StepFigure, reading_ml: float, words: Words) -> str:
    """The level after a step, where it is one a barista can see in the cup."""
    step, state = figure.step, figure.state
    if state is None or (isinstance(step, AddStep) and step.into == "shaker"):
        return ""
    behaves = step.component.behaves if isinstance(step, AddStep) else "liquid"
    if behaves in ("dusted", "ice"):
        return ""
    if behaves == "liquid" and state.liquid_level_ml <= state.bed_top_ml:
        return ""  # hidden among the pearls
    return words("to_level", level=words("level_ml", ml=shown.level_ml(reading_ml)))


def visible_ml(state: FillState) -> float:
    """The level that is seen: the cap's top, else the drink's, else the bed's."""
    if state.cap_top_ml is not None:
        return state.cap_top_ml
    return max(state.liquid_level_ml, state.bed_top_ml)


def level_words(figure: StepFigure | None, shaker: bool, words: Words) -> str:
    """What a cup looks like when it is handed on: empty, with its bed or level, and the shaker.

    ``shaker`` says that the steps to come fill the shaker, so that an empty one is worth a word.
    """
    if figure is None or figure.state is None:
        return words("empty_shaker") if shaker else words("empty_cup")
    state = figure.state
    cup = _cup_words(state, words)
    if figure.shaker_ml <= 0.0:
        return cup
    level = words("level_ml", ml=shown.about_ml(figure.shaker_ml))
    in_shaker = words("in_shaker", level=level)
    if visible_ml(state) <= 0.0:
        return in_shaker
    return words("and_level", first=cup, second=in_shaker)


def _cup_words(state: FillState, words: Words) -> str:
    """What is seen from outside: a drink under resting ice has no level anyone could read."""
    cup_ml = visible_ml(state)
    bed = state.bed_top_ml > 0.0 and state.contents.cap_ml <= 0.0
    bed_words = words("with_bed", level=words("level_ml", ml=shown.level_ml(state.bed_top_ml)))
    if state.ice_regime == "rests":
        ice = words("ice_in")
        return words("and_level", first=bed_words, second=ice) if bed else ice
    if cup_ml <= 0.0:
        return words("empty_cup")
    if bed and state.bed_top_ml >= state.liquid_level_ml:
        return bed_words
    return words("level_ml", ml=shown.level_ml(cup_ml))


def last_state(serving: Serving, number: int) -> StepFigure | None:
    """The figure before step ``number``, or ``None`` before the first."""
    return serving.steps[number - 2] if number >= 2 else None
