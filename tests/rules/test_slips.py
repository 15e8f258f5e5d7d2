"""Slips of one word: a unit, a point or a name is wrong, and what was meant is offered."""

from __future__ import annotations

import menu_samples as m
import pytest

from buildsheets.findings.finding import Finding
from buildsheets.menu.schema import NOWHERE, Entry, Text
from buildsheets.rules.names import allergens_named, fizz_named

BASE, RIM = "    base: 58 mm\n", "    rim: 91 mm\n"
ROUND = "    headspace: 30 ml\n    lid: dome\n"
MILK = "    density: 1.031 g/ml\n"

# right, wrong, code, the value it stands at, words of message and hint
SLIPS = [
    (BASE, "    base: 58 cm\n", "CUP07", "58 cm", "did you mean 58 mm?"),
    (BASE, "    base: 58 in\n", "CUP07", "58 in", "did you mean 58 mm?"),
    (RIM, "    rim: 9.1 mm\n", "CUP07", "9.1 mm", "did you mean 91 mm?"),
    ("height: 114 mm", "height: 114 cm", "CUP07", "114 cm", "did you mean 114 mm?"),
    (f"    floor: 3 mm\n{ROUND}", f"    floor: 30 cm\n{ROUND}", "CUP07", "30 cm", "no cup has"),
    ("diameter: 90 mm", "diameter: 90 cm", "CUP07", "90 cm", "did you mean 90 mm?"),
    ("height: 150 mm", "height: 150 cm", "CUP07", "150 cm", "did you mean 150 mm?"),
    ("volume: 560 ml", "volume: 560 l", "CUP07", "560 l", "100 to 1000 ml"),
    (ROUND, f"{ROUND}    dome: 40 cm\n", "CUP07", "40 cm", "did you mean 40 mm?"),
    (ROUND, f"{ROUND}    dome: 4000 ml\n", "CUP07", "4000 ml", "187 mm high"),
    (MILK, MILK.replace("1.031", "10.31"), "RNG01", "10.31 g/ml", "honey 1.42"),
    (MILK, MILK.replace("1.031", "0.1031"), "RNG01", "0.1031 g/ml", "honey 1.42"),
    (MILK, MILK.replace("1.031", "1.931"), "DEN06", "1.931 g/ml", "honey 1.42"),
    ("1.1 g/ml\n    bulk", "11 g/ml\n    bulk", "RNG01", "11 g/ml\n    bulk", "2.5 g/ml"),
    (f"    floor: 3 mm\n{ROUND}", f"    floor: 30 mm\n{ROUND}", "CUP09", "30 mm\n    headspace: 30",
     "did you mean 3 mm?"),
    (BASE + RIM, "    base: 91 mm\n    rim: 58 mm\n", "CUP08", "91 mm", "exchanged"),
    ("  currency: EUR\n", "  currency: EUR\n  tax: 100 %\n", "COST03", "100 %", "write the rate"),
]  # fmt: skip


def found(right: str, wrong: str) -> tuple[str, tuple[Finding, ...]]:
    text = m.swapped(m.SMALL, right, wrong)
    return text, m.check_texts(text).findings


@pytest.mark.parametrize(("right", "wrong", "code", "mark", "words"), SLIPS)
def test_a_slip_is_one_finding_at_its_value(
    right: str, wrong: str, code: str, mark: str, words: str
) -> None:
    text, findings = found(right, wrong)
    assert [one.code for one in findings] == [code], m.said(findings)
    assert m.starts(findings[0].span) == m.place_of(text, mark)
    assert words in f"{findings[0].message}; {findings[0].hint}"


# Frusta by hand, pi h (D^2 + D d + d^2) / 12: 180 x 180 x 100 mm upright is 2545 ml.
@pytest.mark.parametrize(
    ("base", "rim", "height", "words"),
    [
        ("180 mm", "180 mm", "100 mm", "holds 2545 ml"),
        ("60 mm", "250 mm", "100 mm", "leans 44°"),
        ("5.8 mm", "91 mm", "250 mm", "did you mean 58 mm?"),
    ],
)
def test_a_shape_few_cups_have_is_told(base: str, rim: str, height: str, words: str) -> None:
    sides = f"{BASE}{RIM}    height: 114 mm\n"
    _, findings = found(sides, f"    base: {base}\n    rim: {rim}\n    height: {height}\n")
    (odd,) = [one for one in findings if one.code == "CUP08"]
    assert words in f"{odd.message}; {odd.hint}"


@pytest.mark.parametrize(("base", "told"), [("90 mm", False), ("92 mm", True)])
def test_a_base_of_up_to_120_percent_of_the_rim_is_none(base: str, told: bool) -> None:
    _, findings = found(BASE + RIM, f"    base: {base}\n    rim: 76 mm\n")
    assert ("CUP08" in {one.code for one in findings}) is told


@pytest.mark.parametrize(("overrun", "told"), [(400, 0), (800, 1)])
def test_foam_of_more_than_four_times_its_volume_is_told(overrun: int, told: int) -> None:
    foam = "{from: milk, behaves: floated, overrun: 800 %, tool: jug, station: bar}"
    foam = foam.replace("800", str(overrun))
    _, findings = found("ice:\n  cubes", f"  foam: {foam}\nice:\n  cubes")
    odd = [one for one in findings if one.code == "DEN07"]
    assert len(odd) == told
    for one in odd:
        assert one.message.endswith("is 800 %: 9 times what it was before whipping")
        assert one.hint.endswith("did you mean 80 %?")


@pytest.mark.parametrize(
    ("pack", "density", "told"),
    [
        ("1 l", "1.1 g/ml", True),
        ("1 l", "1.06 g/ml", True),
        ("1 l", "0.9 g/ml", False),  # neither a piece's nor the heap's: weighed in its pack
        ("1 l", "0.68 g/ml", False),
        ("1 kg", "1.1 g/ml", False),
        ("1 l, usable: 60 %", "1.1 g/ml", False),  # in syrup, which is drained
    ],
)
def test_a_litre_of_loose_pieces_is_none_of_solid_ones(pack: str, density: str, told: bool) -> None:
    tin = "    density: 1.1 g/ml\n    density_source: weighed here\n"
    own = tin.replace("1.1 g/ml", density)
    bag = {"menu.yaml": m.swapped(m.SMALL, "{quantity: 1 kg,", f"{{quantity: {pack},")}
    files = m.edited(bag, (tin, own))
    odd = [one for one in m.check_texts(files).findings if one.code == "DEN08"]
    assert bool(odd) is told
    for one in odd:
        assert one.message.startswith(f"1 l of 'pearl-tin' is bought as {density}, as a piece")
        assert one.message.endswith("its heap weighs 0.66 g/ml")
        mended = m.check_texts(m.applied(files, one.fixes[0]))
        assert m.said(mended.findings) == []


def test_an_odd_cup_can_be_accepted_by_its_id() -> None:
    text = m.swapped(m.SMALL, f"    floor: 3 mm\n{ROUND}", f"    floor: 30 mm\n{ROUND}")
    text += "allow:\n  - {finding: CUP09, at: tall, reason: a glass on a foot}\n"
    assert m.said(m.check_texts(text).findings) == []


@pytest.mark.parametrize("density", ["0.91", "0.7", "1.42", "1.5"])
def test_oil_and_honey_are_liquids(density: str) -> None:
    _, findings = found(MILK, MILK.replace("1.031", density))
    assert not {one.code for one in findings} & {"DEN06", "RNG01"}


def test_nothing_after_contains_says_when_an_empty_list_is_right() -> None:
    _, (one,) = found("    contains: [milk]\n", "    contains:\n")
    assert one.code == "VAL02"
    assert "write [] only if the label names none" in one.hint


def named(id: str, name: str = "") -> set[str]:
    entry = Entry(id=id, span=NOWHERE)
    return set(allergens_named(entry, Text({"": name or id})))


@pytest.mark.parametrize(
    ("name", "allergen"),
    [
        ("Whole milk", "milk"), ("Vollmilch", "milk"), ("Leche entera", "milk"), ("Lait", "milk"),
        ("Schlagsahne", "milk"), ("Lactose-free milk", "milk"), ("Butter", "milk"),
        ("Nata", "milk"), ("Haferdrink", "oats"), ("Bebida de avena", "oats"),
        ("Lait d’avoine", "oats"), ("Oat milk", "oats"), ("Barista oat cream", "oats"),
        ("Hafermilch", "oats"), ("Almond milk", "almonds"), ("Leche de almendras", "almonds"),
        ("Mandelmilch", "almonds"), ("Haselnusssirup", "hazelnuts"), ("Peanut butter", "peanuts"),
        ("Beurre de cacahuète", "peanuts"), ("Erdnussbutter", "peanuts"), ("Sojamilch", "soybeans"),
        ("Egg yolk", "eggs"), ("Œufs", "eggs"), ("Eiweiß", "eggs"), ("Tahini", "sesame"),
        ("Barley tea", "barley"), ("Sugar-free almond syrup", "almonds"),
        ("Sirop d’orgeat", "almonds"), ("Pecan syrup", "pecans"), ("Macadamia milk", "macadamias"),
        ("Macadamiamilch", "macadamias"), ("Dinkelmilch", "wheat"), ("Lait d’épeautre", "wheat"),
        ("Malted powder", "barley"), ("Malz", "barley"), ("Eggnog", "eggs"),
        ("Lupinenkaffee", "lupin"), ("Milchschaum", "milk"),
    ],
)  # fmt: skip
def test_a_name_speaks_of_one_allergen(name: str, allergen: str) -> None:
    assert named("thing", name) == {allergen}
    assert named("thing", name.upper()) == {allergen}


@pytest.mark.parametrize(
    "name",
    [
        "Coconut milk", "Kokosmilch", "Leche de coco", "Lait de coco", "Nata de coco", "Rice milk",
        "Cream of tartar", "Cream soda", "Cocoa butter", "Kakaobutter", "Manteca de cacao",
        "Beurre de cacao", "Butterfly pea flower", "Crème de menthe", "Milk oolong", "Buckwheat",
        "Buchweizen", "Nutmeg", "Nuez moscada", "Muskatnuss", "Chestnut", "Dairy-free whip",
        "Plant cream", "Sin leche", "Maltodextrin", "Coconut", "Butternut", "Goat",
        "Eggplant", "Reis",
    ],
)  # fmt: skip
def test_other_things_by_the_same_word_are_left_alone(name: str) -> None:
    assert named("thing", name) == set()


@pytest.mark.parametrize(
    ("contains", "declared"),
    [("[]", False), ("[soybeans]", False), ("[oats]", True), ("[gluten, oats]", True)],
)
def test_oats_are_declared_by_their_name(contains: str, declared: bool) -> None:
    text = m.swapped(m.SMALL, "    name: Syrup\n", "    name: Oat drink\n")
    at = text.index("    contains: []\n", text.index("Oat drink"))
    text = text[:at] + text[at:].replace("[]", contains, 1)
    said = [one.message for one in m.check_texts(text).findings if one.code == "ALG04"]
    assert (said == []) == declared
    names = "nothing" if contains == "[]" else "soybeans"
    assert declared or f"says oat, and oats is not declared: it declares {names}" in said[0]


def test_each_allergen_of_a_name_is_asked_for() -> None:
    text = m.swapped(
        m.SMALL, "    name: Syrup\n", "    name: Oat drink with barley and hazelnuts\n"
    )
    at = text.index("    contains: []\n", text.index("Oat drink"))
    text = text[:at] + text[at:].replace("[]", "[oats, barley]", 1)
    (one,) = [one for one in m.check_texts(text).findings if one.code == "ALG04"]
    assert "says hazelnuts, and hazelnuts is not declared" in one.message
    assert one.hint.startswith("is its label really silent? Write contains: [barley, oats, hazeln")


def test_a_name_is_not_asked_about_while_a_list_of_allergens_cannot_be_read() -> None:
    """The shop may write its own allergens there: almonds, as it spells them."""
    text = m.swapped(m.SMALL, "    name: Syrup\n", "    name: Hazelnut syrup\n")
    broken = m.swapped(text, "allergen_list: eu14", "allergen_list: eu15")
    found = {one.code for one in m.check_texts(broken).findings}
    assert found
    assert "ALG04" not in found


def test_the_american_list_does_not_ask_for_oats() -> None:
    text = m.swapped(m.SMALL, "    name: Milk\n", "    name: Oat milk with barley\n")
    text = m.swapped(text, "allergen_list: eu14", "allergen_list: us9")
    assert "ALG04" not in {one.code for one in m.check_texts(text).findings}


def test_a_label_that_names_none_is_accepted_with_its_reason() -> None:
    text = m.swapped(m.SMALL, "    name: Syrup\n", "    name: Hazelnut syrup\n")
    (one,) = m.check_texts(text).findings
    assert (one.code, one.subject) == ("ALG04", ("cane",))
    reason = "flavouring alone, label of March"
    accept = f"allow:\n  - {{finding: ALG04, at: cane, reason: '{reason}'}}\n"
    assert m.said(m.check_texts(text + accept).findings) == []


@pytest.mark.parametrize(
    ("name", "fizzy"),
    [
        ("Club soda", True), ("Tonic water", True), ("Agua con gas", True), ("Sprudel", True),
        ("Eau gazeuse", True), ("Cola", True), ("Cola syrup", False), ("Baking soda", False),
        ("Kombucha", True), ("Ginger ale", True), ("Root beer syrup", False), ("Ginger", False),
        ("Colada", False), ("Eau non gazeuse", False), ("Water", False),
    ],
)  # fmt: skip
def test_a_name_speaks_of_gas(name: str, fizzy: bool) -> None:
    assert bool(fizz_named(Entry(id="thing", span=NOWHERE), Text({"": name}))) == fizzy
