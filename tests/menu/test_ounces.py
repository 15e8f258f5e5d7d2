"""Ounces: a weight where nothing else is possible, else refused with both ways to write them."""

from __future__ import annotations

import pytest
from menu_samples import SMALL, applied, check_texts, edited

from buildsheets.findings.finding import Finding
from buildsheets.menu.model import Menu

OUNCE_G = 28.349523125
"""An avoirdupois ounce in g, exact: NIST Handbook 44, Appendix C."""

OUNCES = ("measures: metric", "measures: us_customary")
SCALE = "scale: {name: scale, kind: scale, step: 1 g, tolerance: 0.2 oz}"
TOOLS = ("tools:\n", f"tools:\n  {SCALE}\n")
PEARLS = ("pack: {quantity: 1 kg, price: 4.00}", "pack: {quantity: 32 oz, price: 4.00}")
LEAF = ("batches:\n", "  leaf: {name: Leaf, contains: [], pack: {quantity: 4 oz}}\nbatches:\n")


def checked(*edits: tuple[str, str]) -> tuple[Menu | None, dict[str, str], list[Finding]]:
    files = edited({"menu.yaml": SMALL}, OUNCES, *edits)
    found = check_texts(files)
    return found.menu, files, [one for one in found.findings if one.code == "VAL08"]


def test_ounces_of_a_scale_and_of_a_pack_of_what_is_no_liquid_are_a_weight() -> None:
    menu, _, unclear = checked(TOOLS, PEARLS, LEAF)
    assert menu is not None
    assert not unclear
    scale = menu.tools["scale"]
    assert scale.tolerance is not None
    assert scale.tolerance.absolute == pytest.approx(0.2 * OUNCE_G)
    packs = {id_: menu.ingredients[id_].pack for id_ in ("pearl-tin", "leaf")}
    assert {id_: (one.quantity, one.unit) for id_, one in packs.items() if one} == {
        "pearl-tin": (pytest.approx(32 * OUNCE_G), "g"),
        "leaf": (pytest.approx(4 * OUNCE_G), "g"),
    }


@pytest.mark.parametrize(("kind", "code"), [("scale", "TOOL03"), ("jug", "VAL08")])
def test_a_step_in_ounces_is_refused_once(kind: str, code: str) -> None:
    step = SCALE.replace("kind: scale", f"kind: {kind}").replace("step: 1 g", "step: 0.1 oz")
    tool = step.replace("0.2 oz", "0.2 g")
    files = edited({"menu.yaml": SMALL}, OUNCES, ("tools:\n", f"tools:\n  {tool}\n"))
    assert [one.code for one in check_texts(files).findings] == [code]


@pytest.mark.parametrize(
    ("right", "wrong", "ways"),
    [
        ("pack: {quantity: 1 l, price: 1.05}", "pack: {quantity: 64 oz}", "64"),  # milk, poured
        ("pack: {quantity: 1 l, price: 3.00}", "pack: {quantity: 25 oz}", "25"),  # syrup, by Brix
        ("jug, step: 5 ml, tolerance: 2 ml", "jug, step: 1 oz, tolerance: 2 ml", "1"),
        ("jug, step: 5 ml, tolerance: 2 ml", "jug, step: 5 ml, tolerance: 1/4 oz", "1/4"),
        ("scoop, holds: 40 g", "scoop, holds: 2 oz", "2"),
    ],
)
def test_ounces_of_what_may_be_poured_are_refused_with_both_ways(
    right: str, wrong: str, ways: str
) -> None:
    _, files, unclear = checked((right, wrong))
    (one,) = unclear
    assert "an ounce may be a volume or a weight here" in one.message
    assert [fix.replacement for fix in one.fixes] == [f"{ways} fl oz", f"{ways} oz by weight"]
    for fix in one.fixes:
        assert not [f for f in check_texts(applied(files, fix)).findings if f.code == "VAL08"]
