"""The law of the wall over shops of every shape: what the cards tell is what was figured.

The demo in one size, a shop of each shape and some drawn ones here; every order of all sizes and
languages, and some hundred drawn shops, among the slow tests.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from command_samples import DEMO
from wall_law import Wall, breaks, orders
from wall_shops import SHAPES, drawn

from buildsheets.pipeline import Checked, check

MENUS = sorted((Path(__file__).parent / "menus").glob("*.yaml"))
SHOWN = 5  # breaks in the message of a failing test


def kept(checked: Checked, language: str = "", cups: tuple[str, ...] = ()) -> int:
    """How many orders there are, all of which get from the cards what was figured."""
    assert not checked.stopped
    wall, found, count = Wall.of(checked, language), [], 0
    for serving in wall.servings:
        if cups and serving.cup.id not in cups:
            continue
        for choice in orders(serving):
            count += 1
            found += breaks(wall, serving, choice)
            assert len(found) < SHOWN, "\n".join(found)
    assert found == []
    return count


def test_the_demo_keeps_the_law_in_the_middle_size() -> None:
    assert kept(check(DEMO), cups=("medium", "hot")) > 800


@pytest.mark.parametrize("shape", SHAPES)
def test_a_shop_of_another_shape_keeps_it(shape: str) -> None:
    assert kept(drawn(1, **SHAPES[shape])) >= 10


@pytest.mark.parametrize("menu", MENUS, ids=lambda path: path.stem)
def test_the_menus_that_went_wrong_once_keep_it(menu: Path) -> None:
    assert kept(check(menu)) > 50


@pytest.mark.parametrize("seed", range(2, 14))
def test_a_drawn_shop_keeps_it(seed: int) -> None:
    assert kept(drawn(seed)) > 0


@pytest.mark.slow
@pytest.mark.parametrize("language", ["en", "es"])
def test_the_whole_demo_keeps_it(language: str) -> None:
    assert kept(check(DEMO), language) > 2000


@pytest.mark.slow
@pytest.mark.parametrize("shape", SHAPES)
def test_many_shops_of_a_shape_keep_it(shape: str) -> None:
    assert sum(kept(drawn(seed, **SHAPES[shape])) for seed in range(2, 12)) > 150


@pytest.mark.slow
@pytest.mark.parametrize("tens", range(20))
def test_some_hundred_drawn_shops_keep_it(tens: int) -> None:
    seeds = range(1000 + 10 * tens, 1010 + 10 * tens)
    assert sum(kept(drawn(seed)) for seed in seeds) > 500
