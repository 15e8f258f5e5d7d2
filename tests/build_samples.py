"""Invented drinks for the tests of the build engine, single ones and by hypothesis strategies."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import prep_samples as s
from hypothesis import strategies as st

from buildsheets import api
from buildsheets.cup.serving import Serving
from buildsheets.cup.steps import cup_of
from buildsheets.menu.model import (
    AddOn,
    AddStep,
    Amount,
    Component,
    CupSize,
    DoStep,
    Drink,
    IceLevels,
    LineTo,
    Sweetness,
    Tolerance,
    Tool,
)

CUP = s.cup("regular")
WORKING = api.frustum(58, 91, 114).working_ml(headspace_mm=5)

SYRUP = s.component("syrup", None, role="sweetener", density_g_ml=1.3, temperature_c=20.0)
TEA = s.component("tea", None, temperature_c=5.0)
MILK = s.component("milk", None, density_g_ml=1.03, temperature_c=5.0)
ICE = s.component(
    "ice", None, role="ice", behaves="ice", density_g_ml=0.9167, packing=0.55, temperature_c=-2.0
)
PEARLS = s.component(
    "pearls", None, role="topping", behaves="settled", density_g_ml=1.1, bulk_density_g_ml=0.66
)
CREAM = s.component("cream", None, role="topping", behaves="floated", overrun_pct=80.0)
COCOA = s.component("cocoa", None, role="topping", behaves="dusted")


def per_ml(what: Component) -> float:
    """Grams in a ml as it is measured out: bulk of beds and ice, aerated of caps."""
    if what.behaves == "settled":
        return what.bulk_density_g_ml or 1.0
    if what.behaves == "ice":
        return what.density_g_ml * (what.packing or 1.0)
    return what.density_g_ml / (1.0 + what.overrun_pct / 100.0)


def tool(unit: str = "ml", step: float = 5.0, holds: float | None = None, **given: Any) -> Tool:
    """A measuring tool; with ``holds`` one that is counted and holds so many grams."""
    tolerance: Tolerance | None = given.get("tolerance")
    counted = holds is not None
    return Tool(
        id="tool",
        name=s.text("tool"),
        kind="scoop" if counted else "jug",
        unit="count" if counted else unit,
        step=step,
        holds_g=holds,
        tolerance=tolerance,
        span=s.SPAN,
    )


def made(what: Component, amount: float) -> Amount:
    """ml of a liquid, g of all else, as the linker makes it."""
    grams = amount * what.density_g_ml if what.behaves == "liquid" else amount
    return Amount(grams, grams / per_ml(what), None, s.written(f"{amount:g}"))


def add(what: Component, amount: float, **given: Any) -> AddStep:
    return s.add_step(what, {"regular": made(what, amount)}, **given)


def to_line(what: Component, line_ml: float, **given: Any) -> AddStep:
    line = LineTo(line_ml, None, s.written(f"{line_ml:g} ml"))
    return s.add_step(what, {"regular": line}, makes_room=True, **given)  # type: ignore[dict-item]


def do(action: str, pour: str = "") -> DoStep:
    return DoStep(action=action, pour=pour, span=s.SPAN)  # type: ignore[arg-type]


def add_on(what: Component, amount: float, id: str = "extra") -> AddOn:
    amounts = {"regular": made(what, amount)}
    return AddOn(id=id, name=s.text(id), component=what, amounts=amounts, span=s.SPAN)


def sweetness(with_less: str = "more_base", default: float = 1.0, top: float = 1.0) -> Sweetness:
    levels = sorted({0.0, 0.25, 0.5, 0.75, 1.0, default, top})
    values: dict[str, Any] = {"levels": tuple(levels), "with_less_sweet": with_less}
    return Sweetness(default=default, span=s.SPAN, **values)


def ice_levels(with_less: str = "same_line", default: str = "regular") -> IceLevels:
    shares = {"none": 0.0, "less": 0.5, "regular": 1.0}
    names = {k: s.text(k) for k in shares}
    values: dict[str, Any] = {"levels": shares, "names": names, "with_less_ice": with_less}
    return IceLevels(default=default, span=s.SPAN, **values)


def drink(*steps: AddStep | DoStep, **given: Any) -> Drink:
    values: dict[str, Any] = {
        "cups": (CUP,), "sweetness": sweetness(), "ice": ice_levels(),
        "hold_back_most_share": 0.5, "lid_may_press": False,
    }  # fmt: skip
    return s.drink("sample", steps, **{**values, **given})  # type: ignore[arg-type]


def api_items(serving: Serving) -> list[Any]:
    """An unshaken serving's steps as items of the public functions, from the amounts it used.

    An action adds nothing: it stands as 0 g of dust.
    """
    items: list[Any] = []
    for figure in serving.steps:
        used = figure.used
        if used is None:
            items.append(api.Dusted(0.0))
            continue
        what = used.component
        if what.behaves == "liquid":
            items.append(api.Liquid(used.mass_g / what.density_g_ml, what.density_g_ml))
        elif what.behaves == "settled":
            assert what.bulk_density_g_ml is not None
            items.append(api.Bed(used.mass_g, what.density_g_ml, what.bulk_density_g_ml))
        elif what.behaves == "ice":
            assert what.packing is not None
            items.append(api.Ice(used.mass_g, what.density_g_ml, what.packing))
        elif what.behaves == "floated":
            items.append(api.Cap(used.mass_g, what.density_g_ml, what.overrun_pct))
        else:
            items.append(api.Dusted(used.mass_g))
    return items


def cup(size: CupSize = CUP) -> api.Cup:
    return cup_of(size.shape)


def amount_of(serving: Serving, id: str) -> float:
    """ml of a liquid or g of anything else that a serving uses of a component."""
    used = [u for u in serving.used if u.component.id == id]
    liquid = used[0].component.behaves == "liquid"
    return sum(u.mass_g / (u.component.density_g_ml if liquid else 1.0) for u in used)


@st.composite
def drinks(draw: st.DrawFn, *, shaken: bool | None = None, full: bool = False) -> Drink:
    """A plausible drink: made in the cup to a line or by amounts, or shaken; any policies.

    ``full``: near the brim, so that a choice often needs base held back.
    """
    least = 190 if full else 20

    def grams(low: float, high: float) -> float:
        return round(draw(st.floats(low, high)), 1)

    pump, jug = (
        draw(st.sampled_from([None, tool(step=5.0)])),
        draw(st.sampled_from([None, tool(step=5.0), tool(step=10.0)])),
    )
    scoop = draw(st.sampled_from([None, tool(step=0.5, holds=40.0)]))
    opening: list[AddStep | DoStep] = [add(SYRUP, grams(0, 60), tool=pump)]
    if draw(st.booleans()):
        opening.insert(0, add(PEARLS, grams(5, 80), tool=scoop))
    ice = add(ICE, grams(0, 180), tool=scoop)
    milk = add(MILK, grams(0, 120), tool=jug)
    steps: list[AddStep | DoStep]
    if draw(st.booleans()) if shaken is None else shaken:
        pour = draw(st.sampled_from(["strained", "dumped"]))
        steps = [
            *opening[:-1],
            add(SYRUP, grams(0, 60), tool=pump, into="shaker"),
            add(TEA, grams(least, 280), tool=jug, into="shaker", makes_room=True),
            add(ICE, grams(0, 200), tool=scoop, into="shaker"),
            do("shake", pour),
        ]
    elif draw(st.booleans()):
        line = 5.0 * draw(st.integers(85 if full else 40, 95))
        steps = [*opening, ice, milk, to_line(TEA, line, tool=jug)]
    else:
        steps = [*opening, ice, milk, add(TEA, grams(least, 280), tool=jug, makes_room=True)]
    if draw(st.booleans()):
        steps.append(add(CREAM, grams(5, 40)))
    steps.append(do("lid"))
    return drink(
        *steps,
        sweetness=sweetness(draw(st.sampled_from(["more_base", "same_amounts"]))),
        ice=ice_levels(draw(st.sampled_from(["same_line", "same_amounts"]))),
        hold_back_most_share=draw(st.sampled_from([0.0, 0.3, 0.5, 1.0])),
        add_ons=(add_on(PEARLS, 40.0, "more-pearls"), add_on(CREAM, 30.0, "more-cream")),
    )


def permuted(steps: Sequence[AddStep | DoStep], order: Sequence[int]) -> list[AddStep | DoStep]:
    return [steps[i] for i in order]
