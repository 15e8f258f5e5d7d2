"""The steps of a figured serving go in; what each step prints on a card comes out."""

from __future__ import annotations

from buildsheets.cards import shown
from buildsheets.cards.views import StepView
from buildsheets.cards.words import Words
from buildsheets.core.model import AddStep, DoStep
from buildsheets.figures.fill import FillState
from buildsheets.figures.serving import Serving, StepFigure, Used

_KINDS = {
    "liquid": "liquid",
    "settled": "settled",
    "floated": "floated",
    "dusted": "dusted",
    "ice": "ice",
}


def step_views(serving: Serving, words: Words) -> tuple[StepView, ...]:
    """Every step, in order."""
    return tuple(step_view(figure, words) for figure in serving.steps)


def step_view(figure: StepFigure, words: Words) -> StepView:
    """One step: its amount as its tool measures it, and the level it reaches."""
    if isinstance(figure.step, DoStep):
        return _action(figure, figure.step, words)
    assert figure.used is not None
    return _addition(figure, figure.step, figure.used, words)


def _addition(figure: StepFigure, step: AddStep, used: Used, words: Words) -> StepView:
    component = step.component
    amount, unit, tool = measured(step, used, words)
    kind = "line" if used.to_line_ml is not None else _KINDS[component.behaves]
    return StepView(
        number=figure.number,
        amount=amount,
        unit=unit,
        what=component.name.in_language(words.language),
        tool=tool,
        line="" if kind == "line" else reached(figure, words),
        note=_note(step, words),
        station=step.station.name.in_language(words.language) if step.station else "",
        kind=kind,
        vessel=words("shaker") if step.into == "shaker" else "",
    )


def measured(step: AddStep, used: Used, words: Words) -> tuple[str, str, str]:
    """(amount, unit, what helps to measure it): counts of a tool, else ml or grams."""
    if used.to_line_ml is not None:
        line = shown.level_ml(used.to_line_ml)
        about = words("about_ml", ml=shown.about_ml(used.volume_ml))
        return words.number(line), "ml", about
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
    if liquid:
        return shown.amount(words, used.volume_ml), "ml", name
    return shown.amount(words, used.mass_g), "g", name


def _note(step: AddStep, words: Words) -> str:
    parts = []
    warm = step.component.temperature_c
    if warm is not None and warm > 30.0:
        parts.append(words("at_temperature", t=words.number(round(warm))))
    if step.note is not None:
        parts.append(step.note.in_language(words.language))
    return ", ".join(parts)


def _action(figure: StepFigure, step: DoStep, words: Words) -> StepView:
    key = f"do_{step.action}" + (f"_{step.pour}" if step.action == "shake" else "")
    parts = []
    if step.seconds:
        parts.append(words("seconds", s=words.number(round(step.seconds))))
    if step.note is not None:
        parts.append(step.note.in_language(words.language))
    moves = step.action in ("shake", "pour", "chill")
    return StepView(
        number=figure.number,
        amount="",
        unit="",
        what=words(key),
        tool="",
        line=reached(figure, words) if moves else "",
        note=", ".join(parts),
        station=step.station.name.in_language(words.language) if step.station else "",
        kind="action",
        vessel="",
    )


def reached(figure: StepFigure, words: Words) -> str:
    """The level after a step, where it is one a barista can see in the cup."""
    step, state = figure.step, figure.state
    if state is None or (isinstance(step, AddStep) and step.into == "shaker"):
        return ""
    behaves = step.component.behaves if isinstance(step, AddStep) else "liquid"
    if behaves in ("dusted", "ice"):
        return ""
    reading = visible_ml(state)
    if behaves == "liquid" and state.liquid_level_ml <= state.bed_top_ml:
        return ""  # hidden among the pearls
    return words("to_level", level=words("level_ml", ml=shown.level_ml(reading)))


def visible_ml(state: FillState) -> float:
    """The level that is seen: the cap's top, else the drink's, else the bed's."""
    if state.cap_top_ml is not None:
        return state.cap_top_ml
    return max(state.liquid_level_ml, state.bed_top_ml)


def level_words(figure: StepFigure | None, words: Words) -> str:
    """What a cup looks like when it is handed on: empty, in the shaker, or its level."""
    if figure is None or figure.state is None:
        return words("empty_cup")
    state = figure.state
    cup_ml = visible_ml(state)
    if figure.shaker_ml > 0.0:
        level = words("level_ml", ml=shown.about_ml(figure.shaker_ml))
        return words("in_shaker", level=level)
    if cup_ml <= 0.0:
        return words("empty_cup")
    level = words("level_ml", ml=shown.level_ml(cup_ml))
    if state.bed_top_ml >= state.liquid_level_ml and state.contents.cap_ml <= 0.0:
        return words("with_bed", level=level)
    return level


def last_state(serving: Serving, number: int) -> StepFigure | None:
    """The figure before step ``number``, or ``None`` before the first."""
    return serving.steps[number - 2] if number >= 2 else None
