"""Drinks of a table become lines of a menu; what cannot be read is named with its place."""

from __future__ import annotations

import re
import sys
from collections import Counter
from pathlib import Path

import openpyxl
import pytest
from command_samples import ROOT, run

from buildsheets.cli.spreadsheet import read_drinks
from buildsheets.menu.quantity import Measures

START = (ROOT / "buildsheets" / "guide" / "text" / "start.md").read_text("utf-8")
TABLE = """\
Drink;Step;Small;Large
Marsh Tea;price;3,90;5,40
Marsh Tea;Brown sugar syrup;4 pumps;8 pumps
Marsh Tea;ice;1 scoop;2 scoops
Marsh Tea;Whole milk;60 ml;100 ml
Marsh Tea;Pearls;2 scoops;3 scoops
Marsh Tea;black tea;to 285 ml;to 590 ml
Marsh Tea;stir;5 s
Marsh Tea;lid
Odd Tea;price;free;3
Odd Tea;rum;a splash;
Odd Tea;black tea;200;200 ml
Odd Tea;Whole milk;to 100 ml;50 ml
;x;y
"""


def test_a_row_is_a_step_of_a_drink() -> None:
    found = read_drinks(TABLE, "drinks.csv", Measures.METRIC)
    assert found.cups == {"small": "Small", "large": "Large"}
    tea = found.drinks["marsh-tea"]
    assert (tea.name, tea.cups) == ("'Marsh Tea'", ["small", "large"])
    assert tea.price == "{small: 3.90, large: 5.40}"
    assert tea.steps == [
        "{add: brown-sugar-syrup, amount: {small: 4 pumps, large: 8 pumps}}",
        "{add: ice, amount: {small: 1 scoop, large: 2 scoops}}",
        "{add: whole-milk, amount: {small: 60 ml, large: 100 ml}}",
        "{add: pearls, amount: {small: 2 scoops, large: 3 scoops}}",
        "{add: black-tea, fill_to: {small: 285 ml, large: 590 ml}}",
        "{do: stir, for: 5 s}",
        "{do: lid}",
    ]
    kinds = {thing.id: thing.kind for thing in found.things.values()}
    assert kinds == {
        "brown-sugar-syrup": "sweetener",
        "ice": "ice",
        "whole-milk": "base",
        "pearls": "topping",
        "black-tea": "base",
        "rum": "base",
    }


def test_what_cannot_be_read_is_named_and_its_step_stays_for_the_check() -> None:
    found = read_drinks(TABLE, "drinks.csv", Measures.METRIC)
    places = [line.partition(": ")[0] for line in found.unread]
    assert places == [f"drinks.csv:{number}" for number in (10, 11, 12, 13, 14)]
    assert "'free' is no price" in found.unread[0]
    assert "splash" in found.unread[1]
    assert "without a unit" in found.unread[2]
    assert "both amounts and lines" in found.unread[3]
    assert found.drinks["odd-tea"].steps == [
        "{add: rum}",
        "{add: black-tea, amount: {large: 200 ml}}",
        "{add: whole-milk}",
    ]


def test_what_is_hot_by_its_name_brings_its_caution(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    rows = (
        "drink,step,mug\nCocoa,Hot milk,200 ml\nCocoa,Heiße Schokolade,20 ml\nCocoa,Photon,5 ml\n"
    )
    Path("drinks.csv").write_text(rows, "utf-8")
    assert run(capsys, "new", "--from", "drinks.csv").code == 0
    lines = Path("menu/drinks.yaml").read_text("utf-8").splitlines()
    hot = [at for at, line in enumerate(lines) if "cautions: [hot]" in line]
    assert [lines[at - 5] for at in hot] == ["  hot-milk:", "  heisse-schokolade:"]
    assert all("temperature:   #" in lines[at - 1] for at in hot)


@pytest.mark.parametrize("comma", [",", ";", "\t"])
def test_any_usual_comma_divides_the_cells(comma: str) -> None:
    text = "drink,step,small\nTea,milk,60 ml\n".replace(",", comma)
    assert list(read_drinks(text, "t.csv", Measures.METRIC).drinks) == ["tea"]


@pytest.mark.parametrize("head", ["name,price", "drink,step", "", "Drink;Milk;Tea"])
def test_a_table_of_another_shape_is_refused(head: str) -> None:
    with pytest.raises(ValueError, match="drink,step,small,large"):
        read_drinks(head + "\n", "t.csv", Measures.METRIC)


def test_the_check_asks_for_what_no_table_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Allergens and the inside of cups are never made up: nothing prints before they are given."""
    monkeypatch.chdir(tmp_path)
    Path("drinks.csv").write_text("\ufeff" + TABLE, "utf-8")
    made = run(capsys, "new", "--from", "drinks.csv")
    assert made.code == 0, made
    assert "2 drinks with 6 things to add" in made.out
    assert "not read (5):\n  drinks.csv:10:" in made.out
    lines = run(capsys, "check", "--format", "short").out.splitlines()
    blank = Counter(line.split("`")[1] for line in lines if "VAL02" in line)
    things, sweet, cups = 5, 1, 2  # the ice is known
    assert blank == {"contains": things, "brix": sweet, "density": 4, "bulk_density": 1,
                     "tool": 1, "base": cups, "rim": cups, "height": cups}  # fmt: skip
    assert len(lines) == blank.total()

    filled = {"contains": "[]", "brix": "65 °Bx", "density": "1.1 g/ml", "bulk_density": "0.7 g/ml",
              "tool": "ice-scoop", "base": "63 mm", "rim": "96 mm", "height": "138 mm"}  # fmt: skip
    for file in Path("menu").glob("*.yaml"):
        text = file.read_text("utf-8")
        for key, value in filled.items():
            text = text.replace(f" {key}:   #", f" {key}: {value}   #")
        file.write_text(text, "utf-8")
    lines = run(capsys, "check", "--format", "short").out.splitlines()
    errors = [line for line in lines if " error " in line]
    assert [line.split()[2] for line in errors] == ["DRK02", "DRK02"], lines


def test_the_first_sheet_of_a_workbook_is_read_like_its_csv(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    book = openpyxl.Workbook()
    for row in (
        ["Drink", "Step", "Small", "Large"],
        ["Milk Tea", "price", 3.9, 5],
        ["Milk Tea", "milk", "60 ml", "80 ml"],
        ["Milk Tea", "tea", "to 280 ml", "to 420 ml"],
        ["Milk Tea", "lid", None, None],
    ):
        book.worksheets[0].append(row)
    book.create_sheet("notes").append(["nothing of use"])
    book.save("drinks.xlsx")
    made = run(capsys, "new", "--from", "drinks.xlsx")
    assert made.code == 0, made
    text = Path("menu/drinks.yaml").read_text("utf-8")
    assert "price: {small: 3.9, large: 5}" in text
    assert "- {add: tea, fill_to: {small: 280 ml, large: 420 ml}}" in text

    Path("broken.xlsx").write_bytes(b"not a workbook")
    assert "cannot be read as a workbook" in run(capsys, "new", "b", "--from", "broken.xlsx").err
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    assert "buildsheets[xlsx]" in run(capsys, "new", "b", "--from", "drinks.xlsx").err
    assert not Path("b").exists()


def test_a_table_without_any_drink_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("t.csv").write_text("drink,step,small\n,,\nTea,price,free\n", "utf-8")
    ran = run(capsys, "new", "--from", "t.csv")
    assert ran.code == 2
    assert "t.csv:3: 'free' is no price" in ran.out
    assert "no drink that could be read" in ran.err
    assert not Path("menu").exists()


def test_the_table_of_the_readme_is_read_whole() -> None:
    (table,) = re.findall(r"(?ms)^```csv\n(drink,step,.*?)^```$", START)
    found = read_drinks(table, "drinks.csv", Measures.METRIC)
    assert found.unread == []
    assert len(found.drinks["milk-tea"].steps) == 4


def test_a_line_that_is_no_row_is_refused() -> None:
    with pytest.raises(ValueError, match="more than 100000 characters"):
        read_drinks("drink,step,small\n" + "a" * 200_000 + ",price,3\n", "t.csv", Measures.METRIC)
