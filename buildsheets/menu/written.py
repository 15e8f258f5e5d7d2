"""The shop's side of a menu file: the keys a shop, cup, tool, ingredient or batch may carry.

The classes are the only schema: the decoder reads them, the reference table is made from them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from buildsheets.findings.finding import At
from buildsheets.menu.quantity import Quantity
from buildsheets.menu.shapes import Kinds, Named, Record, Ref, Words, about

Volume = Annotated[At[Quantity], Kinds("volume")]
Mass = Annotated[At[Quantity], Kinds("mass")]
VolumeOrMass = Annotated[At[Quantity], Kinds("volume", "mass")]
Length = Annotated[At[Quantity], Kinds("length")]
LengthOrVolume = Annotated[At[Quantity], Kinds("length", "volume")]
Percent = Annotated[At[Quantity], Kinds("percent")]
Density = Annotated[At[Quantity], Kinds("density")]
Brix = Annotated[At[Quantity], Kinds("brix")]
Temperature = Annotated[At[Quantity], Kinds("temperature")]
Time = Annotated[At[Quantity], Kinds("time")]
ToolStep = Annotated[At[Quantity], Kinds("volume", "mass", "length", "count", "tool")]
Spread = Annotated[At[Quantity], Kinds("volume", "mass", "length", "percent")]
PartAmount = Annotated[At[Quantity], Kinds("volume", "mass", "pack")]
DrinkAmount = Annotated[At[Quantity], Kinds("volume", "mass", "tool")]

Caution = Literal["honey", "hot", "choking", "caffeine", "alcohol", "raw-egg"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenLabelSheet(Record):
    """A sheet of date labels, measured with a ruler."""

    width: Length = field(metadata=about("of the sheet"))
    height: Length = field(metadata=about("of the sheet"))
    label_width: Length = field(metadata=about("of one label"))
    label_height: Length = field(metadata=about("of one label"))
    across: At[int] = field(metadata=about("labels side by side"))
    down: At[int] = field(metadata=about("labels from top to bottom"))
    left: Length = field(metadata=about("from the sheet's left edge to the first label"))
    top: Length = field(metadata=about("from the sheet's top edge to the first label"))
    pitch_x: Length = field(metadata=about("from one label's left edge to the next one's"))
    pitch_y: Length = field(metadata=about("from one label's top edge to the next one's"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenShop(Record):
    """The shop's own choices."""

    name: Words = field(metadata=about("what the shop is called on the cards"))
    languages: tuple[At[str], ...] = field(
        metadata=about("languages to print cards in, the shop's own first: [en, es]")
    )
    measures: At[Literal["metric", "us_customary", "us_label", "imperial", "australian"]] | None = (
        field(default=None, metadata=about("which spoons, cups and fluid ounces are meant"))
    )
    currency: At[str] | None = field(
        default=None, metadata=about("three-letter currency code (ISO 4217)")
    )
    allergen_list: At[Literal["eu14", "us9"]] = field(
        metadata=about("the list of allergens the law asks for: eu14 or us9")
    )
    more_allergens: Named[Words] | None = field(
        default=None, metadata=about("allergens to declare beyond the list, by id")
    )
    shelf_rules: At[Literal["us-food-code", "england", "custom"]] = field(
        metadata=about("the set of keeping rules followed; your local code comes first")
    )
    rule_days: At[int] | None = field(
        default=None, metadata=about("longest keeping in days, preparation day as day 1")
    )
    cold_at: Temperature | None = field(
        default=None, metadata=about("warmest cold holding, where stricter than the rules")
    )
    hot_at: Temperature | None = field(
        default=None, metadata=about("coolest hot holding, where stricter than the rules")
    )
    label_rules: At[Literal["eu", "us"]] | None = field(
        default=None, metadata=about("how nutrition figures are rounded: eu or us")
    )
    site: At[str] | None = field(
        default=None, metadata=about("address of the shop's card pages, for the QR code")
    )
    time_zone: At[str] | None = field(
        default=None, metadata=about("time zone of the shop (IANA name)")
    )
    card: At[str] | None = field(
        default=None, metadata=about("card size: A5, A6, letter-half … or '148 x 210 mm'")
    )
    reading_distance: Length | None = field(
        default=None, metadata=about("from the eye to a build card; stations say their own")
    )
    pouch_border: Length | None = field(
        default=None, metadata=about("sealed border of the laminate pouch outside the card")
    )
    label_sheet: WrittenLabelSheet | None = field(
        default=None, metadata=about("the sheet date labels are printed on")
    )
    warn_rounding: Percent | None = field(
        default=None, metadata=about("warn when a tool's step changes an amount by more")
    )
    warn_overflow: Percent | None = field(
        default=None, metadata=about("warn when more than this share of cups would pass the line")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenEdition(Record):
    """The season's menu."""

    code: At[str] = field(metadata=about("short code printed on every card: W26"))
    name: Words = field(metadata=about("the season in words"))
    valid_from: At[date] = field(metadata=about("first day, as 2026-12-01"))
    valid_to: At[date] = field(metadata=about("last day, as 2027-02-28"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenStation(Record):
    """A place at the counter where some of the steps happen."""

    name: Words = field(metadata=about("what the place is called"))
    letter: At[str] = field(metadata=about("one letter that marks it, so that grey print works"))
    accent: At[str] = field(metadata=about("accent colour '#rrggbb', dark enough on white"))
    reading_distance: Length | None = field(
        default=None, metadata=about("from the eye to the card; sets the type size")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenTool(Record):
    """A measuring tool, its smallest step and how far it strays."""

    name: Words = field(metadata=about("what the tool is called"))
    kind: At[
        Literal["jigger", "pump", "scoop", "ladle", "scale", "line", "spoon", "jug", "shaker"]
    ] = field(metadata=about("what sort of tool it is"))
    step: ToolStep = field(metadata=about("smallest step it can measure: 5 ml, 1 g, 1/2 pump"))
    holds: VolumeOrMass | None = field(
        default=None, metadata=about("what one stroke or level fill holds: 8 ml, 55 g")
    )
    one: Words | None = field(default=None, metadata=about("what one is called: pump"))
    many: Words | None = field(default=None, metadata=about("what several are called: pumps"))
    tolerance: Spread | None = field(
        default=None, metadata=about("how far one measure strays: 2 ml, 5 g, 3 %")
    )
    tolerance_kind: At[Literal["limit", "std"]] | None = field(
        default=None, metadata=about("limit: never further than that; std: standard deviation")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenLevel(Record):
    """One point of a cup measured from the inside."""

    height: Length = field(metadata=about("height above the inner floor"))
    diameter: Length | None = field(default=None, metadata=about("inner diameter there"))
    volume: Volume | None = field(default=None, metadata=about("water the cup holds up to there"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenCup(Record):
    """A vessel the shop sells, under its size name; inner geometry in one of three forms."""

    name: Words = field(metadata=about("the size as the guest orders it"))
    base: Length | None = field(default=None, metadata=about("inner diameter at the floor"))
    rim: Length | None = field(default=None, metadata=about("inner diameter at the rim"))
    height: Length | None = field(default=None, metadata=about("inner height"))
    profile: tuple[WrittenLevel, ...] | None = field(
        default=None, metadata=about("heights with diameters, for a waisted cup")
    )
    calibration: tuple[WrittenLevel, ...] | None = field(
        default=None, metadata=about("heights with volumes, poured on a scale")
    )
    floor: Length = field(
        metadata=about("outer floor: from the counter to the inner floor of the cup")
    )
    headspace: LengthOrVolume = field(metadata=about("what must stay empty under the lid"))
    brimful: Volume | None = field(
        default=None, metadata=about("declared capacity to the rim, to cross-check the geometry")
    )
    capacity_tolerance: Spread | None = field(
        default=None, metadata=about("how far the working capacity strays from cup to cup")
    )
    lid: At[Literal["flat", "film", "dome", "none"]] = field(metadata=about("what closes it"))
    hot: At[bool] | None = field(default=None, metadata=about("yes for a cup made for hot drinks"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenNutrition(Record):
    """Figures per 100 g or per 100 ml; leave out what nobody told you, never write 0 for it."""

    per: At[Literal["100 g", "100 ml"]] = field(metadata=about("100 g or 100 ml"))
    energy_kcal: At[Decimal] | None = field(default=None, metadata=about("kcal"))
    fat_g: At[Decimal] | None = field(default=None, metadata=about("g"))
    saturates_g: At[Decimal] | None = field(default=None, metadata=about("g"))
    carbohydrate_g: At[Decimal] | None = field(default=None, metadata=about("g"))
    sugars_g: At[Decimal] | None = field(default=None, metadata=about("g"))
    protein_g: At[Decimal] | None = field(default=None, metadata=about("g"))
    salt_g: At[Decimal] | None = field(default=None, metadata=about("g"))
    fibre_g: At[Decimal] | None = field(default=None, metadata=about("g"))
    polyols_g: At[Decimal] | None = field(default=None, metadata=about("g"))
    alcohol_g: At[Decimal] | None = field(default=None, metadata=about("g"))
    caffeine_mg: At[Decimal] | None = field(default=None, metadata=about("mg"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenPack(Record):
    """How an ingredient is bought."""

    quantity: VolumeOrMass = field(metadata=about("what one pack holds: 1 l, 397 g"))
    price: At[Decimal] | None = field(default=None, metadata=about("price of one pack"))
    usable: Percent | None = field(
        default=None, metadata=about("share that can be used after trimming and waste")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenIngredient(Record):
    """Something bought."""

    name: Words = field(metadata=about("what it is called"))
    contains: tuple[Ref, ...] = field(
        metadata=about("allergens it contains; write [] only when its label says it has none")
    )
    may_contain: tuple[Ref, ...] = field(
        default=(), metadata=about("allergens its label warns of: may contain")
    )
    density: Density | None = field(default=None, metadata=about("g/ml, with its source"))
    density_source: At[str] | None = field(
        default=None, metadata=about("where the density comes from")
    )
    brix: Brix | None = field(
        default=None, metadata=about("dissolved sugar; gives the density of a syrup")
    )
    nutrition: WrittenNutrition | None = field(
        default=None, metadata=about("figures per 100 g or 100 ml")
    )
    pack: WrittenPack | None = field(default=None, metadata=about("how it is bought"))
    keeps_for: Time | None = field(default=None, metadata=about("once opened: 3 days, 4 h"))
    keeps_at: Temperature | None = field(default=None, metadata=about("kept at or below"))
    use_by: At[date] | None = field(default=None, metadata=about("the maker's date"))
    cautions: tuple[At[Caution], ...] = field(
        default=(), metadata=about("honey, hot, choking, caffeine, alcohol, raw-egg")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenPart(Record):
    """One ingredient line of a batch."""

    use: Ref = field(metadata=about("an ingredient or another batch"))
    amount: PartAmount = field(metadata=about("500 g, 1 l, 2 tbsp, 1 pack"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenBatchStep(Record):
    """One step of prep."""

    do: Words = field(metadata=about("what to do"))
    time: Time | None = field(default=None, metadata=about("for how long"))
    temperature: Temperature | None = field(default=None, metadata=about("at what temperature"))
    speed: At[str] | None = field(default=None, metadata=about("at what speed: low"))
    tool: Ref | None = field(default=None, metadata=about("with which tool"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenBatch(Record):
    """A prepared component."""

    name: Words = field(metadata=about("what it is called"))
    parts: tuple[WrittenPart, ...] = field(metadata=about("what goes in"))
    steps: tuple[WrittenBatchStep, ...] = field(default=(), metadata=about("how it is made"))
    density: Density | None = field(
        default=None, metadata=about("of the finished batch before whipping, if measured")
    )
    overrun: Percent | None = field(
        default=None, metadata=about("air whipped in, as a share of the liquid's volume")
    )
    loss: Percent | None = field(default=None, metadata=about("share that stays in the bowl"))
    yield_factor: At[Decimal] | None = field(
        default=None, metadata=about("finished mass over the mass of the parts")
    )
    measured_yield: VolumeOrMass | None = field(
        default=None, metadata=about("what a full batch gives, measured")
    )
    keeps_for: Time | None = field(default=None, metadata=about("4 h, 3 days"))
    keeps_at: Temperature | None = field(default=None, metadata=about("kept at or below"))
    served_at: Temperature | None = field(default=None, metadata=about("served at"))
    bowl: Volume | None = field(default=None, metadata=about("what the bowl or pot holds"))
    bowl_fill: Percent | None = field(default=None, metadata=about("how full it may be"))
    scales: Named[At[Decimal]] | None = field(
        default=None, metadata=about("batch sizes by name: {full: 1, half: 0.5}")
    )
    lead: Ref | None = field(
        default=None, metadata=about("the ingredient used in whole packs only")
    )
    brew: Ref | None = field(
        default=None, metadata=about("the leaf or grounds the brew ratio is counted against")
    )
    cautions: tuple[At[Caution], ...] = field(default=(), metadata=about("cautions to print"))
    cross_contact: tuple[Ref, ...] = field(
        default=(), metadata=about("allergens it may pick up from shared equipment")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenAllow(Record):
    """A finding the owner accepts at one place, with the reason."""

    finding: At[str] = field(metadata=about("its code: FIT04"))
    place: At[str] = field(metadata=about("the drink, cup or other id it concerns", key="at"))
    reason: At[str] | None = field(default=None, metadata=about("why it is acceptable"))
