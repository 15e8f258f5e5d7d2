"""The calculation shown: the text's numbers are the data's, and each has the place it came from."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from command_samples import DEMO, ROOT, demo_copy, run

from buildsheets.cli.explain import explain_json, explain_text, parse_choice
from buildsheets.cup.scan import choices, figure
from buildsheets.cup.serving import Choice
from buildsheets.menu.model import Menu
from buildsheets.pipeline import check

PLACE = re.compile(r"\S+\.yaml:\d+:\d+")
NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?![\w])")


@pytest.fixture(scope="module")
def menu() -> Menu:
    checked = check(DEMO)
    assert checked.menu is not None
    return checked.menu


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
            yield drink, size, parse_choice(drink)
            yield drink, size, every[0]
            yield drink, size, every[-1]


def test_every_number_of_the_text_is_in_the_data(menu: Menu) -> None:
    seen = 0
    for drink, size, choice in asked(menu):
        text, data = explain_text(drink, size, choice), explain_json(drink, size, choice)
        assert foreign_numbers(text, data) == [], text
        for row, step in zip(re.findall(r"(?m)^\d+ .*$", text), data["steps"], strict=True):
            assert foreign_numbers(row, step) == [], row
        seen += len(NUMBER.findall(PLACE.sub("", text)))
    assert seen > 5000


def test_a_number_that_is_not_there_would_be_noticed(menu: Menu) -> None:
    drink = menu.drinks["boathouse-pearl"]
    data = explain_json(drink, drink.cups[0], parse_choice(drink))
    assert foreign_numbers("may be filled  333.3 ml", data) == ["333.3"]


def test_each_step_and_figure_names_the_line_it_was_written_on(menu: Menu) -> None:
    lines = {
        path.relative_to(ROOT).as_posix(): path.read_text("utf-8").splitlines()
        for path in DEMO.glob("*.yaml")
    }

    def written(place: str) -> str:
        file, line, column = place.rsplit(":", 2)
        name = next(known for known in lines if file.endswith(known))
        return lines[name][int(line) - 1][int(column) - 1 :]

    def entry(place: str) -> str:
        """The line of a place and the one above it: an entry's key stands on one of them."""
        file, line, _ = place.rsplit(":", 2)
        name = next(known for known in lines if file.endswith(known))
        return "\n".join(lines[name][int(line) - 2 : int(line)])

    for drink, size, choice in asked(menu):
        data = explain_json(drink, size, choice)
        assert data["cup"]["headspace"] in written(data["cup"]["headspace_at"])
        for step in data["steps"]:
            at = written(step["at"])
            if "add" in step:
                assert at.startswith(step["written"].removeprefix("to ")), step
                assert f"  {step['add']}:" in entry(step["component_at"]), step
            else:
                assert step["do"] in at, step
        text = explain_text(drink, size, choice)
        rows = re.findall(r"(?m)^\d+ .*$", text)
        assert len(rows) == len(data["steps"])
        for row, step in zip(rows, data["steps"], strict=True):
            assert row.endswith(step["at"])


def test_the_data_is_what_the_cards_are_made_from(menu: Menu) -> None:
    drink = menu.drinks["jasmine-cloud"]
    for size in drink.cups:
        serving = figure(drink, size)
        data = explain_json(drink, size, serving.choice)
        assert data["verdict"] == serving.verdict
        assert data["steps"][-1]["state"]["top_ml"] == serving.final.top_ml
        assert [s.get("mass_g") for s in data["steps"] if "add" in s] == [
            used.mass_g for used in serving.used
        ]


def test_an_amount_an_option_changes_is_shown_beside_the_written_one(menu: Menu) -> None:
    drink = menu.drinks["boathouse-pearl"]
    (medium,) = [cup for cup in drink.cups if cup.id == "medium"]
    text = explain_text(drink, medium, parse_choice(drink, ice="less", sweetness="50"))
    assert "2 scoops, here 1" in text  # of ice: half of two
    assert "4 pumps, here 2" in text  # of syrup: half of four
    assert "3 scoops, here" not in text  # pearls are nobody's option


def test_what_a_cup_may_be_filled_to_is_its_volume_under_the_headspace(menu: Menu) -> None:
    """The frustum formula, Euclid, Elements XII; the cup's lines of the menu are the inputs."""
    drink = menu.drinks["boathouse-pearl"]
    (medium,) = [cup for cup in drink.cups if cup.id == "medium"]
    data = explain_json(drink, medium, parse_choice(drink))
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
        ("tea", ["marsh-milk-tea", "honey-lantern"]),
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
    every = run(capsys, "explain", "boathouse-pearl", "--menu", DEMO, "--format", "json").data
    one = run(
        capsys, "explain", "boathouse-pearl", "large", "--menu", DEMO, "--format", "json"
    ).data
    assert [build["cup"]["id"] for build in every] == ["small", "medium", "large"]
    assert one == every[2:]


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
