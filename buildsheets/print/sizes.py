"""A reading distance in; the type sizes that can be read from there, in pt, out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from buildsheets.print.fonts import MM_PER_PT, main_face

# ISO 9241-303: character height 20-22 arcmin preferred, 16 arcmin the floor.
PREFERRED_ARCMIN = 20.0
FLOOR_ARCMIN = 16.0
# Tried in this order. A larger one would fit on some cards only, and cards of a kind look alike.
ARCMINS = (PREFERRED_ARCMIN, 18.0, FLOOR_ARCMIN)
# A card's foot (code, edition, dates) is read with the card in hand.
HAND_DISTANCE_MM = 300.0


def cap_height_mm(distance_mm: float, arcmin: float) -> float:
    """Height that subtends ``arcmin`` at ``distance_mm``: 2 D tan(a/2)."""
    return 2 * distance_mm * math.tan(math.radians(arcmin / 60) / 2)


@lru_cache(maxsize=256)
def size_pt(distance_mm: float, arcmin: float, cap_height_em: float = 0.0) -> float:
    """Type size whose capitals subtend ``arcmin``, rounded up to 0.1 pt.

    ``cap_height_em`` is the typeface's; without one, the shipped typeface's is taken.
    """
    capitals_em = cap_height_em or main_face().cap_height_em
    exact = cap_height_mm(distance_mm, arcmin) / capitals_em / MM_PER_PT
    return math.ceil(exact * 10 - 1e-9) / 10


@dataclass(frozen=True, slots=True)
class TypeSizes:
    """Sizes in pt of a card's text.

    ``body`` is read from the station's distance. ``minor``, for second lines, is four fifths of it
    but never under the floor, below which no working text goes. ``hand`` is for what is read with
    the card in hand.
    """

    arcmin: float
    body: float
    minor: float
    hand: float


def type_sizes(distance_mm: float, arcmin: float, cap_height_em: float = 0.0) -> TypeSizes:
    """The sizes for a reading distance at the angle being tried."""
    minor = max(FLOOR_ARCMIN, arcmin * FLOOR_ARCMIN / PREFERRED_ARCMIN)
    return TypeSizes(
        arcmin,
        size_pt(distance_mm, arcmin, cap_height_em),
        size_pt(distance_mm, minor, cap_height_em),
        size_pt(HAND_DISTANCE_MM, PREFERRED_ARCMIN, cap_height_em),
    )
