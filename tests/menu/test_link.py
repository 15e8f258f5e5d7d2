"""Every fault of linking: a small menu that trips it, at its place, and the same menu fixed."""

from __future__ import annotations

import menu_samples as m
import pytest

from buildsheets.findings.catalogue import catalogue
from buildsheets.findings.finding import Severity
from buildsheets.menu.model import AddStep
from buildsheets.rules.run import RULES

# code, what stands in the small menu, what is written instead, and what the finding points at:
# the text that starts there ("" for the whole of what was written).
CASES = [
    ("REF01", "{from: cane, tool: pump", "{from: can, tool: pump", "can,"),
    ("REF01", "{add: pearls, amount: 1 scoop}", "{add: perls, amount: 1 scoop}", "perls"),
    ("REF01", "{topping: pearls", "{topping: beans", "beans"),
    ("REF01", "tool: scoop, station: bar}\noptions", "tool: scop, station: bar}\noptions", "scop"),
    ("REF01", "add_ons: [add-pearls]", "add_ons: [add-perls]", "add-perls"),
    ("ALG03", "contains: [milk]", "contains: [milky]", "milky"),
    ("REF01", "cups: [medium, tall, poured]", "cups: [medium, tal, poured]", "tal,"),
    ("REF01", "{medium: 5, tall: 3}", "{medium: 5, tal: 3}", "tal:"),
    ("REF01", "{drink: shaken", "{drink: shakn", "shakn"),
    ("REF01", "add_ons: {add-pearls: 2}", "add_ons: {add-perls: 2}", "add-perls"),
    ("REF01", "default: regular", "default: regulr", "regulr"),
    ("REF01", "price: 4.00\n    add_ons", "price: {medum: 4.00}\n    add_ons", "medum"),
    ("REF01", "amount: 200 ml", "amount: {medium: 200 ml, mediun: 1 ml}", "mediun"),
    ("REF01", "station: shaking}", "station: shakin}", "shakin}"),
    ("REF02", "sweeteners:\n", "sweeteners:\n  tea: {from: cane}\n", "tea:"),
    ("REF02", "  strong-brew:\n", "  water:\n    name: W\n    parts: [{use: milk, amount: 1 g}]\n"
     "    keeps_for: 1 days\n    keeps_at: 5 °C\n  strong-brew:\n", "water:"),
    ("RNG01", "rim: 91 mm", "rim: 0 mm", "0 mm"),
    ("RNG01", "packing: 55 %", "packing: 100 %", "100 %"),
    ("RNG01", "share: 0 %", "share: 300 %", "300 %"),
    ("RNG01", "{drink: shaken, count: 4}", "{drink: shaken, count: -4}", "-4"),
    ("RNG01", "hold_back_at_most: 50 %", "hold_back_at_most: 150 %", "150 %"),
    ("RNG01", "brix: 65 °Bx", "brix: 101 °Bx", "101 °Bx"),
    ("RNG01", "{add: strong, amount: 200 ml", "{add: strong, fill_to: 0 ml", None),
    ("RNG01", "    lead: milk\n", "    lead: milk\n    loss: 100 %\n", "100 %"),
    ("RNG01", "    lead: milk\n", "    lead: milk\n    scales: {full: 0}\n", "0}"),
    ("RNG01", "cubes: {name: Cubes,", "cubes: {name: Cubes, temperature: 4 °C,", "4 °C"),
    ("RNG01", "price: 0.60", "price: -0.60", "-0.60"),
    ("CUP06", "    lid: flat\n", "    lid: flat\n    dome: 30 mm\n", "dome"),
    ("CUP06", "    lid: dome\n", "    lid: dome\n    dome_hole: 20 mm\n", "dome_hole"),
    ("CUP06", "    lid: dome\n", "    lid: dome\n    dome: 30 mm\n    dome_hole: 90 mm\n", "dome:"),
    ("CUP06", "    lid: film\n", "    lid: dome\n    dome: 30 mm\n", "dome:"),
    ("CUP07", "base: 58 mm", "base: 58 cm", "58 cm"),
    ("CUP07", "    lid: dome\n", "    lid: dome\n    dome: 40 cm\n", "40 cm"),
    ("DEN06", "density: 1.031 g/ml", "density: 1.931 g/ml", "1.931"),
    ("GAS05", "  tea: {from: brew,", "  tea: {from: brew, head: 15 %,", "head"),
    ("SHP01", "Europe/Madrid", "Europe/Atlantis", ""),
    ("SHP02", "card: A5", "card: A55", "A55"),
    ("SHP02", "card: A5", "card: 10 x 10 mm", "10 x"),
    ("SHP04", "card: A5\n", "card: A5\n  site: 'javascript:alert(1)'\n", "'javascript"),
    ("SHP04", "card: A5\n", "card: A5\n  site: 'https://[::1'\n", "'https"),
    ("SHP05", "measures: metric", "measures: metric\n  volumes: fl oz", "fl oz"),
    *(
        ("SHP04", "card: A5\n", f"card: A5\n  site: 'https://x.example:{port}'\n", "'https")
        for port in (0, 65536, 99999)
    ),
    ("SHP03", "currency: EUR", "currency: Euro", "Euro"),
    ("LNG01", "languages: [en]", "languages: [en, Elvish!]", "Elvish!"),
    ("LNG01", "languages: [en]", "languages: []", "languages"),
    ("KEEP01", "shelf_rules: us-food-code", "shelf_rules: custom", "custom"),
    ("KEEP02", "card: A5", "card: A5\n  cold_at: 6 °C", None),
    ("KEEP02", "card: A5", "card: A5\n  rule_days: 8", None),
    ("EDN01", "valid_to: 2026-09-30", "valid_to: 2026-02-28", "2026-02-28"),
    ("EDN02", "code: S26", "code: season of 2026", "season"),
    ("EDN02", "code: S26", "code: Con", "Con"),
    ("EDN02", "code: S26", "code: NUL", "NUL"),
    ("STN01", "letter: B,", "letter: Bar,", "Bar,"),
    ("STN02", "letter: S,", "letter: b,", "b,"),
    ("STN03", '"#0b5563"', "teal", "teal"),
    ("STN04", "pour: strained, station: shaking}", "pour: strained}", None),
    ("STN04", "{from: strong-brew, tool: jug, station: bar,", "{from: strong-brew, tool: jug,",
     None),
    ("TOOL01", "step: 1 pump, holds: 5 ml}", "step: 1 pump}", "1 pump"),
    ("TOOL02", "{add: plain-milk, amount: 100 ml}", "{add: plain-milk, amount: 2 pumps}",
     "2 pumps"),
    ("TOOL03", "  jug: {name", "  scale: {name: scale, kind: scale, step: 0.1 lb}\n  jug: {name",
     "0.1 lb"),
    ("CUP01", "    base: 58 mm\n", "", "name: Medium"),
    ("CUP01", "    base: 58 mm\n    rim: 91 mm\n    height: 114 mm\n", "", "name: Medium"),
    ("CUP02", "{height: 150 mm, diameter: 90 mm}", "{height: 150 mm}", "{height: 150"),
    ("CUP03", "{height: 0 mm, diameter: 60 mm}", "{height: 5 mm, diameter: 60 mm}", "profile"),
    ("CUP03", "{height: 120 mm, volume: 560 ml}", "{height: 120 mm, volume: 160 ml}",
     "calibration"),
    ("CUP03", "diameter: 90 mm", "diameter: 0 mm", "profile"),
    ("CUP04", "height: 114 mm\n    floor: 3 mm\n    headspace: 5 mm",
     "height: 114 mm\n    floor: 3 mm\n    headspace: 114 mm", "114 mm\n    lid"),
    ("DEN01", "    density_source: USDA SR26 01077\n", "", "density: 1.031"),
    ("DEN02", "    density: 0.998 g/ml\n    density_source: IAPWS-95, 20 °C\n", "", None),
    ("DEN03", "    bulk_density: 0.66 g/ml\n", "", "from: pearl-tin"),
    ("DEN04", "bulk_density: 0.66", "bulk_density: 1.66", "bulk_density"),
    ("BAT01", "{use: water, amount: 1 kg}", "{use: strong-brew, amount: 1 kg}", "brew:"),
    ("BAT02", "parts:\n      - {use: brew, amount: 500 ml}", "parts: []", "name: Strong brew"),
    ("BAT03", "lead: milk", "lead: cane", "cane"),
    ("BAT04", "    lead: milk\n", "    lead: milk\n    yield_factor: 0.9\n"
     "    measured_yield: 1 l\n", "yield_factor"),
    ("BAT11", "    lead: milk\n", "    lead: milk\n    steps: [{do: Stir, adds: cane}]\n", "cane}"),
    ("BAT12", "batches:\n  brew:\n", "kitchen: {shelf: {name: shelf}}\nbatches:\n  brew:\n"
     "    kept_in: shelf\n", "shelf\n"),
    ("BAT05", "    pack: {quantity: 1 l, price: 1.05}\n", "", "1 pack}"),
    ("OPT01", "at_most: 2,", "at_most: 3,", "3,"),
    ("OPT02", "default: 100 %", "default: 75 %", "75 %"),
    ("OPT03", "{topping: pearls", "{topping: cubes", "cubes, amount"),
    ("SWP01", "drinks:\n  cloud:",
     "swaps:\n  other: {of: plain-milk, with: sweet}\ndrinks:\n  cloud:", "sweet}\ndrinks"),
    ("SWP02", "drinks:\n  cloud:\n", "swaps:\n  other: {of: strong, with: tea}\ndrinks:\n  cloud:\n"
     "    swaps: [other]\n", "swaps: [other]"),
    ("SWP03", "drinks:\n  cloud:", "swaps:\n  other: {of: plain-milk, with: tea, name: Else}\n"
     "  third: {of: plain-milk, with: strong, name: Else}\ndrinks:\n  cloud:",
     "name: Else}\ndrinks"),
    ("SWP04", "add_ons: {add-pearls: 2}}\n      - {drink: shaken, count: 4}\n",
     "add_ons: {add-pearls: 2}, swaps: {other: 9}}\n      - {drink: shaken, count: 4}\n"
     "swaps:\n  other: {of: plain-milk, with: tea}\n", "other: 9"),
    ("REF01", "drinks:\n  cloud:\n", "swaps:\n  other: {of: plain-milk, with: tea}\ndrinks:\n"
     "  cloud:\n    swaps: [othr]\n", "othr]"),
    ("DRK01", "cups: [medium, tall, poured]", "cups: []", "cups: []"),
    ("DRK02", "{add: plain-milk, amount: 100 ml}", "{add: plain-milk}", "plain-milk}"),
    ("DRK02", "fill_to: 380 ml}", "fill_to: 380 ml, amount: 1 ml}", "tea, fill"),
    ("DRK03", "{add: pearls, amount: 1 scoop}", "{add: pearls, fill_to: 100 ml}", "fill_to: 100"),
    ("DRK03", "{add: strong, amount: 200 ml", "{add: strong, fill_to: 200 ml", "fill_to: 200"),
    ("DRK04", "{add: plain-milk, amount: 100 ml}",
     "{add: plain-milk, amount: {medium: 100 ml, tall: 90 ml}}", "{medium: 100"),
    ("DRK05", "{do: shake, pour: strained,", "{do: shake,", "shake, station"),
    ("DRK06", "amount: 100 ml}\n      - {add: tea, fill_to: 380 ml}",
     "amount: 100 ml, makes_room: yes}\n      - {add: tea, fill_to: 380 ml, makes_room: yes}",
     "{add: tea"),
    ("DRK07", "      - {add: strong, amount: 200 ml, into: shaker}\n", "",
     "build:\n      - {add: sw"),
    ("DRK07", "{add: strong, amount: 200 ml,",
     "{add: strong, makes_room: no, amount: 200 ml,", None),
    ("DRK08", "      - {do: stir, for: 5 s}\n", "      - {do: pour}\n", "{do: pour}"),
    ("DRK09", "      - {do: shake, pour: strained, station: shaking}\n", "",
     "{add: cubes, amount: 2 scoops, into"),
    ("DRK10", "{add: sweet, amount: 2 pumps}\n", "{add: sweet, amount: 2 pumps, makes_room: yes}\n",
     "makes_room: yes"),
    ("DRK12", "pour: strained, station: shaking}\n",
     "pour: strained, station: shaking}\n      - {add: tea, amount: 10 ml, into: blender}\n"
     "      - {do: blend, air: 10 %, station: shaking}\n", "{do: blend"),
    ("DRK14", "      - {do: stir, for: 5 s}\n", "      - {do: stir, for: 5 s, only: hot}\n",
     "only: hot"),
    ("DAY01", 'closes: "20:00"', 'closes: "09:00"', '"09:00"'),
    ("DAY02", 'opens: "10:00"', 'opens: "10"', '"10"'),
    ("DAY05", 'closes: "20:00"\n',
     'closes: "20:00"\n    people: [{from: "10:00", to: "09:00"}]\n', '"09:00"'),
    ("DAY03", 'closes: "20:00"\n', 'closes: "20:00"\n    guests: [{at: "21:00", count: 5}]\n',
     '{at: "21:00"'),
    ("DAY08", "add_ons: {add-pearls: 2}", "add_ons: {add-pearls: 9}", "add-pearls: 9"),
]  # fmt: skip


def errors(text: str) -> list[str]:
    return m.said(f for f in m.check_texts(text).findings if f.severity is Severity.ERROR)


def test_the_small_menu_is_clean() -> None:
    assert m.said(m.check_texts(m.SMALL).findings) == []


# Cases whose station is found all the same: an action happens where the step before it did.
SILENT = {("STN04", "pour: strained, station: shaking}")}


@pytest.mark.parametrize(
    ("code", "right", "wrong", "mark"), [c for c in CASES if c[:2] not in SILENT]
)
def test_each_fault_is_the_only_finding_and_stands_at_its_place(
    code: str, right: str, wrong: str, mark: str | None
) -> None:
    text = m.swapped(m.SMALL, right, wrong)
    errors = [f for f in m.check_texts(text).findings if f.severity is Severity.ERROR]
    assert [f.code for f in errors] == [code], m.said(errors)
    (found,) = errors
    assert found.name == catalogue()[code].name
    if mark is None:
        return
    where = m.place_of(text, mark, wrong) if mark in wrong else m.place_of(text, mark or wrong)
    assert m.starts(found.span) == where, (found.span, found.message)


def test_an_action_without_a_station_happens_where_the_step_before_it_did() -> None:
    right, wrong = "pour: strained, station: shaking}", "pour: strained}"
    checked = m.check_texts(m.swapped(m.SMALL, right, wrong))
    assert m.said(checked.findings) == []
    assert checked.menu is not None
    station = checked.menu.drinks["shaken"].steps[-1].station
    assert station is not None
    assert station.id == "bar"


def test_powder_is_counted_in_shakes_of_a_shaker() -> None:
    """Two shakes of 0.25 g are half a gram; a pump gives no shakes, and a shaker is asked for."""
    demo = m.check_texts(m.demo()).menu
    assert demo is not None
    (cocoa,) = [
        step.amounts["small"]
        for step in demo.drinks["oolong-ember"].steps
        if isinstance(step, AddStep) and step.component.id == "cocoa"
    ]
    assert (cocoa.count, cocoa.mass_g) == (2.0, pytest.approx(0.5))
    wrong = "{add: plain-milk, amount: 2 shakes}"
    text = m.swapped(m.SMALL, "{add: plain-milk, amount: 100 ml}", wrong)
    (found,) = [f for f in m.check_texts(text).findings if f.severity is Severity.ERROR]
    assert found.hint == "name a tool of kind shaker, or write ml or g"


def test_every_fault_has_a_case() -> None:
    areas = [
        "REF",
        "ALG",
        "RNG",
        "SHP",
        "LNG",
        "KEEP",
        "EDN",
        "STN",
        "TOOL",
        "CUP",
        "DEN",
        "BAT",
        "OPT",
        "SWP",
        "DRK",
        "DAY",
        "GAS",
    ]
    linking = {code for code in catalogue() if code.rstrip("0123456789") in areas} - set(RULES)
    linking -= {"LNG03"}  # of a shop's own list of words, which the menu's text does not hold
    assert {code for code, *_ in CASES} == linking


@pytest.mark.parametrize(
    ("right", "wrong", "fixed"),
    [
        ("{add: pearls, amount: 1 scoop}", "{add: perls, amount: 1 scoop}", "pearls"),
        ("{drink: shaken", "{drink: shakn", "shaken"),
        ("at_most: 2,", "at_most: 3,", "2"),
    ],
)
def test_the_fix_offered_is_the_right_word(right: str, wrong: str, fixed: str) -> None:
    text = m.swapped(m.SMALL, right, wrong)
    (found,) = m.check_texts(text).findings
    assert [fix.replacement for fix in found.fixes] == [fixed]
    back = m.applied({"menu.yaml": text}, found.fixes[0])
    assert back["menu.yaml"] == m.SMALL


def test_everything_that_needs_a_lost_entry_is_left_out_without_a_finding() -> None:
    text = m.swapped(m.SMALL, "holds: 40 g", "holds: 40 mm")
    (found,) = m.check_texts(text).findings
    assert found.code == "VAL08"
    checked = m.check_texts(text)
    assert checked.menu is not None
    assert set(checked.menu.drinks) == set()
    assert set(checked.menu.components) == {"tea", "strong", "plain-milk", "sweet"}


def batches_in_a_row(number: int) -> str:
    """The small menu with so many batches more, each made of the one written after it."""
    row = "".join(
        f"  deep{i}: {{name: D, parts: [{{use: deep{i + 1}, amount: 1 g}}], keeps_for: 1 days}}\n"
        for i in range(number)
    )
    last = f"  deep{number}: {{name: D, parts: [{{use: water, amount: 1 g}}], keeps_for: 1 days}}\n"
    return m.swapped(m.SMALL, "batches:\n", f"batches:\n{row}{last}")


@pytest.mark.parametrize(("number", "codes"), [(30, set()), (500, {"BAT01"})])
def test_batches_far_within_one_another_are_refused_not_crashed_on(
    number: int, codes: set[str]
) -> None:
    findings = m.check_texts(batches_in_a_row(number)).findings
    assert {f.code for f in findings if f.severity is Severity.ERROR} == codes


def test_amounts_of_tools_and_packs_become_grams_and_ml() -> None:
    menu = m.check_texts(m.SMALL).menu
    assert menu is not None
    pearls, sweet, cubes, *_ = menu.drinks["cloud"].steps
    scoop = pearls.amounts["medium"]
    assert (scoop.mass_g, scoop.count) == (40.0, 1.0)
    assert scoop.volume_ml == pytest.approx(40.0 / 0.66)  # bulk
    # 65 °Bx at 20 °C: 1.3163 g/ml, ICUMSA tables via the polynomial of the fill model, section 7
    pumps = sweet.amounts["medium"]
    assert pumps.volume_ml == 10.0
    assert pumps.mass_g == pytest.approx(13.16, abs=0.01)
    ice = cubes.amounts["medium"]
    assert ice.volume_ml == pytest.approx(80.0 / (0.9167 * 0.55), rel=1e-4)
    brew = menu.batches["brew"]
    assert [part.mass_g for part in brew.parts] == pytest.approx([1000.0, 1031.0])


def test_an_entry_with_a_fault_of_its_own_is_still_named_among_those_there_are() -> None:
    text = m.swapped(m.SMALL, "{topping: pearls", "{topping: beans")
    text = m.swapped(text, "add_ons: [add-pearls]", "add_ons: [add-perls]")
    (found,) = [f for f in m.check_texts(text).findings if "add-perls" in f.message]
    assert "add-pearls" in found.hint
    assert [fix.text for fix in found.fixes] == ["write add-pearls"]


def test_an_amount_is_not_measured_with_a_line() -> None:
    """A card would say "100 ml with the line on the cup"; a line is poured to."""
    lined = m.swapped(m.SMALL, "tools:\n", "tools:\n  edge: {name: edge, kind: line, step: 1 mm}\n")
    wrong = m.swapped(lined, "plain-milk, amount: 100 ml", "plain-milk, amount: 100 ml, tool: edge")
    (found,) = (f for f in m.check_texts(wrong).findings if f.severity is Severity.ERROR)
    assert (found.code, m.starts(found.span)) == ("TOOL02", m.place_of(wrong, "100 ml, tool"))
    assert "'edge' shows lines" in found.message
    poured = m.swapped(wrong, "plain-milk, amount: 100 ml", "plain-milk, fill_to: 250 ml")
    assert not m.check_texts(poured).stopped


@pytest.mark.parametrize(
    ("old", "new", "to_do"),
    [
        ("{drink: shaken", "{drink: sold-last-season", "delete this line of the day's sales"),
        ("{medium: 5, tall: 3}", "{medium: 5, quart: 3}", "take it out of this day's sales too"),
        ("add_ons: {add-pearls: 2}", "add_ons: {plums: 2}", "take it out of this day's sales too"),
    ],
)
def test_a_day_that_sells_what_went_says_what_to_take_out(old: str, new: str, to_do: str) -> None:
    (one,) = m.check_texts(m.swapped(m.SMALL, old, new)).findings
    assert one.code == "REF01"
    assert f"if it is sold no more, {to_do}" in one.hint
