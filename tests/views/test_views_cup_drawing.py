"""Cup drawings of whole menus: which liquid stands on which, toppings told apart, one scale."""

from __future__ import annotations

from itertools import pairwise

import pytest
from build_samples import CUP, MILK, SYRUP, TEA, add, do, drink, drinks, to_line
from hypothesis import given, settings
from menu_samples import SMALL, check_texts, said, swapped

from buildsheets import api
from buildsheets.cup.layers import APART_G_ML
from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Severity
from buildsheets.menu.model import AddStep, DoStep, Drink, Menu
from buildsheets.pipeline import Checked
from buildsheets.print.layouts import Layouts
from buildsheets.views.build import build_view
from buildsheets.views.cup_drawing import FORMS, topping_looks
from buildsheets.views.types import CupDrawing, Layer

WORDS = Layouts(None).words("en")
CLOUD = """\
      - {add: pearls, amount: 1 scoop}
      - {add: sweet, amount: 2 pumps}
      - {add: cubes, amount: 2 scoops}
      - {add: plain-milk, amount: 100 ml}
      - {add: tea, fill_to: 380 ml}
      - {do: stir, for: 5 s}
"""


def checked(text: str) -> tuple[Checked, Menu]:
    done = check_texts(text)
    assert not [f for f in done.findings if f.severity is Severity.ERROR], said(done.findings)
    assert done.menu is not None
    return done, done.menu


def drawn(text: str, cup: str = "medium", of: str = "cloud") -> CupDrawing:
    done, menu = checked(text)
    (one,) = [s for s in done.servings if (s.drink.id, s.cup.id) == (of, cup)]
    return build_view(menu, one, WORDS).drawing


def built(*lines: str) -> str:
    return swapped(SMALL, CLOUD, "".join(f"      - {{{line}}}\n" for line in lines))


def of_kind(drawing: CupDrawing, kind: str) -> list[Layer]:
    return [layer for layer in drawing.layers if layer.kind == kind]


def test_a_stirred_drink_is_one() -> None:
    (layer,) = of_kind(drawn(SMALL), "liquid")
    assert (layer.name, layer.from_mm) == ("drink", 0)


def test_what_is_not_stirred_stands_in_layers_the_heaviest_lowest() -> None:
    """Syrup of 65 °Bx weighs 1.32 g/ml (ICUMSA, in menu/tables.py), milk 1.031, tea about 1.0."""
    cup = drawn(built("add: pearls, amount: 1 scoop", "add: sweet, amount: 4 pumps",
                      "add: plain-milk, amount: 100 ml",
                      "add: strong, fill_to: 300 ml, makes_room: yes"))  # fmt: skip
    lowest, *others = of_kind(cup, "liquid")
    assert lowest.name == "Syrup"
    assert [layer.variant for layer in (lowest, *others)] == list(range(1 + len(others)))
    for below, above in pairwise([lowest, *others]):
        assert below.to_mm == above.from_mm
    (bed,) = of_kind(cup, "bed")
    # 40 g of pearls are 60.6 ml with 40 % gaps, so that 20 ml of syrup read 50 ml among them.
    assert lowest.to_mm == pytest.approx(api.frustum(58, 91, 114).height_mm(50), abs=0.1)
    assert lowest.to_mm < bed.to_mm


def test_layers_have_the_volumes_that_were_poured() -> None:
    serving = only(drink(add(SYRUP, 30), to_line(MILK, 300), do("lid")))
    syrup, milk = serving.liquids
    assert (syrup.components, milk.components) == ((SYRUP,), (MILK,))
    assert syrup.volume_ml == pytest.approx(30)
    assert milk.volume_ml == pytest.approx(270)


def test_a_liquid_poured_onto_a_lighter_one_falls_into_it() -> None:
    (both,) = only(drink(add(TEA, 60), to_line(MILK, 300))).liquids
    assert both.components == (TEA, MILK)
    tea, milk = reversed(only(drink(to_line(MILK, 240), add(TEA, 60, makes_room=True))).liquids)
    assert (tea.components, milk.components) == ((TEA,), (MILK,))


def only(sample: Drink) -> Serving:
    return figure(sample, CUP)


@pytest.mark.parametrize("action", ["stir", "swirl"])
def test_stirring_mixes_what_is_in_and_not_what_comes_after(action: str) -> None:
    steps: list[AddStep | DoStep] = [add(SYRUP, 30), add(TEA, 60), do(action), to_line(MILK, 300)]
    mixed, milk = only(drink(*steps)).liquids
    assert mixed.components == (SYRUP, TEA)
    assert mixed.volume_ml == pytest.approx(90)
    assert milk.components == (MILK,)
    (one,) = only(drink(*steps, do(action))).liquids
    assert one.components == (SYRUP, TEA, MILK)


def test_what_is_shaken_is_one_drink_and_stands_on_the_syrup() -> None:
    cup = drawn(built("add: sweet, amount: 4 pumps", "add: plain-milk, amount: 60 ml, into: shaker",
                      "add: strong, amount: 120 ml, into: shaker, makes_room: yes",
                      "add: cubes, amount: 2 scoops, into: shaker",
                      "do: shake, pour: dumped, station: shaking"))  # fmt: skip
    assert [layer.name for layer in of_kind(cup, "liquid")] == ["Syrup", "drink"]


def test_liquids_that_weigh_the_same_are_one() -> None:
    (one,) = only(drink(add(TEA, 100), to_line(TEA, 300))).liquids
    assert one.volume_ml == pytest.approx(300)


@given(drinks())
@settings(max_examples=60, deadline=None)
def test_layers_are_all_the_liquid_and_lighter_upwards(sample: Drink) -> None:
    serving = figure(sample, CUP)
    standing = serving.liquids
    contents = serving.final.contents
    assert sum(one.volume_ml for one in standing) == pytest.approx(contents.liquid_ml, abs=1e-6)
    assert sum(one.mass_g for one in standing) == pytest.approx(contents.liquid_g, abs=1e-6)
    for below, above in pairwise(standing):
        assert below.density_g_ml > above.density_g_ml + APART_G_ML


def test_the_top_of_the_layers_is_the_level_of_the_fill_model() -> None:
    text = built("add: pearls, amount: 1 scoop", "add: sweet, amount: 4 pumps",
                 "add: cubes, amount: 3 scoops", "add: plain-milk, amount: 100 ml",
                 "add: tea, fill_to: 380 ml")  # fmt: skip
    done, menu = checked(text)
    for serving in done.servings:
        cup = build_view(menu, serving, WORDS).drawing
        if liquid := of_kind(cup, "liquid"):
            assert liquid[0].from_mm == 0
            assert liquid[-1].to_mm == pytest.approx(serving.final.liquid_level_mm, abs=0.1)


def pearls(name: str, form: str = "") -> str:
    drawn = f", drawn: {form}" if form else ""
    return (
        f"  {name}: {{name: {name}, from: pearl-tin, behaves: settled, density: 1.1 g/ml, "
        f"bulk_density: 0.66 g/ml, tool: scoop, station: bar{drawn}}}\n"
    )


def looks(*toppings: str) -> dict[str, tuple[str, int]]:
    menu = swapped(SMALL, "ice:\n  cubes", "".join(toppings) + "ice:\n  cubes")
    return topping_looks(checked(menu)[1])


def test_a_topping_is_drawn_as_the_menu_says_the_others_as_none_else() -> None:
    found = looks(pearls("a", "beads"), pearls("b"), pearls("c"), pearls("d", "beads"))
    assert (found["a"], found["d"]) == (("beads", 0), ("beads", 1))
    assert (found["pearls"], found["b"], found["c"]) == (("pearls", 0), ("cubes", 0), ("beans", 0))


def test_no_two_of_many_toppings_look_alike() -> None:
    many = looks(*(pearls(f"more-x{n}") for n in range(4 * len(FORMS) - 1)))
    assert len(set(many.values())) == len(many) == 4 * len(FORMS)
    assert max(variant for _, variant in many.values()) == 3


def test_another_word_for_a_form_is_a_finding() -> None:
    done = check_texts(swapped(SMALL, "    behaves: settled\n", "    behaves: settled\n"
                                      "    drawn: balls\n"))  # fmt: skip
    assert [f.code for f in done.findings if f.severity is Severity.ERROR] == ["VAL06"]


def test_five_toppings_in_a_cup_have_five_looks_and_lie_on_each_other() -> None:
    names = ["pearls", *(f"more-{letter}" for letter in "abcd")]
    text = swapped(SMALL, "ice:\n  cubes", "".join(map(pearls, names[1:])) + "ice:\n  cubes")
    steps = [f"add: {name}, amount: 1 scoop" for name in names]
    text = swapped(text, CLOUD, "".join(
        f"      - {{{step}}}\n" for step in [*steps, "add: tea, fill_to: 380 ml"]))  # fmt: skip
    beds = of_kind(drawn(text), "bed")
    assert len({(bed.pattern, bed.variant) for bed in beds}) == 5
    for below, above in pairwise(beds):
        assert below.to_mm == above.from_mm


def test_all_cups_of_a_shop_are_drawn_in_one_room() -> None:
    """The tall cup is 150 mm high and the medium one 91 mm wide; the room is in whole steps."""
    rooms = {cup: drawn(SMALL, cup).room_mm for cup in ("medium", "tall", "poured")}
    assert set(rooms.values()) == {(100.0, 160.0)}


POURED = "    calibration:\n      - {height: 50 mm, volume: 180 ml}\n"


def cup_name(text: str, cup: str) -> str:
    done, menu = checked(text)
    (one,) = [s for s in done.servings if (s.drink.id, s.cup.id) == ("cloud", cup)]
    return build_view(menu, one, WORDS).cup_name


def test_the_rim_is_printed_as_measured_and_not_where_it_is_not_known() -> None:
    """Pouring tells the mean width between two levels: 3 mm too narrow on a tapered cup's rim."""
    assert cup_name(SMALL, "medium") == "505 ml to the rim, rim 91 mm wide"
    assert cup_name(SMALL, "tall").endswith("rim 90 mm wide")
    assert cup_name(SMALL, "poured") == "560 ml to the rim"
    measured = swapped(SMALL, POURED, "    rim: 104 mm\n" + POURED)
    assert cup_name(measured, "poured") == "560 ml to the rim, rim 104 mm wide"


def test_a_cup_known_by_pouring_is_drawn_with_straight_sides() -> None:
    """The demo's medium cup, poured (58, 91 and 114 mm; volumes of a truncated cone, Euclid XII):
    its drawn side is nowhere more than 1 mm off in width."""
    heights = (20, 45, 70, 95, 114)
    rows = "".join(f"      - {{height: {h} mm, volume: {cone_ml(h):.1f} ml}}\n" for h in heights)
    text = swapped(SMALL, "    base: 58 mm\n    rim: 91 mm\n    height: 114 mm\n",
                   "    calibration:\n" + rows)  # fmt: skip
    for height, diameter in drawn(text).outline_mm:
        assert diameter == pytest.approx(58 + 33 * height / 114, abs=1.0)


def cone_ml(height_mm: float) -> float:
    top = 58 + 33 * height_mm / 114
    return 3.14159265 * height_mm * (58**2 + 58 * top + top**2) / 12 / 1000
