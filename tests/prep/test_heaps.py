"""Litres of what settles are litres of its heap, wherever they are said, filled or bought."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

import menu_samples as m
import prep_samples as s
import pytest

from buildsheets.cli import prep_commands as pc
from buildsheets.cli.plain_data import told
from buildsheets.cli.prep_results import Planned, Scaled
from buildsheets.cli.prep_text import sheet_text
from buildsheets.menu.model import Batch, Menu, Tool
from buildsheets.pipeline import Checked
from buildsheets.prep.batch_card import batch_figures
from buildsheets.prep.batches import Stored, figure_batch, heap_g_ml
from buildsheets.prep.cost import Costs, Prices
from buildsheets.prep.dayplan import DayPlan, plan_day
from buildsheets.prep.log import Entry
from buildsheets.prep.scaling import containers, for_containers, for_factor
from buildsheets.prep.stock import counted, stock
from buildsheets.print.layouts import Layouts
from buildsheets.views import rounding
from buildsheets.views.batch import batch_card
from buildsheets.views.sheets import cost_sheet, prep_sheet

MORNING = datetime(2026, 6, 7, 8, tzinfo=UTC)
PIECE, HEAP = 1.2, 0.6
"""g/ml, invented: half of the heap is gaps."""


def words(language: str = "en") -> Any:
    return Layouts(None).words(language)


def cooked(**given: Any) -> Batch:
    """500 g that cook up to 1200 g: 1 l of pieces, 2 l of heap."""
    dry = s.ingredient("dry", density_g_ml=PIECE)
    return s.batch("pearls", [s.part(dry, 500)], **{"yield_factor": 2.4, **given})


JUG = Tool(id="jug", name=s.text("jug"), kind="jug", unit="ml", step=5.0, span=s.SPAN)


def kitchen(
    batch: Batch, *, behaves: str = "settled", tool: Tool | None = JUG, there_g: float = 0.0
) -> tuple[Menu, DayPlan]:
    """A menu that pours 60 g of it into a cup, and the plan of a day with ten of them."""
    bulk = HEAP if behaves == "settled" else None
    top = s.component("pearls", batch, behaves=behaves, density_g_ml=PIECE, bulk_density_g_ml=bulk)
    drink = s.drink("tea", [s.add_step(top, {"regular": s.amount(60, 100)}, tool=tool)])
    menu = s.menu(drinks=[drink])
    used = [type("Used", (), {"component": top, "mass_g": 60.0, "volume_ml": 100.0})]
    serving: Any = type("Serving", (), {"used": used})
    sold, there = s.day([s.sold(drink, 10)]), {batch.id: there_g} if there_g else {}
    return menu, plan_day(menu, sold, {("tea", "regular"): serving}, there)


def test_the_plan_says_heap_litres_where_it_says_litres() -> None:
    menu, plan = kitchen(cooked(scales={"full": 1.0}, keeps_for=s.keeps(days=2)))
    text = sheet_text(prep_sheet(menu, plan, words()))
    # made: 1200 g / 0.6 = 2 l; sold: 10 x 60 g / 0.6 = 1 l; 1 l is left
    assert "2 l heaped · 1200 g" in text
    ready = text.partition("To have ready")[2]
    assert ready.count("1 l heaped") == 2
    assert "2 l heaped · 1200 g" in ready
    (run,) = told(Planned(plan, (), (), ()).runs)
    assert run["yield"]["volume_ml"] == pytest.approx(2000.0)
    assert run["yield"]["heap_g_ml"] is not None


def row(text: str, table: str) -> list[str]:
    """The cells of the first row of a table."""
    return re.split("  +", text.partition(f"{table}\n")[2].splitlines()[1])


def test_the_plan_says_grams_of_what_is_weighed() -> None:
    batch = cooked(scales={"full": 1.0}, keeps_for=s.keeps(days=2))
    menu, plan = kitchen(batch, tool=s.scale_tool())
    text = sheet_text(prep_sheet(menu, plan, words()))
    assert "heaped" not in text
    assert "1200 g" in text.partition("Weigh out")[0]
    assert row(text, "To have ready") == ["pearls", "1200 g", "600 g"]  # 10 x 60 g are sold
    assert row(text, "Left at closing")[1] == "600 g"
    (run,) = told(Planned(plan, (), (), ()).runs)
    assert run["yield"]["volume_ml"] == pytest.approx(2000.0)  # as before, for programs


def test_stock_of_what_takes_no_known_room_is_told_in_grams() -> None:
    dry = s.ingredient("dry", density_g_ml=None)
    batch = s.batch("pearls", [s.part(dry, 500)], scales={})
    menu, plan = kitchen(batch, behaves="liquid", there_g=400.0)
    there = stock(menu, [Entry(MORNING, "counted", "pearls", amount="400 g")])
    text = sheet_text(prep_sheet(menu, plan, words(), on_hand=there))
    assert row(text, "To have ready") == ["pearls", "400 g", "600 g", "400 g"]


def test_what_is_poured_has_no_heap() -> None:
    menu, plan = kitchen(cooked(density_g_ml=PIECE), behaves="liquid")
    assert "heaped" not in sheet_text(prep_sheet(menu, plan, words()))
    assert heap_g_ml(menu.components.values(), menu.batches["pearls"]) is None


def test_the_card_and_its_json_and_the_costs_say_heap_litres() -> None:
    menu, _ = kitchen(cooked())
    figures = batch_figures(menu, menu.batches["pearls"], 0.5, {})
    assert batch_card(menu, figures, "half", words()).gives == "1 l heaped · 600 g"
    assert told(Scaled(figures, for_factor(0.5), None))["yield"]["volume_ml"] == pytest.approx(
        1000.0
    )
    costs = sheet_text(cost_sheet(menu, Costs([], batches=Prices().batches(menu)), words()))
    assert "2 l heaped · 1200 g" in costs


def test_containers_are_filled_by_the_heap() -> None:
    full = figure_batch(cooked())  # 2 l of heap
    assert containers(full, 750.0, HEAP) == (3, pytest.approx(500.0))
    assert for_containers(cooked(), 3, 1000.0, HEAP).factor == pytest.approx(1.5)
    menu, _ = kitchen(cooked())
    made = pc.scale_batch(menu, "pearls", pc.Wish(containers=4, container_ml=500.0)).text
    assert made.startswith("pearls · × 1\n")


def test_a_heap_measured_by_the_jug_without_a_density_is_heap_litres_already() -> None:
    dry = s.ingredient("dry", density_g_ml=None)
    menu, plan = kitchen(s.batch("pearls", [s.part(dry, 500)], measured_yield_ml=2000.0, scales={}))
    text = sheet_text(prep_sheet(menu, plan, words()))
    assert plan.batches[0].share == pytest.approx(0.5)  # 10 x 100 ml of heap of 2 l
    assert "1 l heaped" in text


@pytest.mark.parametrize(
    ("own", "need_ml", "tubs", "cost_of_one"),
    [
        (None, 1000.0, 2, 1.00),  # 10 x 60 g of heap, where 500 ml of solid pieces would need one
        (0.9, 600.0 / 0.9, 1, 60.0 / 0.9 / 100),  # the tub says itself what a litre of it weighs
    ],
)
def test_packs_in_ml_of_what_settles_hold_its_heap_or_what_they_say(
    own: float | None, need_ml: float, tubs: int, cost_of_one: float
) -> None:
    jelly = s.ingredient("jelly", pack=s.pack(700, "ml", "7.00"), density_g_ml=own)
    top = s.component("jelly", jelly, behaves="settled", density_g_ml=PIECE, bulk_density_g_ml=HEAP)
    drink = s.drink("tea", [s.add_step(top, {"regular": s.amount(60, 100)})])
    used = [type("Used", (), {"component": top, "mass_g": 60.0, "volume_ml": 100.0})]
    serving: Any = type("Serving", (), {"used": used})
    menu = s.menu(drinks=[drink])
    plan = plan_day(menu, s.day([s.sold(drink, 10)]), {("tea", "regular"): serving})
    (one,) = plan.purchases
    assert one.packs is not None
    assert (one.packs.need, one.packs.count) == (pytest.approx(need_ml), tubs)
    cost = Prices().component(top, 60.0).exact
    assert cost is not None
    assert float(cost) == pytest.approx(cost_of_one)  # of 700 ml for 7.00


@pytest.mark.parametrize(
    ("language", "said"),
    [("en", "1.9 l heaped"), ("es", "1,9 l a granel"), ("fr", "1,9 l en vrac"),
     ("de", "1,9 l geschüttet")],
)  # fmt: skip
def test_in_four_languages(language: str, said: str) -> None:
    assert rounding.stored(words(language), Stored(1140.0, 950.0, 0.6)) == said
    assert rounding.stored(words(language), Stored(None, None)) == ""


def test_the_loosest_heap_counts() -> None:
    batch = cooked()
    pours = [
        s.component(f"p{bulk}", batch, behaves="settled", bulk_density_g_ml=bulk)
        for bulk in (0.7, 0.6)
    ]
    assert heap_g_ml(pours, batch) == 0.6


def float_shop(heap: float, *, vanilla: str = "", ball: str = "cautions: []") -> Checked:
    """The sample menu, whose tall cup also has a float of 110 g of ice cream of 0.55 g/ml."""
    sold = "pack: {quantity: 5 l, price: 20.00}"
    drink = """  float:
    name: Float
    cups: [tall]
    price: 5.00
    build:
      - {add: plain-milk, amount: 250 ml}
      - {add: ball, amount: 2 scoops}
"""
    return m.check_texts(
        m.edited(
            {"menu.yaml": m.SMALL},
            (
                "ingredients:\n",
                f"ingredients:\n  vanilla: {{name: Ice, contains: [milk], {sold}, {vanilla}}}\n",
            ),
            (
                "toppings:\n",
                "toppings:\n  ball: {from: vanilla, behaves: swimming, density: 0.55 g/ml, "
                f"bulk_density: {heap} g/ml, tool: dipper, station: bar, {ball}}}\n",
            ),
            (
                "  pump: {",
                "  dipper: {name: dipper, kind: scoop, step: 1 scoop, holds: 55 g}\n  pump: {",
            ),
            ("  shaken:\n", f"{drink}  shaken:\n"),
            ("      - {drink: shaken, count: 4}\n", "      - {drink: float, count: 15}\n"),
        )
    )


@pytest.mark.parametrize(
    ("heap", "vanilla", "need_ml"),
    [
        (0.4, "", 4125.0),  # 15 x 110 g / 0.4: pieces with their gaps
        (0.55, "", 3000.0),  # 15 x 110 g / 0.55: no gaps
        (0.4, "density: 0.55 g/ml, density_source: 2.75 kg in 5 l", 3000.0),  # as the tub says
    ],
)
def test_a_tub_of_ice_cream_has_no_gaps(heap: float, vanilla: str, need_ml: float) -> None:
    shop = float_shop(heap, vanilla=vanilla)
    menu = shop.menu
    assert menu is not None, m.said(shop.findings)
    servings = {(one.drink.id, one.cup.id): one for one in reversed(shop.servings)}
    (tub,) = (
        one
        for one in plan_day(menu, menu.days["busy"], servings).purchases
        if one.ingredient.id == "vanilla"
    )
    assert tub.packs is not None
    assert tub.packs.need == pytest.approx(need_ml)
    costs = Prices().drink(servings["float", "tall"]).parts
    (ball,) = (one.cost.exact for one in costs if one.component.id == "ball")
    assert ball is not None
    assert float(ball) == pytest.approx(need_ml / 15 * 20 / 5000)
    have = counted(menu, Entry(MORNING, "counted", "vanilla", amount="1.65 kg"))
    assert have.amount == pytest.approx(need_ml)


def test_pieces_without_gaps_stand_in_the_drink_as_one_body() -> None:
    """Archimedes: 110 g push away 106.7 ml of milk of 1.031 g/ml; of 200 ml, 93.3 stand out."""
    (one,) = (one for one in float_shop(0.55).servings if one.drink.id == "float")
    levels = one.steps[-1].state
    assert levels.liquid_level_ml == pytest.approx(250 + 110 / 1.031, abs=0.1)
    assert levels.ice_top_ml == pytest.approx(250 + 200, abs=0.1)


def test_a_heap_heavier_than_its_pieces_is_refused() -> None:
    (wrong,) = (one for one in float_shop(0.56).findings if one.code == "DEN04")
    assert "a heap of 'ball' cannot weigh 0.56 g/ml when its pieces weigh 0.55" in wrong.message


@pytest.mark.parametrize(
    ("vanilla", "ball", "found"),
    [
        ("", "", True),
        ("", "cautions: []", False),
        ("cautions: [caffeine]", "cautions: []", False),  # what the source carries stays on cards
        ("", "cautions: [alcohol]", True),  # says nothing of choking
    ],
)
def test_cautions_that_are_none_say_that_somebody_looked(
    vanilla: str, ball: str, found: bool
) -> None:
    shop = float_shop(0.4, vanilla=vanilla, ball=ball)
    told = [one.subject for one in shop.findings if one.code == "CAU02"]
    assert told == ([("ball",)] if found else [])
    assert shop.menu is not None
    assert ("caffeine" in shop.menu.components["ball"].cautions) == ("caffeine" in vanilla)
