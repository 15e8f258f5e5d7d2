"""Published figures the program stands on: names in, numbers with their source out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

ICE_DENSITY_G_ML = 0.9167
"""Solid ice at 0 degC: 916.7 kg/m3, IAPWS R10-06."""

ICE_PACKING = 0.55
"""Solid share of a scoop of ice: random loose packing of cubes is 0.54
(Baker and Kudrolli, Phys. Rev. E 82, 061304, 2010); a shop should measure its own."""

WATER_DENSITY_G_ML = 0.9982
"""Water at 20 degC: 998.2 kg/m3, IAPWS-95."""

ROOM_C = 20.0
"""What states no temperature is at room temperature: common practice, no source."""

SCALD_C = 60.0
"""Third-degree burns in 6 s at 60 degC (140 F): US Consumer Product Safety Commission, 5098."""

VERY_HOT_C = 65.0
"""Very hot beverages, probably carcinogenic: IARC Monographs volume 116 (2018)."""

_BUBNIK_G_ML = (0.9982017, 0.3851761, 0.1353705, 0.0409299, -0.0039643, 0.0134853, -0.0172890)


def sucrose_density_g_ml(brix: float) -> float:
    """Density of a pure sucrose solution at 20 degC in g/ml from its degrees Brix (0 to 100).

    Bubnik et al., Sugar Technologists Manual (1995), p. 164. Raises ``ValueError`` outside the
    range in which a share by mass makes sense.
    """
    if not 0.0 <= brix <= 100.0:
        raise ValueError(f"brix must be from 0 to 100, not {brix}")
    share = brix / 100.0
    return sum(factor * share**power for power, factor in enumerate(_BUBNIK_G_ML))


PAPER_MM: Mapping[str, tuple[float, float]] = {
    # ISO 216:2007, A series, portrait
    "a3": (297.0, 420.0),
    "a4": (210.0, 297.0),
    "a5": (148.0, 210.0),
    "a6": (105.0, 148.0),
    "a7": (74.0, 105.0),
    # ANSI/ASME Y14.1 size A and its half, portrait
    "letter": (215.9, 279.4),
    "half-letter": (139.7, 215.9),
    "tabloid": (279.4, 431.8),
}
"""Portrait width and height in mm."""

EU14: tuple[str, ...] = (
    "gluten",
    "crustaceans",
    "eggs",
    "fish",
    "peanuts",
    "soybeans",
    "milk",
    "nuts",
    "celery",
    "mustard",
    "sesame",
    "sulphites",
    "lupin",
    "molluscs",
)
"""Regulation (EU) No 1169/2011, Annex II, in its order."""

US9: tuple[str, ...] = (
    "milk",
    "eggs",
    "fish",
    "crustaceans",
    "tree-nuts",
    "peanuts",
    "wheat",
    "soybeans",
    "sesame",
)
"""US Federal Food, Drug, and Cosmetic Act 201(qq); sesame since 1 January 2023."""

CEREALS: tuple[str, ...] = ("wheat", "rye", "barley", "oats")
NUTS: tuple[str, ...] = (
    "almonds",
    "hazelnuts",
    "walnuts",
    "cashews",
    "pecans",
    "brazil-nuts",
    "pistachios",
    "macadamias",
)
ALLERGEN_KINDS: Mapping[str, tuple[str, ...]] = {
    "gluten": CEREALS,
    "nuts": NUTS,
    "tree-nuts": (*NUTS, "pine-nuts"),
}
"""What must be named itself: each cereal and nut of Regulation (EU) No 1169/2011, Annex II, 1 and
8; US Federal Food, Drug, and Cosmetic Act 403(w)(2), the specific type of nut, pine nuts as in the
FDA's questions and answers on food allergens, edition 5 (January 2025)."""

US_SPECIES: tuple[str, ...] = ("fish", "crustaceans")
"""Of these the same clause asks for the species; a shop adds it to its ``more_allergens``."""

ALLERGEN_SPELLINGS: Mapping[str, str] = {
    "soya": "soybeans",
    "soy": "soybeans",
    "spelt": "wheat",
    "khorasan": "wheat",
    "queensland-nuts": "macadamias",
}
"""Names that cards print, for the ids of the list: whoever reads a card may write what it says; and
other names of Annex II for the same, "wheat (such as spelt and khorasan wheat)"."""


def allergen_group(allergen: str, among: Iterable[str]) -> str:
    """The entry of a list that an allergen belongs to; itself where it has none above it."""
    listed = tuple(among)
    if allergen in listed:
        return allergen
    return next((one for one in listed if allergen in ALLERGEN_KINDS.get(one, ())), allergen)


ALLERGEN_LISTS: Mapping[str, tuple[str, ...]] = {"eu14": EU14, "us9": US9}


@dataclass(frozen=True, slots=True)
class ShelfRules:
    """A set of keeping rules: the longest keeping in days and the holding temperatures.

    ``has_days``: the number of days is its own.
    """

    rule_days: int
    cold_limit_c: float
    hot_limit_c: float
    has_days: bool


SHELF_RULES: Mapping[str, ShelfRules] = {
    # FDA Food Code 2022, 3-501.17 (7 days, preparation day is Day 1) and 3-501.16 (5 and 57 degC)
    "us-food-code": ShelfRules(7, 5.0, 57.0, True),
    # Food Safety and Hygiene (England) Regulations 2013, Schedule 4: 8 and 63 degC. It sets no
    # number of days; 7 is carried over from the Food Code as the outer bound, a shop's own
    # assessment is stricter.
    "england": ShelfRules(7, 8.0, 63.0, False),
}

_HEX = re.compile(r"#[0-9a-fA-F]{6}\Z")
# WCAG 2.2 success criterion 1.4.3 (AA, normal text).
MIN_CONTRAST = 4.5


def luminance(colour: str) -> float:
    """Relative luminance of ``#rrggbb`` by WCAG 2.2; ``ValueError`` for anything else."""
    if not _HEX.match(colour):
        raise ValueError(f"colour {colour!r} is not written #rrggbb")
    linear = []
    for start in (1, 3, 5):
        part = int(colour[start : start + 2], 16) / 255
        linear.append(part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4)
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    """Contrast ratio from 1 to 21 between two ``#rrggbb`` colours (WCAG 2.2)."""
    dark, light = sorted((luminance(first), luminance(second)))
    return (light + 0.05) / (dark + 0.05)
