"""The linked menu: names are objects, amounts are plain floats with their unit in the name.

Made by ``text.link`` from written records; read by figures, checks and cards; never changed.
Each entry keeps ``span`` (where it is written) so that any figure can name its origin.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from buildsheets.core.finding import Span


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


@dataclass(frozen=True, slots=True)
class Component:
    """What a build step adds: a base, sweetener, topping or ice, from an ingredient or batch."""

    id: str
    role: str  # "base", "sweetener", "topping", "ice"
    behaves: str  # "liquid", "settled", "floated", "dusted", "ice"
    name: Text
    source: Ingredient | Batch | None  # None only for ice made of the shop's water
    declared: Declared | None  # own declaration, beside the source's
    density_g_ml: float  # liquid; particle density of a settled topping; unaerated of a cap
    density_origin: str
    bulk_density_g_ml: float | None
    packing: float | None
    overrun_pct: float
    temperature_c: float | None
    brix: float | None
    tool: Tool | None
    station: Station | None
    cautions: tuple[str, ...]
    dairy_stir: Text | None  # "stir before use" and the like
    span: Span


@dataclass(frozen=True, slots=True)
class Amount:
    """How much a step adds, in one cup; ``mass_g`` and ``volume_ml`` are of the true material.

    ``count`` is the number of tool counts written ("2 pumps"), else ``None``. A floated cap's
    ``volume_ml`` is aerated, a settled topping's is bulk.
    """

    mass_g: float
    volume_ml: float
    count: float | None
    written: Written


@dataclass(frozen=True, slots=True)
class LineTo:
    """A fill-to-line: ml of water in the empty cup, or mm above the inner floor."""

    line_ml: float | None
    line_mm: float | None
    written: Written


@dataclass(frozen=True, slots=True)
class AddStep:
    """Put a component in the cup or the shaker: an amount, or up to a line, per cup id."""

    component: Component
    amounts: Mapping[str, Amount | LineTo]
    into: str  # "cup" or "shaker"
    station: Station | None
    tool: Tool | None
    body: bool  # the base that makes room: make-up, keep-the-line and hold-back act on it
    note: Text | None
    span: Span


@dataclass(frozen=True, slots=True)
class DoStep:
    """An action; ``shake`` and ``pour`` move the shaker's contents, ``chill`` lets ice melt.

    Actions: shake (shaker contents to 0 degC with its ice, then into the cup; ``pour`` says
    "strained" or "dumped"), pour (unshaken shaker contents into the cup), chill (the cup's
    contents come to equilibrium with its ice), stir, swirl, rest, lid, wipe, tap, serve.
    """

    action: str
    pour: str  # "strained", "dumped" or ""
    seconds: float | None
    station: Station | None
    note: Text | None
    span: Span


Step = AddStep | DoStep


@dataclass(frozen=True, slots=True)
class Sweetness:
    """Sweetness levels as shares of the written sweetener; ``make_up`` "base" or "none"."""

    levels: tuple[float, ...]
    default: float
    make_up: str
    span: Span


@dataclass(frozen=True, slots=True)
class IceLevels:
    """Ice levels by id as shares of the written ice; ``keep`` "line" or "recipe"."""

    levels: Mapping[str, float]
    names: Mapping[str, Text]
    default: str
    keep: str
    span: Span


@dataclass(frozen=True, slots=True)
class AddOn:
    """A topping a guest may add, with its amount per cup id and price."""

    id: str
    name: Text
    component: Component
    amounts: Mapping[str, Amount]
    price: Decimal | None
    span: Span


@dataclass(frozen=True, slots=True)
class Drink:
    """A drink: the ordered steps and the options a guest may choose."""

    id: str
    name: Text
    group: str
    cups: tuple[CupSize, ...]
    price: Mapping[str, Decimal]
    steps: tuple[Step, ...]
    sweetness: Sweetness | None
    ice: IceLevels | None
    add_ons: tuple[AddOn, ...]
    add_ons_at_most: int
    hold_back_most_share: float
    lid_may_press: bool  # a flat lid may press floating ice under
    cautions: tuple[str, ...]
    note: Text | None
    span: Span


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """A sheet of labels as measured with a ruler, all in mm, from the sheet's top left corner.

    ``pitch_*`` is from the left (top) edge of one label to that of the next.
    """

    width_mm: float
    height_mm: float
    label_width_mm: float
    label_height_mm: float
    across: int
    down: int
    left_mm: float
    top_mm: float
    pitch_x_mm: float
    pitch_y_mm: float


@dataclass(frozen=True, slots=True)
class Shop:
    """The shop's own choices: languages, spoon system, law followed, money, cards, address."""

    name: Text
    languages: tuple[str, ...]
    measures: str
    currency: str
    allergen_list: str  # "eu14", "us9", or a list of the shop's own
    allergens: Mapping[str, Text]  # id -> name, of the list followed
    shelf_rules: str  # "us-food-code", "england", "custom"
    rule_days: int
    cold_limit_c: float
    hot_limit_c: float
    label_rules: str  # "eu" or "us"
    site: str | None
    time_zone: str
    card_width_mm: float
    card_height_mm: float
    pouch_border_mm: float
    round_error_warn_share: float
    overflow_warn_share: float
    span: Span
    label_sheet: LabelSheet | None = None
    reading_distance_mm: float = 500.0  # of build cards


@dataclass(frozen=True, slots=True)
class Edition:
    """A published menu with its dates."""

    code: str
    name: Text
    valid_from: date
    valid_to: date
    span: Span


@dataclass(frozen=True, slots=True)
class Allow:
    """A finding the owner accepts at one place, with the reason."""

    code: str
    at: str
    reason: str
    span: Span


@dataclass(frozen=True, slots=True)
class SalesLine:
    """Expected sales on a day: drink, cup, how many, and how many of each add-on with them."""

    drink: Drink
    cup: CupSize
    count: int
    span: Span
    add_ons: tuple[tuple[AddOn, int], ...] = ()


@dataclass(frozen=True, slots=True)
class DaySales:
    """A day's expected sales under a name: "saturday"."""

    id: str
    name: Text
    opens_at_minutes: int
    closes_at_minutes: int
    lines: tuple[SalesLine, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Menu:
    """Everything linked."""

    shop: Shop
    edition: Edition
    stations: Mapping[str, Station]
    tools: Mapping[str, Tool]
    cups: Mapping[str, CupSize]
    ingredients: Mapping[str, Ingredient]
    batches: Mapping[str, Batch]
    components: Mapping[str, Component]
    add_ons: Mapping[str, AddOn]
    drinks: Mapping[str, Drink]
    days: Mapping[str, DaySales]
    allows: tuple[Allow, ...]
