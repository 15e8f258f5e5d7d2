"""The guest's side of a menu file: bases, sweeteners, toppings, ice, options, drinks, add-ons."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Annotated, ClassVar, Literal

from buildsheets.findings.finding import At
from buildsheets.menu.quantity import Quantity
from buildsheets.menu.shapes import BySize, Kinds, Named, Record, Ref, Words, about
from buildsheets.menu.written import (
    Caution,
    Density,
    DrinkAmount,
    LengthOrVolume,
    Percent,
    Temperature,
    Time,
    WrittenAllow,
    WrittenBatch,
    WrittenCup,
    WrittenEdition,
    WrittenIngredient,
    WrittenShop,
    WrittenStation,
    WrittenTool,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenComponent(Record):
    """What every base, sweetener and topping may say."""

    name: Words | None = field(
        default=None, metadata=about("what the card calls it, where the source's name won't do")
    )
    source: Ref = field(metadata=about("the ingredient or batch it is poured from", key="from"))
    tool: Ref | None = field(default=None, metadata=about("what it is measured with"))
    station: Ref | None = field(default=None, metadata=about("where it is added"))
    cautions: tuple[At[Caution], ...] = field(default=(), metadata=about("cautions to print"))
    note: Words | None = field(default=None, metadata=about("a word to the barista: stir first"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenLiquid(WrittenComponent):
    """A base or a sweetener."""

    density: Density | None = field(
        default=None, metadata=about("g/ml, where the source does not give it")
    )
    temperature: Temperature | None = field(default=None, metadata=about("as poured"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenTopping(WrittenComponent):
    """A topping: settled (sinks), floated (lies on top) or dusted (takes no room)."""

    behaves: At[Literal["settled", "floated", "dusted", "liquid"]] = field(
        metadata=about("settled, floated, dusted or liquid")
    )
    density: Density | None = field(
        default=None, metadata=about("of the piece itself if settled; before whipping if floated")
    )
    bulk_density: Density | None = field(
        default=None, metadata=about("settled: grams of drained topping in a ml of its heap")
    )
    overrun: Percent | None = field(
        default=None, metadata=about("floated: air whipped in, where the batch does not say")
    )
    temperature: Temperature | None = field(default=None, metadata=about("as added"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenIce(Record):
    """A sort of ice."""

    name: Words = field(metadata=about("what the card calls it"))
    packing: Percent | None = field(
        default=None, metadata=about("solid share of a level scoop: grams in a litre / 917")
    )
    density: Density | None = field(default=None, metadata=about("of the ice itself"))
    temperature: Temperature | None = field(default=None, metadata=about("as it leaves the bin"))
    tool: Ref | None = field(default=None, metadata=about("what it is measured with"))
    station: Ref | None = field(default=None, metadata=about("where it is added"))
    contains: tuple[Ref, ...] = field(
        default=(), metadata=about("allergens, for ice made of more than water")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenSweetness(Record):
    """Sweetness levels."""

    levels: tuple[Annotated[At[Quantity], Kinds("percent")], ...] = field(
        metadata=about("[0 %, 25 %, 50 %, 75 %, 100 %]")
    )
    default: Percent = field(metadata=about("the level made when nobody says"))
    make_up: At[Literal["base", "none"]] = field(
        metadata=about("base: missing syrup is made up with base; none: the drink is shorter")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenIceLevel(Record):
    """One ice level."""

    name: Words = field(metadata=about("how a guest says it"))
    share: Percent = field(metadata=about("share of the written ice"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenIceLevels(Record):
    """Ice levels."""

    levels: Named[WrittenIceLevel] = field(metadata=about("levels by id"))
    default: Ref = field(metadata=about("the level made when nobody says"))
    keep: At[Literal["line", "recipe"]] = field(
        metadata=about("line: more base for less ice; recipe: same drink, lower line")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenAddOnRule(Record):
    """How many add-ons a guest may ask for and how much base may make room."""

    at_most: At[int] = field(metadata=about("how many at once, 0 to 2"))
    hold_back_at_most: Percent = field(
        metadata=about("largest share of the base that may be left out for an add-on")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenOptions(Record):
    """The options every drink offers unless it says otherwise."""

    sweetness: WrittenSweetness | None = field(default=None, metadata=about("sweetness"))
    ice: WrittenIceLevels | None = field(default=None, metadata=about("ice"))
    add_ons: WrittenAddOnRule | None = field(default=None, metadata=about("add-ons"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenAddOn(Record):
    """A topping a guest may add."""

    topping: Ref = field(metadata=about("which topping"))
    name: Words | None = field(default=None, metadata=about("what the guest calls it"))
    amount: BySize[DrinkAmount] = field(metadata=about("how much, for all sizes or each"))
    price: At[Decimal] | None = field(default=None, metadata=about("what it adds to the price"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenAdd(Record):
    """A step that puts something in the cup or the shaker."""

    tag_key: ClassVar[str] = "add"

    add: Ref = field(metadata=about("a base, sweetener, topping or ice"))
    amount: BySize[DrinkAmount] | None = field(
        default=None, metadata=about("how much, for all sizes or each")
    )
    fill_to: BySize[LengthOrVolume] | None = field(
        default=None, metadata=about("pour up to this line: 400 ml or 92 mm")
    )
    into: At[Literal["cup", "shaker"]] | None = field(
        default=None, metadata=about("cup unless it says shaker")
    )
    station: Ref | None = field(default=None, metadata=about("where, if not the usual place"))
    tool: Ref | None = field(default=None, metadata=about("with what, if not the usual tool"))
    body: At[bool] | None = field(
        default=None,
        metadata=about("yes for the base that makes room; else the last base added"),
    )
    note: Words | None = field(default=None, metadata=about("a word to the barista"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenDo(Record):
    """A step that does something to the cup or the shaker."""

    tag_key: ClassVar[str] = "do"

    do: At[
        Literal["shake", "pour", "chill", "stir", "swirl", "rest", "lid", "tap", "wipe", "serve"]
    ] = field(metadata=about("shake, pour, chill, stir, swirl, rest, lid, tap, wipe, serve"))
    pour: At[Literal["strained", "dumped"]] | None = field(
        default=None, metadata=about("shake: strained keeps the ice back, dumped does not")
    )
    time: Time | None = field(default=None, metadata=about("for how long", key="for"))
    station: Ref | None = field(default=None, metadata=about("where"))
    note: Words | None = field(default=None, metadata=about("a word to the barista"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenDrink(Record):
    """A drink."""

    name: Words = field(metadata=about("what the guest orders"))
    group: At[str] | None = field(default=None, metadata=about("heading it sorts under"))
    cups: tuple[Ref, ...] = field(metadata=about("the cups it is sold in"))
    price: BySize[At[Decimal]] | None = field(default=None, metadata=about("price, each cup"))
    build: tuple[WrittenAdd | WrittenDo, ...] = field(metadata=about("the steps in order"))
    sweetness: At[Literal["fixed", "offered"]] | None = field(
        default=None, metadata=about("fixed: made one way only")
    )
    ice: At[Literal["fixed", "offered"]] | None = field(
        default=None, metadata=about("fixed: made one way only")
    )
    keep: At[Literal["line", "recipe"]] | None = field(
        default=None, metadata=about("when the ice changes, where this drink differs")
    )
    add_ons: tuple[Ref, ...] = field(default=(), metadata=about("add-ons it is offered with"))
    lid_may_press: At[bool] | None = field(
        default=None, metadata=about("yes when a flat lid may press floating ice under")
    )
    cautions: tuple[At[Caution], ...] = field(default=(), metadata=about("cautions to print"))
    note: Words | None = field(default=None, metadata=about("a word to the barista"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenSale(Record):
    """Expected sales of one drink on one day."""

    drink: Ref = field(metadata=about("the drink"))
    count: BySize[At[int]] = field(metadata=about("how many, each cup"))
    add_ons: Named[At[int]] | None = field(
        default=None, metadata=about("how many of all these with each add-on")
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenDay(Record):
    """A day to plan prep for."""

    name: Words = field(metadata=about("the day in words"))
    opens: At[str] = field(metadata=about("opening time, as '09:00'"))
    closes: At[str] = field(metadata=about("closing time, as '20:00'"))
    sales: tuple[WrittenSale, ...] = field(metadata=about("expected sales"))


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenMenu(Record):
    """A whole menu: the sections of one file or of several files together."""

    shop: WrittenShop = field(metadata=about("the shop's own choices"))
    edition: WrittenEdition = field(metadata=about("the season's menu"))
    stations: Named[WrittenStation] = field(metadata=about("places at the counter"))
    tools: Named[WrittenTool] = field(default_factory=Named, metadata=about("measuring tools"))
    cups: Named[WrittenCup] = field(metadata=about("the cups sold, by size"))
    ingredients: Named[WrittenIngredient] = field(
        default_factory=Named, metadata=about("what is bought")
    )
    batches: Named[WrittenBatch] = field(default_factory=Named, metadata=about("what is prepared"))
    bases: Named[WrittenLiquid] = field(metadata=about("liquid bodies"))
    sweeteners: Named[WrittenLiquid] = field(default_factory=Named, metadata=about("what sweetens"))
    toppings: Named[WrittenTopping] = field(default_factory=Named, metadata=about("what is added"))
    ice: Named[WrittenIce] = field(default_factory=Named, metadata=about("sorts of ice"))
    options: WrittenOptions | None = field(default=None, metadata=about("what guests may choose"))
    add_ons: Named[WrittenAddOn] = field(
        default_factory=Named, metadata=about("toppings a guest may add")
    )
    drinks: Named[WrittenDrink] = field(metadata=about("the drinks"))
    days: Named[WrittenDay] = field(
        default_factory=Named, metadata=about("expected sales, for the prep plan")
    )
    allow: tuple[WrittenAllow, ...] = field(
        default=(), metadata=about("findings the owner accepts, with the reason")
    )


SECTIONS: dict[str, type[Record]] = {
    "shop": WrittenShop,
    "edition": WrittenEdition,
    "stations": WrittenStation,
    "tools": WrittenTool,
    "cups": WrittenCup,
    "ingredients": WrittenIngredient,
    "batches": WrittenBatch,
    "bases": WrittenLiquid,
    "sweeteners": WrittenLiquid,
    "toppings": WrittenTopping,
    "ice": WrittenIce,
    "options": WrittenOptions,
    "add_ons": WrittenAddOn,
    "drinks": WrittenDrink,
    "days": WrittenDay,
    "allow": WrittenAllow,
}
"""What an entry of each section is."""
