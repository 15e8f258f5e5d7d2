"""Batch cards: what is weighed, what it gives, and what the reader must know."""

from __future__ import annotations

from typing import Any

import prep_samples as s

from buildsheets.menu.model import Batch, LineTo, Tool
from buildsheets.menu.volumes import FLUID_OUNCES
from buildsheets.prep.batch_card import batch_figures, every_batch
from buildsheets.print.layouts import Layouts
from buildsheets.views.batch import batch_card

EN = Layouts(None).words("en")
DE = Layouts(None).words("de")


def cap(**given: Any) -> Batch:
    can = s.ingredient(
        "condensed-milk", density_g_ml=1.29, contains=["milk"], pack=s.pack(397, "g")
    )
    cream = s.ingredient("cream", density_g_ml=1.006, contains=["milk"], keeps_for=s.keeps(days=2))
    values: dict[str, Any] = {
        "lead": can,
        "overrun_pct": 60.0,
        "loss_share": 0.04,
        "keeps_for": s.keeps(days=3, at_c=4.0),
        "scales": {"full": 1.0, "half": 0.5},
        "steps": (
            s.batch_step("Whisk", 90, speed="low", tool=s.scale_tool()),
            s.batch_step("Chill", temperature_c=4.0),
        ),
        "bowl_ml": 2000.0,
        "cross_contact": ("nuts",),
        **given,
    }
    parts = [
        s.part(can, 397, 397 / 1.29, packs="1", words="1 pack"),
        s.part(cream, 503, 500.0, words="500 ml"),
    ]
    return s.batch("cap", parts, name="Cream cap", **values)


def card(batch: Batch, factor: float = 1.0, words: Any = EN) -> Any:
    top = s.component("cap", batch, behaves="floated", overrun_pct=60.0)
    drink = s.drink("tea", [s.add_step(top, {"regular": s.amount(40, 64)})])
    menu = s.menu(drinks=[drink])
    return batch_card(menu, batch_figures(menu, batch, factor, {}), "half", words)


def test_parts_in_grams_with_packs_and_volume_beside() -> None:
    view = card(cap())
    assert [(p.amount, p.unit, p.what, p.note) for p in view.parts] == [
        ("397", "g", "condensed milk", "1 pack · whole packs only"),
        ("503", "g", "cream", "500 ml"),
    ]
    half = card(cap(), 0.5)
    assert half.parts[0].amount == "199"  # 198.5 g on a scale of 1 g, half up
    assert half.parts[0].note == "0.5 packs · whole packs only"
    assert half.parts[1].note == "250 ml"
    assert (half.scale, half.factor) == ("half", "× 0.5")


def test_yield_loss_and_air_are_shown() -> None:
    view = card(cap())
    # (307.8 + 500) ml x 1.6 x 0.96 = 1240.7 ml; 900 g x 0.96 = 864 g
    assert view.gives == "1.24 l · 864 g"
    assert view.figures == ("Yield worked out", "36 g (4%) stays behind", "Air 60%")


def test_measured_and_taken_up() -> None:
    pearls = s.batch("p", [s.part(s.ingredient("dry"), 500)], measured_yield_g=1000.0)
    view = card(pearls)
    assert view.figures[:2] == ("Yield measured", "500 g (100%) of water taken up")


def test_missing_density_is_named() -> None:
    leaf = s.ingredient("leaf", density_g_ml=None, name="Tea leaf")
    view = card(s.batch("brew", [s.part(leaf, 20), s.part(s.ingredient("water"), 400)], brew=leaf))
    assert view.gives == "420 g"
    assert "ml not computed: no density for Tea leaf" in view.figures
    assert "Brew ratio 1 : 20" in view.figures


def test_portions_and_scales_as_tables() -> None:
    view = card(cap())
    assert view.portions.rows == (("40 g · regular", "21", "24 g"),)
    assert view.scaling.header == ("", "full", "half")
    assert view.scaling.rows[0] == ("condensed milk", "397", "199")
    assert view.scaling.rows[-1] == ("Gives", "864 g", "432 g")
    assert card(cap(scales={"full": 1.0})).scaling is None


def test_portions_of_many_weights_are_told_a_size_at_a_time() -> None:
    """864 g give 21 portions of 40 g and 14 of 60 g."""
    top = s.component("cap", batch := cap(), behaves="floated", overrun_pct=60.0)
    weights = range(40, 61)
    drinks = [
        s.drink(f"tea-{g}", [s.add_step(top, {"regular": s.amount(g, 1.6 * g)})]) for g in weights
    ]
    menu = s.menu(drinks=drinks)
    view = batch_card(menu, batch_figures(menu, batch, 1.0, {}), "full", EN)
    assert view.portions is not None
    assert view.portions.rows == (("40 – 60 g · regular", "14 – 21", ""),)


def portions_of(component: Any, step: Any, poured: Any = ()) -> Any:
    batch = component.source
    menu = s.menu(drinks=[s.drink("tea", [step])])
    return batch_card(menu, batch_figures(menu, batch, 1.0, dict(poured)), "full", EN).portions


def test_portions_are_told_as_their_tool_measures_them() -> None:
    """1000 g of 1 g/ml give 54 ladles of 18.2 ml, and 1½ fl oz where 1.6 are written: 44.36 g, 22
    times. What is weighed goes up to the scale's 13 g, 76 times; a line's 161 g to 165 ml, six
    times."""
    tea = s.batch("tea", [s.part(s.ingredient("leaf"), 1000)])
    ladle = Tool(
        id="ladle", name=s.text("ladle"), one=s.text("ladle"), many=s.text("ladles"), kind="ladle",
        unit="count", step=1.0, holds_ml=18.2, span=s.SPAN,
    )  # fmt: skip
    ounces = FLUID_OUNCES["us_customary"]
    jug = Tool(
        id="jug", name=s.text("jug"), kind="jug", unit="ml", marks=ounces, step=ounces.step_ml,
        span=s.SPAN,
    )  # fmt: skip
    base, top = s.component("tea", tea), s.component("tea", tea, behaves="floated")
    amounts = {"regular": s.amount(18.2)}
    (row,) = portions_of(base, s.add_step(base, amounts, tool=ladle)).rows
    assert row == ("1 ladle · regular", "54", "17 g")
    (row,) = portions_of(
        base, s.add_step(base, {"regular": s.amount(1.6 * 29.5735)}, tool=jug)
    ).rows
    assert row == ("1½ fl oz · regular", "22", "24 g")
    weighed = {"regular": s.amount(12.3)}
    for tool in (None, s.scale_tool()):
        (row,) = portions_of(top, s.add_step(top, weighed, tool=tool)).rows
        assert row == ("13 g · regular", "76", "12 g")
    (row,) = portions_of(top, s.add_step(top, weighed, tool=s.scale_tool(0.1))).rows
    assert row == ("12.3 g · regular", "81", "3 g")
    line: Any = {"regular": LineTo(300.0, None, s.written())}
    poured = {("tea", "regular", "tea"): 161.0}
    (row,) = portions_of(base, s.add_step(base, line), poured).rows
    assert row == ("165 ml · regular", "6", "10 g")


def test_steps_with_time_speed_temperature_and_tool() -> None:
    view = card(cap())
    assert [(x.number, x.what, x.setting) for x in view.steps] == [
        (1, "Whisk", "90 s · low speed · scale"),
        (2, "Chill", "4 °C"),
    ]


def test_bowl_check_is_said() -> None:
    assert "Bowl 2 l: rises to 1.29 l, fits" in card(cap()).equipment
    assert "Bowl 1 l: make in 2 loads" in card(cap(bowl_ml=1000.0)).equipment


def test_allergens_with_their_paths_and_cross_contact() -> None:
    view = card(cap())
    assert view.allergens.contains == ("milk",)
    assert view.allergens.may_contain == ("nuts",)
    assert view.paths == ("milk: condensed milk, cream",)
    assert any("allergy order" in line for line in view.cautions)


def test_keeping_says_temperature_day_one_the_earlier_part_and_cooling() -> None:
    assert card(cap()).keeps == (
        "3 days at 4 °C or colder.",
        "The day it is made is day 1.",
        "cream keeps 2 days once opened: the earliest date counts.",
        "Chill to 5 °C within 4 h.",
    )


def test_time_control_is_said() -> None:
    warm = cap(keeps_for=s.keeps(hours=4, at_c=20.0))
    assert card(warm).keeps == (
        "4 h at 20 °C.",
        "Out of the cold and the heat: throw out before 4 h are up. It never goes back.",
    )
    unsaid = ("At most 7 days, cold.", "Chill to 5 °C within 4 h.")
    assert card(cap(keeps_for=None)).keeps == unsaid


def test_cards_of_every_batch_at_every_scale_in_another_language() -> None:
    batch = cap()
    menu = s.menu(batches=[batch])
    found = {
        scale: batch_card(menu, figures, scale, DE) for scale, figures in every_batch(menu, {})
    }
    assert {scale: view.scale for scale, view in found.items()} == {"full": "ganz", "half": "halb"}
    assert {view.title for view in found.values()} == {"Cream cap"}
    assert found["full"].portions is None
    assert found["full"].figures[0] == "Ausbeute gerechnet"
