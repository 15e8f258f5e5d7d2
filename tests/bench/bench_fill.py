"""How long it takes to figure every combination a guest can order, and how that grows.

Run it: ``python tests/bench/bench_fill.py``. It needs nothing but the package; one core is used.
The menu is made up: drinks like those of a shop, 300 of them in four cups, about 200,000
combinations. The aim is less than 5 s.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Any

from buildsheets.cup.scan import figure, scan
from buildsheets.findings.finding import Span
from buildsheets.menu.model import (
    AddOn,
    AddStep,
    Amount,
    Component,
    CupShape,
    CupSize,
    DoStep,
    Drink,
    IceLevels,
    LineTo,
    Sweetness,
    Text,
    Tool,
    Written,
)

AIM_S = 5.0
HERE = Span("bench.yaml", 1, 1, 1, 1)
NAME = Text({"": "x"})
SHAPES = {
    "mini": (50.0, 77.0, 82.0),
    "small": (55.0, 84.0, 94.0),
    "medium": (58.0, 91.0, 114.0),
    "large": (63.0, 96.0, 138.0),
}


def cup(id: str) -> CupSize:
    shape = CupShape(frustum=SHAPES[id])
    return CupSize(
        id=id, name=NAME, shape=shape, floor_mm=3.0, headspace_mm=5.0, lid="flat", span=HERE
    )


CUPS = {id: cup(id) for id in SHAPES}
SHARE = {"mini": 0.5, "small": 0.7, "medium": 1.0, "large": 1.4}
PUMP = Tool(id="pump", name=NAME, kind="pump", unit="count", step=0.5, holds_ml=5.0, span=HERE)
JUG = Tool(id="jug", name=NAME, kind="jug", unit="ml", step=5.0, span=HERE)
SCOOP = Tool(id="scoop", name=NAME, kind="scoop", unit="count", step=0.5, holds_g=40.0, span=HERE)


def component(id: str, role: str, behaves: str, density: float, tool: Tool | None) -> Component:
    return Component(
        id=id,
        role=role,
        behaves=behaves,
        name=NAME,
        density_g_ml=density,
        density_origin="made up",
        bulk_density_g_ml=0.6 * density if behaves == "settled" else None,
        packing=0.55 if behaves == "ice" else None,
        overrun_pct=60.0 if behaves == "floated" else 0.0,
        temperature_c=0.0 if behaves == "ice" else 5.0,
        tool=tool,
        span=HERE,
    )


SYRUP = component("syrup", "sweetener", "liquid", 1.25, PUMP)
ICE = component("ice", "ice", "ice", 0.9167, SCOOP)
MILK = component("milk", "base", "liquid", 1.03, JUG)
TEA = component("tea", "base", "liquid", 1.0, JUG)
PEARLS = component("pearls", "topping", "settled", 1.1, SCOOP)
CAP = component("cap", "topping", "floated", 1.0, None)


def amounts(grams: float, per_ml: float = 1.0) -> dict[str, Amount | LineTo]:
    said = Written("", HERE)
    return {id: Amount(grams * s, grams * s / per_ml, None, said) for id, s in SHARE.items()}


def add(what: Component, grams: float, into: Any = "cup", makes_room: bool = False) -> AddStep:
    made = amounts(grams, what.density_g_ml)
    return AddStep(
        component=what, amounts=made, into=into, tool=what.tool, makes_room=makes_room, span=HERE
    )


def do(action: Any, pour: Any = "") -> DoStep:
    return DoStep(action=action, pour=pour, span=HERE)


def to_line(line_ml: float) -> AddStep:
    made: dict[str, Amount | LineTo] = {
        id: LineTo(5.0 * round(line_ml * s / 5.0), None, Written("", HERE))
        for id, s in SHARE.items()
    }
    return AddStep(component=TEA, amounts=made, tool=JUG, makes_room=True, span=HERE)


def add_on(number: int) -> AddOn:
    what, grams = (PEARLS, 20.0 + 8.0 * number) if number % 3 else (CAP, 15.0 + number)
    made = {id: a for id, a in amounts(grams).items() if isinstance(a, Amount)}
    return AddOn(id=f"add-{number}", name=NAME, component=what, amounts=made, span=HERE)


def drink(number: int, add_ons: int, sweet_levels: int) -> Drink:
    """Every third poured to a line, every third with a cap, every third shaken."""
    sweet = 40.0 + number % 7
    opening = [add(SYRUP, sweet), add(ICE, 110.0), add(MILK, 70.0)]
    steps: list[AddStep | DoStep]
    if number % 3 == 0:
        steps = [*opening, to_line(425.0), do("stir"), do("lid")]
    elif number % 3 == 1:
        steps = [add(PEARLS, 50.0), *opening, to_line(370.0), add(CAP, 25.0), do("lid")]
    else:
        shaken = [add(SYRUP, sweet, "shaker"), add(MILK, 60.0, "shaker")]
        tea = add(TEA, 170.0, "shaker", makes_room=True)
        steps = [*shaken, tea, add(ICE, 110.0, "shaker"), do("shake", "dumped"), do("lid")]
    levels = tuple(i / (sweet_levels - 1) for i in range(sweet_levels))
    return Drink(
        id=f"drink-{number}",
        name=NAME,
        cups=tuple(CUPS.values()),
        steps=tuple(steps),
        sweetness=Sweetness(levels=levels, default=1.0, with_less_sweet="more_base", span=HERE),
        ice=IceLevels(
            levels={"none": 0.0, "less": 0.5, "regular": 1.0},
            default="regular",
            with_less_ice="same_line",
            span=HERE,
        ),
        add_ons=tuple(add_on(n) for n in range(add_ons)),
        add_ons_at_most=2,
        hold_back_most_share=0.45,
        lid_may_press=False,
        span=HERE,
    )


def measured(drinks: int, add_ons: int, sweet_levels: int) -> tuple[int, dict[str, int], float]:
    """(combinations, verdicts and held-back counts, seconds) of a menu of this size."""
    menu: Sequence[Drink] = [drink(n, add_ons, sweet_levels) for n in range(drinks)]
    counts = {"fits": 0, "held back": 0, "too-much": 0}
    start = time.perf_counter()
    for one in menu:
        for size in one.cups:
            for outcome in scan(one, size).outcomes:
                counts[outcome.verdict] += 1
                counts["held back"] += outcome.held_back_ml > 0.0
    return counts["fits"] + counts["too-much"], counts, time.perf_counter() - start


def main() -> None:
    unfit = [s.id for s in CUPS.values() if figure(drink(1, 0, 5), s).verdict == "too-much"]
    print(f"default build of drink-1 does not fit: {unfit or 'nowhere'}")
    print(f"{'drinks':>7}{'add-ons':>9}{'sweet':>7}{'combinations':>14}{'fit':>9}{'held':>9}"
          f"{'not':>8}{'s':>8}{'us each':>9}")  # fmt: skip
    last = 0.0
    for drinks, add_ons, sweet in [
        (30, 4, 5), (75, 4, 5), (150, 4, 5), (300, 4, 5), (100, 0, 5), (100, 2, 5), (100, 8, 5),
        (100, 4, 11), (300, 4, 5),
    ]:  # fmt: skip
        number, counts, seconds = measured(drinks, add_ons, sweet)
        last = seconds
        print(
            f"{drinks:>7}{add_ons:>9}{sweet:>7}{number:>14,}{counts['fits']:>9,}"
            f"{counts['held back']:>9,}{counts['too-much']:>8,}{seconds:>8.2f}"
            f"{1e6 * seconds / number:>9.1f}"
        )
    print(f"300 drinks in 4 cups: {last:.2f} s, aim {AIM_S:.0f} s")


if __name__ == "__main__":
    main()
