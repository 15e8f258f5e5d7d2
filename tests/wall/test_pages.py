"""A step of a phone page says what the step of its card says, in the card's own words."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

import pytest
from menu_samples import check_once
from wall_cards import Wall
from wall_pages import Section
from wall_shops import drawn

from buildsheets.pipeline import Checked
from buildsheets.views.types import StepView

MENUS = Path(__file__).parent / "menus"


def lists(wall: Wall) -> Iterator[tuple[tuple[StepView, ...], set[int], Section]]:
    """The steps of each build card and of each row of a station card, the numbers of those whose
    amount depends on the order, and what their page says of them."""
    for card in wall.build.values():
        (section,) = wall.page(card)
        yield card.steps, {table.step for table in card.amounts}, section
    for one in (one for cards in wall.station.values() for one in cards):
        for row, section in zip(one.rows, wall.page(one), strict=True):
            yield row.adds, {table.step for table in row.amounts}, section


def told(wall: Wall) -> int:
    """How many steps there are, each told on its page as on its card."""
    words, count = wall.words, 0
    for steps, depends, section in lists(wall):
        for step, shown in zip(steps, section.steps, strict=True):
            line = step.kind == "line"
            said = [words("usually", state="").strip()] if step.number in depends else []
            said += [words("to_line")] * line
            assert shown.get("to", "") == (" ".join(said) if step.amount else ""), step
            assert ("a line" in shown) == line  # boxed
            assert shown.get("m", "") == joined(" · ", step.tool, step.note)
            instead = [
                joined(
                    " · ",
                    words("or_swap", what=joined(" ", one.amount, one.unit, one.name)),
                    one.tool,
                    one.note,
                )
                for one in step.swaps
            ]
            assert shown["o"] == "\n".join(instead)
            assert ("vessel" in shown) == bool(step.vessel)
            count += 1
    for card in wall.build.values():
        (section,) = wall.page(card)
        plates = [shown["p"] for shown in section.steps if "p" in shown]
        vessels = [vessel for vessel, _ in groupby(step.vessel for step in card.steps) if vessel]
        assert plates == vessels
    return count


def joined(between: str, *texts: str) -> str:
    return between.join(filter(None, texts))


@pytest.mark.parametrize("menu", ["espresso", "swaps", "hot-and-iced", "blended"])
@pytest.mark.parametrize("language", ["en", "de"])
def test_a_page_tells_a_step_as_its_card_does(menu: str, language: str) -> None:
    assert told(Wall.of(check_once(MENUS / f"{menu}.yaml"), language)) > 10


@pytest.mark.parametrize("shop", [drawn(seed) for seed in range(2, 8)], ids=range(2, 8))
def test_so_does_a_page_of_a_drawn_shop(shop: Checked) -> None:
    assert told(Wall.of(shop)) > 3


def test_what_is_under_a_step_stands_before_what_may_be_had_instead() -> None:
    """So that weights stand with the name they are of."""
    wall = Wall.of(check_once(MENUS / "espresso.yaml"))
    shots = [
        step
        for card in wall.build.values()
        for step in wall.page(card)[0].steps
        if "Decaf" in step["o"]
    ]
    assert shots
    for step in shots:
        names = list(step)
        assert names.index("m") > names.index("w")
        assert "m" in names[: names.index("om")]
