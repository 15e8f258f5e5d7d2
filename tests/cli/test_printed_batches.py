"""Batches asked for by portions and by stock, judged by the weights that are printed."""

from __future__ import annotations

import re
from typing import Any

import prep_samples as s
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from buildsheets.cli import prep_commands as pc
from buildsheets.cup.errors import FigureError
from buildsheets.menu.model import Batch, Menu

STEPS_G = (0.1, 0.5, 1.0, 5.0)
PART = re.compile(r" *([0-9.]+) g  (part \d|a)(?:  (.*))?")
COUNTED = re.compile(r"([0-9.]+) ml · \S+ +(\d+)")


@st.composite
def kitchens(draw: st.DrawFn) -> tuple[Menu, Batch, float]:
    """A batch of two to five parts on some scale, whole packs or not, and its portion in grams."""
    masses = draw(st.lists(st.floats(1, 3000), min_size=2, max_size=5))
    packs = draw(st.none() | st.floats(50, 1200))
    items = [s.ingredient(f"part-{n}") for n in range(len(masses))]
    if packs is not None:
        items[0] = s.ingredient("part-0", pack=s.pack(packs))
    parts = [
        s.part(item, g, g, words=draw(st.sampled_from(["g", "1 ml"])))
        for item, g in zip(items, masses, strict=True)
    ]
    more: dict[str, Any] = draw(
        st.sampled_from([{}, {"yield_factor": 1.75}, {"yield_factor": 0.9}, {"loss_share": 0.12},
                         {"measured_yield_g": 700.0}, {"measured_yield_ml": 900.0}])
    )  # fmt: skip
    lead = items[0] if packs is not None else None
    batch = s.batch("mix", parts, name="mix", lead=lead, **more)
    portion_g = draw(st.floats(5, 300))
    step = s.add_step(s.component("mix", batch), {"regular": s.amount(portion_g)})
    tools = (s.scale_tool(draw(st.sampled_from(STEPS_G))),)
    return s.menu(drinks=[s.drink("d", [step])], tools=tools), batch, portion_g


def printed(menu: Menu, wish: pc.Wish) -> tuple[list[float], list[str], str]:
    """The weights to the gram and the notes beside them, as the sheet says them, and the sheet."""
    text = pc.scale_batch(menu, "mix", wish).text
    weighed = text.partition("Weigh out\n")[2].partition("\n\n")[0].splitlines()
    found = [PART.fullmatch(line) for line in weighed]
    assert all(found)
    return [float(m[1]) for m in found if m], [m[3] or "" for m in found if m], text


def yield_g(batch: Batch) -> float:
    """Of a full batch, worked out here: densities are 1 g/ml."""
    parts_g = sum(part.mass_g for part in batch.parts)
    measured = batch.measured_yield_g or batch.measured_yield_ml
    return measured or parts_g * batch.yield_factor * (1 - batch.loss_share)


@given(kitchens(), st.integers(1, 200))
def test_the_weights_printed_give_the_portions_asked(
    kitchen: tuple[Menu, Batch, float], wanted: int
) -> None:
    menu, batch, portion_g = kitchen
    weights, notes, text = printed(menu, pc.Wish(portions={"regular": wanted}))
    needed = wanted * portion_g / yield_g(batch)  # of a full batch
    for part, grams, note in zip(batch.parts, weights, notes, strict=True):
        assert grams >= part.mass_g * needed * (1 - 1e-8)
        if ml := re.search(r"([0-9.]+) (ml|l)\b", note):
            assert float(ml[1]) * (1000 if ml[2] == "l" else 1) >= part.mass_g * needed * (1 - 1e-8)
    counted = COUNTED.search(text)
    assert counted is not None
    assert int(counted[2]) >= wanted
    if batch.lead is not None:  # in whole packs, and not one too many
        packs = weights[0] / batch.lead.pack.quantity  # type: ignore[union-attr]
        needs = needed * batch.parts[0].mass_g / batch.lead.pack.quantity  # type: ignore[union-attr]
        assert packs == pytest.approx(round(packs), abs=6 / 50)  # a step of 5 g of the smallest
        assert round(packs) - needs < 1 + 1e-8


@given(kitchens(), st.data())
def test_the_weights_printed_are_there(kitchen: tuple[Menu, Batch, float], data: Any) -> None:
    menu, batch, _ = kitchen
    named = data.draw(st.sets(st.sampled_from([part.item.id for part in batch.parts]), min_size=1))
    have = {id_: data.draw(st.floats(1, 9000)) for id_ in sorted(named)}
    try:
        weights, notes, _ = printed(menu, pc.Wish(stock_g=have))
    except FigureError as refused:
        assume("wants" not in refused.reason)
        raise
    for part, grams, note in zip(batch.parts, weights, notes, strict=True):
        there = have.get(part.item.id, 1e9)
        assert grams <= there * (1 + 1e-8)
        if ml := re.search(r"([0-9.]+) (ml|l)\b", note):
            assert float(ml[1]) * (1000 if ml[2] == "l" else 1) <= there * (1 + 1e-8)


def test_a_size_that_drinks_take_differently_is_asked_for_at_its_largest() -> None:
    # 7 smalls of 60 g and of 40 g: whichever is poured, 7 x 60 g of 1000 g are there.
    base = s.component("mix", s.batch("mix", [s.part(s.ingredient("a"), 1000)], name="mix"))
    drinks = [s.drink(f"d{g}", [s.add_step(base, {"regular": s.amount(g)})]) for g in (40, 60)]
    weights, _, _ = printed(s.menu(drinks=drinks), pc.Wish(portions={"regular": 7}))
    assert weights == [420.0]
