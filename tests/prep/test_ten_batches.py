"""Ten batches of different shape, every figure worked out by hand beside what the sheet prints.

Densities (g/ml): water 0.998 (IAPWS-95, 20 °C); whole milk 1.031, whipping cream 1.006, lemon juice
1.031, condensed milk 1.29 (USDA SR26 01077, 01053, 09152, 01095: grams of a cup over 236.6 ml);
sugar, dissolved, 1.588 (its crystal, CRC Handbook); sugar solution of 65 °Bx 1.31656 at 20 °C
(Bubnik et al. 1995). Dry pearls 1.30, their heap 0.65, seeds 0.70, soaked 1.02, their heap 0.90,
ginger 1.00 and oat porridge 1.05 are invented. Weights are to 1 g; yields go down to 5 ml, 0.01 l
and 1 g.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import menu_samples as m
import pytest

from buildsheets.cli import prep_commands as pc
from buildsheets.cli.plain_data import told
from buildsheets.pipeline import Checked

KITCHEN = """
shop:
  name: Sample stall
  languages: [en]
  measures: metric
  currency: EUR
  allergen_list: eu14
  shelf_rules: us-food-code
  time_zone: Europe/Madrid
  card: A5
edition: {code: S26, name: Sample, valid_from: 2026-03-01, valid_to: 2026-09-30}
stations:
  bar: {name: Bar, letter: B, accent: "#0b5563"}
tools:
  jug: {name: jug, kind: jug, step: 1 ml}
  scale: {name: scale, kind: scale, step: 1 g}
cups:
  medium: {name: Medium, base: 58 mm, rim: 91 mm, height: 114 mm, floor: 3 mm, headspace: 5 mm,
    lid: flat}
ingredients:
  leaf: {name: Leaf, contains: []}
  water: {name: Water, contains: [], density: 0.998 g/ml, density_source: IAPWS-95, brix: 0 °Bx}
  sugar: {name: Sugar, contains: [], density: 1.588 g/ml, density_source: CRC, brix: 100 °Bx}
  oats: {name: Oats, contains: [oats]}
  milk: {name: Milk, contains: [milk], density: 1.031 g/ml, density_source: USDA SR26 01077}
  cream: {name: Cream, contains: [milk], density: 1.006 g/ml, density_source: USDA SR26 01053}
  lemon: {name: Lemon, contains: [], density: 1.031 g/ml, density_source: USDA SR26 09152}
  tin: {name: Tin, contains: [milk], density: 1.29 g/ml, density_source: USDA SR26 01095,
    pack: {quantity: 397 g}}
  cane: {name: Cane, contains: [], brix: 65 °Bx}
  pearls-dry: {name: Dry pearls, contains: [], density: 1.3 g/ml, density_source: here}
  seeds-dry: {name: Seeds, contains: [], density: 0.7 g/ml, density_source: here}
  ginger: {name: Ginger, contains: [], density: 1.0 g/ml, density_source: here}
batches:
  brew:
    name: Brew
    parts: [{use: leaf, amount: 40 g}, {use: water, amount: 2 l}]
    brew: leaf
    measured_yield: 1.8 l
    density: 1.0 g/ml
  boiled:
    name: Boiled syrup
    parts: [{use: sugar, amount: 1 kg}, {use: water, amount: 500 g}]
    yield_factor: 0.9
  porridge:
    name: Porridge
    parts: [{use: oats, amount: 200 g}, {use: water, amount: 1 l}]
    measured_yield: 1.1 kg
    density: 1.05 g/ml
  whipped:
    name: Whipped
    parts: [{use: cream, amount: 500 ml}, {use: sugar, amount: 50 g}]
    overrun: 80 %
    loss: 10 %
    bowl: 1.5 l
    bowl_fill: 80 %
  cooked:
    name: Cooked
    parts: [{use: pearls-dry, amount: 400 g}]
    yield_factor: 2.5
    steps: [{do: Boil, water: 4 l, temperature: 100 °C, time: 30 min}]
    bowl: 6 l
    bowl_fill: 75 %
    scales: {full: 1, half: 0.5}
  mixed:
    name: Mixed
    parts: [{use: milk, amount: 1 l}, {use: boiled, amount: 270 g}]
  tinned:
    name: Tinned
    parts: [{use: tin, amount: 1 pack}, {use: milk, amount: 600 g}]
    lead: tin
  soaked:
    name: Soaked
    parts: [{use: seeds-dry, amount: 30 g}, {use: water, amount: 600 g}]
    density: 1.02 g/ml
    scales: {full: 1, half: 0.5}
  lemonade:
    name: Lemonade
    parts: [{use: lemon, amount: 300 ml}, {use: cane, amount: 200 ml}, {use: water, amount: 1 l}]
  gingered:
    name: Gingered
    parts: [{use: sugar, amount: 800 g}, {use: ginger, amount: 120 g}, {use: water, amount: 400 g}]
    loss: 8 %
bases:
  tea: {from: brew, tool: jug, station: bar}
  sweet-milk: {from: tinned, tool: jug, station: bar}
toppings:
  pearls: {from: cooked, behaves: settled, density: 1.1 g/ml, bulk_density: 0.65 g/ml,
    tool: scale, station: bar}
  seeds: {from: soaked, behaves: settled, density: 1.05 g/ml, bulk_density: 0.9 g/ml,
    tool: scale, station: bar}
drinks:
  cup-of-all:
    name: Cup of all
    cups: [medium]
    build:
      - {add: pearls, amount: 40 g}
      - {add: seeds, amount: 20 g}
      - {add: sweet-milk, amount: 100 g}
      - {add: tea, amount: 150 ml}
"""


@lru_cache(maxsize=1)
def kitchen() -> Checked:
    checked = m.check_texts(KITCHEN)
    assert not checked.stopped, m.said(checked.findings)
    return checked


def sheet(batch: str, wish: pc.Wish | None = None) -> list[str]:
    """The lines of the batch's sheet, single spaced."""
    checked = kitchen()
    assert checked.menu is not None
    made = pc.scale_batch(checked.menu, batch, wish or pc.Wish(), servings=checked.servings)
    return [" ".join(line.split()) for line in made.text.splitlines()]


def data(batch: str, wish: pc.Wish | None = None) -> dict[str, Any]:
    menu = kitchen().menu
    assert menu is not None
    found: dict[str, Any] = told(
        pc.scale_batch(menu, batch, wish or pc.Wish(), pc.How("json")).data
    )
    return found


def says(lines: list[str], *wanted: str) -> None:
    for one in wanted:
        assert one in lines, f"{one!r} is not in {lines}"


def test_a_brew_is_what_was_measured() -> None:
    # water 2000 x 0.998 = 1996 g; parts 40 + 1996 = 2036 g; yield 1800 ml x 1.0 = 1800 g
    # leaf and pot keep 2036 - 1800 = 236 g, 236 / 2036 = 11.6 %; ratio 1996 / 40 = 49.9
    # 150 ml x 1.0 = 150 g a cup: 1800 / 150 = 12 and nothing over
    says(sheet("brew"), "40 g Leaf", "1996 g Water 2 l", "Gives 1.8 l · 1800 g", "Yield measured",
         "236 g (12%) stays behind", "Brew ratio 1 : 50", "150 ml · Medium 12 0 g")  # fmt: skip


def test_a_syrup_boiled_down() -> None:
    # parts 1500 g, x 0.9 = 1350 g; 150 g of water are gone, 150 / 1500 = 10 %
    # 1000 / 1.588 = 629.72 ml, 500 / 0.998 = 501.00 ml, less 150 / 0.9982 = 150.27 ml: 980.45 ml
    # 1000 g of sugar in 1350 g are 74.1 °Bx
    says(sheet("boiled"), "1000 g Sugar", "500 g Water", "Gives 980 ml · 1350 g",
         "Yield worked out", "150 g (10%) stays behind", "Sugar 74 °Bx")  # fmt: skip


def test_a_porridge_weighed_when_done() -> None:
    # parts 200 + 998 = 1198 g, of which 1100 g are left: 98 / 1198 = 8.2 %; 1100 / 1.05 = 1047.6 ml
    says(sheet("porridge"), "998 g Water 1 l", "Gives 1.04 l · 1100 g", "Yield measured",
         "98 g (8%) stays behind")  # fmt: skip


def test_cream_whipped_in_a_bowl_that_keeps_some() -> None:
    # 500 ml x 1.006 = 503 g and 50 g: 553 g, of which 90 % = 497.7 g come out, 55.3 g stay
    # 500 + 50 / 1.588 = 531.49 ml, x 1.8 = 956.67 ml in the bowl of 1500 x 0.8 = 1200 ml
    # 956.67 x 0.9 = 861.0 ml come out
    says(sheet("whipped"), "503 g Cream 500 ml", "50 g Sugar", "Gives 860 ml · 497 g",
         "55 g (10%) stays behind", "Air 80%", "Bowl 1.5 l: rises to 955 ml, fits")  # fmt: skip


def test_pearls_cooked_in_water() -> None:
    # 400 g x 2.5 = 1000 g: 600 g of water, 600 / 400 = 150 %; heaped 1000 / 0.65 = 1538.5 ml
    # pot: 400 / 1.3 = 307.7 ml and 4000 ml of water = 4307.7 ml, of 6000 x 0.75 = 4500 ml
    # 40 g a cup: 25 portions. Half: 200 g, 2 l of water, 500 g, 500 / 0.65 = 769.2 ml
    says(sheet("cooked"), "400 g Dry pearls", "1 Boil 4 l water · 30 min · 100 °C",
         "Gives 1.53 l heaped · 1000 g", "600 g (150%) of water taken up",
         "Bowl 6 l: rises to 4.3 l, fits", "40 g · Medium 25 0 g")  # fmt: skip
    says(sheet("cooked", pc.Wish(scale="half")), "200 g Dry pearls",
         "1 Boil 2 l water · 30 min · 100 °C", "Gives 765 ml heaped · 500 g")  # fmt: skip


def test_a_batch_inside_another() -> None:
    # milk 1000 x 1.031 = 1031 g, and 270 g of the boiled syrup of 1350 g / 980.45 ml = 1.3769 g/ml,
    # 270 / 1.3769 = 196.09 ml: 1301 g in 1196.09 ml. Its sugar: 270 x 0.7407 = 200 g; milk's is not
    # known, so no Brix is printed.
    lines = sheet("mixed")
    says(lines, "1031 g Milk 1 l", "270 g Boiled syrup", "Gives 1.19 l · 1301 g",
         "Yield is the sum of the parts")  # fmt: skip
    assert not [line for line in lines if "°Bx" in line]


def test_whole_tins_for_the_portions_asked() -> None:
    # a full batch is 397 + 600 = 997 g; 20 cups x 100 g = 2000 g are 2.006 batches: 3 tins
    # 3 x 397 = 1191 g, 3 x 600 = 1800 g: 2991 g; 1191 / 1.29 + 1800 / 1.031 = 923.26 + 1745.88
    # = 2669.1 ml; 29 cups, 91 g over; 100 g are 100 x 2669.1 / 2991 = 89.2 ml
    lines = sheet("tinned", pc.Wish(portions={"medium": 20}))
    says(lines, "1191 g Tin 3 packs · whole packs only", "1800 g Milk", "Gives 2.66 l · 2991 g",
         "89 ml · Medium 29 91 g")  # fmt: skip
    assert data("tinned", pc.Wish(packs=3))["yield"]["volume_ml"] == pytest.approx(
        2669.14, abs=0.01
    )


def test_seeds_soaked_are_a_heap() -> None:
    # 30 + 600 = 630 g; heaped 630 / 0.9 = 700 ml, not the 630 / 1.02 = 617.6 ml without gaps
    # 20 g a cup: 31 and 10 g over. Half: 15 g and 300 g
    says(sheet("soaked"), "30 g Seeds", "600 g Water", "Gives 700 ml heaped · 630 g",
         "20 g · Medium 31 10 g", "Seeds 30 15", "Water 600 300", "Gives 630 g 315 g")  # fmt: skip
    # two tubs of 500 ml: 1000 / 700 = 1.4286 batches, 43 g and 857 g
    tubs = sheet("soaked", pc.Wish(containers=2, container_ml=500.0))
    says(tubs, "43 g Seeds", "857 g Water", "Gives 1 l heaped · 900 g")


def test_a_lemonade_of_volumes() -> None:
    # 300 x 1.031 = 309.3 g, 200 x 1.31656 = 263.31 g, 1000 x 0.998 = 998 g: 1570.61 g in
    # 1500 ml
    says(sheet("lemonade"), "309 g Lemon 300 ml", "263 g Cane 200 ml", "998 g Water 1 l",
         "Gives 1.5 l · 1570 g")  # fmt: skip
    figured = data("lemonade")
    assert figured["yield"]["mass_g"] == pytest.approx(1570.61, abs=0.01)
    assert figured["loss_g"] == pytest.approx(0.0)


def test_as_much_as_the_ginger_there_allows() -> None:
    # 80.5 / 120 = 0.67083 of 800, 120 and 400 g: 536.67, 80.5 and 268.33 g, weighed downwards
    # 1320 x 0.67083 = 885.5 g, 92 % = 814.66 g; (536.67 / 1.588 + 80.5 + 268.33 / 0.998) x 0.92
    # = (337.95 + 80.5 + 268.87) x 0.92 = 632.3 ml
    there = pc.Wish(stock_g={"ginger": 80.5, "sugar": 5000.0})
    says(sheet("gingered", there), "536 g Sugar", "80 g Ginger", "268 g Water",
         "Gives 630 ml · 814 g", "70 g (8%) stays behind")  # fmt: skip
    assert data("gingered", there)["limited_by"] == "ginger"
    assert data("gingered", there)["factor"] == pytest.approx(0.670833, abs=1e-6)
