"""Numbers for people who read findings: plain floats in, short text in their units out."""

from __future__ import annotations

import re

from buildsheets.core.model import AddStep, Step
from buildsheets.figures.plan import Op

_NUMBER = re.compile(r"[\d.,/½¼¾⅓⅔⅛\s]*\d[\d.,/]*|[½¼¾⅓⅔⅛]")


def ml(volume_ml: float) -> str:
    """A volume to 1 ml, or to 0.1 ml below ten, so that a small excess never shows as 0."""
    return f"{volume_ml:.1f} ml" if abs(volume_ml) < 9.95 else f"{volume_ml:.0f} ml"


def number(value: float) -> str:
    """A number without trailing zeros, to three decimals."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def percent(share: float) -> str:
    """A share as a percentage, to 1 %, or to 0.1 % below ten."""
    return f"{100 * share:.1f} %" if share < 0.0995 else f"{100 * share:.0f} %"


def in_unit_written(op: Op, amount: float, size_id: str) -> str | None:
    """``amount`` of an op (ml of a liquid or line, g of all else) in the unit it was written in.

    ``None`` where the unit cannot be kept, such as a line written in mm.
    """
    step = op.step
    if not isinstance(step, AddStep):
        return None
    text = step.amounts[size_id].written.text
    unit = _NUMBER.sub("", text, count=1).strip()
    if op.line_ml is not None:
        return None if op.line_mm is not None else f"{number(amount)} {unit}"
    if op.amount <= 0.0:
        return None
    match = _NUMBER.match(text.strip())
    if match is None:
        return None
    whole = written_number(match[0])
    if whole is None:
        return None
    return f"{number(whole * amount / op.amount)} {unit}"


def written_number(text: str) -> float | None:
    """The value of a written number: 1.5, 1/2, 1 1/2, ½; ``None`` for anything else."""
    parts = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8"}
    for sign, fraction in parts.items():
        text = text.replace(sign, f" {fraction}")
    total = 0.0
    try:
        for part in text.split():
            above, _, below = part.partition("/")
            total += float(above) / float(below) if below else float(above)
    except (ValueError, ZeroDivisionError):
        return None
    return total


def what(step: Step) -> str:
    """What a step adds or does, by its id."""
    return step.component.id if isinstance(step, AddStep) else step.action
