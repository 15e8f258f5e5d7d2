"""Bases, sweeteners, toppings and ice: checked as they are linked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Annotated, Literal

from buildsheets.findings.finding import Label
from buildsheets.menu.equipment import PULLS, Station, StationRef, Tool, ToolRef
from buildsheets.menu.ingredients import (
    Batch,
    Caution,
    Declared,
    Ingredient,
    IngredientRef,
    ItemRef,
    OverrunPct,
)
from buildsheets.menu.likely import DENSITY, LIQUID_G_ML, LIQUIDS
from buildsheets.menu.linker import Linker
from buildsheets.menu.schema import (
    ABOVE_0,
    Allergens,
    Celsius,
    Entry,
    GramsPerMl,
    Mm,
    Range,
    Record,
    Ref,
    Share,
    Text,
    key,
    maybe,
)
from buildsheets.menu.shots import Shot
from buildsheets.menu.tables import ICE_DENSITY_G_ML, ICE_PACKING, ROOM_C

ICE_TEMPERATURE_C = 0.0
"""Wet ice from an open bin; common practice, no source."""

COLDEST_ICE_C = -60.0
"""Below that no freezer of a shop goes; common practice, no source."""

Drawn = Literal["pearls", "beads", "cubes", "beans", "seeds", "strips", "crumbs"]
"""Forms in which the pieces of a settled topping are drawn: full balls, hollow balls, hollow
squares, ovals, dots in a halo, slanted bars, triangles. Each is told from the others in grey."""

LIQUID = ("liquid", "floated")
"""What is poured; of what floats the density is that before whipping."""

HEAPED = ("settled", "swimming")
"""Toppings of loose pieces: their heap has gaps that fill with drink."""

ROLES = {"bases": "base", "sweeteners": "sweetener", "toppings": "topping", "ice": "ice"}

UNNAMED = Text({"": "?"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Steamed(Record):
    """How a liquid is steamed to order, in the pitcher it is measured into cold."""

    air_share: Share = key(
        "how much it grows: pour it cold into a jug with marks, steam it as you do, read it again "
        "at once, five times: 150 ml that come to 190 ml grew by 25 %",
        "air",
        within=Range("from 0 to 100 %", 0.0, 1.0),
    )
    to_c: Celsius = key("what it is steamed to: its temperature as poured", "to")


@dataclass(frozen=True, slots=True, kw_only=True)
class Component(Entry):
    """What steps add: a base, a sweetener, a topping or ice, with all that is known of it.

    ``density_g_ml`` is of the liquid, of a piece of a settled topping, of a cap before whipping;
    ``density_origin`` says where it comes from. ``note`` is a word to the barista: "stir first".
    """

    name: Text
    role: str = ""  # "base", "sweetener", "topping", "ice"
    behaves: str = "liquid"  # or as a topping may, or "ice"
    source: Ingredient | Batch | None = None  # None only for ice made of the shop's water
    declared: Declared | None = None  # own declaration, beside the source's
    density_g_ml: float = 0.0
    density_origin: str = ""
    bulk_density_g_ml: float | None = None
    packing: float | None = None
    overrun_pct: float = 0.0
    drawn: str = ""  # the form of a settled topping's pieces; "" leaves it to the order of the menu
    temperature_c: float | None = None
    brix: float | None = None
    fizzy: bool = False  # holds gas
    head_share: float | None = None  # foam that rises while it is poured, of what is poured
    head_mm: float | None = None  # the same, over the drink
    steamed: Steamed | None = None  # to order; amounts are of what goes cold into the pitcher
    shot: Shot | None = None  # pulled to order; amounts are counts of shots
    tool: Tool | None = None
    station: Station | None = None
    cautions: tuple[str, ...] = ()
    note: Text | None = None

    @property
    def poured_c(self) -> float:
        """Its temperature as it is added, of the room where none is said."""
        return ROOM_C if self.temperature_c is None else self.temperature_c

    @property
    def kept(self) -> Ingredient | Batch | None:
        """What of it stands in the shop and keeps: its source, the beans of a shot."""
        source = self.source
        return source.parts[0].item if isinstance(source, Batch) and source.to_order else source

    def by_volume(self, tool: Tool | None) -> bool:
        """Whether what is not counted of it is measured as a volume: by marks, or a liquid that no
        scale weighs."""
        if tool is not None and tool.unit in ("ml", "g"):
            return tool.unit == "ml"
        return self.behaves == "liquid"


@dataclass(frozen=True, slots=True, kw_only=True)
class Poured(Component):
    """What every base, sweetener and topping may say."""

    name: Text = key("what the card calls it, where the source's name won't do", default=UNNAMED)
    source: ItemRef = key("the ingredient or batch it is poured from", "from")
    shot: Shot | None = maybe(
        "espresso, pulled to order of the beans it is from: {dose: 18 g, yield: 36 g, for: 28 s}; "
        "its tool is a portafilter, and amounts in a build are shots"
    )
    tool: ToolRef | None = maybe("what it is measured with")
    station: StationRef | None = maybe("where it is added")
    cautions: tuple[Caution, ...] = key("cautions to print", default=())
    note: Text | None = maybe("a word to the barista: stir first")

    def linked(self, link: Linker) -> Poured:
        """With a name, a density, a temperature and cautions, from its source where not its own."""
        if self.says("head") and not self.fizzy:
            message = f"'{self.id}' has a head of {self.written('head').text} and is not fizzy"
            link.error("GAS05", self.at("head"), message, "write fizzy: yes, or leave head out")
        steamed = self.steamed
        if steamed is not None and self.says("temperature"):
            message = f"'{self.id}' is poured as steamed, at {steamed.to_c:g} °C, and has another"
            link.error("STM01", self.at("temperature"), message, "leave temperature out")
        if self.shot is not None:
            self._must_be_pulled(link)
        source = self.source
        density, origin = self.density_g_ml, "written here"
        if self.behaves in HEAPED:
            self._must_be_a_bed(link)
        elif not self.says("density"):
            origin = f"from {source.id}"
            if source.density_g_ml is not None:
                density = source.density_g_ml
            elif self.behaves == "dusted":
                density, origin = 1.0, "takes no room"
            else:
                span = self.written("from").span
                message = (
                    f"'{source.id}' has no density, so the room '{self.id}' takes is not known"
                )
                hint = "give it, or what it is made of, a density with its source, or its Brix"
                link.lacks_density(source, span, message, hint)
        if self.behaves in LIQUID:
            self._must_be_liquid(link)
        batch = source if isinstance(source, Batch) else None
        overrun = self.overrun_pct
        if batch and not self.says("overrun"):
            overrun = batch.overrun_pct
        served = steamed.to_c if steamed else batch.serves_at_c if batch else None
        name = self.name if self.says("name") else source.name
        shot = self.shot.weighed(density) if self.shot else None
        return replace(
            self,
            role=ROLES[link.section_now],
            name=name,
            source=shot.batch(self, name, source, density) if shot else source,
            shot=shot,
            tool=shot.tool(self.tool) if shot else self.tool,
            density_g_ml=density,
            density_origin=origin,
            bulk_density_g_ml=self.bulk_density_g_ml if self.behaves in HEAPED else None,
            overrun_pct=overrun if self.behaves == "floated" else 0.0,
            temperature_c=self.temperature_c if self.says("temperature") else served,
            brix=source.brix if isinstance(source, Ingredient) else None,
            cautions=self._all_cautions(),
        )

    def _must_be_pulled(self, link: Linker) -> None:
        """A shot is hot, its room is known and it is counted with a portafilter."""
        lacks = ""
        if self.behaves != "liquid" or self.steamed or self.fizzy:
            lacks = "a shot is a liquid, neither steamed nor fizzy"
            hint = "take shot: out, or what goes against it"
        elif not self.says("temperature"):
            lacks = "a shot is hot and melts ice, and nothing says how hot it is"
            hint = "read it in the cup as soon as it has run, and add temperature: 75 °C, say"
        elif not self.says("density"):
            lacks = "nothing says how much room a shot takes"
            hint = (
                "weigh 100 ml of shots without crema and add density:, grams by ml; usual is a "
                "little over 1 g/ml (common practice, no source)"
            )
        elif self.tool is None or self.tool.kind != PULLS:
            lacks = "a shot is counted with a portafilter, and it has " + (
                f"'{self.tool.id}', a {self.tool.kind}" if self.tool else "no tool"
            )
            hint = f"add a tool of kind: {PULLS} with step: 1 shot, and name it as the tool here"
        if lacks:
            link.stop("SHOT01", self.at("shot"), f"'{self.id}': {lacks}", hint)

    def _must_be_liquid(self, link: Linker) -> None:
        """Its density as written, here or at the source, is that of a liquid."""
        item: Entry = self if self.says("density") else self.source
        density = self.density_g_ml if item is self else self.source.density_g_ml
        if item.says("density") and density is not None and not LIQUID_G_ML.holds(density):
            written = item.written("density")
            message = f"'{item.id}' is poured, and its density of {written.text} is of no liquid"
            hint = f"usual is {LIQUID_G_ML.words}: {LIQUIDS}; weigh 100 ml of it and divide by 100"
            link.error("DEN06", written.span, message, hint)

    def _must_be_a_bed(self, link: Linker) -> None:
        if self.bulk_density_g_ml is None or not self.says("density"):
            does = "settles in the cup" if self.behaves == "settled" else "swims in the drink"
            message = f"'{self.id}' {does}: it needs density and bulk_density"
            hint = (
                "density of a piece by how much water it pushes up; bulk density by "
                "weighing a level jug of it"
            )
            link.stop("DEN03", self.span, message, hint)
        if self.bulk_density_g_ml > self.density_g_ml:
            link.stop(
                "DEN04",
                self.at("bulk_density"),
                f"a heap of '{self.id}' cannot weigh {self.bulk_density_g_ml:g} g/ml when its "
                f"pieces weigh {self.density_g_ml:g} g/ml",
                hint="a heap has gaps, so its bulk density is the smaller figure; of what leaves "
                "none, as ice cream in its tub, it is the same",
                labels=(Label(self.at("density"), "of the piece"),),
            )

    def _all_cautions(self) -> tuple[Caution, ...]:
        """Own cautions and those of everything it is made of, each once.

        A batch that is hot in the making is not hot in the cup: "hot" is the component's own word.
        """
        found: list[Caution] = [*self.cautions, *(("hot",) if self.steamed or self.shot else ())]
        waiting: list[Ingredient | Batch] = [self.source]
        while waiting:
            item = waiting.pop()
            found += [caution for caution in item.cautions if caution != "hot"]
            if isinstance(item, Batch):
                waiting += [part.item for part in item.parts]
        return tuple(dict.fromkeys(found))


@dataclass(frozen=True, slots=True, kw_only=True)
class Liquid(Poured):
    """A base or a sweetener."""

    density_g_ml: GramsPerMl = key(
        "g/ml, where the source does not give it", "density", default=0.0, within=DENSITY
    )
    temperature_c: Celsius | None = maybe("as poured", "temperature")
    fizzy: bool = key("yes for soda and whatever else holds gas: never shaken", default=False)
    head_share: Share | None = maybe(
        "fizzy: foam that rises while it is poured, before it falls: 15 % of what is poured, or "
        "20 mm; pour 200 ml over ice in a jug with marks, as you do into the cup, and read the "
        "foam at its highest and where the drink stands after it, five times (see measure head)",
        "head",
        within=ABOVE_0,
    )
    head_mm: Mm | None = maybe("", "head")
    steamed: Steamed | None = maybe(
        "steamed to order, as milk is: {air: 25 %, to: 60 °C}; amounts in a build are of what goes "
        "cold into the pitcher"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Topping(Poured):
    """A topping: settled (sinks), swimming (pieces lighter than the drink), on the wall (a slice
    held there), floated (foam on top) or dusted (takes no room)."""

    behaves: Literal["settled", "swimming", "on-wall", "floated", "dusted", "liquid"] = key(
        "settled (sinks), swimming (slices, leaves, berries lighter than the drink), on-wall (a "
        "slice pressed to the side), floated (foam), dusted or liquid"
    )
    density_g_ml: GramsPerMl = key(
        "of the piece itself, if it is no foam; before whipping if floated",
        "density",
        default=0.0,
        within=DENSITY,
    )
    bulk_density_g_ml: GramsPerMl | None = maybe(
        "settled, swimming: grams of drained topping in a ml of its heap; as density, of what "
        "leaves no gaps",
        "bulk_density",
        within=ABOVE_0,
    )
    overrun_pct: OverrunPct = key(
        "floated: air whipped in, where the batch does not say", "overrun", default=0.0
    )
    drawn: Drawn = key(
        "settled, swimming: how its pieces look in the drawing of a cup; else its own look",
        default="",
    )
    temperature_c: Celsius | None = maybe("as added", "temperature")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ice(Component):
    """A sort of ice."""

    name: Text = key("what the card calls it")
    source: IngredientRef | None = maybe(
        "the ingredient it is bought as; without it, ice of the shop's own water", "from"
    )
    packing: Share = key(
        "solid share of a level scoop: grams in a litre / 917",
        default=ICE_PACKING,
        within=Range("from 1 to 99 %", 0.01, 0.99),
    )
    density_g_ml: GramsPerMl = key(
        "of the ice itself", "density", default=ICE_DENSITY_G_ML, within=ABOVE_0
    )
    temperature_c: Celsius = key(
        "as it leaves the bin",
        "temperature",
        default=ICE_TEMPERATURE_C,
        within=Range("from -60 to 0 °C", COLDEST_ICE_C, 0.0),
    )
    tool: ToolRef | None = maybe("what it is measured with")
    station: StationRef | None = maybe("where it is added")
    contains: Allergens = key("allergens, for ice made of more than water", default=())

    def linked(self, link: Linker) -> Ice:
        """With its declaration, and the caution all ice has."""
        own = self.says("density")
        return replace(
            self,
            role="ice",
            behaves="ice",
            declared=Declared(self.contains, (), self.span),
            density_origin="written here" if own else "IAPWS R10-06, 0 °C",
            cautions=("choking",),
        )


ComponentRef = Annotated[
    Component, Ref("base, sweetener, topping or ice", "bases", "sweeteners", "toppings", "ice")
]
