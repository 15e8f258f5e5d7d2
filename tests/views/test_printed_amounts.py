"""Amounts of every choice, read from the printed tables of the demo's cards as a person would."""

from __future__ import annotations

from pathlib import Path

import pytest
from menu_samples import check_once, check_texts, swapped

from buildsheets.cup.scan import choices
from buildsheets.cup.serving import Choice, Serving
from buildsheets.menu.model import AddStep
from buildsheets.pipeline import Checked
from buildsheets.print.layouts import Layouts
from buildsheets.views import rounding
from buildsheets.views.addons import addons_view
from buildsheets.views.build import build_view
from buildsheets.views.grids import grids, joined, pieces, sections
from buildsheets.views.station import station_view
from buildsheets.views.types import AmountRow, AmountTable, BuildCardView, StepView

WORDS = Layouts(None).words("en")
MENUS = Path(__file__).parents[1] / "menus"


def names_of(serving: Serving, choice: Choice) -> tuple[str, str, str]:
    """How a choice is printed: its add-ons, its ice, its sweetness."""
    drink = serving.drink
    chosen = [a.name.in_language("en") for a in drink.add_ons if a.id in choice.add_ons]
    ice = drink.ice.names[choice.ice].in_language("en") if drink.ice and choice.ice else ""
    sweet = "" if choice.sweetness is None else f"{choice.sweetness:.0%}"
    return " + ".join(chosen) or "no add-on", ice, sweet


def read(step: StepView, tables: tuple[AmountTable, ...], order: tuple[str, str, str]) -> str:
    """What a person reads of a step for an order."""
    sets, ice, sweet = order
    mine = [(table, row) for table in tables if table.step == step.number for row in table.rows]
    called = {sets, *(WORDS("order_with", name=name) for name in sets.split(" + "))}
    called.add(f"{sets} + any swap or none")
    named = any(called & {*row.add_ons} for _, row in mine)
    for table, row in mine:
        fits = called & {*row.add_ons} if named else not row.add_ons
        if fits and row.ice in ("", ice):
            return row.amounts[table.header.index(sweet) if table.header else 0]
    return step.amount


@pytest.mark.parametrize("menu", ["demo", "shifted-table.yaml"])
def test_tables_say_what_the_engine_figured_for_every_choice(menu: str, checked: Checked) -> None:
    found = checked if menu == "demo" else check_once(MENUS / menu)
    assert found.menu is not None
    read_amounts = 0
    for serving in found.servings:
        view = build_view(found.menu, serving, WORDS)
        for choice in choices(serving.drink, serving.cup):
            order, made = names_of(serving, choice), serving.choices[choice]
            steps = [f for f in made.steps if f.add_on is None]
            for step, figure in zip(view.steps, steps, strict=True):
                if not isinstance(figure.step, AddStep):
                    continue
                wanted = rounding.measured(figure, WORDS)[0]
                if figure.step.makes_room and made.verdict == "too-much":
                    wanted = "–"
                assert read(step, view.amounts, order) == wanted, (view.title, order, step)
                read_amounts += 1
    assert read_amounts > 200


def test_a_dash_in_the_place_of_an_amount_is_explained_on_both_cards() -> None:
    text = (MENUS / "shifted-table.yaml").read_text("utf-8")
    lower = text.replace("hold_back_at_most: 40 %", "hold_back_at_most: 5 %")
    found = check_texts(lower.replace("small: 300 ml, big: 450 ml", "small: 345 ml, big: 450 ml"))
    assert found.menu is not None
    small = [s for s in found.servings if s.cup.id == "small"]
    dashed = set[str]()
    for serving in small:
        view = build_view(found.menu, serving, WORDS)
        cells = {cell for table in view.amounts for row in table.rows for cell in row.amounts}
        said = view.options_note == "– = does not fit: not made"
        assert said == ("–" in cells), view.title
        dashed |= {view.title} if said else set()
    assert dashed
    assert len(dashed) < len(small)
    for station in found.menu.stations.values():
        card = station_view(found.menu, station, small[0].cup, found.servings, WORDS)
        for row in card.rows if card else ():
            cells = {cell for table in row.amounts for one in table.rows for cell in one.amounts}
            assert ("– = does not fit: not made" in row.check) == ("–" in cells), row.drink


def test_swaps_that_change_nothing_beside_an_add_on_are_not_listed_with_it() -> None:
    """Of two swaps and what they make together, each set of add-ons would stand four times."""
    text = (MENUS / "shifted-table.yaml").read_text("utf-8")
    before, lemonade = text.split("  lemonade:")
    lemonade = lemonade.replace("[extra-pearls]", "[extra-foam, dot]").replace("300 ml", "335 ml")
    dot = (
        "add_ons:\n  dot: {topping: foam, name: Dot, amount: 1 spoon, price: 0.20}\n  extra-pearls:"
    )
    swaps = """swaps:
  plain: {of: agave-pump, with: sugar, name: Plain syrup, price: 0}
  weak: {of: lemon, with: still, name: Watered, price: 0}

drinks:"""
    text = swapped(swapped(before, "add_ons:\n  extra-pearls:", dot), "drinks:", swaps)
    found = check_texts(text + "  lemonade:" + lemonade)
    assert found.menu is not None
    (serving,) = (s for s in found.servings if (s.drink.id, s.cup.id) == ("lemonade", "small"))
    view = build_view(found.menu, serving, WORDS)
    named = {name for table in view.amounts for row in table.rows for name in row.add_ons}
    assert "Vanilla foam + any swap or none" in named
    assert not any("Watered" in name or "Plain syrup" in name for name in named)
    for choice in choices(serving.drink, serving.cup):
        steps = [f for f in serving.choices[choice].steps if f.add_on is None]
        for step, figure in zip(view.steps, steps, strict=True):
            if isinstance(figure.step, AddStep) and serving.choices[choice].verdict != "too-much":
                amount = rounding.measured(figure, WORDS)[0]
                assert read(step, view.amounts, names_of(serving, choice)) == amount, choice


def test_station_cards_and_add_on_card_print_the_build_cards_tables(checked: Checked) -> None:
    menu = checked.menu
    assert menu is not None
    size = menu.cups["medium"]
    here = [serving for serving in checked.servings if serving.cup.id == "medium"]
    at_stations: dict[str, set[AmountTable]] = {}
    for station in menu.stations.values():
        view = station_view(menu, station, size, here, WORDS)
        assert view is not None
        for row in view.rows:
            at_stations.setdefault(row.drink.partition(" · ")[0], set()).update(row.amounts)
    sheet = addons_view(menu, size, here, WORDS)
    assert sheet is not None
    rows = [row for table in sheet.tables for row in table.rows]
    for serving in here:
        build = build_view(menu, serving, WORDS)
        assert at_stations[build.title] == {*build.amounts}
        mine = [row for row in rows if build.title in row[-1].split(" · ")]
        for table in build.amounts:
            for grid in grids([table]) if table.in_line else ():
                assert all(any(row == one[:-1] for one in mine) for row in grid.rows)
            for made in table.rows if not table.header and not table.in_line else ():
                if made.add_ons and not made.ice:
                    told = f"{table.what}: {made.amounts[0]} {table.unit}"
                    assert (made.either, told) in [row[:2] for row in mine]


def with_tables(*rows: AmountRow, header: tuple[str, ...] = ()) -> AmountTable:
    return AmountTable(5, "Black tea", "ml line", header, rows, "Sweetness", "any other")


def test_tables_are_printed_under_one_header_and_named_by_what_changes() -> None:
    syrup = AmountTable(1, "Syrup", "pumps", ("0%", "100%"), (AmountRow((), "", ("0", "4")),),
                        "Sweetness")  # fmt: skip
    ice = AmountTable(2, "Ice", "scoops", (), (AmountRow((), "No ice", ("0",)),
                      AmountRow((), "Ice", ("2",))), "Ice")  # fmt: skip
    by_ice = [AmountRow(("no add-on",), "No ice", ("1", "2")),
              AmountRow(("no add-on",), "Ice", ("3", "4")),
              AmountRow(("Cap", "Cap + Jelly"), "", ("5", "6"))]  # fmt: skip
    tea = with_tables(*by_ice, header=("0%", "100%"))
    assert [(grid.header, grid.rows) for grid in grids((syrup, ice, tea))] == [
        (("Sweetness", "0%", "100%"), (
            ("Syrup (pumps)", "0", "4"), ("Black tea (ml line) · no add-on",),
            ("No ice", "1", "2"), ("Ice", "3", "4"), ("Black tea (ml line)",),
            ("Cap / Cap + Jelly", "5", "6"))),
        (("Ice", "No ice", "Ice"), (("Ice (scoops)", "0", "2"),)),
    ]  # fmt: skip
    sets = with_tables(AmountRow(("Cap",), "", ("415",)), AmountRow((), "", ("425",)))
    (grid,) = grids((sets,))
    assert grid.rows == (("Black tea (ml line)",), ("Cap", "415"), ("any other", "425"))


def test_a_table_under_its_step_says_its_unit() -> None:
    """In the header of the amounts, or beside each where there is none; not of what is not made."""
    row = AmountRow((), "No ice", ("1", "2")), AmountRow((), "Ice", ("3", "4"))
    (grid,) = grids([with_tables(*row, header=("0%", "100%"))], titled=False)
    assert grid.header == ("Sweetness · ml line", "0%", "100%")
    assert grid.rows[-2:] == (("No ice", "1", "2"), ("Ice", "3", "4"))
    sets = with_tables(AmountRow(("Cap",), "", ("–",)), AmountRow((), "", ("425",)))
    (grid,) = grids([sets], titled=False)
    assert grid.rows[-2:] == (("Cap", "–"), ("any other", "425 ml line"))


def test_a_cut_keeps_the_rows_of_a_set_together_and_loses_none(checked: Checked) -> None:
    menu = checked.menu
    assert menu is not None
    cut = 0
    for serving in checked.servings:
        amounts = build_view(menu, serving, WORDS).amounts
        parts = pieces(amounts)
        assert sum(len(sections(grid)) for grid in grids(amounts)) == len(parts)
        assert {*joined(parts)} == {*amounts}
        for at in range(1, len(parts)):
            halves = *joined(parts[:at]), *joined(parts[at:])
            assert sum(len(one.rows) for one in halves) == sum(len(one.rows) for one in amounts)
            cut += 1
    assert cut > 50


def test_an_add_on_stands_where_it_goes_in(checked: Checked) -> None:
    """Its number is that of the step before it in the engine's order."""
    menu = checked.menu
    assert menu is not None
    seen = 0
    for serving in checked.servings:
        view: BuildCardView = build_view(menu, serving, WORDS)
        for one in view.add_ons:
            add_on = next(a for a in serving.offered if a.name.in_language("en") == one.name)
            made = serving.choices[Choice(serving.choice.sweetness, serving.choice.ice,
                                          (add_on.id,))]  # fmt: skip
            order = [f.add_on.id if f.add_on else "" for f in made.steps]
            assert one.after_step == order.index(add_on.id)
            assert str(one.after_step or 1) in one.place
            seen += 1
    assert seen > 20


WEIGHED = Path(__file__).parents[1] / "wall" / "menus" / "weighed.yaml"


def test_what_a_scale_weighs_is_told_in_grams_in_every_place() -> None:
    """Amounts by hand: half of 12.5 g of syrup is 6.25 g, which a scale of 0.1 g shows as 6.2 g;
    154.65 g of milk of 1.031 g/ml are 150 ml in a jug; 30 ml of it swapped by weight 30.9 g."""
    checked = check_once(WEIGHED)
    assert checked.menu is not None
    of = {(one.drink.id, one.cup.id): one for one in checked.servings}
    cocoa, tea = of["cocoa-milk", "small"], of["tea-of-grams", "small"]
    view = build_view(checked.menu, cocoa, WORDS)
    told = [(step.what, step.amount, step.unit, step.tool) for step in view.steps]
    assert told[:4] == [
        ("Chocolate sauce", "60", "g", "on the scale"),
        ("Syrup", "12.5", "g", "on the fine scale"),
        ("Ice cubes", "55", "g", "on the scale"),
        ("Milk", "150", "ml", "with the jug"),
    ]
    rows = {row.amounts for table in view.amounts if table.what == "Syrup" for row in table.rows}
    assert rows == {("0", "6.2", "12.5")}
    (oat,) = build_view(checked.menu, tea, WORDS).steps[2].swaps
    assert (oat.amount, oat.unit) == ("31", "g")
    assert {(one.amount, one.unit) for one in view.add_ons} == {("24", "g"), ("18", "g")}
    held = next(table for table in build_view(checked.menu, tea, WORDS).amounts if table.step == 4)
    assert held.unit == "g"
    for cup in checked.menu.cups.values():
        sheet = addons_view(checked.menu, cup, checked.servings, WORDS)
        assert sheet is not None
        cells = [cell for table in sheet.tables for row in table.rows for cell in row]
        assert not [
            cell for cell in cells if "ml" in cell and "ml line" not in cell and "Milk" not in cell
        ]
    for station in checked.menu.stations.values():
        card = station_view(checked.menu, station, cocoa.cup, checked.servings, WORDS)
        assert card is not None
        by_weight = {add.what: add.unit for row in card.rows for add in row.adds if add.amount}
        assert by_weight["Chocolate sauce"] == by_weight["Syrup"] == "g"


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", ["pumps", "pump", "pump", "pumps", "pumps"]),
        ("es", ["bombas", "bomba", "bomba", "bombas", "bombas"]),
        ("fr", ["pompe", "pompe", "pompe", "pompe", "pompes"]),
        ("de", ["Hübe", "Hub", "Hub", "Hübe", "Hübe"]),
    ],
)
def test_a_count_is_said_of_one_or_of_several_as_its_language_does(
    language: str, said: list[str]
) -> None:
    """0, ½, 1, 1½ and 2; CLDR 45, plural rules: French counts below two are of one."""
    menu = check_once(Path(__file__).parents[1] / "wall" / "menus" / "espresso.yaml").menu
    assert menu is not None
    words, pump = Layouts(None).words(language), menu.tools["pump"]
    assert [rounding.unit(words, pump, value) for value in (0.0, 0.5, 1.0, 1.5, 2.0)] == said
