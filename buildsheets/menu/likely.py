"""A figure of a cup or a liquid goes in; whether it can be, and what is likelier, come out.

All bounds are common practice, no source, and wide: within them a figure may still be a slip, and
without nobody could make the drink.
"""

from __future__ import annotations

from collections.abc import Mapping

from buildsheets.menu.schema import Range

CUP_MM: Mapping[str, Range] = {
    "base": Range("from 30 to 100 mm", 0.0, 300.0),
    "rim": Range("from 50 to 130 mm", 15.0, 300.0),
    "diameter": Range("from 30 to 130 mm", 0.0, 300.0),
    "height": Range("from 50 to 220 mm", 15.0, 300.0),
    "floor": Range("from 0 to 12 mm", 0.0, 100.0),
}
"""What is usual in words, and the bounds of what can be, inside a cup and under it."""

MOST_CUP_ML = 5000.0
USUAL_CUP_MM = (30.0, 220.0)
USUAL_FLOOR_MM = (1.0, 12.0)

LIQUID_G_ML = Range("from 0.7 to 1.5 g/ml", 0.7, 1.5)
LIQUIDS = "oil 0.91, water 1, milk 1.03, a syrup 1.3, honey 1.42"
DENSITY = Range("from 0.2 to 2.5 g/ml: oil 0.91, water 1, milk 1.03, honey 1.42", 0.2, 2.5)
"""Of what is bought, prepared or added: marshmallows 0.3, salt 2.2; from memory. What is usual of
liquids: CRC Handbook (water, oil), USDA SR26 (milk, honey)."""


def likely_mm(value_mm: float, text: str, usual_mm: tuple[float, float] = USUAL_CUP_MM) -> str:
    """What a length was likely meant as: "58 mm" where 58 cm was written; "" where nothing fits.

    A number that stands in the text itself is likelier than one with another point.
    """
    least, most = usual_mm
    tried = (value_mm / 10, value_mm * 10, value_mm / 25.4, value_mm * 25.4)
    usual = [f"{meant:.4g}" for meant in tried if least <= meant <= most]
    usual.sort(key=lambda number: number != (text.split() or [""])[0])
    return f"{usual[0]} mm" if usual else ""
