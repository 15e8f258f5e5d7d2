"""What is bought and what is prepared of it: checked, with grams and densities, as linked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Annotated, ClassVar, Literal

from buildsheets.findings.finding import Label, Span
from buildsheets.findings.spelling import listed
from buildsheets.menu.equipment import ToolRef
from buildsheets.menu.kitchen import ThingRef
from buildsheets.menu.likely import DENSITY
from buildsheets.menu.linker import Linker
from buildsheets.menu.quantity import Quantity
from buildsheets.menu.schema import (
    ABOVE_0,
    FROM_0,
    NOWHERE,
    Allergens,
    Brix,
    Celsius,
    Entry,
    Grams,
    GramsPerMl,
    Kinds,
    Ml,
    Range,
    Record,
    Ref,
    Seconds,
    Share,
    Text,
    VolumeOrMass,
    Written,
    key,
    maybe,
)
from buildsheets.menu.tables import WATER_DENSITY_G_ML, sucrose_density_g_ml
from buildsheets.menu.when import SOLD_OUT

DAY_S = 86_400.0

Caution = Literal["honey", "hot", "choking", "caffeine", "alcohol", "raw-egg"]
Time = Annotated[Quantity, Kinds("time")]
PartAmount = Annotated[Quantity, Kinds("volume", "mass", "pack")]
OverrunPct = Annotated[float, Kinds("percent", times=100.0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Nutrition(Record):
    """Figures per 100 g or per 100 ml; leave out what nobody told you, never write 0 for it.

    ``None`` is missing and stays missing, never zero.
    """

    per: Literal["100 g", "100 ml"] = key("100 g or 100 ml")
    energy_kcal: float | None = maybe("kcal", within=FROM_0)
    fat_g: float | None = maybe("g", within=FROM_0)
    saturates_g: float | None = maybe("g", within=FROM_0)
    carbohydrate_g: float | None = maybe("g", within=FROM_0)
    sugars_g: float | None = maybe("g", within=FROM_0)
    protein_g: float | None = maybe("g", within=FROM_0)
    salt_g: float | None = maybe("g", within=FROM_0)
    fibre_g: float | None = maybe("g", within=FROM_0)
    polyols_g: float | None = maybe("g", within=FROM_0)
    alcohol_g: float | None = maybe("g", within=FROM_0)
    caffeine_mg: float | None = maybe("mg", within=FROM_0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pack(Record):
    """How an ingredient is bought.

    ``quantity`` is in grams or ml, as ``unit`` says.
    """

    holds: VolumeOrMass | None = maybe(
        "what one pack holds: 1 l, 397 g", "quantity", needed=True, within=ABOVE_0
    )
    price: Decimal | None = maybe("price of one pack", within=FROM_0)
    usable_share: Share = key(
        "share that can be used after trimming and waste",
        "usable",
        default=1.0,
        within=Range("above 0 and up to 100 %", 0.0, 1.0, above=True),
    )
    quantity: float = 0.0
    unit: str = "g"

    def linked(self, link: Linker) -> Pack:
        """With its quantity in its unit."""
        assert self.holds is not None
        unit = "ml" if self.holds.kind == "volume" else "g"
        return replace(self, quantity=self.holds.value, unit=unit)


@dataclass(frozen=True, slots=True)
class Declared:
    """Declared allergens; ``None`` means nobody declared, which is an error, never "none"."""

    contains: tuple[str, ...] | None
    may_contain: tuple[str, ...]
    span: Span


NOTHING_DECLARED = Declared(None, (), NOWHERE)


@dataclass(frozen=True, slots=True)
class KeepsFor:
    """How long something keeps once prepared or opened; days count preparation day as Day 1."""

    days: int | None
    hours: float | None
    at_c: float | None
    written: Written

    @property
    def in_hours(self) -> float:
        """How long it keeps in hours, whole days counted in full."""
        return self.hours or 24.0 * (self.days or 0)


def _keeps_for(record: Ingredient | Batch, link: Linker) -> KeepsFor | None:
    """Whole days count from preparation as Day 1; anything written in hours counts hours."""
    if record.keeps is None:
        return None
    written = record.written("keeps_for")
    in_days = record.keeps.unit in ("day", "week")
    days = record.keeps.value / DAY_S
    if in_days and days != int(days):
        message = f"'{written.text}' is not a whole number of days"
        hint = "write hours for shorter times"
        link.error("RNG01", written.span, message, hint)
    return KeepsFor(
        days=int(days) if in_days else None,
        hours=None if in_days else record.keeps.value / 3600.0,
        at_c=record.keeps_at_c,
        written=written,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingredient(Entry):
    """Something bought.

    ``density_g_ml`` is its own figure or follows from its Brix.
    """

    name: Text = key("what it is called")
    contains: Allergens = key(
        "allergens it contains; write [] only when its label says it has none"
    )
    may_contain: Allergens = key("allergens its label warns of: may contain", default=())
    density_g_ml: GramsPerMl | None = maybe(
        "g/ml, with its source; of what is bought by the litre, as it lies in its pack",
        "density",
        within=DENSITY,
    )
    density_source: str = key("where the density comes from", default="")
    brix: Brix | None = maybe(
        "dissolved sugar; gives the density of a syrup", within=Range("from 0 to 100", 0.0, 100.0)
    )
    nutrition: Nutrition | None = maybe("figures per 100 g or 100 ml")
    pack: Pack | None = maybe("how it is bought")
    supplier: str = key("who it is ordered from, as it stands on order lists", default="")
    keeps: Time | None = maybe("once opened: 3 days, 4 h", "keeps_for", within=ABOVE_0)
    keeps_at_c: Celsius | None = maybe("kept at or below", "keeps_at")
    use_by: date | None = maybe("the maker's date")
    on_tap: bool = key(
        "yes for water of the tap: neither it nor ice of it is bought", default=False
    )
    cautions: tuple[Caution, ...] = key(
        "honey, hot, choking, caffeine, alcohol, raw-egg", default=()
    )
    sold_out: bool = key(SOLD_OUT, default=False)
    declared: Declared = NOTHING_DECLARED
    keeps_for: KeepsFor | None = None

    def linked(self, link: Linker) -> Ingredient:
        """With a density that has a source."""
        density, source = self.density_g_ml, self.density_source
        if density is not None and not source:
            message = f"the density of '{self.id}' does not say where it comes from"
            hint = "add density_source: the label, a table by name, or 'weighed here'"
            link.error("DEN01", self.at("density"), message, hint)
        if density is None and self.brix is not None:
            density = sucrose_density_g_ml(self.brix)
            source = "sucrose solution at 20 °C (Bubnik 1995)"
        return replace(
            self,
            density_g_ml=density,
            density_source=source,
            declared=Declared(self.contains, self.may_contain, self.at("contains")),
            keeps_for=_keeps_for(self, link),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchPart(Record):
    """One ingredient line of a batch."""

    called: ClassVar[str] = "part"

    item: ItemRef = key("an ingredient or another batch", "use")
    amount: PartAmount | None = maybe("500 g, 1 l, 2 tbsp, 1 pack", needed=True, within=ABOVE_0)
    mass_g: float = 0.0
    volume_ml: float | None = None
    packs: Decimal | None = None

    def linked(self, link: Linker) -> BatchPart:
        """With its amount in grams, and in ml where its density is known."""
        assert self.amount is not None
        item, written, density = self.item, self.written("amount"), self.item.density_g_ml
        packs: Decimal | None = None
        amount, unit = self.amount.value, "g" if self.amount.kind == "mass" else "ml"
        if self.amount.kind == "tool":
            pack = item.pack if isinstance(item, Ingredient) else None
            if pack is None:
                message = f"'{written.text}' of '{item.id}', which does not say what one pack holds"
                hint = "add pack: {quantity: 397 g} to the ingredient, or write grams"
                link.stop("BAT05", written.span, message, hint)
            packs, unit = self.amount.magnitude, pack.unit
            amount = float(packs) * pack.quantity
        if unit == "g":
            volume = amount / density if density else None
            return replace(self, mass_g=amount, volume_ml=volume, packs=packs)
        if density is None:
            message = f"'{written.text}' of '{item.id}' is a volume, and its density is not known"
            hint = "write grams, or give the item, or what it is made of, a density with its source"
            link.lacks_density(item, written.span, message, hint)
        return replace(self, mass_g=amount * density, volume_ml=amount, packs=packs)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchStep(Record):
    """One step of prep."""

    text: Text = key("what to do", "do")
    time_s: Seconds | None = maybe(
        "for how long, whatever the load; without it, figured from temperature and power", "time"
    )
    hands_on_s: Seconds | None = maybe(
        "how long it needs a person, from its start; 0 min for waiting; left out, all the time",
        "hands_on",
    )
    temperature_c: Celsius | None = maybe("at what temperature", "temperature")
    from_c: Celsius | None = maybe(
        "the temperature it starts at; left out, that of the step before, or a room's 20 °C", "from"
    )
    on: tuple[ThingRef, ...] = key("things of the kitchen in use: [pot, burner]", default=())
    adds: tuple[ItemRef, ...] = key(
        "parts that go in at this step; those no step names are in from the start", default=()
    )
    speed: str = key("at what speed: low", default="")
    water_ml: Ml | None = maybe(
        "cooking water of a full batch, poured off again: 5 l; it grows with the batch",
        "water",
        within=ABOVE_0,
    )
    tool: ToolRef | None = maybe("with which tool")

    @property
    def power_w(self) -> float:
        """Of all the things in use; 0 where none has one."""
        return sum(thing.power_w or 0.0 for thing in self.on)

    @property
    def on_ice(self) -> bool:
        """Whether ice takes the heat."""
        return any(thing.ice for thing in self.on)


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch(Entry):
    """A prepared component.

    ``yield_factor`` is finished mass over ingredient mass (water taken up or boiled away);
    a measured yield in grams or ml overrides it; ``loss_share`` stays in the bowl.
    """

    name: Text = key("what it is called")
    parts: tuple[BatchPart, ...] = key("what goes in")
    steps: tuple[BatchStep, ...] = key("how it is made", default=())
    density_g_ml: GramsPerMl | None = maybe(
        "of the finished batch before whipping, if measured", "density", within=DENSITY
    )
    overrun_pct: OverrunPct = key(
        "air whipped in, as a share of the liquid's volume", "overrun", default=0.0
    )
    loss_share: Share = key(
        "share that stays in the bowl",
        "loss",
        default=0.0,
        within=Range("from 0 to 99 %", 0.0, 0.99),
    )
    yield_factor: float = key(
        "finished mass over the mass of the parts", default=1.0, within=ABOVE_0
    )
    measured_yield_ml: Ml | None = maybe(
        "what a full batch gives, measured", "measured_yield", within=ABOVE_0
    )
    measured_yield_g: Grams | None = maybe("", "measured_yield")
    keeps: Time | None = maybe("4 h, 3 days", "keeps_for", within=ABOVE_0)
    keeps_at_c: Celsius | None = maybe("kept at or below", "keeps_at")
    serves_at_c: Celsius | None = maybe("served at", "served_at")
    bowl_ml: Ml | None = maybe("what the bowl or pot holds", "bowl", within=ABOVE_0)
    bowl_fill_share: Share = key(
        "how full it may be", "bowl_fill", default=1.0, within=Range("from 1 to 100 %", 0.01, 1.0)
    )
    kept_in: ThingRef | None = maybe("the fridge the finished batch stands in")
    scales: Mapping[str, float] = key(
        "batch sizes by name: {full: 1, half: 0.5}",
        factory=lambda: {"full": 1.0},
        within=Range("more than 0 and at most 10,000", 0.0, 10_000.0, above=True),
    )
    lead: ItemRef | None = maybe("the ingredient used in whole packs only")
    brew: ItemRef | None = maybe("the leaf or grounds the brew ratio is counted against")
    caffeine_extracted: Share | None = maybe(
        "share of the leaf's or grounds' caffeine that ends in the brew: measured, or a table's",
        within=Range("from 0 to 100 %", 0.0, 1.0),
    )
    cautions: tuple[Caution, ...] = key("cautions to print", default=())
    cross_contact: Allergens = key("allergens it may pick up from shared equipment", default=())
    sold_out: bool = key(SOLD_OUT, default=False)
    keeps_for: KeepsFor | None = None
    yield_basis: str = "none"  # "measured" or "factor" or "none": how the yield is known
    to_order: bool = False  # made for each cup, as a shot is: its parts are planned, never itself

    def linked(self, link: Linker) -> Batch:
        """With its density and keeping; what leads it must be in it."""
        if not self.parts:
            link.error("BAT02", self.span, f"batch '{self.id}' has no parts")
        used = {part.item.id for part in self.parts}
        for item, what in ((self.lead, "lead"), (self.brew, "brew")):
            if item is not None and item.id not in used:
                message = f"{what} is '{item.id}', which is not among the parts"
                hint = f"parts: {listed(sorted(used))}"
                link.error("BAT03", self.written(what).span, message, hint)
        for step in self.steps:
            for item in step.adds:
                if item.id not in used:
                    message = f"this step adds '{item.id}', which is not among the parts"
                    hint = f"parts: {listed(sorted(used))}"
                    link.error("BAT11", step.written("adds").span, message, hint)
        if self.kept_in is not None and not self.kept_in.keeps:
            message = f"'{self.kept_in.id}' is no place where batches stand"
            hint = "add keeps: yes and holds: to it, or name a fridge"
            link.error("BAT12", self.written("kept_in").span, message, hint)
        measured, factor = self.says("measured_yield"), self.says("yield_factor")
        if factor and measured:
            link.error(
                "BAT04",
                self.at("yield_factor"),
                "the yield is both measured and given as a factor; keep the measured one",
                labels=(Label(self.at("measured_yield"), "measured here"),),
            )
        density = self.density_g_ml
        return replace(
            self,
            density_g_ml=self._mixed_density() if density is None else density,
            yield_basis="measured" if measured else "factor" if factor else "none",
            keeps_for=_keeps_for(self, link),
        )

    def _mixed_density(self) -> float | None:
        """Finished mass over finished volume, volumes taken as additive; unknown if any part's is.

        What a factor adds is water taken up, what it takes away is water boiled off.
        """
        volumes = [part.volume_ml for part in self.parts]
        if any(volume is None for volume in volumes):
            return None
        parts_g = sum(part.mass_g for part in self.parts)
        finished_g = parts_g * self.yield_factor
        water_ml = (finished_g - parts_g) / WATER_DENSITY_G_ML
        finished_ml = sum(volume for volume in volumes if volume is not None) + water_ml
        return finished_g / finished_ml if finished_ml > 0.0 else None


ItemRef = Annotated[Ingredient | Batch, Ref("ingredient or batch", "ingredients", "batches")]
IngredientRef = Annotated[Ingredient, Ref("ingredient", "ingredients")]
