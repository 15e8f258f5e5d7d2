"""Rules of what holds gas, through the whole reading of a menu: as written, swapped and added.

That soda is poured last and moved once at most is common practice, no source.
"""

from __future__ import annotations

import menu_samples as m
import pytest

from buildsheets.findings.finding import Finding

SODA = "  soda: {from: water, tool: jug, station: bar, temperature: 5 °C, fizzy: yes, head: 5 %}\n"
FOAM = "  foam: {from: milk, behaves: floated, overrun: 100 %, tool: jug, station: bar}\n"
SWAP = "swaps:\n  sparkling: {of: %s, with: soda}\ndrinks:\n"
ADD_ON = "  add-soda: {topping: soda, amount: 30 ml}\n"
POURED = "      - {add: soda, amount: 200 ml}\n"
MILK = "      - {add: plain-milk, amount: 50 ml}\n"
SYRUP = "      - {add: sweet, amount: 2 pumps}\n"
LID = "      - {do: lid}\n"
SWIRL = "      - {do: swirl}\n"


def text_of(build: str, swap: str = "", add_on: bool = False, drink: str = "") -> str:
    """The small menu with soda and with one build of its first drink."""
    text = m.SMALL.replace("sweeteners:\n", f"{SODA}sweeteners:\n").replace(
        "ice:\n", f"{FOAM}ice:\n", 1
    )
    text = text.replace("add_ons:\n  add-pearls", f"add_ons:\n{ADD_ON}  add-pearls")
    begins = text.index("      - {add: pearls, amount: 1 scoop}\n")
    text = text[:begins] + build + text[text.index("  shaken:\n") :]
    text = text.replace("drinks:\n", SWAP % swap) if swap else text
    offered = "[add-pearls, add-soda]" if add_on else "[add-pearls]"
    return text.replace("    add_ons: [add-pearls]\n", f"    add_ons: {offered}\n{drink}")


def told(text: str, code: str = "") -> list[Finding]:
    found = [one for one in m.check_texts(text).findings if one.code.startswith("GAS")]
    assert not code or {one.code for one in found} <= {code}, m.said(found)
    return found


def test_all_that_comes_into_soda_is_told_at_the_first_and_mended_after_the_last() -> None:
    text = text_of(POURED + MILK + SYRUP)
    (one,) = told(text, "GAS02")
    assert one.message.startswith("cloud: plain-milk (step 2) goes into soda (step 1), which holds")
    assert m.starts(one.span) == m.place_of(text, "{add: plain-milk, amount: 50")
    assert one.hint == "write soda after step 3 (sweet)"
    assert [label.text for label in one.labels] == ["step 1"]


def test_soda_in_the_place_of_milk_is_poured_last_too() -> None:
    (one,) = told(text_of(MILK + "      - {add: tea, amount: 200 ml}\n", "plain-milk"), "GAS02")
    assert one.message.startswith("cloud with sparkling: tea (step 2) goes into soda (step 1)")
    assert one.subject == ("cloud",)
    assert told(text_of(MILK + "      - {add: tea, amount: 200 ml}\n", "tea")) == []


def test_soda_that_is_added_has_the_base_poured_into_it() -> None:
    build = SYRUP + "      - {add: tea, amount: 200 ml}\n"
    (one,) = told(text_of(build, add_on=True), "GAS02")
    assert one.message.startswith("cloud with add-soda: tea (step 3) goes into soda (step 2)")
    assert one.hint.startswith("an add-on is poured before tea: offer soda as a swap")
    assert told(text_of(SYRUP + POURED, add_on=True)) == []  # soda on soda


@pytest.mark.parametrize(
    ("late", "layered", "wrong"),
    [
        ("      - {add: foam, amount: 5 g}\n", False, False),
        (MILK, True, False),
        ("      - {add: cubes, amount: 1 scoop}\n", True, True),
        (MILK.replace("}", ", into: shaker}") + "      - {do: pour}\n", False, True),
        (MILK.replace("}", ", into: shaker}") + "      - {do: pour}\n", True, False),
        ("      - {add: soda, amount: 20 ml}\n", False, False),
    ],
)  # fmt: skip
def test_what_is_laid_on_soda_does_not_fall_into_it(late: str, layered: bool, wrong: bool) -> None:
    """Foam, what is poured gently on layers, and more soda."""
    drink = "    layered: yes\n" if layered else ""
    assert bool(told(text_of(SYRUP + POURED + late, drink=drink), "GAS02")) is wrong


def test_soda_that_is_moved_twice_is_told_at_the_second_move() -> None:
    stir = "      - {do: stir, for: 5 s}\n"
    text = text_of(stir + POURED + stir + SWIRL)
    (one,) = told(text, "GAS03")
    assert "cloud: its soda is moved 2 times: stir (step 3), swirl (step 4)" in one.message
    assert m.starts(one.span) == m.place_of(text, "{do: swirl")
    tea = SYRUP + "      - {add: tea, amount: 200 ml}\n" + stir + SWIRL
    (swapped,) = told(text_of(tea, "tea"), "GAS03")
    assert swapped.message.startswith("cloud with sparkling: its soda is moved 2 times")
    assert told(text_of(tea)) == []


@pytest.mark.parametrize("lid", ["flat", "none"])
def test_a_cup_with_soda_is_not_moved_once_it_is_closed(lid: str) -> None:
    text = text_of(SYRUP + POURED + LID + SWIRL).replace("cups: [medium, tall, poured]",
                                                         "cups: [medium]")  # fmt: skip
    found = told(text.replace("    lid: flat\n", f"    lid: {lid}\n"), "GAS04")
    assert [one.message.partition(" moves ")[0] for one in found] == (
        ["cloud: swirl (step 4)"] if lid == "flat" else []
    )


def test_soda_in_the_place_of_tea_stays_out_of_the_shaker() -> None:
    build = "      - {add: tea, amount: 100 ml, into: shaker}\n      - {do: pour}\n"
    (one,) = told(text_of(build, "tea"), "GAS04")
    words = "cloud with sparkling: soda holds gas and goes into the shaker, out of it at step 2"
    assert one.message.startswith(words)
    assert told(text_of(build)) == []
