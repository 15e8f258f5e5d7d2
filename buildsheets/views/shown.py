"""Figured values in, the text a reader sees out: the one place where cards round.

To what the tool can measure and to the safe side: levels down to 5 ml, heights to 1 mm, what is
left out up to 5 ml.
"""

from __future__ import annotations

import math

from buildsheets.menu.model import Text, Tool
from buildsheets.views.words import Words

LEVEL_STEP_ML = 5.0
"""A level is read to 5 ml on a cup (fill model, "What to show to a barista")."""

_FRACTIONS = {0.25: "¼", 0.5: "½", 0.75: "¾"}


def level_ml(reading_ml: float) -> int:
    """A level, down to 5 ml."""
    return int(math.floor(reading_ml / LEVEL_STEP_ML + 1e-9) * LEVEL_STEP_ML)


def left_out_ml(volume_ml: float) -> int:
    """What is left out, up to 5 ml."""
    return int(math.ceil(volume_ml / LEVEL_STEP_ML - 1e-9) * LEVEL_STEP_ML)


def about_ml(volume_ml: float) -> int:
    """A poured volume to the nearest 5 ml: the line is the measure, this only helps to plan."""
    return int(LEVEL_STEP_ML * math.floor(volume_ml / LEVEL_STEP_ML + 0.5))


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
