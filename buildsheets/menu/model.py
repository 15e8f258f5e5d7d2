"""The linked menu: names are objects, amounts are plain floats with their unit in the name.

Made by ``text.link`` from written records; read by figures, checks and cards; never changed.
Each entry keeps ``span`` (where it is written) so that any figure can name its origin.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from buildsheets.findings.finding import Span
from buildsheets.menu.stock import (
    Batch,
    BatchPart,
    BatchStep,
    CupShape,
    CupSize,
    Declared,
    Ingredient,
    KeepsFor,
    Nutrition,
    Pack,
    Station,
    Text,
    Tolerance,
    Tool,
    Written,
)

__all__ = [
    "AddOn",
    "AddStep",
    "Allow",
    "Amount",
    "Batch",
    "BatchPart",
    "BatchStep",
    "Component",
    "CupShape",
    "CupSize",
    "DaySales",
    "Declared",
    "DoStep",
    "Drink",
    "Edition",
    "IceLevels",
    "Ingredient",
    "KeepsFor",
    "LabelSheet",
    "LineTo",
    "Menu",
    "Nutrition",
    "Pack",
    "SalesLine",
    "Shop",
    "Station",
    "Step",
    "Sweetness",
    "Text",
    "Tolerance",
    "Tool",
    "Written",
]


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
