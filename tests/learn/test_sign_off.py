"""The sign-off sheet has every skill of every station; what is briefed again is what changed."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import pytest
from menu_samples import DEMO, SMALL, check_once, swapped
from print.pdf_reading import page_texts

from buildsheets import output
from buildsheets.compare.compare import Side, compare, side_of_cards
from buildsheets.learn.sign_off import ChangedAt, brief, changed_at, sign_off
from buildsheets.ledger.ledger import Ledger
from buildsheets.ledger.publish import edition_cards
from buildsheets.menu.model import Menu
from buildsheets.print.layouts import Layouts
from buildsheets.print.render import RenderOptions
from buildsheets.views.types import SheetView, StationCardView

EN = Layouts(None).words("en")
PART = "Your part of: "


@cache
def sheets(path: Path) -> tuple[Menu, tuple[SheetView, ...]]:
    checked = check_once(path)
    assert checked.menu is not None
    cards = output.composers_in(EN, checked.menu, checked.servings)
    return checked.menu, sign_off(checked.menu, checked.servings, cards, EN)


def skills(view: SheetView) -> list[str]:
    return [row[0] for row in view.tables[2].rows]


# the sheet --------------------------------------------------------------------------------------


def test_each_station_has_a_page_with_its_tools_batches_and_drinks() -> None:
    menu, pages = sheets(DEMO)
    assert [page.title for page in pages] == [
        one.name.in_language("en") for one in menu.stations.values()
    ]
    checked = check_once(DEMO)
    assert checked.menu is not None
    cards = output.composers_in(EN, checked.menu, checked.servings)
    for station, page in zip(menu.stations, pages, strict=True):
        held = [compose() for (kind, subject, _), compose in cards.items()
                if (kind, subject) == ("station", station)]  # fmt: skip
        rows = [row for view in held if isinstance(view, StationCardView) for row in view.rows]
        made = [one.removeprefix(PART) for one in skills(page) if one.startswith(PART)]
        passing = {row.drink.partition(" · ")[0] for row in rows}
        names = [drink.name.in_language("en") for drink in menu.drinks.values()]
        assert made == [name for name in names if name in passing]
    shake = skills(pages[2])
    assert shake[:6] == [
        "Measure: 1 pump: 5 ml (syrup pump)", "Measure: 1 ice scoop: 60 g",
        "Prepare: Brown sugar syrup", "Prepare: Plain syrup", "Prepare: Honey syrup",
        "Prepare: Ginger syrup",
    ]  # fmt: skip


def test_every_batch_and_every_tool_in_use_is_somewhere() -> None:
    menu, pages = sheets(DEMO)
    every = [one for page in pages for one in skills(page)]
    prepared = [one.removeprefix("Prepare: ") for one in every if one.startswith("Prepare: ")]
    assert sorted(prepared) == sorted(one.name.in_language("en") for one in menu.batches.values())
    measured = {one for one in every if one.startswith("Measure: ")}
    used = [tool for tool in menu.tools.values() if tool.kind not in ("line", "scale")]
    assert len(measured) == len(used)  # a scale stands at the prep bench: no drink is weighed


def test_there_is_room_for_dates_and_initials_and_the_edition_is_named() -> None:
    _, pages = sheets(DEMO)
    first = pages[0]
    assert first.tables[2].header == (
        "Can do alone",
        "Date",
        "Initials, hire",
        "Initials, teacher",
    )
    assert all(row[1:] == ("", "", "") for page in pages for row in page.tables[2].rows)
    for page in pages:
        heads = [row[0] for row in page.tables[0].rows]
        assert heads == ["My name", "Taught by (name, initials)"]
        assert page.tables[1].rows[0][0].startswith("Allergens: where the sheet hangs")
        assert page.tables[-1].rows == (("Signed off for this station: date, by", ""),)
        assert page.notes[0].startswith("Sign a line when the hire has done it alone")
    assert {page.foot.edition for page in pages} == {"W26 (First Frost)"}


def test_each_station_has_rows_for_its_add_ons_allergy_orders_and_date_labels() -> None:
    _, pages = sheets(DEMO)
    toppings, brew, shake, finish = map(skills, pages)
    assert toppings[-3:] == [
        "Add-ons and swaps here: Tapioca pearls, Coconut jelly, Soaked basil seeds",
        "Allergy order: asks before starting, looks at the sheet, washes shared tools",
        "Date labels: dates what is made or opened, throws out what bears no date",
    ]
    assert brew[-3] == "Add-ons and swaps here: Oat drink"
    assert finish[-3] == "Add-ons and swaps here: Parsnip cream"
    assert not any("Add-ons" in one for one in shake)


def test_at_the_one_station_of_a_shop_the_whole_drink_is_made() -> None:
    menu, (page,) = sheets(Path(__file__).parent.parent / "menus" / "shops" / "pitchers.yaml")
    assert len(menu.stations) == 1
    assert any(one.startswith("Make: ") for one in skills(page))
    assert not any(one.startswith(PART) for one in skills(page))


@pytest.mark.slow
@pytest.mark.parametrize("shop", ["long", "pitchers", "us", "imperial-hot"])
def test_it_prints_with_nothing_wrong_and_boxes_high_enough_to_write_in(shop: str) -> None:
    _, pages = sheets(Path(__file__).parent.parent / "menus" / "shops" / f"{shop}.yaml")
    for view in pages:
        printed = output.print_views([view], RenderOptions(title="Sign-off", language="en"))
        assert printed.sound, printed.findings
        text = " ".join(" ".join(page_texts(printed.pdf)).split())
        for one in skills(view):
            assert " ".join(one.split()) in text


# what to brief again ----------------------------------------------------------------------------


def changed(folder: Path, before: str, after: str) -> tuple[Menu, ChangedAt]:
    """What is to be told of a menu's second state, which has the code of a later edition."""
    sides: list[Side] = []
    for name, text in (("a", before), ("b", swapped(after, "  code: S26\n", "  code: W26\n"))):
        path = folder / f"{name}.yaml"
        path.write_text(text, "utf-8")
        checked = check_once(path)
        assert checked.menu is not None
        assert not checked.stopped, checked.findings
        cards = output.cards(checked.menu, checked.servings, Layouts(None))
        sides.append(side_of_cards(edition_cards(cards, Ledger(folder), checked.menu.edition)))
    return checked.menu, changed_at(checked.menu, checked.servings, compare(*sides), EN)


STEPS: list[tuple[str, str, ChangedAt]] = [
    # what is edited, what is written instead, what is told where
    (
        "amount: 100 ml",
        "amount: 90 ml",
        {"bar": {"Cloud": ("Medium, Tall, Poured: Milk 90 ml, was 100",)}},
    ),
    (
        "pour: strained, station: shaking}",
        "pour: strained, station: shaking, for: 10 s}",
        {"shaking": {"Shaken": ("Medium: Shake 10 s, strain into the cup, to 225 ml, "
                                "instead of Shake, strain into the cup",)}},
    ),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "told"), STEPS, ids=["amount", "shake"])
def test_a_changed_step_is_told_at_its_station_alone(
    old: str, new: str, told: ChangedAt, tmp_path: Path
) -> None:
    assert changed(tmp_path, SMALL, swapped(SMALL, old, new))[1] == told


def test_a_price_is_nothing_to_brief(tmp_path: Path) -> None:
    dearer = swapped(SMALL, "price: 4.00\n    add_ons", "price: 4.20\n    add_ons")
    assert changed(tmp_path, SMALL, dearer)[1] == {}


def test_a_changed_batch_is_told_where_it_goes_into_drinks(tmp_path: Path) -> None:
    scaled = swapped(SMALL, "    lead: milk\n", "    lead: milk\n    scales: {full: 1}\n")
    more = swapped(scaled, "{use: milk, amount: 1 pack}", "{use: milk, amount: 2 packs}")
    _, told = changed(tmp_path, scaled, more)
    assert told["bar"]["Brew"][-1] == (
        "full: Milk: 2062 g (2 packs · whole packs only), was 1031 g (1 pack · whole packs only)"
    )
    assert "shaking" not in told


def test_drinks_that_come_and_go_are_told_at_each_of_their_stations(tmp_path: Path) -> None:
    without = SMALL[: SMALL.index("  shaken:")]
    _, gone = changed(tmp_path, SMALL, without)
    assert gone["bar"]["Shaken"] == ("Medium: Gone: Shaken",)
    assert gone["shaking"] == {"Shaking": ("Medium: Not made here any more",)}
    _, come = changed(tmp_path, without, SMALL)
    assert come["bar"]["Shaken"] == ("Medium: New: Shaken",)
    assert come["shaking"] == {"Shaking": ("Medium: New: a card to learn",)}


def test_an_allergen_is_told_first_and_the_sheet_has_a_box_for_each_drink(tmp_path: Path) -> None:
    syrup = "salt_g: 0, caffeine_mg: 0}\n    contains: {}\n    brix"
    edit = swapped(SMALL, syrup.replace("{}", "[]"), syrup.replace("{}", "[soybeans]"))
    edit = swapped(edit, "amount: 100 ml", "amount: 90 ml")
    menu, told = changed(tmp_path, SMALL, edit)
    lines = told["bar"]["Cloud"]
    assert "Allergens Contains soya and milk" in lines[0]
    assert lines[1] == "Medium, Tall, Poured: Milk 90 ml, was 100"
    assert told.keys() == {"bar", "shaking"}
    view = brief(menu, told, "S26", EN)
    assert view.title == "Brief again: what changed since S26"
    assert [table.title for table in view.tables] == ["Bar", "Shaking"]
    assert all(table.tick for table in view.tables)
    assert drinks(view.tables[0].rows) == [*told["bar"]]
    printed = output.print_views([view], RenderOptions(title="Brief", language="en"))
    assert printed.sound, printed.findings


def drinks(rows: Sequence[tuple[str, ...]]) -> list[str]:
    return [row[0] for row in rows]
