"""What a card says of swaps that came, went or changed, and that allergens stand first."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import menu_samples as m

from buildsheets.compare.change import ALLERGENS, What
from buildsheets.compare.changes import brought_by, changes_between
from buildsheets.compare.sentences import sentence
from buildsheets.ledger.card_texts import card_texts
from buildsheets.print.layouts import Layouts
from buildsheets.views.build import build_view

MENU = Path(__file__).parents[1] / "wall" / "menus" / "swaps.yaml"
WORDS = Layouts().words("en")
EDITIONS = Layouts().words("en")
POURED = "    name: Milchtee\n"


def texts(*edits: tuple[str, str], drink: str = "poured", cup: str = "large") -> dict[str, Any]:
    """The texts of a build card of the menu with edits."""
    files = m.edited({"menu.yaml": MENU.read_text("utf-8")}, *edits)
    checked = m.check_texts(files)
    assert checked.menu is not None, m.said(checked.findings)
    serving = next(s for s in checked.servings if (s.drink.id, s.cup.id) == (drink, cup))
    return card_texts(build_view(checked.menu, serving, WORDS))


def test_a_swap_newly_offered_tells_first_what_it_brings() -> None:
    before, after = texts((POURED, POURED + "    swaps: [light]\n")), texts()
    found = changes_between(before, after)
    assert [one.what for one in found[:2]] == [What.ADD_ON_OFFERED, What.ADD_ON_OFFERED]
    assert sentence(found[0], EDITIONS) == (
        "May be ordered with Haferdrink: contains gluten (oats); may contain soya. "
        "Takes away milk; same Messkanne: wash it first. Milk again with Milchschaum."
    )
    assert any(one.what is What.ADDED and one.subject == "Haferdrink" for one in found)


def test_a_swap_that_went_is_told() -> None:
    found = changes_between(texts(), texts((POURED, POURED + "    swaps: [light]\n")))
    gone = [one.subject for one in found if one.what is What.REMOVED]
    assert {"Haferdrink", "Kokos"} <= {*gone}


def test_another_allergen_of_a_swap_stands_before_all_else() -> None:
    edit = ("contains: [oats], may_contain: [soybeans]", "contains: [oats, soybeans]")
    first = changes_between(texts(), texts(edit))[0]
    assert first.what is What.SWAP_ALLERGENS
    assert first.what in ALLERGENS
    assert "soya" in first.now
    assert "Haferdrink as a swap" in sentence(first, EDITIONS)


def test_other_amounts_of_a_swap_are_a_change_of_its_step() -> None:
    found = changes_between(texts(), texts(("holds: 8 ml", "holds: 4 ml")))
    steps = [one for one in found if one.what is What.STEP_CHANGED]
    assert [(one.subject, part) for one in steps for part in one.parts] == [
        ("Sirup", ("swaps", "5 Stöße, Sirup ohne Zucker", "10 Stöße, Sirup ohne Zucker"))
    ]


def test_a_new_card_says_what_its_swaps_bring() -> None:
    found = brought_by(texts(drink="foamed", cup="small"))
    offered = [one for one in found if one.what is What.ADD_ON_OFFERED]
    assert [one.subject for one in offered] == ["Haferdrink"]
    assert "Still contains milk: Milchschaum" in offered[0].now
