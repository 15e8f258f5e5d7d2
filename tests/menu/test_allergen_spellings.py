"""Allergens may be written as cards print them."""

from __future__ import annotations

import menu_samples as m


def test_a_printed_spelling_is_accepted_and_means_the_list_s_id() -> None:
    for written in ("soya", "soy", "soybeans"):
        text = m.swapped(m.SMALL, "contains: [milk]", f"contains: [{written}]")
        menu = m.check_texts(text).menu
        assert menu is not None
        assert menu.ingredients["milk"].contains == ("soybeans",)


def test_a_cereal_is_known_on_the_european_list_only() -> None:
    oats = m.swapped(m.SMALL, "contains: [milk]", "contains: [oats]")
    menu = m.check_texts(oats).menu
    assert menu is not None
    assert menu.ingredients["milk"].contains == ("oats",)
    us = m.swapped(oats, "allergen_list: eu14", "allergen_list: us9")
    assert any("oats" in one.message for one in m.check_texts(us).findings)
