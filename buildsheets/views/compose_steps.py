"""The steps of a figured serving go in; what each step prints on a card comes out."""

from __future__ import annotations

from buildsheets.cup.fill import FillState
from buildsheets.cup.serving import Serving, StepFigure
from buildsheets.menu.model import AddStep, DoStep
from buildsheets.views import rounding
from buildsheets.views.rounding import measured
from buildsheets.views.views import StepView
from buildsheets.views.words import Words

WARM_C, COLD_C = 30.0, 8.0
"""Above the first a card says the temperature, up to the second it says cold; between them a
component stands at the counter. Common practice, no source."""

EVERY_CHOICE_ML = 10.0
"""A level is printed as a check only if it holds for every choice to within this; one that moved
with the sweetness would have somebody top it up."""


def step_view(serving: Serving, figure: StepFigure, words: Words) -> StepView:
    """One step: its amount as its tool measures it, and the level it reaches, if that holds for
    every sweetness and ice."""
    step = figure.step
    low, high = serving.choices.seen_ml[figure.number - 1]
    line = _reached(figure, low, words) if high - low <= EVERY_CHOICE_ML else ""
    station = step.station.name.in_language(words.language) if step.station else ""
    if isinstance(step, DoStep):
        return StepView(
            number=figure.number,
            amount="",
            unit="",
            what=words(_action_key(serving, step)),
            tool="",
            line=line if step.action in ("shake", "pour", "chill") else "",
            note=", ".join(_action_notes(step, words)),
            station=station,
            kind="action",
            vessel="",
        )
    amount, unit, tool = measured(figure, words)
    used = figure.used
    kind = "line" if used is not None and used.to_line_ml is not None else step.component.behaves
    return StepView(
        number=figure.number,
        amount=amount,
        unit=unit,
        what=step.component.name.in_language(words.language),
        tool=tool,
        line="" if kind in ("line", "floated") else line,
        note=", ".join(_notes(step, words)),
        station=station,
        kind=kind,
        vessel=words("shaker") if step.into == "shaker" else "",
    )


def _notes(step: AddStep, words: Words) -> list[str]:
    parts = []
    warm = step.component.temperature_c
    if warm is not None and warm > WARM_C:
        parts.append(words("at_temperature", t=words.number(round(warm))))
    elif warm is not None and warm <= COLD_C and step.component.behaves == "liquid":
        parts.append(words("cold"))
    if step.note is not None:
        parts.append(step.note.in_language(words.language))
    return parts


def _action_key(serving: Serving, step: DoStep) -> str:
    if step.action == "lid":
        return f"lid_on_{serving.cup.lid}"
    return f"do_{step.action}" + (f"_{step.pour}" if step.action == "shake" else "")


def _action_notes(step: DoStep, words: Words) -> list[str]:
    parts = []
    if step.seconds:
        seconds = words.number(round(step.seconds))
        parts.append(words("shake_for" if step.action == "shake" else "seconds", s=seconds))
    if step.note is not None:
        parts.append(step.note.in_language(words.language))
    return parts


def _reached(figure: StepFigure, reading_ml: float, words: Words) -> str:
    """The level after a step, where it is one a barista can see in the cup."""
    step, state = figure.step, figure.state
    if isinstance(step, AddStep) and step.into == "shaker":
        return ""
    behaves = step.component.behaves if isinstance(step, AddStep) else "liquid"
    if behaves in ("dusted", "ice"):
        return ""
    if behaves == "liquid" and state.liquid_level_ml <= state.bed_top_ml:
        return ""  # hidden among the pearls
    return words("to_level", level=rounding.level(words, reading_ml))


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
    if figure.state.seen_ml <= 0.0:
        return in_shaker
    return words("and_level", first=cup, second=in_shaker)


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
