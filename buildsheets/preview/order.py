"""What a page's form says in; the order it means, its cup drawn and its figures, out."""

from __future__ import annotations

import base64
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from buildsheets.cup.errors import FigureError
from buildsheets.cup.fit import default_choice
from buildsheets.cup.serving import Choice, Serving, StepFigure
from buildsheets.cup.swaps import swap_sets
from buildsheets.menu.model import AddOn, AddStep, CupSize, Drink, Menu, Swap
from buildsheets.prep.cost import DrinkCost, Prices
from buildsheets.print.cup_drawing import DrawnCup, drawn_cup
from buildsheets.print.fonts import advance_mm
from buildsheets.print.layouts import Layouts
from buildsheets.print.templates import environment
from buildsheets.views import rounding
from buildsheets.views.addons import too_much
from buildsheets.views.allergens import allergens_of_order, cautions_with, drink_cautions
from buildsheets.views.build import what_of
from buildsheets.views.cup_drawing import drawing
from buildsheets.views.words import Words

CUP_MM, CUP_HIGH_MM, BESIDE_MM, LINE_MM = 58.0, 90.0, 40.0, 6.0
"""Of the drawing on the page: the largest cup, the room beside it, a line of its labels."""
LETTERS_PT = 12.0

Asked = Mapping[str, Sequence[str]]
"""The values of a form by the names of its fields."""


@dataclass(frozen=True, slots=True)
class Order:
    """A drink in a cup as it was asked for; ``left_out`` are ids that do not go together with the
    rest, or that the drink is not offered with."""

    drink: Drink
    cup: CupSize
    choice: Choice
    left_out: tuple[str, ...] = ()


def read_order(menu: Menu, asked: Asked) -> Order | None:
    """The order a form means: what it does not say, or what is not offered, is as usual."""
    drinks = [one for one in menu.drinks.values() if menu.sells(one)]
    if not drinks:
        return None
    drink = next((one for one in drinks if one.id == _one(asked, "drink")), drinks[0])
    cup = next((one for one in drink.cups if one.id == _one(asked, "size")), drink.cups[0])
    drink = drink.in_cup(cup)
    usual = default_choice(drink)
    levels = {percent(one): one for one in (drink.sweetness.levels if drink.sweetness else ())}
    ice = _one(asked, "ice")
    offered = [one.id for one in drink.add_ons if cup.id in one.amounts]
    add_ons = [one for one in offered if one in asked.get("add", ())]
    swaps: tuple[str, ...] = ()
    possible = [{one.id for one in some} for some in swap_sets(drink)]
    for swap in drink.swaps:
        if swap.id in asked.get("swap", ()) and {*swaps, swap.id} in possible:
            swaps = (*swaps, swap.id)
    wanted = [*asked.get("add", ()), *asked.get("swap", ())]
    add_ons = add_ons[: drink.add_ons_at_most]
    choice = Choice(
        levels.get(_one(asked, "sweetness"), usual.sweetness),
        ice if drink.ice and ice in drink.ice.levels else usual.ice,
        tuple(add_ons),
        swaps,
    )
    return Order(drink, cup, choice, tuple(one for one in wanted if one not in (*add_ons, *swaps)))


def _one(asked: Asked, name: str) -> str:
    return next(iter(asked.get(name, ())), "")


def percent(level: float) -> str:
    """A sweetness as the form's value: 50."""
    return f"{100 * level:g}"


@dataclass(frozen=True, slots=True)
class OrderStep:
    """A step as it is done for one order: how much, of what or what is done, how, and where what
    is seen in the cup stands then."""

    amount: str
    what: str
    more: str
    level: str


@dataclass(frozen=True, slots=True)
class Figured:
    """An order in words: how it comes out, its figures by name, its steps, its cup drawn."""

    fits: bool
    verdict: str
    figures: tuple[tuple[str, str], ...]
    allergens: tuple[str, ...]  # of all, then of the drink and each add-on that brings any
    cautions: tuple[str, ...]
    steps: tuple[OrderStep, ...]
    cup: str  # a data address
    cup_words: str


def figured(
    menu: Menu, servings: Sequence[Serving], order: Order, words: Words, layouts: Layouts
) -> Figured | str:
    """The order worked out; or, in words, why it cannot be."""
    usual = next(
        (one for one in servings if (one.drink.id, one.cup.id) == (order.drink.id, order.cup.id)),
        None,
    )
    if usual is None:
        return words("preview_no_such_order")
    try:
        serving = usual.choices[order.choice]
    except FigureError as refused:
        return str(refused)
    picture = drawing(menu, serving, words)
    drawn = drawn_cup(
        picture, CUP_MM, CUP_HIGH_MM, layouts.tokens()["colour"]["ink"],
        lambda _: LINE_MM, lambda text: advance_mm(text, LETTERS_PT),
    )  # fmt: skip
    return Figured(
        serving.verdict != "too-much",
        verdict(serving, words),
        tuple(_figures(menu, serving, words)),
        tuple(_allergens(menu, serving, words)),
        cautions_with([drink_cautions(serving)], _extras(serving), words),
        tuple(_step(serving, one, words) for one in serving.steps if not one.idle),
        _picture(drawn),
        picture.alt,
    )


def _step(serving: Serving, figure: StepFigure, words: Words) -> OrderStep:
    step, used, seen_ml = figure.step, figure.used, figure.state.seen_ml
    level = rounding.level(words, seen_ml) if seen_ml > 0.0 else ""
    amount, more = "", []
    if isinstance(step, AddStep):
        number, unit, how = rounding.measured(figure, words)
        lined = used is not None and used.to_line_ml is not None
        amount = " ".join([words("to_line")] * lined + [number, unit])
        more = [words(step.into) if step.into != "cup" else "", how]
    elif step.seconds and step.action not in ("shake", "blend"):  # what says so itself
        more = [words("seconds", s=round(step.seconds))]
    more.append(words.text(step.note) if step.note else "")
    return OrderStep(amount, what_of(serving, figure, words), " · ".join(filter(None, more)), level)


def _extras(serving: Serving) -> list[AddOn | Swap]:
    """What the guest has added or swapped."""
    return [*serving.added, *serving.drink.swapped]


def _allergens(menu: Menu, serving: Serving, words: Words) -> Iterator[str]:
    """What the order brings, its swaps and add-ons with it, then what of it each part brings."""
    line, parts = allergens_of_order(menu, serving, words)
    yield line
    for one, told in parts:
        if isinstance(one, AddOn):
            yield words("preview_with", add_on=words.name(one), allergens=told)
        else:
            yield f"{words.drink(one)}: {told}"


def verdict(serving: Serving, words: Words) -> str:
    """Whether a serving fits, and by how much."""
    if serving.verdict == "too-much":
        return too_much(serving, words)
    if serving.verdict == "lid-pressed":
        return words("preview_pressed")
    return words("preview_fits", room=rounding.prep_volume(words, serving.final.room_ml))


def _figures(menu: Menu, serving: Serving, words: Words) -> list[tuple[str, str]]:
    state = serving.final
    spread = serving.choices.spread(serving.choice)
    found = [
        (words("preview_top"), rounding.level(words, state.top_ml)),
        (words("preview_limit"), rounding.level(words, serving.working_ml)),
    ]
    if serving.held_back_ml:
        less = rounding.prep_volume(words, serving.held_back_ml)
        found.append((words("preview_less"), less))
    if spread.p_over is not None:
        found.append((words("preview_share_over"), words.percent(spread.p_over)))
    names = map(words, ("prep_cost", "prep_price", "prep_margin"))
    return [*found, *zip(names, money(Prices().drink(serving), menu, words), strict=True)]


def money(cost: DrinkCost, menu: Menu, words: Words) -> tuple[str, ...]:
    """Cost, price and margin in the shop's currency."""
    unknown = words("prep_unknown")
    return tuple(
        unknown if amount is None else words.money(amount, menu.shop.currency)
        for amount in (cost.cost.rounded, cost.price, cost.margin)
    )


def _picture(cup: DrawnCup) -> str:
    """The drawing with its names as one picture, since a page's style has no places of its own."""
    svg = environment(Layouts()).get_template("preview/cup.svg").render(
        cup=cup, beside_mm=BESIDE_MM, line_mm=LINE_MM
    )  # fmt: skip
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode("ascii")
