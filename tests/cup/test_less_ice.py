"""What a base of a fixed amount makes up of the ice that is left out, to the jug's nearest step."""

from __future__ import annotations

import pytest
from menu_samples import check_texts

from buildsheets.cup.serving import Serving

MENU = """
shop: {name: Teal Dock, languages: [en], measures: us_customary, allergen_list: us9,
  shelf_rules: us-food-code, card: half-letter}
edition: {code: S26, name: Summer, valid_from: 2026-06-01, valid_to: 2026-09-30}
stations: {bar: {name: Bar, letter: B, accent: "#0b5563"}}
tools:
  jug: {name: jug, kind: jug, step: 1/4 fl oz}
  pump: {name: pump, kind: pump, step: 1/2 pump, holds: 1/4 fl oz, one: pump, many: pumps}
  scoop: {name: scoop, kind: scoop, step: 1/2 scoop, holds: 60 g, one: scoop, many: scoops}
  basket: {name: portafilter, kind: portafilter, step: 1 shot, one: shot, many: shots}
cups:
  large: {name: Large, base: 2 3/8 in, rim: 3 7/8 in, height: 5 1/2 in, floor: 1/8 in,
    headspace: 3/16 in, lid: flat}
ingredients:
  beans: {name: Beans, contains: []}
  white: {name: Milk, contains: [milk], density: 1.031 g/ml, density_source: USDA SR26 01077}
  cane: {name: Syrup, contains: [], brix: 65 °Bx}
bases:
  espresso: {from: beans, shot: {dose: 18 g, yield: 36 g, for: 28 s}, density: 1.01 g/ml,
    temperature: 160 °F, tool: basket, station: bar, cautions: [hot]}
  milk: {from: white, tool: jug, station: bar, temperature: 41 °F}
sweeteners: {syrup: {from: cane, tool: pump, station: bar}}
ice: {cubes: {name: Ice, packing: 55 %, tool: scoop, station: bar}}
options:
  sweetness: {levels: [0 %, 50 %, 100 %], default: 100 %, with_less_sweet: more_base}
  ice:
    levels: {none: {name: No ice, share: 0 %}, regular: {name: Regular ice, share: 100 %}}
    default: regular
    with_less_ice: same_line
drinks:
  latte:
    name: Latte
    cups: [large]
    build:
      - {add: syrup, amount: 2 pumps}
      - {add: cubes, amount: 3 scoops}
      - {add: milk, amount: 9 fl oz, makes_room: yes}
      - {add: espresso, amount: 2 shots}
      - {do: chill, for: 5 s}
      - {do: lid, station: bar}
"""
OUNCE_ML = 29.5735295625  # NIST Handbook 44, appendix C


def milk(serving: Serving, ice: str) -> list[float]:
    made = [one for one in serving.choices.made if one.choice.ice == ice]
    bodies = [one.body.used for one in sorted(made, key=lambda one: one.choice.sweetness or 0.0)]
    return [used.volume_ml / OUNCE_ML for used in bodies if used]


def test_a_latte_without_ice_takes_evenly_more_milk_for_less_syrup() -> None:
    """A pump gives 1/4 fl oz: each left out is 1/4 fl oz of milk more, with ice and without.

    With 180 g of ice and 9 fl oz it stands at 17.902 fl oz; without ice 14.991 fl oz of milk come
    to that. A jug shows 15, a hundredth higher, and not 14 3/4, a quarter lower."""
    (serving,) = check_texts(MENU).servings
    assert milk(serving, "regular") == pytest.approx([9.5, 9.25, 9.0])
    assert milk(serving, "none") == pytest.approx([15.5, 15.25, 15.0])


@pytest.mark.parametrize("step", ["1/4 fl oz", "1/2 fl oz", "5 ml", "20 ml"])
def test_the_level_without_ice_is_that_with_all_of_it_within_half_a_step(step: str) -> None:
    (serving,) = check_texts(MENU.replace("step: 1/4 fl oz", f"step: {step}")).servings
    made = {(one.choice.sweetness, one.choice.ice): one for one in serving.choices.made}
    for sweetness in (0.0, 0.5, 1.0):
        none, usual = made[sweetness, "none"], made[sweetness, "regular"]
        assert not none.held_back_ml
        off_ml = none.final.liquid_level_ml - usual.final.liquid_level_ml
        assert abs(off_ml) <= serving.build.steps[serving.build.body].tool_step / 2 + 0.01


def test_a_size_that_has_nothing_of_a_part_gets_none_of_it() -> None:
    """Not the least that a jug shows: 9 fl oz of milk are all there is."""
    none = "      - {add: milk, amount: 0 fl oz, makes_room: no}\n"
    at = "      - {add: milk, amount: 9"
    (serving,) = check_texts(MENU.replace(at, none + at)).servings
    amounts = [used.volume_ml / OUNCE_ML for used in serving.used if used.component.id == "milk"]
    assert amounts == pytest.approx([0.0, 9.0])
    assert serving.steps[2].idle
