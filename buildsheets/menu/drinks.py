"""Add-ons and drinks: checked, with amounts for each cup, as they are linked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, ClassVar, Literal

from buildsheets.findings.finding import Label
from buildsheets.menu.amounts import Amount, amount
from buildsheets.menu.components import Component, ComponentRef
from buildsheets.menu.equipment import CupRef, CupSize, Station, StationRef, Tool, ToolRef
from buildsheets.menu.ingredients import Caution
from buildsheets.menu.kitchen import People
from buildsheets.menu.linker import Linker, Stopped
from buildsheets.menu.options import KEEP, AddOn, AddOnRef, IceLevels, Options, Sweetness, WithLess
from buildsheets.menu.packaging import PackagingRef
from buildsheets.menu.schema import (
    ABOVE_0,
    FROM_0,
    BySize,
    DrinkAmount,
    Entry,
    LengthOrVolume,
    Range,
    Record,
    Ref,
    Seconds,
    Share,
    Text,
    Was,
    Written,
    key,
    maybe,
)
from buildsheets.menu.swaps import Swap, SwapRef, swaps_of
from buildsheets.menu.when import (
    DAY_MIN,
    LATEST_NIGHT_MIN,
    SOLD_OUT,
    HoursOfDay,
    Stretch,
    TimeOfDay,
    clock,
)

Only = Literal["", "hot", "iced"]
ONLY = "hot: only in cups with hot: yes; iced: only in the other cups"


@dataclass(frozen=True, slots=True)
class LineTo:
    """A fill-to-line: ml of water in the empty cup, or mm above the inner floor."""

    line_ml: float | None
    line_mm: float | None
    written: Written


@dataclass(frozen=True, slots=True, kw_only=True)
class AddStep(Record):
    """A step that puts something in the cup, the shaker or the blender.

    ``amounts`` are by cup id. ``makes_room`` is the base that makes room for add-ons and for what
    sweetness and ice leave out. ``swap`` is the guest's, where its component took the place of the
    written one.
    """

    tag_key: ClassVar[str] = "add"
    called: ClassVar[str] = "add"

    component: ComponentRef = key("a base, sweetener, topping or ice", "add")
    amount: BySize[DrinkAmount] | None = maybe("how much, for all sizes or each")
    fill_to: BySize[LengthOrVolume] | None = maybe(
        "pour up to this line: 400 ml or 92 mm", within=ABOVE_0
    )
    into: Literal["cup", "shaker", "blender"] = key(
        "cup unless it says shaker or blender", default="cup"
    )
    station: StationRef | None = maybe("where, if not the usual place")
    tool: ToolRef | None = maybe("with what, if not the usual tool")
    makes_room: bool = key(
        "yes for the base that makes room; else the last base that is no shot",
        default=False,
        was=Was("body"),
    )
    note: Text | None = maybe("a word to the barista")
    only: Only = key(ONLY, default="")
    amounts: Mapping[str, Amount | LineTo] = field(default_factory=dict)
    swap: Swap | None = None

    def in_drink(self, link: Linker, drink: Drink) -> AddStep | None:
        """With its amount or line for each cup of the drink, its tool, station and note."""
        component = self.component
        measure = self._measure(link, drink)
        if measure is None:
            return None
        tool = self.tool or (_line_tool(link) if self.fill_to else component.tool)
        tool = component.shot.tool(tool) if component.shot else tool
        link.known_sizes(measure)
        amounts: dict[str, Amount | LineTo] = {}
        cups = _cups_of(self, drink.cups)
        for cup in cups:
            given = measure.get(cup.id)
            if given is None:
                link.error(
                    "DRK04",
                    measure.span,
                    f"'{drink.id}' is sold in cup '{cup.id}', and this step gives no amount of "
                    f"'{component.id}' for it",
                    hint=f"add {cup.id}: to this step, or take the cup out of the drink",
                    labels=(Label(cup.span, "the cup"),),
                )
            elif self.fill_to:
                in_mm = given.value.kind == "length"
                line = given.value.value
                written = Written(given.raw, given.span)
                amounts[cup.id] = LineTo(None if in_mm else line, line if in_mm else None, written)
            elif (measured := amount(link, given, component, tool)) is not None:
                amounts[cup.id] = measured
        station = self.station or component.station
        if station is None:
            link.error(
                "STN04",
                self.written("add").span,
                f"nothing says at which station '{component.id}' is added to '{drink.id}'",
                hint="name a station here or at the component",
                labels=(Label(component.span, "the component"),),
            )
        if len(amounts) < len(cups):
            return None
        note = self.note or component.note
        return replace(self, amounts=amounts, station=station, tool=tool, note=note)

    def _measure(self, link: Linker, drink: Drink) -> BySize[DrinkAmount] | None:
        """Its amount or its line, which of the two was written; None after a finding."""
        component, lined = self.component, self.fill_to is not None
        at, labels = self.at("fill_to" if lined else "into"), tuple[Label, ...]()
        if (self.amount is None) == (self.fill_to is None):
            code, at, hint = "DRK02", self.written("add").span, "write exactly one of them"
            both = "both amount and fill_to" if self.amount else "neither amount nor fill_to"
            message = f"the step that adds '{component.id}' to '{drink.id}' has {both}"
        elif lined and component.behaves != "liquid":
            code, hint = "DRK03", "write an amount"
            message = (
                f"'{component.id}' is {component.behaves}; only a liquid can be poured to a line"
            )
        elif component.steamed is not None and (lined or self.into != "cup"):
            code, hint = "STM01", "write an amount of it cold, and pour it into the cup"
            message = f"'{component.id}' is steamed: measured cold in its pitcher, poured at once"
            labels = (Label(component.span, "steamed here"),)
        elif component.shot is not None and lined:
            code, hint = "SHOT01", "write amount: 1 shot, or 2 shots"
            message = f"'{component.id}' runs out of a portafilter: it is counted in shots"
            labels = (Label(component.shot.span, "pulled so"),)
        elif lined and self.into != "cup":
            code, hint = "DRK03", "write an amount"
            message = f"'{component.id}' goes into the {self.into}, and a line is a mark on the cup"
        else:
            return self.amount or self.fill_to
        link.error(code, at, message, hint, labels=labels)
        return None


def _line_tool(link: Linker) -> Tool | None:
    """The tool a line is poured to with: the one of kind "line", where there is one."""
    return next((tool for tool in link.section("tools").values() if tool.kind == "line"), None)


EMPTIES = {"shake": "shaker", "pour": "shaker", "blend": "blender"}
"""Actions that bring into the cup what is in another vessel, and which."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoStep(Record):
    """A step that does something to the cup, the shaker or the blender.

    shake (shaker contents to 0 degC with its ice, then into the cup; ``pour`` says "strained" or
    "dumped"), pour (unshaken shaker contents into the cup), blend (blender contents made one liquid
    with their ice and ``air_share`` of their volume more, then into the cup), chill (the cup's
    contents come to equilibrium with its ice); the others move nothing.
    """

    tag_key: ClassVar[str] = "do"
    called: ClassVar[str] = "do"

    action: Literal[
        "shake", "pour", "blend", "chill", "stir", "swirl", "rest", "lid", "tap", "wipe", "serve"
    ] = key("shake, pour, blend, chill, stir, swirl, rest, lid, tap, wipe, serve", "do")
    pour: Literal["strained", "dumped"] = key(
        "shake: strained keeps the ice back, dumped does not", default=""
    )
    air_share: Share | None = maybe(
        "blend: the air it takes in, as a share of liquid and solid ice: 12 %", "air", within=FROM_0
    )
    seconds: Seconds | None = maybe("for how long", "for", within=ABOVE_0)
    station: StationRef | None = maybe("where")
    note: Text | None = maybe("a word to the barista")
    only: Only = key(ONLY, default="")

    def linked(self, link: Linker) -> DoStep:
        """Checked: a shake says what becomes of its ice, a blend how much air it takes in."""
        if self.action == "shake" and not self.pour:
            link.error(
                "DRK05",
                self.written("do").span,
                "after shaking, does the ice stay behind (strained) or go in the cup (dumped)?",
                hint="add pour: strained, or pour: dumped",
            )
        if (self.action == "blend") != (self.air_share is not None):
            link.error(
                "DRK12",
                self.written("do").span,
                "how much air does blending take in? it stands in the cup"
                if self.action == "blend"
                else f"air is what a blend takes in, and this step says do: {self.action}",
                hint="measure it (buildsheets measure blend) and add air: to the step do: blend",
            )
        return self


Step = AddStep | DoStep


def _cups_of(step: Step, cups: Sequence[CupSize]) -> tuple[CupSize, ...]:
    """The cups a step happens in."""
    return tuple(cup for cup in cups if step.only in ("", "hot" if cup.hot else "iced"))


Choice = Literal["fixed", "offered"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drink(Entry):
    """A drink.

    ``price`` is by cup id; ``lid_may_press``: a flat lid may press floating ice under;
    ``overflow_most_share`` is the shop's ``warn_overflow``; ``tax_in_price`` the rate of tax that
    its price holds, ``None`` where nobody said. ``swapped`` is what a guest has instead of what is
    written; of a drink as written, nothing.

    A drink sold hot and iced has a build of each under ``builds``: a drink of its own, ``served``
    "hot" or "iced", in its own cups. Its own ``steps`` and ``swaps`` are then those of both.
    """

    name: Text = key("what the guest orders")
    group: str = key("heading it sorts under", default="")
    cups: tuple[CupRef, ...] = key("the cups it is sold in")
    prices: BySize[Decimal] | None = maybe("price, each cup", "price", within=FROM_0)
    steps: tuple[AddStep | DoStep, ...] = key("the steps in order", "build")
    sweetness_choice: Choice = key("fixed: made one way only", "sweetness", default="offered")
    ice_choice: Choice = key("fixed: made one way only", "ice", default="offered")
    with_less_ice: WithLess | None = maybe(
        "when the ice changes, where this drink differs", was=KEEP
    )
    add_ons: tuple[AddOnRef, ...] = key("add-ons it is offered with", default=())
    swaps: tuple[SwapRef, ...] = key(
        "swaps it is offered with; without this key, every swap of what is in it", default=()
    )
    packaging: tuple[PackagingRef, ...] = key(
        "what it goes out with in place of the size's own, or on top: [wide-straw]", default=()
    )
    first_day: date | None = maybe(
        "first day it is sold, as 2026-12-01, where that is not the edition's", "from"
    )
    last_day: date | None = maybe(
        "last day it is sold: its cards say so; it has none in an edition that begins later",
        "until",
    )
    hours: tuple[HoursOfDay, ...] = key("hours it is sold in: 07:00 to 11:00", default=())
    sold_out: bool = key(SOLD_OUT, default=False)
    tax: Share | None = maybe(
        "its own rate of tax, where it is not the shop's", within=Range("from 0 to 100 %", 0.0, 1.0)
    )
    room_by_ice: bool = key(
        "yes: what add-ons take is a figure for each ice level, else one for all", default=False
    )
    layered: bool = key(
        "yes for a drink served in layers: each liquid lighter than the one under it, not stirred",
        default=False,
    )
    lid_may_press: bool = key("yes when a flat lid may press floating ice under", default=False)
    cautions: tuple[Caution, ...] = key("cautions to print", default=())
    for_children: bool = key("yes for a drink meant for children", default=False)
    allowed_for_children: Mapping[str, str] = key(
        "what a children's drink has all the same, with the reason: {choking: cut small}",
        factory=dict,
    )
    note: Text | None = maybe("a word to the barista")
    price: Mapping[str, Decimal] = field(default_factory=dict)
    sweetness: Sweetness | None = None
    ice: IceLevels | None = None
    add_ons_at_most: int = 0
    hold_back_most_share: float = 0.0
    overflow_most_share: float = 0.05
    tax_in_price: float | None = None
    swapped: tuple[Swap, ...] = ()
    served: Only = ""
    builds: tuple[Drink, ...] = ()

    def linked(self, link: Linker) -> Drink:
        """With its steps in their cups, its prices and the options it offers."""
        if self.first_day and self.last_day and self.last_day < self.first_day:
            link.error(
                "WHEN01",
                self.written("until").span,
                f"'{self.id}' is sold until {self.last_day}, before it begins on {self.first_day}",
                labels=(Label(self.written("from").span, "begins here"),),
            )
        cups = tuple({cup.id: cup for cup in self.cups}.values())
        if not cups:
            if self.says_none("cups"):
                link.error("DRK01", self.at("cups"), f"'{self.id}' names no cup")
            raise Stopped
        drink = replace(self, cups=cups)
        steps = drink._steps(link)
        builds = [drink._build(link, served, of, steps) for served, of in drink._served(link)]
        price = {}
        if self.prices is not None:
            link.known_sizes(self.prices)
            prices = {cup.id: self.prices.get(cup.id) for cup in cups}
            price = {cup_id: given.value for cup_id, given in prices.items() if given}
        options: Options = link.options
        ice = options.ice if self.ice_choice == "offered" else None
        if ice is not None and self.with_less_ice is not None:
            ice = replace(ice, with_less_ice=self.with_less_ice)
        sweetness = options.sweetness if self.sweetness_choice == "offered" else None
        swaps = swaps_of(link, drink, _inside(steps))
        rule = options.add_ons
        drink = replace(
            drink,
            steps=tuple(steps),
            price=price,
            add_ons_at_most=rule.at_most if rule else 0,
            hold_back_most_share=rule.hold_back_most_share if rule else 0.0,
            overflow_most_share=link.shop.overflow_warn_share,
            tax_in_price=link.shop.tax_in_price(self.tax),
        )
        made = []
        for served, of, own in builds:
            inside = _inside(own)
            roles = {component.role for component in inside.values()}
            made.append(
                replace(
                    drink,
                    served=served,
                    cups=of,
                    steps=own,
                    sweetness=sweetness if "sweetener" in roles else None,
                    ice=ice if "ice" in roles else None,
                    swaps=tuple(swap for swap in swaps if swap.replaced.id in inside),
                )
            )
        if len(made) == 1:
            return made[0]
        return replace(
            drink,
            builds=tuple(made),
            swaps=swaps,
            sweetness=next((one.sweetness for one in made if one.sweetness), None),
            ice=next((one.ice for one in made if one.ice), None),
        )

    def in_cup(self, cup: CupSize) -> Drink:
        """The drink as it is built in one of its cups."""
        return next((one for one in self.builds if cup in one.cups), self)

    @property
    def each_build(self) -> tuple[Drink, ...]:
        """Its hot and its iced build; itself where it has one build."""
        return self.builds or (self,)

    def _served(self, link: Linker) -> list[tuple[Only, tuple[CupSize, ...]]]:
        """The cups of each build: of one sold hot and iced, the hot cups and the others."""
        if not any(step.only for step in self.steps):
            return [("", self.cups)]
        for step in self.steps:
            if not _cups_of(step, self.cups):
                where = "with hot: yes" if step.only == "hot" else "but hot ones"
                link.stop(
                    "DRK14",
                    step.at("only"),
                    f"'{self.id}' is sold in no cup {where}, and this step is only for such a cup",
                    hint="add such a cup to cups:, or take the step out",
                    labels=(Label(self.at("cups"), "its cups"),),
                )
        hot = tuple(cup for cup in self.cups if cup.hot)
        iced = tuple(cup for cup in self.cups if not cup.hot)
        builds: list[tuple[Only, tuple[CupSize, ...]]] = [("hot", hot), ("iced", iced)]
        return [(served, cups) for served, cups in builds if cups]

    def is_sold_on(self, day: date) -> bool:
        """Whether its dates allow it on a day."""
        return (self.first_day or day) <= day <= (self.last_day or day)

    def is_sold_between(self, first: date, last: date) -> bool:
        """Whether its dates allow it on any of some days."""
        return (self.first_day or last) <= last and first <= (self.last_day or first)

    def _steps(self, link: Linker) -> list[Step]:
        """The steps in the drink's cups."""
        linked = [
            step.in_drink(link, self) if isinstance(step, AddStep) else step for step in self.steps
        ]
        steps = [step for step in linked if step is not None]
        if len(steps) < len(self.steps):
            raise Stopped
        return steps

    def _build(
        self, link: Linker, served: Only, cups: tuple[CupSize, ...], every: Sequence[Step]
    ) -> tuple[Only, tuple[CupSize, ...], tuple[Step, ...]]:
        """The steps of one build, one of them marked as the one that makes room."""
        named = f"{self.id} ({served})" if served else self.id
        steps: list[Step] = []
        station: Station | None = None
        for step in every:
            if served in ("", step.only or served):
                # An action happens where the step before it did, unless it says otherwise.
                station = step.station or station
                steps.append(replace(step, station=station))
        _vessels_agree(link, named, steps)
        return served, cups, tuple(self._with_room(link, named, steps))

    def _with_room(self, link: Linker, named: str, steps: list[Step]) -> list[Step]:
        """The steps, one of them marked as the one that makes room."""
        added = [(i, step) for i, step in enumerate(steps) if isinstance(step, AddStep)]
        marked = [step for _, step in added if step.makes_room]
        for step in marked:
            if step.component.role != "base":
                message = f"'{step.component.id}' is no base, so it cannot make room in '{named}'"
                hint = "say makes_room: yes at a base, or leave it out"
                link.stop("DRK10", step.at("makes_room"), message, hint)
        if len(marked) > 1:
            message = (
                f"two steps of '{named}' say makes_room: yes; one base makes room for all the rest"
            )
            labels = (Label(marked[0].span, "also here"),)
            link.stop("DRK06", marked[1].span, message, labels=labels)
        if marked:
            return steps
        # Else the last base: any other before a shot, one poured to a line before one of a fixed
        # amount; ``makes_room: no`` excludes a base.
        bases = [
            (step.component.shot is None, step.fill_to is not None, i, step)
            for i, step in added
            if step.component.role == "base" and not step.says("makes_room")
        ]
        if not bases:
            message = f"'{named}' has no base, so nothing can make room for an add-on"
            link.stop("DRK07", self.at("build"), message)
        *_, i, base = max(bases, key=lambda found: found[:3])
        return [*steps[:i], replace(base, makes_room=True), *steps[i + 1 :]]


def _inside(steps: Sequence[Step]) -> dict[str, Component]:
    """What steps add, by id."""
    return {step.component.id: step.component for step in steps if isinstance(step, AddStep)}


def _vessels_agree(link: Linker, drink: str, steps: list[Step]) -> None:
    """What goes into the shaker or the blender must come out of it before the other is used; a
    shake or a blend needs something in it, and a blend a blender."""
    waiting: AddStep | None = None
    for step in steps:
        if isinstance(step, AddStep):
            if step.into != "cup":
                if waiting is not None and waiting.into != step.into:
                    _left_behind(link, drink, waiting)
                waiting = step
        elif (vessel := EMPTIES.get(step.action)) is not None:
            if waiting is None or waiting.into != vessel:
                message = f"'{drink}' says {step.action}, and nothing is in the {vessel}"
                hint = f"add into: {vessel} to the steps before it"
                link.stop("DRK08", step.span, message, hint)
            if vessel == "blender" and (step.station is None or step.station.blender_ml is None):
                at = step.station.id if step.station else "no station"
                message = f"'{drink}' is blended at '{at}', and nothing says what its blender holds"
                hint = "add blender: to the station, with the jug's upper mark: 1200 ml"
                link.stop("DRK12", step.span, message, hint)
            waiting = None
    if waiting is not None:
        _left_behind(link, drink, waiting)


def _left_behind(link: Linker, drink: str, waiting: AddStep) -> None:
    message = f"'{drink}' leaves '{waiting.component.id}' in the {waiting.into}"
    does = [f"do: {action}" for action, vessel in EMPTIES.items() if vessel == waiting.into]
    link.stop("DRK09", waiting.span, message, f"add a step {' or '.join(does)} after it")


_NO_MORE = "if it is sold no more, take it out of this day's sales too"
DrinkRef = Annotated[
    Drink, Ref("drink", "drinks", gone="if it is sold no more, delete this line of the day's sales")
]


@dataclass(frozen=True, slots=True, kw_only=True)
class SalesLine:
    """Expected sales on a day: drink, cup, how many, and of these how many with each add-on and
    each swap.

    Add-ons are told for all sizes together, so that of one size may be a fraction.
    """

    drink: Drink
    cup: CupSize
    count: int
    add_ons: tuple[tuple[AddOn, Fraction], ...] = ()
    swaps: tuple[tuple[Swap, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sale(Record):
    """Expected sales of one drink on one day."""

    drink: DrinkRef = key("the drink")
    count: BySize[int] = key("how many, each cup", within=FROM_0)
    add_ons: Mapping[str, int] = key(
        "how many of all these with each add-on", factory=dict, within=FROM_0
    )
    swaps: Mapping[str, int] = key(
        "how many of all these with each swap", factory=dict, within=FROM_0
    )

    def lines(self, link: Linker) -> list[SalesLine]:
        """One line for each cup of the drink, with its part of the add-ons, which are of all sizes:
        an add-on goes with the sizes that take it as many of them are sold."""
        sold = {cup.id: cup for cup in self.drink.cups}
        for cup_id, span in self.count.places.items():
            link.known(cup_id, span, sold, "cup of this drink", "cups", gone=_NO_MORE)
        given = {cup.id: self.count.get(cup.id) for cup in self.drink.cups}
        counts = {cup_id: count.value for cup_id, count in given.items() if count is not None}
        parts: dict[str, list[tuple[AddOn, Fraction]]] = {cup_id: [] for cup_id in counts}
        offered = {add_on.id: add_on for add_on in self.drink.add_ons}
        spans, what = self.keys_in("add_ons"), "add-on of the drink"
        for id_, wanted in self.add_ons.items():
            if not link.known(id_, spans[id_], offered, what, "add_ons", gone=_NO_MORE):
                continue
            taking = {one: n for one, n in counts.items() if one in offered[id_].amounts}
            cups = sum(taking.values())
            if wanted > cups:
                message = (
                    f"{wanted} of '{id_}' with {cups} '{self.drink.id}' sold in sizes that take "
                    f"it: {wanted - cups} too many"
                )
                link.error("DAY08", spans[id_], message, f"write {cups} or fewer")
            for cup_id, n in taking.items():
                if wanted and n:
                    parts[cup_id].append((offered[id_], Fraction(wanted * n, cups)))
        lines = [
            SalesLine(drink=self.drink, cup=sold[cup_id], count=n, add_ons=tuple(parts[cup_id]))
            for cup_id, n in counts.items()
        ]
        return self._with_swaps(link, lines)

    def _with_swaps(self, link: Linker, lines: list[SalesLine]) -> list[SalesLine]:
        """The lines with those of each swap, spread over the cups as these are sold."""
        offered = {swap.id: swap for swap in self.drink.swaps}
        spans = self.keys_in("swaps")
        of_each: dict[str, int] = {}
        for id, count in self.swaps.items():
            what = "swap of the drink"
            if not link.known(id, spans[id], offered, what, "swaps", gone=_NO_MORE):
                continue
            replaced = offered[id].replaced.id
            taking = [
                (at, line)
                for at, line in enumerate(lines)
                if offered[id] in self.drink.in_cup(line.cup).swaps
            ]
            total = sum(line.count for _, line in taking)
            of_each[replaced] = of_each.get(replaced, 0) + count
            if of_each[replaced] > total:
                link.error(
                    "SWP04",
                    spans[id],
                    f"{of_each[replaced]} of '{self.drink.id}' are made without '{replaced}', and "
                    f"{total} are sold",
                    hint="the count is of all its cups; swaps are among them",
                )
                continue
            sold = 0
            for at, line in taking:
                before = sold * count // total if total else 0
                sold += line.count
                share = (sold * count // total if total else 0) - before
                lines[at] = replace(line, swaps=(*line.swaps, (offered[id], share)))
        return lines


@dataclass(frozen=True, slots=True, kw_only=True)
class Hour(Record):
    """An hour of a day and how many guests come in it, against the other hours."""

    at_minutes: TimeOfDay = key("when it begins, as '12:00'", "at")
    count: float = key("how many guests, or a share of them", within=FROM_0)


@dataclass(frozen=True, slots=True, kw_only=True)
class DaySales(Entry):
    """A day to plan prep for."""

    called: ClassVar[str] = "day"

    name: Text = key("the day in words")
    opens_at_minutes: TimeOfDay = key("opening time, as '09:00'", "opens")
    closes_at_minutes: TimeOfDay = key(
        "closing time, as '20:00'; '02:00' for a night that ends the next day", "closes"
    )
    guests: tuple[Hour, ...] = key(
        "how busy each hour is; without any, the same all day", default=()
    )
    people: tuple[People, ...] = key(
        "whose hands are free for prep, and when; without any, one pair from whenever it takes",
        default=(),
    )
    sales: tuple[Sale, ...] = key("expected sales", default=(), needed=True)
    lines: tuple[SalesLine, ...] = ()
    spread: tuple[Stretch, ...] = ()

    def linked(self, link: Linker) -> DaySales:
        """With one line of sales for each drink and cup, and what share of them falls when."""
        opens, closes = self.opens_at_minutes, self.closes_at_minutes
        if closes <= opens and closes <= LATEST_NIGHT_MIN:
            closes += DAY_MIN
        if closes <= opens:
            early, written = self.written("opens"), self.written("closes")
            message = f"'{self.id}' closes at {written.text}, not after it opens at {early.text}"
            link.error("DAY01", written.span, message)
        lines = [line for sale in self.sales for line in sale.lines(link)]
        spread = self._spread(link, opens, max(closes, opens))
        return replace(self, closes_at_minutes=closes, lines=tuple(lines), spread=spread)

    def _spread(self, link: Linker, opens: int, closes: int) -> tuple[Stretch, ...]:
        """(from, to, share) of the day's sales, even within each."""
        found = []
        for hour in self.guests:
            start = hour.at_minutes + (DAY_MIN if hour.at_minutes + 60 <= opens else 0)
            begins, ends = max(start, opens), min(start + 60, closes)
            if begins < ends:
                found.append((float(begins), float(ends), hour.count))
            else:
                message = (
                    f"'{self.id}' has guests at {clock(hour.at_minutes)[0]}, when it is closed"
                )
                link.error("DAY03", hour.span, message)
        total = sum(weight for *_, weight in found)
        if not total:
            return ((float(opens), float(closes), 1.0),)
        return tuple((begins, ends, weight / total) for begins, ends, weight in sorted(found))
