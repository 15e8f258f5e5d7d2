"""Figured values in, the text a reader sees out: the one place where cards round.

To what the tool can measure and to the safe side: levels down to 5 ml, heights to 1 mm, what is
left out up to 5 ml.
"""

from __future__ import annotations

import math

from buildsheets.cup.serving import StepFigure
from buildsheets.cup.steps import LINE_STEP_ML
from buildsheets.menu.model import AddStep, Text, Tool
from buildsheets.views.words import Words

_FRACTIONS = {0.25: "¼", 0.5: "½", 0.75: "¾"}


def level_ml(reading_ml: float) -> int:
    """A level, down to 5 ml."""
    return int(math.floor(reading_ml / LINE_STEP_ML + 1e-9) * LINE_STEP_ML)


def level(words: Words, reading_ml: float) -> str:
    """A level, down to 5 ml, in words."""
    return words("level_ml", ml=level_ml(reading_ml))


def left_out_ml(volume_ml: float) -> int:
    """What is left out, up to 5 ml."""
    return int(math.ceil(volume_ml / LINE_STEP_ML - 1e-9) * LINE_STEP_ML)


def about_ml(volume_ml: float) -> int:
    """A poured volume to the nearest 5 ml: the line is the measure, this only helps to plan."""
    return int(LINE_STEP_ML * math.floor(volume_ml / LINE_STEP_ML + 0.5))


def base_ml(body: StepFigure) -> int:
    """How much of the base a choice takes, or the line it reaches, down to 5 ml."""
    assert body.used is not None
    line_ml = body.used.to_line_ml
    if line_ml is None:
        return level_ml(body.used.volume_ml)
    return level_ml(min(line_ml, body.state.liquid_level_ml + 1e-6))


def count(words: Words, value: float) -> str:
    """A tool count: 2, ½, 1½; other fractions as decimals."""
    whole = math.floor(value + 1e-9)
    rest = value - whole
    for share, sign in _FRACTIONS.items():
        if abs(rest - share) < 1e-6:
            return f"{whole or ''}{sign}"
    return words.number(round(value, 2))


def amount(words: Words, value: float) -> str:
    """Grams or ml: whole ones from ten, else to one decimal where there is one."""
    if value >= 10.0 or abs(value - round(value)) < 0.05:
        return words.number(int(value + 0.5))
    return words.number(round(value, 1))


def unit(words: Words, tool: Tool, value: float) -> str:
    """What a count of the tool is called: "pump", "pumps"."""
    one, many = tool.one or tool.name, tool.many or tool.one or tool.name
    chosen: Text = one if value <= 1.0 + 1e-9 else many
    return chosen.in_language(words.language)


def measured(figure: StepFigure, words: Words) -> tuple[str, str, str]:
    """(amount, unit, what helps to measure it) of what a step adds: a line, counts of a tool, else
    ml or grams."""
    step, used = figure.step, figure.used
    assert isinstance(step, AddStep)
    assert used is not None
    if used.to_line_ml is not None:
        return words.number(level_ml(used.to_line_ml)), words("ml_line"), words("fill_to_line")
    tool = step.tool
    if used.count is not None and tool is not None:
        each = (
            words("mls", ml=amount(words, used.volume_ml))
            if tool.holds_ml is not None
            else words("grams", g=amount(words, used.mass_g))
        )
        return count(words, used.count), unit(words, tool, used.count), each
    name = tool.name.in_language(words.language) if tool else ""
    name = words("with_tool", tool=name) if name else ""
    if used.component.behaves == "liquid":
        return amount(words, used.volume_ml), "ml", name
    return amount(words, used.mass_g), "g", name


def counted_in(figure: StepFigure, words: Words) -> str:
    """What the tool of a step is counted in, "" where its amount is not counted."""
    step, used = figure.step, figure.used
    if not isinstance(step, AddStep) or step.tool is None or used is None or used.count is None:
        return ""
    return unit(words, step.tool, 2.0)
