"""Amounts as findings show them: plain floats in, short text in their units out."""

from __future__ import annotations

import math
import re
import unicodedata

from buildsheets.cup.serving import Choice, Serving
from buildsheets.menu.model import AddStep, Shop, Step
from buildsheets.menu.units import find_unit
from buildsheets.menu.volumes import ML, VolumeUnit

_SIGNS = r"\d/⁄\u00bc-\u00be\u2150-\u215e"  # digits, strokes and ready-made fractions
_NUMBER = re.compile(rf"(?:[.,{_SIGNS}]|\s(?=[{_SIGNS}]))+")


def volume(volume_ml: float, unit: VolumeUnit) -> str:
    """A volume to 1 ml, or to 0.1 ml below ten, so that a small excess never shows as 0; or to
    0.01 fl oz."""
    return unit.text(volume_ml, 1 if abs(volume_ml) < 9.95 else 0)


def number(value: float) -> str:
    """A number without trailing zeros, to three decimals."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def percent(share: float) -> str:
    """A share as a percentage, to 1 %, or to 0.1 % below ten."""
    return f"{100 * share:.1f} %" if share < 0.0995 else f"{100 * share:.0f} %"


def times(text: str, share: float, marks: VolumeUnit = ML) -> tuple[str, float] | None:
    """A written amount times a share, in the unit it was written in, and the share that is exactly;
    ml that are poured by ``marks`` of fluid ounces, in these.

    Rounded down to a thousandth of the unit, so that it never comes out as more. ``None`` where
    the text has no number or nothing is left of it.
    """
    match = _NUMBER.match(text.strip())
    whole = written_number(match[0]) if match is not None else None
    if match is None or not whole:
        return None
    unit = text.strip()[match.end() :].strip()
    known = find_unit(unit)
    if marks.in_fractions and known is not None and known.kind == "volume" and known.factor:
        whole, unit = whole * float(known.factor) / marks.ml, marks.name
    number_now = math.floor(1000.0 * whole * share + 1e-6) / 1000.0
    if known is not None and known.kind in ("tool", "count"):
        unit = known.name + "s" * (number_now > 1.0)  # however many were written
    return (f"{number(number_now)} {unit}", number_now / whole) if number_now > 0.0 else None


def in_ounces_or_spoons(text: str) -> bool:
    """Whether a written amount is in a unit whose size a system of measures gives: 2 fl oz, 1/3
    cup, 1 tbsp."""
    match = _NUMBER.match(text.strip())
    unit = find_unit(text.strip()[match.end() :].strip()) if match else None
    return unit is not None and unit.by_system


def written_number(text: str) -> float | None:
    """The value of a written number: 1.5, 1/2, 1 1/2, ½, 1½; ``None`` for anything else."""
    apart = "".join(
        f" {unicodedata.numeric(sign)!r}" if unicodedata.category(sign) == "No" else sign
        for sign in text.replace("⁄", "/")
    )
    total = 0.0
    try:
        for part in apart.replace(" /", "/").replace("/ ", "/").split():
            above, _, below = part.partition("/")
            total += float(above) / float(below) if below else float(above)
    except (ValueError, ZeroDivisionError):
        return None
    return total


def degrees(celsius: float, shop: Shop) -> str:
    """A temperature to 1 degree, of Fahrenheit first for a shop that reads it: 160 °F (71 °C)."""
    text = f"{celsius:.0f} °C"
    return f"{celsius * 9 / 5 + 32:.0f} °F ({text})" if shop.reads_fahrenheit else text


def what(step: Step) -> str:
    """What a step adds or does, by its id."""
    return step.component.id if isinstance(step, AddStep) else step.action


def place(serving: Serving) -> str:
    """A drink in its cup, by their ids, and what was chosen with it."""
    return f"{serving.drink.id} in {serving.cup.id}{with_chosen(serving)}"


def with_chosen(serving: Serving) -> str:
    """What is swapped in a drink and added: " with oat + add-pearls"; "" of one as written."""
    chosen = (*serving.choice.swaps, *serving.choice.add_ons)
    return f" with {' + '.join(chosen)}" if chosen else ""


def other_ice(serving: Serving) -> str:
    """The ice level that was asked for: ", asked for with the ice at 'less'"; "" of the usual."""
    ice = serving.choice.ice
    usual = ice == serving.choices.default.ice
    return "" if usual else f", asked for with the ice at '{ice}'"


def choice_words(choice: Choice) -> str:
    """A choice in the menu's own ids: "oat + add-pearls + add-cap, sweetness 50 %, ice less"."""
    chosen = (*choice.swaps, *choice.add_ons)
    parts = [" + ".join(chosen)] if chosen else []
    if choice.sweetness is not None:
        parts.append(f"sweetness {100 * choice.sweetness:g} %")
    if choice.ice is not None:
        parts.append(f"ice {choice.ice}")
    return ", ".join(parts) or "usual order"
