"""A shop's measures go in; the unit its volumes are printed in, its size and its step, come out."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class VolumeUnit:
    """A unit that vessels are marked in: what one is in ml, and how finely a line is read in it.

    ``word`` is the key of its card word. ``large`` and ``small`` are those of what a shop measures
    much and little with, with how many of this unit one of them is.
    """

    name: str
    word: str
    ml: float
    step: float
    large: tuple[str, float] | None = None
    small: tuple[str, float] | None = None

    @property
    def step_ml(self) -> float:
        """A line is read to so many ml."""
        return self.step * self.ml

    def line(self, reading_ml: float) -> float:
        """A level or a line in this unit, to the nearest step of it, the lower of two as near:
        12 fl oz is 355 ml."""
        return math.ceil(reading_ml / self.step_ml - 0.5 - 1e-9) * self.step

    @property
    def in_fractions(self) -> bool:
        """Whether its vessels show quarters, so that no amount can be measured but a step of them.

        ml are so small that an amount is printed and figured as it is written; one that is poured
        in fluid ounces is made to the nearest step of its tool, written in ml or not.
        """
        return self.ml > 1.0

    @property
    def least(self) -> float:
        """The least that findings show of it."""
        return 0.01 if self.in_fractions else 0.1

    def tidy(self, number: float) -> float:
        """A number of it to the least that findings show, so that what is shown adds up."""
        return round(number, 2 if self.in_fractions else 1) + 0.0

    def shown(self, volume_ml: float) -> float:
        """A volume as findings show it, as a number of this unit."""
        return self.tidy(volume_ml / self.ml)

    def said(self, number: float) -> str:
        """A number of it as findings say it: 354.9 ml, 12.25 fl oz."""
        return f"{number:g} {self.name}" if self.in_fractions else f"{number:.1f} {self.name}"

    def text(self, volume_ml: float, places: int = 0) -> str:
        """A volume for an owner who reads how it was figured: 355 ml, 12.25 fl oz."""
        if self.in_fractions:
            return self.said(self.shown(volume_ml))
        return f"{volume_ml:.{places}f} {self.name}"


ML = VolumeUnit("ml", "mls", 1.0, 5.0)
"""A line is read to 5 ml: finer marks do not stand on a cup (fill model, "What to show to a
barista")."""


def _ounce(ml: float, large: tuple[str, float] | None, tsp_ml: float) -> VolumeUnit:
    """Jiggers and jugs are marked in quarters; common practice, no source."""
    return VolumeUnit("fl oz", "fl_ozs", ml, 0.25, large, ("teaspoons", tsp_ml / ml))


FLUID_OUNCES = {
    # 231 cubic inches, by 128; a quart has 32: NIST Handbook 44, Appendix C
    "us_customary": _ounce(29.5735295625, ("quarts", 32.0), 29.5735295625 / 6),
    # 21 CFR 101.9(b)(5)(viii), which knows no quart
    "us_label": _ounce(30.0, None, 5.0),
    # a gallon of 4.54609 dm3, by 160; a pint has 20: Weights and Measures Act 1985, schedule 1
    "imperial": _ounce(28.4130625, ("pints", 20.0), 5.0),
}
"""The fluid ounce of each of the measures that have one."""
