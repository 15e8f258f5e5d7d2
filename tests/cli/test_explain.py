"""The calculation shown: the text's numbers are the data's, and each has the place it came from."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from command_samples import DEMO, ROOT, demo_copy, run
from menu_samples import SMALL, check_once, swapped
from print.pdf_reading import page_texts

from buildsheets.cli.explain import explain_text
from buildsheets.cli.explain_results import explained
from buildsheets.cli.main import main
from buildsheets.cli.plain_data import told as data_of
from buildsheets.cli.told import Wall
from buildsheets.cup.fit import default_choice
from buildsheets.cup.scan import choices, figure
from buildsheets.cup.serving import Choice
from buildsheets.menu.model import Menu
from buildsheets.print.render import render_pdf
from buildsheets.views.build import build_view
from buildsheets.views.station import station_view

PLACE = re.compile(r"\S+\.yaml:\d+:\d+")
NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?![\w])")


@pytest.fixture(scope="module")
def menu() -> Menu:
    checked = check_once(DEMO)
    assert checked.menu is not None
    return checked.menu


@pytest.fixture(scope="module")
def wall() -> Wall:
    checked = check_once(DEMO)
    assert checked.menu is not None
    return Wall.of(checked.menu, checked.servings, DEMO)


def leaves(data: Any) -> Iterator[Any]:
    if isinstance(data, dict):
        for value in data.values():
            yield from leaves(value)
    elif isinstance(data, list):
        for value in data:
            yield from leaves(value)
    else:
        yield data


def foreign_numbers(text: str, data: Any) -> list[str]:
    """Numbers of the text that are not, rounded as they are written, numbers of the data.

    A number also counts in per cent, as one part more (the air in a cap is a factor), and where it
    stands in one of the data's texts, such as an amount as it was written.
    """
    numbers: set[float] = set()
    words: set[str] = set()
    for leaf in leaves(data):
        if isinstance(leaf, bool) or leaf is None:
            continue
        if isinstance(leaf, int | float):
            numbers |= {leaf, 100 * leaf, 1 + leaf / 100}
        else:
            words |= set(NUMBER.findall(leaf))
    lacking = []
    for said in NUMBER.findall(PLACE.sub("", text)):
        digits = len(said.partition(".")[2])
        near = 0.5 * 10**-digits + 1e-9
        if said not in words and not any(abs(float(said) - n) <= near for n in numbers):
            # Densities have four figures that count, however many places that is.
            lacking += [] if any(f"{n:.4g}" == said for n in numbers) else [said]
    return lacking


def asked(menu: Menu) -> Iterator[tuple[Any, Any, Choice]]:
    """For every drink in its cups: as it comes, and the choice furthest from that."""
    for drink in menu.drinks.values():
        for size in drink.cups:
            every = list(choices(drink, size))
            yield drink, size, default_choice(drink)
            yield drink, size, every[0]
            yield drink, size, every[-1]


def test_every_number_of_the_text_is_in_the_data(menu: Menu, wall: Wall) -> None:
    seen = 0
    for drink, size, choice in asked(menu):
        text = explain_text(drink, size, choice, wall)
        data = data_of(explained(drink, size, choice, wall))
        assert foreign_numbers(text, data) == [], text
        for row, step in zip(re.findall(r"(?m)^\d+ .*$", text), data["steps"], strict=True):
            assert foreign_numbers(row, step) == [], row
        seen += len(NUMBER.findall(PLACE.sub("", text)))
    assert seen > 5000


def test_a_number_that_is_not_there_would_be_noticed(menu: Menu, wall: Wall) -> None:
    drink = menu.drinks["boathouse-pearl"]
    data = data_of(explained(drink, drink.cups[0], default_choice(drink), wall))
    assert foreign_numbers("may be filled  333.3 ml", data) == ["333.3"]


def test_each_step_and_figure_names_the_line_it_was_written_on(menu: Menu, wall: Wall) -> None:
    lines = {
        path.relative_to(ROOT).as_posix(): path.read_text("utf-8").splitlines()
        for path in DEMO.glob("*.yaml")
    }

    def written(place: Any) -> str:
        name = next(known for known in lines if place["file"].endswith(known))
        return lines[name][place["line"] - 1][place["column"] - 1 :]

    def entry(place: Any) -> str:
        """The line of a place and the one above it: an entry's key stands on one of them."""
        name = next(known for known in lines if place["file"].endswith(known))
        return "\n".join(lines[name][place["line"] - 2 : place["line"]])

    for drink, size, choice in asked(menu):
        data = data_of(explained(drink, size, choice, wall))
        assert data["cup"]["headspace_written"] in written(data["cup"]["headspace_at"])
        for step in data["steps"]:
            at = written(step["at"])
            if step["add"]:
                assert at.startswith(step["written"].removeprefix("to ")), step
                assert f"  {step['add']}:" in entry(step["component_at"]), step
            else:
                assert step["do"] in at, step
        text = explain_text(drink, size, choice, wall)
        rows = re.findall(r"(?m)^\d+ .*$", text)
        assert len(rows) == len(data["steps"])
        for row, step in zip(rows, data["steps"], strict=True):
            assert row.endswith("{file}:{line}:{column}".format(**step["at"]))


def test_the_data_is_what_the_cards_are_made_from(menu: Menu, wall: Wall) -> None:
    drink = menu.drinks["jasmine-cloud"]
    for size in drink.cups:
        serving = figure(drink, size)
        data = data_of(explained(drink, size, serving.choice, wall))
        assert data["verdict"] == serving.verdict
        assert data["steps"][-1]["state"]["top_ml"] == serving.final.top_ml
        assert [s["mass_g"] for s in data["steps"] if s["add"]] == [
            used.mass_g for used in serving.used
        ]


def test_an_amount_an_option_changes_is_shown_beside_the_written_one(
    menu: Menu, wall: Wall
) -> None:
    drink = menu.drinks["boathouse-pearl"]
    (medium,) = [cup for cup in drink.cups if cup.id == "medium"]
    text = explain_text(drink, medium, Choice(0.5, "less"), wall)
    assert "2 scoops, here 1" in text  # of ice: half of two
    assert "4 pumps, here 2" in text  # of syrup: half of four
    assert "3 scoops, here" not in text  # pearls are nobody's option


def test_what_is_weighed_is_explained_in_grams(capsys: pytest.CaptureFixture[str]) -> None:
    weighed = Path(__file__).parents[1] / "wall" / "menus" / "weighed.yaml"
    order = ["cocoa", "milk", "small", "50", "--menu", str(weighed), "--language", "en"]
    assert main(["explain", *order]) == 0
    text = capsys.readouterr().out
    assert "12.5 g, here 6.2 g" in text
    assert re.search(r"\n +6.2 g +Syrup\n", text)
    assert main(["explain", *order, "--format", "json"]) == 0
    steps = json.loads(capsys.readouterr().out)["result"]["builds"][0]["steps"]
    assert [(one["amount"], one["unit"]) for one in steps[:2]] == [(60, "g"), (6.2, "g")]


def test_what_a_cup_may_be_filled_to_is_its_volume_under_the_headspace(
    menu: Menu, wall: Wall
) -> None:
    """The frustum formula, Euclid, Elements XII; the cup's lines of the menu are the inputs."""
    drink = menu.drinks["boathouse-pearl"]
    (medium,) = [cup for cup in drink.cups if cup.id == "medium"]
    data = data_of(explained(drink, medium, default_choice(drink), wall))
    base, rim, height, headspace = 58.0, 91.0, 114.0, 5.0

    def ml(to_mm: float) -> float:
        a = base / 2
        b = a + (rim - base) / 2 * to_mm / height
        return 3.141592653589793 * to_mm * (a * a + a * b + b * b) / 3 / 1000

    assert data["cup"]["brimful_ml"] == pytest.approx(ml(height))
    assert data["cup"]["working_ml"] == pytest.approx(ml(height - headspace))


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        ("boathouse-pearl medium --ice some", ["none", "less", "regular"]),
        ("boathouse-pearl medium --sweetness 60", ["0 %", "25 %", "50 %", "75 %", "100 %"]),
        ("boathouse-pearl medium --sweetness lots", ["0 %", "100 %"]),
        ("boathouse-pearl medium --add add-pearls", ["add-coconut", "add-seeds", "add-cap"]),
        ("honey-lantern --add add-cap", ["none"]),
        ("boathouse-pearl hot", ["small", "medium", "large"]),
        ("boathouse-perl", ["boathouse-pearl"]),
        ("tea", ["marsh-milk-tea", "boathouse-pearl"]),
        ("soup", ["marsh-milk-tea", "honey-lantern"]),
        ("oat mist --language de", ["de"]),
    ],
)
def test_wrong_words_are_answered_with_what_is_offered(
    words: str, offered: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    ran = run(capsys, "explain", *words.split(), "--menu", DEMO)
    assert ran.code == 2
    assert ran.out == ""
    for word in offered:
        assert word in ran.err


def test_all_cups_are_shown_unless_one_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    every = run(capsys, "explain", "boathouse-pearl", "--menu", DEMO, "--format", "json").result
    one = run(
        capsys, "explain", "boathouse-pearl", "large", "--menu", DEMO, "--format", "json"
    ).result
    assert [build["cup"]["id"] for build in every["builds"]] == ["small", "medium", "large"]
    assert one["builds"] == every["builds"][2:]


def test_a_drink_that_does_not_fit_is_explained_all_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    menu = demo_copy(tmp_path / "menu", ("{add: jasmine-tea, fill_to: {small: 260 ml",
                                         "{add: jasmine-tea, fill_to: {small: 330 ml"))  # fmt: skip
    ran = run(capsys, "explain", "jasmine-cloud", "small", "--menu", menu)
    assert ran.code == 0
    assert re.search(r"TOO MUCH by \d+\.\d ml after step \d", ran.out)


def test_a_line_over_the_rim_is_said_not_a_crash(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    menu = demo_copy(tmp_path / "menu", ("{add: jasmine-tea, fill_to: {small: 260 ml",
                                         "{add: jasmine-tea, fill_to: {small: 900 ml"))  # fmt: skip
    ran = run(capsys, "explain", "jasmine-cloud", "small", "--menu", menu)
    assert ran.code == 2
    assert "jasmine-cloud" in ran.err
    assert "BUG01" not in ran.err


def test_an_order_is_explained_as_a_guest_says_it(capsys: pytest.CaptureFixture[str]) -> None:
    words = "marsh milk tea large less ice 50 + cap"
    said = run(capsys, "explain", words, "--menu", DEMO, "--format", "json").result
    options = ["--sweetness", "50", "--ice", "less", "--add", "add-cap"]
    asked = run(
        capsys, "explain", "marsh-milk-tea", "large", *options, "--menu", DEMO, "--format", "json"
    ).result
    assert said == asked
    assert said["builds"][0]["order"] == {
        "drink": "marsh-milk-tea", "cup": "large", "sweetness_share": 0.5, "ice": "less",
        "add_ons": ["add-cap"], "swaps": [],
    }  # fmt: skip


def test_a_swap_is_asked_for_as_a_guest_says_it(capsys: pytest.CaptureFixture[str]) -> None:
    said = run(
        capsys, "explain", "marsh milk tea large + oat", "--menu", DEMO, "--format", "json"
    ).result
    asked = run(
        capsys, "explain", "marsh-milk-tea", "large", "--swap", "oat-for-milk", "--menu", DEMO,
        "--format", "json",
    ).result  # fmt: skip
    assert said == asked
    (large,) = said["builds"]
    assert large["order"]["swaps"] == ["oat-for-milk"]
    (milk,) = [step for step in large["steps"] if step["swap"]]
    assert (milk["add"], milk["replaces"], milk["amount"]) == ("oat", "milk", 120.0)
    assert all("Oat drink" in [told["thing"] for told in card["steps"]] or card["station"]
               for card in large["cards"])  # fmt: skip
    text = run(capsys, "explain", "marsh milk tea large + oat", "--menu", DEMO).out
    assert "oat for milk" in text
    twice = run(capsys, "explain", "oat mist large", "--swap", "oat-for-milk", "--menu", DEMO)
    assert "not offered with swap 'oat-for-milk'" in twice.err


def told(card: dict[str, Any]) -> list[tuple[Any, ...]]:
    return [(one["step"], one["thing"], one["amount"], one["unit"]) for one in card["steps"]]


def test_it_ends_with_what_the_cards_say(menu: Menu, wall: Wall) -> None:
    """What they say is held against the figures by the law of the wall, for every order."""
    seen = 0
    for drink, size, choice in asked(menu):
        data = data_of(explained(drink, size, choice, wall))
        build, *stations = data["cards"]
        assert build["kind"] == "build"
        assert {card["kind"] for card in stations} == {"station"}
        if data["verdict"] == "too-much":
            assert all(card["instead"] and not card["steps"] for card in data["cards"])
            continue
        assert sorted(told(build), key=str) == sorted(
            (step for card in stations for step in told(card)), key=str
        )
        assert [step["station"] for step in build["steps"]] == [
            card["station"] for card in stations for _ in card["steps"]
        ]
        text = explain_text(drink, size, choice, wall)
        _, _, cards = text.partition("on the cards\n")
        assert [line.split()[0] for line in cards.splitlines() if line[0] != " "] == [
            card["code"] for card in data["cards"]
        ]
        seen += len(build["steps"])
    assert seen > 500


FLOAT = """  float:
    name: Float
    cups: [medium]
    price: 5.00
    options: {sweetness: {levels: [0 %, 50 %, 100 %], default: 50 %, with_less_sweet: same_line}}
    build:
      - {add: sweet, amount: 2 pumps}
      - {add: tea, fill_to: 200 ml}
      - {add: plain-milk, amount: 8.5 ml}
"""


@pytest.mark.parametrize(("sweetness", "pumps"), [("0", "0 pumps"), ("50", "1 pump")])
def test_what_it_says_of_a_card_stands_printed_on_it(
    sweetness: str, pumps: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Word for word as the two PDFs have it: a level is on the build card alone."""
    menu = tmp_path / "menu.yaml"
    text = swapped(SMALL, "languages: [en]", "languages: [de]")
    text = swapped(text, "holds: 5 ml}", "holds: 5 ml, one: pump, many: pumps}")
    menu.write_text(swapped(text, "  shaken:\n", FLOAT + "  shaken:\n"), "utf-8")
    checked = check_once(menu)
    assert checked.menu is not None
    (serving,) = [one for one in checked.servings if one.drink.id == "float"]
    wall = Wall.of(checked.menu, checked.servings, menu)
    bar = checked.menu.stations["bar"]
    views = (
        build_view(checked.menu, serving, wall.words),
        station_view(checked.menu, bar, serving.cup, [serving], wall.words),
    )
    assert views[1] is not None
    pages = [" ".join(" ".join(page_texts(render_pdf([view]).pdf)).split()) for view in views]
    told = run(capsys, "explain", "float", sweetness, "--menu", menu).out
    told = told.partition("on the cards\n")[2]
    cards = told.partition("station B")[::2]
    for card, page, level in zip(cards, pages, (True, False), strict=True):
        assert f" {pumps} " in card
        for said in ("200 ml Linie", "8,5 ml"):
            assert said in card
            assert said in page
        assert ("bis 210 ml" in card, "bis 210 ml" in page) == (level, level)
    assert "(pumps)" in pages[0]


def test_figured_and_told_steps_are_in_the_same_fields(menu: Menu, wall: Wall) -> None:
    drink = menu.drinks["frost-lemon"]
    data = data_of(explained(drink, drink.cups[0], Choice(0.5, "less"), wall))
    fields = {"thing", "amount", "unit", "level_ml", "vessel", "station"}
    steps = [*data["steps"], *(step for card in data["cards"] for step in card["steps"])]
    assert all(fields <= step.keys() for step in steps)
    figured, read = data["steps"], data["cards"][0]["steps"]
    assert [(s["amount"], s["unit"], s["vessel"]) for s in figured] == [
        (s["amount"], s["unit"], s["vessel"]) for s in read
    ]
    assert [s["thing"] for s in figured][:3] == ["plain-syrup", "lemon-base", "black-tea"]


def test_the_codes_are_those_that_are_printed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The ledger's where it has them, else those the cards will have."""
    menu = tmp_path / "menu.yaml"
    menu.write_text(SMALL, "utf-8")

    def codes() -> list[str]:
        found = run(capsys, "explain", "cloud", "--menu", menu, "--format", "json").result
        return [card["code"] for build in found["builds"] for card in build["cards"]]

    before = codes()
    assert run(capsys, "publish", menu).code == 0
    (edition,) = (tmp_path / "editions").glob("*.yaml")
    assert codes() == before
    assert len({*before}) == 6  # a build card and the bar's card for each of three cups
    assert all(code in edition.read_text("utf-8") for code in before)


def test_the_cards_can_be_read_in_each_language_of_the_shop(
    capsys: pytest.CaptureFixture[str],
) -> None:
    ran = run(capsys, "explain", "frost lemon small", "--menu", DEMO, "--language", "es")
    assert ran.code == 0
    assert "Té negro" in ran.out.partition("on the cards")[2]


def test_a_row_composed_alone_is_the_row_of_the_whole_card(wall: Wall) -> None:
    """Explain composes a station's card with the drink that was asked for and no other."""
    compared = 0
    for station in wall.menu.stations.values():
        for cup in wall.menu.cups.values():
            whole = station_view(wall.menu, station, cup, wall.servings, wall.words)
            here = [one for one in wall.servings if one.cup == cup]
            alone = [station_view(wall.menu, station, cup, [one], wall.words) for one in here]
            rows = [row for card in alone if card is not None for row in card.rows]
            for one, row in zip(whole.rows if whole else (), rows, strict=True):
                # cautions are shared
                assert replace(one, check="") == replace(row, check="")
                compared += 1
    assert compared > 50


def test_an_order_tells_its_allergens_and_when_it_is_sold(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["explain", "marsh milk tea medium with oat + cap", "--menu", str(DEMO)]) == 0
    told = capsys.readouterr().out
    merged = "Contains gluten (oats) and milk; may contain gluten, soya, and nuts"
    assert f"allergens     {merged}" in told
    assert "in the drink  Contains gluten (oats); may contain soya and nuts" in told
    assert "with add-cap  Contains milk; may contain gluten" in told
    assert main(["explain", "cold dock coffee", "--menu", str(DEMO)]) == 0
    assert "10:00 to 13:00" in capsys.readouterr().out
    bar = Path(__file__).parents[1] / "wall" / "menus" / "espresso.yaml"
    assert main(["explain", "latte small + shot more", "--menu", str(bar)]) == 0
    told = capsys.readouterr().out
    assert "allergens  Contains milk\n" in told
    assert "None of the" not in told  # the shot brings nothing, so nothing is said of it


@pytest.mark.parametrize("words", ["with oat", "oat drink", "oat milk", "+ oat"])
def test_a_swap_needs_no_plus(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", f"marsh milk tea medium {words}", "--menu", str(DEMO)]) == 0
    assert " · oat-for-milk\n" in capsys.readouterr().out


@pytest.mark.parametrize(("ice", "said"), [("few", "½ scoop "), ("most", "1½ scoops ")])
def test_counts_stand_as_the_cards_print_them(
    ice: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    levels = "few: {name: Few, share: 25 %}\n      most: {name: Most, share: 75 %}\n"
    text = swapped(SMALL, "      without: {", f"      {levels}      without: {{")
    text = swapped(text, "step: 1/2 scoop,", "step: 1/2 scoop, one: scoop, many: scoops,")
    (tmp_path / "menu.yaml").write_text(text, "utf-8")
    ran = run(capsys, "explain", f"cloud medium {ice}", "--menu", tmp_path)
    cards = ran.out.partition("on the cards")[2]
    assert cards.count(f"{said} ") == 2, cards  # of the build card and the station's


def test_a_choice_that_passes_its_line_is_said_to(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """387.4 ml before the tea to the line of 380, as tests/rules/test_rules.py adds up."""
    text = swapped(SMALL, "levels: [0 %, 50 %, 100 %]", "levels: [50 %, 100 %, 200 %]")
    text = swapped(text, "{add: plain-milk, amount: 100 ml}", "{add: plain-milk, amount: 255 ml}")
    (tmp_path / "menu.yaml").write_text(text, "utf-8")
    ran = run(capsys, "explain", "cloud medium", "--sweetness", "200", "--menu", tmp_path)
    passed = r"TOO MUCH by 7\.4 ml at step 5: its line is passed before anything is poured to it"
    assert re.search(passed, ran.out)
