"""What a shop has before it mixes anything: texts, tools, stations, cups, ingredients, batches."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from buildsheets.findings.finding import Span


@dataclass(frozen=True, slots=True)
class Text:
    """A name or sentence in the menu's languages; ``""`` stands for "every language"."""

    by_language: Mapping[str, str]

    def in_language(self, language: str) -> str:
        """The text for a reader of ``language``; else the all-language or first-written text."""
        for key in (language, ""):
            if key in self.by_language:
                return self.by_language[key]
        return next(iter(self.by_language.values()))

    def has(self, language: str) -> bool:
        """Whether a reader of ``language`` gets their own words rather than a fall-back."""
        return language in self.by_language or "" in self.by_language


@dataclass(frozen=True, slots=True)
class Written:
    """An amount as typed: its text and place, for findings and `explain`."""

    text: str
    span: Span


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a tool strays: half width or standard uncertainty, absolute or a share.

    Exactly one of ``absolute`` (in ``unit``) and ``share`` (0..1) is set. A counted tool's is that
    of one count.
    """

    absolute: float | None
    share: float | None
    kind: str  # "limit" (rectangular) or "std" (JCGM 100 standard uncertainty)
    unit: str = ""  # "ml", "g" or "mm" of an absolute tolerance


@dataclass(frozen=True, slots=True)
class Tool:
    """A measuring tool: its smallest step and tolerance in ``unit``.

    ``unit`` is "ml", "g", "mm" or "count"; a counted tool (pump, scoop) also says what one
    holds: ``holds_ml`` or ``holds_g``. ``step`` is in counts for a counted tool.
    """

    id: str
    name: Text
    kind: str  # jigger, pump, scoop, ladle, scale, line, spoon, jug, shaker
    unit: str
    step: float
    holds_ml: float | None
    holds_g: float | None
    tolerance: Tolerance | None
    one: Text | None  # what one is called on the card: "pump"
    many: Text | None
    span: Span


@dataclass(frozen=True, slots=True)
class Station:
    """A place at the counter; ``accent`` is a colour "#rrggbb" checked for contrast."""

    id: str
    name: Text
    letter: str
    accent: str
    reading_distance_mm: float
    span: Span
    accent_written: Written | None = None


@dataclass(frozen=True, slots=True)
class CupShape:
    """Inner geometry as written: exactly one of the three forms is set.

    ``frustum`` is (base_mm, rim_mm, height_mm); ``profile`` is (height_mm, diameter_mm) points;
    ``calibration`` is (height_mm, volume_ml) points.
    """

    frustum: tuple[float, float, float] | None = None
    profile: tuple[tuple[float, float], ...] | None = None
    calibration: tuple[tuple[float, float], ...] | None = None


@dataclass(frozen=True, slots=True)
class CupSize:
    """A vessel the shop sells, under its size name."""

    id: str
    name: Text
    shape: CupShape
    floor_mm: float  # foot height + floor thickness: lifts every line above the counter
    headspace_mm: float | None
    headspace_ml: float | None
    declared_brimful_ml: float | None
    lid: str  # "flat" (presses ice under), "film", "dome", "none"
    hot: bool
    capacity_tolerance: Tolerance | None
    shape_written: Written
    headspace_written: Written | None
    declared_written: Written | None
    span: Span


@dataclass(frozen=True, slots=True)
class Nutrition:
    """Per 100 g or per 100 ml; ``None`` is missing and stays missing, never zero."""

    per: str  # "g" or "ml"
    energy_kcal: float | None
    fat_g: float | None
    saturates_g: float | None
    carbohydrate_g: float | None
    sugars_g: float | None
    protein_g: float | None
    salt_g: float | None
    fibre_g: float | None
    polyols_g: float | None
    alcohol_g: float | None
    caffeine_mg: float | None


@dataclass(frozen=True, slots=True)
class Pack:
    """How an ingredient is bought; ``quantity`` in grams or ml as ``unit`` says, price exact."""

    quantity: float
    unit: str  # "g" or "ml"
    price: Decimal | None
    usable_share: float
    written: Written


@dataclass(frozen=True, slots=True)
class Declared:
    """Declared allergens; ``None`` means nobody declared, which is an error, never "none"."""

    contains: tuple[str, ...] | None
    may_contain: tuple[str, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class KeepsFor:
    """How long something keeps once prepared or opened; days count preparation day as Day 1."""

    days: int | None
    hours: float | None
    at_c: float | None
    written: Written


@dataclass(frozen=True, slots=True)
class Ingredient:
    """Something bought. ``density_g_ml`` carries the source it was given with."""

    id: str
    name: Text
    density_g_ml: float | None
    density_source: str
    brix: float | None  # % by mass of dissolved sugar
    declared: Declared
    nutrition: Nutrition | None
    pack: Pack | None
    keeps_for: KeepsFor | None
    use_by: date | None
    cautions: tuple[str, ...]  # "honey", "hot", "choking", "caffeine", "raw-egg"
    span: Span


@dataclass(frozen=True, slots=True)
class BatchPart:
    """One ingredient line of a batch: the item and how much, resolved to grams."""

    item: Ingredient | Batch
    mass_g: float
    volume_ml: float | None
    packs: Decimal | None
    written: Written


@dataclass(frozen=True, slots=True)
class BatchStep:
    """One step of prep, with the time, temperature, speed and tool it needs."""

    text: Text
    time_s: float | None
    temperature_c: float | None
    speed: str
    tool: Tool | None
    span: Span


@dataclass(frozen=True, slots=True)
class Batch:
    """A prepared component: parts in, a yield out, kept for a time.

    ``yield_factor`` is finished mass over ingredient mass (water taken up or boiled away);
    a measured yield in grams or ml overrides it; ``loss_share`` stays in the bowl.
    """

    id: str
    name: Text
    parts: tuple[BatchPart, ...]
    steps: tuple[BatchStep, ...]
    density_g_ml: float | None  # of the finished, unaerated batch; else figured from parts
    overrun_pct: float
    loss_share: float
    yield_factor: float
    yield_basis: str  # "measured" or "factor" or "none": how the yield is known
    measured_yield_g: float | None
    measured_yield_ml: float | None
    keeps_for: KeepsFor | None
    bowl_ml: float | None
    bowl_fill_share: float
    scales: Mapping[str, float]  # name -> factor: full 1, half 0.5, quarter 0.25
    lead: Ingredient | Batch | None  # the item used in whole packs
    cautions: tuple[str, ...]
    cross_contact: tuple[str, ...]  # may contain, from shared equipment
    serves_at_c: float | None
    span: Span
    brew: Ingredient | Batch | None = None  # leaf or grounds the brew ratio is counted against
