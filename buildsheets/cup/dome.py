"""The inside of a dome lid goes in; its volume, and how high foam stands in it, come out.

A dome is part of a sphere over the rim of the cup, cut off at the top where it has a hole for the
straw (spherical segment, V = pi h (3 a^2 + 3 c^2 + h^2) / 6, any geometry handbook; without a hole
c = 0, the spherical cap). Foam is taken to lie level in it, as in the cup.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from buildsheets.cup.errors import FigureError, non_negative, positive
from buildsheets.cup.search import largest_within

_OUTLINE_STEPS = 8  # as smooth as a drawing of a few cm needs


@dataclass(frozen=True, slots=True)
class Dome:
    """Inner diameter at the rim and at the hole (0 without one), and the height between them."""

    rim_mm: float
    height_mm: float
    hole_mm: float = 0.0

    def __post_init__(self) -> None:
        positive("rim_mm", self.rim_mm)
        positive("height_mm", self.height_mm)
        if non_negative("hole_mm", self.hole_mm) >= self.rim_mm:
            raise FigureError("hole_mm", self.hole_mm, "must be less than the rim")

    @property
    def volume_ml(self) -> float:
        """All of it, from the rim to the top or to the hole."""
        return self.below_ml(self.height_mm)

    def below_ml(self, height_mm: float) -> float:
        """What it holds from the rim up to a height over it."""
        a, z, middle = self.rim_mm / 2.0, height_mm, self._middle_mm
        return math.pi * z * (a * a + middle * z - z * z / 3.0) / 1000.0

    def stands_mm(self, volume_ml: float) -> float:
        """How high over the rim so much of it stands."""
        return largest_within(lambda z: self.below_ml(z) - volume_ml, 0.0, self.height_mm)

    def outline_mm(self) -> tuple[tuple[float, float], ...]:
        """(height over the rim, inner diameter) points of its side, for a drawing."""
        heights = (self.height_mm * step / _OUTLINE_STEPS for step in range(_OUTLINE_STEPS + 1))
        return tuple((height, self._diameter_mm(height)) for height in heights)

    @property
    def _middle_mm(self) -> float:
        """How high over the rim the middle of its sphere lies; below 0 of a flat dome."""
        a, c, h = self.rim_mm / 2.0, self.hole_mm / 2.0, self.height_mm
        return (h * h - a * a + c * c) / (2.0 * h)

    def _diameter_mm(self, height_mm: float) -> float:
        a, z = self.rim_mm / 2.0, height_mm
        return 2.0 * math.sqrt(max(0.0, a * a + z * (2.0 * self._middle_mm - z)))
