"""The law of the wall over shops of every shape: what the cards tell is what was figured.

The demo in one size, a shop of each shape and some drawn ones here; every order of all sizes and
languages, and some hundred drawn shops, among the slow tests.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path

import pytest
from command_samples import DEMO
from menu_samples import check_once
from wall_cards import Wall, orders
from wall_law import breaks
from wall_shops import SHAPES, drawn

from buildsheets.cli import plain_data, told
from buildsheets.cli.explain_results import explained as explained_build
from buildsheets.pipeline import Checked
from buildsheets.wall.reading import Told, build_card, visits

MENUS = sorted((Path(__file__).parent / "menus").glob("*.yaml"))
SHOWN = 5  # breaks in the message of a failing test


def kept(checked: Checked, language: str = "") -> int:
    """How many orders there are, all of which get from the cards what was figured."""
    assert not checked.stopped
    wall, found, count = Wall.of(checked, language), [], 0
    for serving in wall.servings:
        for choice in orders(serving):
            count += 1
            found += breaks(wall, serving, choice)
            assert len(found) < SHOWN, "\n".join(found)
    assert found == []
    return count


@pytest.mark.parametrize("shape", SHAPES)
def test_a_shop_of_another_shape_keeps_it(shape: str) -> None:
    assert kept(drawn(1, **SHAPES[shape])) >= 10


@pytest.mark.parametrize("menu", MENUS, ids=lambda path: path.stem)
def test_the_menus_that_went_wrong_once_keep_it(menu: Path) -> None:
    assert kept(check_once(menu)) > 50


@pytest.mark.parametrize("seed", range(2, 7))
def test_a_drawn_shop_keeps_it(seed: int) -> None:
    assert kept(drawn(seed)) > 0


def test_explain_tells_what_the_cards_tell() -> None:
    """For each order, step by step, and with the figures beside it in the same fields."""
    path = next(one for one in MENUS if one.stem == "corner")
    checked = check_once(path)
    wall, count = Wall.of(checked), 0
    assert checked.menu is not None
    ids = {one.letter: one.id for one in checked.menu.stations.values()}

    def by_id(steps: Iterable[Told]) -> list[object]:
        return [{**asdict(one), "station": ids.get(one.station, "")} for one in steps]

    explained = told.Wall.of(checked.menu, checked.servings, path)
    for serving in wall.servings:
        for choice in orders(serving):
            data = plain_data.told(explained_build(serving.drink, serving.cup, choice, explained))
            wish, figures = wall.wish(serving, choice), data["steps"]
            assert data["order"]["add_ons"] == list(choice.add_ons)
            if data["verdict"] == "too-much":
                assert all(card["instead"] for card in data["cards"])
                continue
            build, *stays = data["cards"]
            card = wall.build[serving.drink.id, serving.cup.id]
            assert build["steps"] == by_id(build_card(card, wish, wall.words))
            passed = visits(wall.station[serving.cup.id], wish, wall.words)
            assert [stay["steps"] for stay in stays] == [by_id(visit.steps) for visit in passed]
            assert [stay["station"] for stay in stays] == [
                ids[visit.card.station.letter] for visit in passed
            ]
            for ours, theirs in zip(figures, build["steps"], strict=True):
                assert (ours["amount"] is None) == (theirs["amount"] is None)
                if ours["amount"] is not None:
                    assert ours["amount"] == pytest.approx(theirs["amount"], abs=0.5)
                count += 1
    assert count > 1500


@pytest.mark.slow
@pytest.mark.parametrize("language", ["en", "es"])
def test_the_whole_demo_keeps_it(language: str) -> None:
    assert kept(check_once(DEMO), language) > 2000


@pytest.mark.slow
@pytest.mark.parametrize("shape", SHAPES)
def test_many_shops_of_a_shape_keep_it(shape: str) -> None:
    assert sum(kept(drawn(seed, **SHAPES[shape])) for seed in range(2, 8)) > 90


@pytest.mark.slow
@pytest.mark.parametrize("first", range(1000, 1080, 8))
def test_eighty_drawn_shops_keep_it(first: int) -> None:
    assert sum(kept(drawn(seed)) for seed in range(first, first + 8)) > 400
