"""Components of a drink go in; Brix, sugar, caffeine, energy and label amounts come out.

Fill model section 7. A figure that is missing (None) makes the result None, never 0.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from typing import Literal

from buildsheets.cup.errors import FigureError, non_negative, positive, within

KJ_PER_KCAL = 4.184
"""Thermochemical calorie."""

_SUCROSE = (998.2017, 385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890)
"""kg/m3 by powers of the mass fraction, 20 C: Bubnik et al., Sugar Technologists Manual (1995)."""


@dataclass(frozen=True, slots=True)
class SugarPart:
    """``mass_g`` of a component whose sugar (as soluble solids) is ``sugar_pct`` % by mass.

    ``liquid`` is False for beds, caps that are eaten and ice; melt water is a liquid of 0 %.
    """

    mass_g: float
    sugar_pct: float | None
    liquid: bool = True

    def __post_init__(self) -> None:
        non_negative("mass_g", self.mass_g)
        if self.sugar_pct is not None:
            within("sugar_pct", self.sugar_pct, 0.0, 100.0)


def brix(parts: Iterable[SugarPart]) -> float | None:
    """Degrees Brix of the mixed liquid: 100 x sugar / mass over the liquid parts.

    None without liquid, or when the sugar of a liquid part is not known.
    """
    liquids = [part for part in parts if part.liquid and part.mass_g > 0]
    sugar = sugar_g(liquids)
    if sugar is None or not liquids:
        return None
    return 100 * sugar / math.fsum(part.mass_g for part in liquids)


def sugar_g(parts: Iterable[SugarPart]) -> float | None:
    """Grams of sugar over all parts, liquid or not; None if one is not known."""
    total = 0.0
    for part in parts:
        if part.mass_g > 0:
            if part.sugar_pct is None:
                return None
            total += part.mass_g * part.sugar_pct / 100
    return total


def sucrose_density(brix_degrees: float) -> float:
    """g/ml at 20 C of a pure sucrose solution of so many % by mass (Bubnik et al. 1995)."""
    w = within("brix_degrees", brix_degrees, 0.0, 100.0) / 100
    return sum(factor * w**power for power, factor in enumerate(_SUCROSE)) / 1000


@dataclass(frozen=True, slots=True)
class Source:
    """An amount with a content per 100 g or per 100 ml: caffeine in mg, energy in kcal or kJ.

    Give ``mass_g`` or ``volume_ml``; ``density`` (g/ml) converts between them where needed.
    """

    content: float | None
    per: Literal["100 g", "100 ml"] = "100 g"
    mass_g: float | None = None
    volume_ml: float | None = None
    density: float | None = None

    def __post_init__(self) -> None:
        if self.per not in ("100 g", "100 ml"):
            raise FigureError("per", self.per, "must be 100 g or 100 ml")
        if (self.mass_g is None) == (self.volume_ml is None):
            raise FigureError("mass_g", self.mass_g, "give grams or ml, one of them")
        for name, value in (
            ("content", self.content),
            ("mass_g", self.mass_g),
            ("volume_ml", self.volume_ml),
        ):
            if value is not None:
                non_negative(name, value)
        if self.density is not None:
            positive("density", self.density)

    @property
    def total(self) -> float | None:
        """The content of the whole amount; None if it, or a density needed for it, is missing."""
        if self.mass_g == 0 or self.volume_ml == 0:
            return 0.0
        amount = self._amount()
        if self.content is None or amount is None:
            return None
        return self.content * amount / 100

    def _amount(self) -> float | None:
        if self.per == "100 g":
            if self.mass_g is not None or self.volume_ml is None:
                return self.mass_g
            return None if self.density is None else self.volume_ml * self.density
        if self.volume_ml is not None or self.mass_g is None:
            return self.volume_ml
        return None if self.density is None else self.mass_g / self.density


def total_content(sources: Iterable[Source]) -> float | None:
    """Sum over the sources (mg of caffeine, kcal, kJ ...); None if one cannot be computed."""
    total = 0.0
    for source in sources:
        one = source.total
        if one is None:
            return None
        total += one
    return total


def per_100_ml(total: float | None, volume_ml: float) -> float | None:
    """Strength: a total spread over the volume, per 100 ml."""
    positive("volume_ml", volume_ml)
    return None if total is None else 100 * non_negative("total", total) / volume_ml


def kcal_to_kj(kcal: float) -> float:
    """kJ of so many kcal, at 4.184; a label's kJ come from :func:`label_energy`."""
    return non_negative("kcal", kcal) * KJ_PER_KCAL


def kj_to_kcal(kj: float) -> float:
    """kcal of so many kJ, at 4.184."""
    return non_negative("kj", kj) / KJ_PER_KCAL


EU_FACTORS: dict[str, tuple[float, float]] = {
    "carbohydrate": (4.0, 17.0),
    "polyols": (2.4, 10.0),
    "protein": (4.0, 17.0),
    "fat": (9.0, 37.0),
    "salatrims": (6.0, 25.0),
    "ethanol": (7.0, 29.0),
    "organic_acids": (3.0, 13.0),
    "fibre": (2.0, 8.0),
    "erythritol": (0.0, 0.0),
}
"""(kcal, kJ) per gram: Regulation (EU) 1169/2011, Annex XIV. Carbohydrate without the polyols."""


@dataclass(frozen=True, slots=True)
class Energy:
    """Label energy; kJ has factors of its own and is not kcal x 4.184."""

    kcal: float
    kj: float


def label_energy(
    *,
    carbohydrate: float | None = 0.0,
    protein: float | None = 0.0,
    fat: float | None = 0.0,
    polyols: float | None = 0.0,
    ethanol: float | None = 0.0,
    fibre: float | None = 0.0,
    organic_acids: float | None = 0.0,
    salatrims: float | None = 0.0,
    erythritol: float | None = 0.0,
) -> Energy | None:
    """Energy of grams of each nutrient by :data:`EU_FACTORS`; None if one is given as None.

    With carbohydrate, protein, fat and ethanol alone the kcal are those of the general Atwater
    factors 4, 4, 9 and 7.
    """
    grams = {
        "carbohydrate": carbohydrate,
        "polyols": polyols,
        "protein": protein,
        "fat": fat,
        "salatrims": salatrims,
        "ethanol": ethanol,
        "organic_acids": organic_acids,
        "fibre": fibre,
        "erythritol": erythritol,
    }
    kcal = kj = 0.0
    for name, amount in grams.items():
        if amount is None:
            return None
        non_negative(name, amount)
        kcal += amount * EU_FACTORS[name][0]
        kj += amount * EU_FACTORS[name][1]
    return Energy(kcal, kj)


LabelNutrient = Literal[
    "energy", "fat", "cholesterol", "sodium", "potassium", "carbohydrate", "fibre", "sugars",
    "protein",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class LabelAmount:
    """A rounded amount; ``less_than`` marks "less than 1 g" and "less than 5 mg"."""

    amount: Decimal
    less_than: bool = False


def label_amount(nutrient: LabelNutrient, value: float) -> LabelAmount:
    """Round as the FDA Food Labeling Guide, Appendix H, says; halves go up.

    ``value`` in kcal for energy, mg for cholesterol, sodium and potassium, else g. The guide states
    half-up for % DV and serving sizes; that it holds for grams as well is our inference.
    """
    exact = Decimal(repr(non_negative("value", value)))
    # A computed 2.4999999999999996 is a half: drop binary noise before rounding up.
    exact = exact.quantize(Decimal("1e-9"), rounding=ROUND_HALF_EVEN)
    if nutrient == "energy":
        return LabelAmount(_stepped(exact, least=5, small=5, up_to=50, large=10))
    if nutrient in ("sodium", "potassium"):
        return LabelAmount(_stepped(exact, least=5, small=5, up_to=140, large=10))
    if nutrient == "fat":
        if exact < Decimal("0.5"):
            return LabelAmount(Decimal(0))
        return LabelAmount(_nearest(exact, Decimal("0.5") if exact < 5 else Decimal(1)))
    if nutrient == "cholesterol":
        if exact < 2:
            return LabelAmount(Decimal(0))
        if exact <= 5:
            return LabelAmount(Decimal(5), less_than=True)
        return LabelAmount(_nearest(exact, Decimal(5)))
    if nutrient not in ("carbohydrate", "fibre", "sugars", "protein"):
        raise FigureError("nutrient", nutrient, "has no rounding rule")
    if exact < Decimal("0.5"):
        return LabelAmount(Decimal(0))
    if exact < 1:
        return LabelAmount(Decimal(1), less_than=True)
    return LabelAmount(_nearest(exact, Decimal(1)))


def _stepped(exact: Decimal, *, least: int, small: int, up_to: int, large: int) -> Decimal:
    if exact < least:
        return Decimal(0)
    return _nearest(exact, Decimal(small if exact <= up_to else large))


def _nearest(exact: Decimal, step: Decimal) -> Decimal:
    return (exact / step).quantize(Decimal(1), rounding=ROUND_HALF_UP) * step
