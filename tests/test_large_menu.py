"""A menu of eighty drinks: every kind of card is printed and proofed; each part says what is on it.

Reading back: a drink stands on one part of a card, parts follow the menu's order, and each names
its own drinks and those of its neighbours.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from bench.large_menu import write
from print.pdf_reading import page_texts

from buildsheets import output
from buildsheets.menu.model import Menu
from buildsheets.pipeline import check
from buildsheets.print.layouts import Layouts
from buildsheets.print.printing import Press, render_all
from buildsheets.print.render import Printed
from buildsheets.views.card import Card
from buildsheets.views.types import Foot, GaugeStripView

DRINKS = 80
CODE = "X-12345-X"


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> tuple[Menu, tuple[Card, ...]]:
    found = check(write(tmp_path_factory.mktemp("large") / "menu", DRINKS, sizes=2))
    assert found.menu is not None
    assert not found.stopped
    return found.menu, output.cards(found.menu, found.servings, Layouts(None))


def printed(menu: Menu, card: Card, **changes: Any) -> Printed:
    """The card as a print run makes it, proofed."""
    foot = Foot(code=CODE, qr_payload=CODE)
    view = replace(card.view, code=CODE, foot=foot, **changes)
    press = Press(output.render_options(menu, Layouts(None)), workers=1)
    made, _ = render_all({"one": Card(card.key, view)}, output._proofing(press))
    assert made["one"].sound, made["one"].findings
    return made["one"]


def check_parts(pages: Sequence[str], names: Sequence[str], head_ends: str) -> None:
    """Whether each part has its run of the drinks, says so, and says what its neighbours have."""
    own = []
    for text in pages:
        head, _, body = text.replace("\xa0", " ").partition(head_ends)
        flat = " ".join(body.split())
        there = [name for name in names if re.search(rf"{re.escape(name)}\b(?! \d\b)", flat)]
        own.append((" ".join(head.split()), there))
    assert [name for _, there in own for name in there] == list(names)
    for number, (head, there) in enumerate(own, 1):
        assert f"card {number} of {len(own)}" in head
        assert f"on this card: {_span(there)}" in head
        for near in {number - 1, number + 1} & set(range(1, len(own) + 1)):
            assert f"card {near}: {_span(own[near - 1][1])}" in head


def _span(names: Sequence[str]) -> str:
    return " – ".join(dict.fromkeys((names[0], names[-1])))


@pytest.mark.slow
def test_station_rows_and_matrix_are_split_by_drink(
    large: tuple[Menu, tuple[Card, ...]],
) -> None:
    menu, cards = large
    station = next(c for c in cards if (c.key.subject, c.key.cup) == ("finish", "medium"))
    names = dict.fromkeys(row.drink.partition(" · ")[0] for row in station.view.rows)
    pages = page_texts(printed(menu, station).pdf)
    assert len(pages) > 16
    check_parts(pages, [*names], "Arrives at")
    matrix = next(c for c in cards if c.key.kind == "allergens")
    names = dict.fromkeys(row.name for row in matrix.view.rows)
    pages = page_texts(printed(menu, matrix).pdf)
    assert len(pages) > 5
    check_parts(pages, [*names], "menu's order")


@pytest.mark.slow
def test_a_strip_has_all_lines_of_a_drink_on_one_card(
    large: tuple[Menu, tuple[Card, ...]],
) -> None:
    menu, cards = large
    card = next(c for c in cards if (c.key.kind, c.key.cup) == ("gauge", "medium"))
    view = card.view
    assert isinstance(view, GaugeStripView)
    pages = page_texts(printed(menu, card, reading_distance_mm=900.0).pdf)
    assert len(pages) > 1
    check_parts(pages, [drink for drink, *_ in view.by_drink], "rim ·")


@pytest.mark.slow
def test_every_other_kind_is_printed(large: tuple[Menu, tuple[Card, ...]]) -> None:
    menu, cards = large
    for kind in ("build", "addons", "batch", "words"):
        card = next(card for card in cards if card.key.kind == kind)
        pages = page_texts(printed(menu, card).pdf)
        if kind == "addons":
            heads = [" ".join(text.partition("Drinks")[0].split()) for text in pages]
            assert "on this card: Marsh Milk Tea – " in heads[0]
            assert f"card {len(pages)} of {len(pages)}" in heads[-1]
            assert "cards are in the menu's order" in heads[-1]


def test_files_of_the_bench(tmp_path: Path) -> None:
    """Its menus are sound in as many sizes and languages as the bench may ask for."""
    found = check(write(tmp_path / "menu", 18, sizes=8, languages=4))
    assert not found.stopped
    assert found.menu is not None
    assert len(found.menu.drinks) == 18
    assert len(found.menu.cups) == 8
    assert found.menu.shop.languages == ("en", "es", "fr", "de")
