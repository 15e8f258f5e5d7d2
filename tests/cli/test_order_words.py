"""Orders as guests say them: read in any of the shop's words, or answered with what was read."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_samples import DEMO, run
from menu_samples import SMALL, check_once, check_texts, swapped

from buildsheets.cli.order import Misread, changed, read_order
from buildsheets.menu.model import Menu

WALL_MENUS = Path(__file__).parent.parent / "wall" / "menus"


@pytest.fixture(scope="module")
def menu() -> Menu:
    checked = check_once(DEMO)
    assert checked.menu is not None
    return checked.menu


@pytest.mark.parametrize(
    ("said", "means"),
    [
        ("marsh milk tea large less ice 50 + cap", "marsh-milk-tea large less 50 add-cap"),
        ("Marsh Milk Tea, Large, Less Ice, 50 % + Parsnip cream",
         "marsh-milk-tea large less 50 add-cap"),
        ("large marsh milk 50 less", "marsh-milk-tea large less 50"),
        ("BOATHOUSE-PEARL", "boathouse-pearl - regular 100"),
        ("pearl tea small no ice", "boathouse-pearl small none 100"),
        ("té con perlas grande sin hielo", "boathouse-pearl large none 100"),
        ("te con perlas grande sin hielo", "boathouse-pearl large none 100"),
        ("marsh milk med 0 + pearl + coco",
         "marsh-milk-tea medium regular 0 add-pearls add-coconut"),
        ("marsh milk with less ice and 25 + add-cap+pearls",
         "marsh-milk-tea - less 25 add-pearls add-cap"),
        ("marsh milk large cap pearls", "marsh-milk-tea large regular 100 add-pearls add-cap"),
        ("pearls marsh milk 50 with parsnip cream large",
         "marsh-milk-tea large regular 50 add-pearls add-cap"),
        ("honey lantern", "honey-lantern - - 100"),
        ("hearth hot mug 75", "hearth-ginger-milk hot - 75"),
    ],
)  # fmt: skip
def test_an_order_is_read_as_it_is_said(menu: Menu, said: str, means: str) -> None:
    order = read_order(menu, said)
    choice = order.choice
    sweetness = "-" if choice.sweetness is None else f"{100 * choice.sweetness:g}"
    size = order.size.id if order.size else "-"
    read = (order.drink.id, size, choice.ice or "-", sweetness, *choice.add_ons)
    assert " ".join(read) == means


@pytest.mark.parametrize(
    ("said", "answered"),
    [
        ("tea", ["may be", "marsh-milk-tea", "frost-lemon", "more of the name"]),
        ("jasmine medium", ["jasmine-cloud", "citrus-burst-green"]),
        ("lemon tea lrage", ["understood Frost Lemon Tea", "'lrage'", "did you mean Large"]),
        ("marsh milk small lots", ["understood", "Small", "'lots'", "Less ice", "50 %", "add-cap"]),
        ("marsh milk ice", ["understood Marsh Milk Tea", "No ice", "Less ice", "Regular ice"]),
        ("boathouse pearl hot", ["'hot'", "its cups: Small"]),
        ("cloud medium 60", ["'60'", "0 %, 25 %, 50 %, 75 % and 100 %"]),
        ("frosst lemmon", ["no drink is called 'frosst lemmon'", "did you mean Frost Lemon Tea"]),
        ("honey lantern no ice", ["understood Honey Lantern", "has no choice of ice"]),
        ("mist hot", ["'hot'", "its cups: Small"]),
        ("soup", ["no drink is called 'soup'", "marsh-milk-tea", "honey-lantern"]),
        ("", ["marsh-milk-tea"]),
        ("+ cap", ["marsh-milk-tea"]),
        ("cloud + glitter", ["'glitter'", "its add-ons", "add-pearls"]),
        ("cloud + perals", ["'perals'", "did you mean", "add-pearls"]),
        ("cloud + cap", ["'cap'", "add-pearls"]),
        ("honey lantern + cap", ["'cap'", "none"]),
        ("marsh milk + cap + pearls + coconut", ["2 different add-ons at most"]),
        ("marsh milk cap cap", ["not 'cap cap'", "did you mean", "add-cap"]),
        ("marsh milk cap glitter", ["not 'cap glitter'", "did you mean", "add-cap"]),
        ("marsh milk + cap + cap", ["2 different add-ons at most"]),
        ("marsh milk +", ["its add-ons", "add-cap"]),
    ],
)
def test_what_cannot_be_read_is_answered_with_what_was(
    menu: Menu, said: str, answered: list[str]
) -> None:
    with pytest.raises(Misread) as refused:
        read_order(menu, said)
    for words in answered:
        assert words in str(refused.value)


@pytest.mark.parametrize(
    ("said", "cups", "swaps"),
    [
        ("hafentee", "mug small large", ""),
        ("iced hafentee", "small large", ""),
        ("Hafentee heiß", "mug", ""),
        ("kakao kalt", "small", ""),
        ("klein hafentee iced with oat milk", "small", "oat"),
        ("hafentee hot + haferdrink milch", "mug", "oat"),
    ],
)
def test_hot_and_iced_mean_the_cups_that_are_so(said: str, cups: str, swaps: str) -> None:
    menu = check_once(WALL_MENUS / "hot-and-iced.yaml").menu
    assert menu is not None
    order = read_order(menu, said)
    assert " ".join(cup.id for cup in order.cups) == cups
    assert (order.size.id if order.size else "") == (cups if " " not in cups else "")
    assert order.choice.swaps == tuple(swaps.split())


def test_a_cup_that_does_not_have_a_swap_names_those_that_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (WALL_MENUS / "hot-and-iced.yaml").read_text("utf-8")
    everywhere = "{mug: 50 ml, small: 50 ml, large: 70 ml}, makes_room: no}"
    text = swapped(text, everywhere, "{small: 50 ml, large: 70 ml}, makes_room: no, only: iced}")
    (tmp_path / "menu.yaml").write_text(text, "utf-8")
    ran = run(capsys, "explain", "--menu", tmp_path / "menu.yaml", "mug hafentee + oat")
    assert (ran.code, ran.out) == (2, "")
    assert "harbour is not offered so in mug; it is in small and large" in ran.err


def test_every_name_and_id_of_the_menu_orders_its_drink(menu: Menu) -> None:
    asked = 0
    for drink in menu.drinks.values():
        for name in (drink.id, *drink.name.by_language.values()):
            cup = drink.cups[-1]
            for size in (cup.id, *cup.name.by_language.values()):
                order = read_order(menu, f"{name} {size}")
                assert (order.drink, order.size) == (drink, cup), (name, size)
                asked += 1
    assert asked > 100


def test_a_whole_name_goes_before_a_part_of_a_longer_one() -> None:
    text = swapped(SMALL, "    name: Shaken\n", "    name: Cloud tall\n")
    menu = check_texts(text).menu
    assert menu is not None
    assert read_order(menu, "cloud").drink.id == "cloud"
    assert read_order(menu, "cloud tall").drink.id == "shaken"


def test_options_of_the_command_line_go_over_what_was_said(menu: Menu) -> None:
    order = read_order(menu, "marsh milk large less 50 + cap")
    choice = changed(order, "25%", "none", ["add-pearls"])
    assert (choice.sweetness, choice.ice) == (0.25, "none")
    assert choice.add_ons == ("add-pearls", "add-cap")
    with pytest.raises(Misread, match="at most"):
        changed(order, "", "", ["add-pearls", "add-seeds"])
