"""What prep commands found goes in; the records that their JSON tells come out, with their keys.

Figures keep their full precision. A record's own fields are its keys unless ``KEYS`` says more.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from buildsheets.cli.plain_data import KEYS
from buildsheets.cup.allergens import AllergenReport, Trace
from buildsheets.cup.serving import Serving
from buildsheets.menu.model import AddOn, Drink, Swap
from buildsheets.prep import log, scaling
from buildsheets.prep.batch_card import BatchFigures
from buildsheets.prep.batches import PartFigure, Portion, Stored
from buildsheets.prep.buying import Order, Purchase
from buildsheets.prep.cost import CostPart, DrinkCost
from buildsheets.prep.dayplan import Change, DayPlan
from buildsheets.prep.keeping import Keeping, Limit
from buildsheets.prep.makings import BatchPlan, Load, Making, Timed
from buildsheets.prep.nutrition import Facts
from buildsheets.prep.sales import NotSold
from buildsheets.prep.scaling import Packs
from buildsheets.prep.stock import End, OnHand, Stock
from buildsheets.prep.yields import BowlLoads


def order_keys(at: str = "") -> str:
    """The keys of an order, of the serving that a field leads to."""
    return (
        f"drink={at}drink cup={at}cup sweetness_share={at}choice.sweetness ice={at}choice.ice "
        f"add_ons={at}choice.add_ons swaps={at}choice.swaps"
    )


KEYS[Serving] = order_keys()

ALLERGENS = "contains=report.contains may_contain=report.may_contain undeclared=report.undeclared"
KEYS[Trace] = "path because"
KEYS[NotSold] = "id=what why because"

# plan, buy, labels, log


@dataclass(frozen=True, slots=True)
class Planned:
    """A day's plan: g and ml (of a heap, its ml with the gaps), times in minutes of the day.

    ``needs`` are its purchases less what is on hand, ``helps`` the changes after which it can be
    done; ``left_out`` is what of the counts is not counted on.
    """

    plan: DayPlan
    needs: Sequence[Purchase]
    helps: Sequence[Change]
    left_out: Sequence[LeftOut]

    @property
    def runs(self) -> tuple[Run, ...]:
        return tuple(Run(one, self.plan.gives(one)) for one in self.plan.makings)

    @property
    def loads(self) -> tuple[Load, ...]:
        return tuple(sorted(self.plan.loads, key=lambda load: load.order))

    @property
    def not_in_time(self) -> tuple[Late, ...]:
        return tuple(Late(one) for one in self.plan.loads if not one.in_time)

    @property
    def most_hands(self) -> Hands:
        return Hands(*self.plan.most_hands, bool(self.plan.day.people))

    @property
    def batches(self) -> tuple[Par, ...]:
        opens = self.plan.opens_min
        return tuple(
            Par(one, one.ready(opens), self.plan.stored(one, one.ready(opens)))
            for one in self.plan.batches
        )


KEYS[Planned] = (
    "day=plan.day on=plan.on opens_min=plan.opens_min closes_min=plan.closes_min "
    "components=plan.components runs loads not_in_time helps most_hands ice_g=plan.ice_g "
    "purchases=needs batches unknown=plan.unknown not_planned=plan.not_planned "
    "not_sold=plan.not_sold any_date=plan.any_date left_out"
)


@dataclass(frozen=True, slots=True)
class Run:
    """A making of a batch in one or more loads."""

    making: Making
    gives: Stored

    @property
    def loads(self) -> int:
        return len(self.making.loads)


KEYS[Run] = (
    "batch=making.batch number=making.number start_min=making.start_min ready_min=making.ready_min "
    "until_min=making.until_min factor=making.figure.factor needed_batches=making.share loads "
    "yield=gives"
)
KEYS[Stored] = "mass_g volume_ml=room_ml heap_g_ml"
KEYS[Load] = (
    "batch number of start_min ready_min from_min until_min late_min factor=figure.factor "
    "parts=figure.parts steps=timed"
)
KEYS[Timed] = (
    "do=step.step.text start_min until_min hands_min=step.hands_min from_c=step.from_c "
    "to_c=step.to_c ice_g=step.ice_g known=step.known on=step.step.on"
)
KEYS[PartFigure] = "item=part.item exact_g weigh_g volume_ml share"


@dataclass(frozen=True, slots=True)
class Late:
    """A load that is not done when it is needed, and what it waits for."""

    load: Load

    @property
    def waits_for(self) -> list[str]:
        return [thing or "hands" for thing in self.load.waits_for]


KEYS[Late] = (
    "batch=load.batch number=load.number needed_min=load.from_min late_min=load.late_min waits_for"
)


@dataclass(frozen=True, slots=True)
class Hands:
    """The most hands that are busy at once; ``people_written`` is whether the day says whose are
    free."""

    busy: int
    there: int
    at_min: int
    people_written: bool


@dataclass(frozen=True, slots=True)
class Par:
    """How much of a batch a day takes, is ready when it opens, and is left."""

    of: BatchPlan
    ready_batches: float
    ready: Stored


KEYS[Par] = (
    "batch=of.batch day_batches=of.share from_stock_batches=of.from_stock ready_batches ready "
    "left_batches=of.left_share carries_over=of.carries_over"
)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """What of a count is not counted on, and why."""

    have: OnHand
    end: End


KEYS[LeftOut] = (
    "id=have.item amount=end.amount unit=have.unit why=end.why at=end.at until=end.until"
)
KEYS[Purchase] = (
    "ingredient mass_g=weighed_g pieces packs=packs.count left_over=packs.left_over "
    "unit=packs.unit cost on_hand=have.usable counted=have.written counted_at=have.counted_at"
)
KEYS[Order] = "supplier cost without_price=unpriced lines"


def left_out(on_hand: Stock) -> list[LeftOut]:
    """What of the counts is not counted on."""
    return [LeftOut(have, end) for have in on_hand.values() for end in have.left_out]


@dataclass(frozen=True, slots=True)
class Ordered:
    """What to order for some days by supplier, and what is on hand in full."""

    days: Sequence[str]
    on: Sequence[date]
    orders: Sequence[Order]
    enough: Sequence[Purchase]
    left_out: Sequence[LeftOut]


@dataclass(frozen=True, slots=True)
class Labelled:
    """Until when each thing may be used, with every limit; ``assumed`` are parts whose age nothing
    says."""

    labels: Sequence[Keeping]
    assumed: Sequence[str]


KEYS[Keeping] = "item prepared_at discard_at last_day kept_at_c=at_c limits"
KEYS[Limit] = "at last_day because path"


@dataclass(frozen=True, slots=True)
class Logged:
    """What was written down now, what the log has in use and on hand, and the counts that are no
    amount of anything on the menu."""

    written: Sequence[log.Entry]
    in_use: Sequence[log.InUse]
    on_hand: Sequence[OnHand]
    not_on_hand: Sequence[log.Entry]


KEYS[log.Entry] = "id event at use_by as_written=amount"
KEYS[log.InUse] = (
    "item=id event=entry.event at=entry.at until frozen_on use_by=entry.use_by assumed why"
)
KEYS[OnHand] = "item counted_at as_written=written amount unit usable left_out"

# costs, facts, allergens, batch


@dataclass(frozen=True, slots=True)
class Costs:
    """Cost, price and margin of each serving, and where a pack cost something else."""

    what_if: WhatIf | None
    servings: Sequence[Costed]


@dataclass(frozen=True, slots=True)
class WhatIf:
    """Another price of a pack."""

    id: str
    pack_price: Decimal


@dataclass(frozen=True, slots=True)
class Costed:
    """A serving's cost now, and then."""

    now: DrinkCost
    then: DrinkCost | None


KEYS[DrinkCost] = (
    f"{order_keys('serving.')} cost=cost.rounded packaging=packaging.rounded price "
    "tax_share=tax_in_price net_price margin margin_share missing_prices parts"
)
KEYS[CostPart] = "component mass_g cost=cost.rounded"


@dataclass(frozen=True, slots=True)
class Nutrition:
    """What is in each serving, exact and as it is rounded on a label under some rules."""

    rules: str
    servings: Sequence[Nutrients]


@dataclass(frozen=True, slots=True)
class Amount:
    """An amount in the unit its key ends with; ``null`` with what it is not known of."""

    value: float | None
    missing: tuple[str, ...]
    label: float | None = None
    label_less_than: bool = False


@dataclass(frozen=True, slots=True)
class Nutrients:
    """What is in a serving."""

    serving: Serving
    facts: Facts
    rules: str

    @property
    def amounts(self) -> Mapping[str, Amount]:
        label = self.facts.label(self.rules)
        found = {}
        for name, one in self.facts.amounts.items():
            rounded = label.get(name)
            printed = () if rounded is None else (float(rounded.amount), rounded.less_than)
            found[name] = Amount(one.value, one.missing, *printed)
        return found


KEYS[Nutrients] = (
    f"{order_keys('serving.')} amounts brix=facts.brix caffeine_mg_per_l=facts.caffeine_mg_per_l "
    "liquid_ml=facts.liquid_ml"
)


@dataclass(frozen=True, slots=True)
class Allergens:
    """Every drink, alone and with each set of swaps, and every add-on."""

    sold: Sequence[AllergensOf]


@dataclass(frozen=True, slots=True)
class AllergensOf:
    """What a drink or an add-on contains, may contain, and of what nobody declared it, each with
    the ids that lead there; nothing else is said of what stands in neither."""

    what: Drink | AddOn
    report: AllergenReport

    @property
    def kind(self) -> Literal["drink", "add-on"]:
        return "drink" if isinstance(self.what, Drink) else "add-on"

    @property
    def served(self) -> str:
        return self.what.served if isinstance(self.what, Drink) else ""

    @property
    def swaps(self) -> tuple[Swap, ...]:
        return self.what.swapped if isinstance(self.what, Drink) else ()


KEYS[AllergensOf] = f"kind id=what served swaps {ALLERGENS}"


@dataclass(frozen=True, slots=True)
class Scaled:
    """A batch at a scale: parts, packs, yield, loss, bowl, containers and portions."""

    figures: BatchFigures
    scaling: scaling.Scaling
    container_ml: float | None

    @property
    def packs(self) -> tuple[Packs, ...]:
        return scaling.purchase(self.figures.figure)

    @property
    def gives(self) -> Stored:
        return self.figures.gives(self.figures.figure)

    @property
    def containers(self) -> Containers | None:
        figured, heap = self.figures.figure, self.figures.heap_g_ml
        each_ml = self.container_ml
        return Containers(*scaling.containers(figured, each_ml, heap)) if each_ml else None


KEYS[Scaled] = (
    "batch=figures.batch factor=figures.figure.factor wish=scaling.wish "
    "limited_by=scaling.limited_by parts=figures.figure.parts packs "
    "parts_g=figures.figure.parts_g whipped_ml=figures.figure.whipped_ml "
    "loss_g=figures.figure.loss_g basis=figures.figure.basis yield=gives "
    "missing_densities=figures.figure.missing bowl=figures.bowl containers "
    "portions=figures.portions"
)
KEYS[BowlLoads] = "room_ml=usable_ml loads largest_factor=largest_scale"
KEYS[Portion] = "component cup mass_g count left_over_g"
KEYS[Packs] = "item count=need.count unit=need.unit left_over=need.left_over"


@dataclass(frozen=True, slots=True)
class Containers:
    """How many are filled, and what is in the last."""

    count: int
    last_ml: float
