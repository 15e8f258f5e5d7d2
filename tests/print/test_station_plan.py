"""Laying out station cards: choices, route, size, shares; what build cards say of lines."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from buildsheets.print.choice_grid import grid_for
from buildsheets.print.desk import Desk
from buildsheets.print.page import Pages
from buildsheets.print.parts import gauge_strip
from buildsheets.print.plan import Plan, Text
from buildsheets.print.station_plan import _shared
from card_samples import BUILD, PLAIN, SHAKE, STATION, TEA, TOP
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.findings.finding import Severity
from buildsheets.print.gauge import TICK_MM
from buildsheets.print.layouts import Layouts
from buildsheets.print.render import RenderOptions, plan_card, render_pdf
from buildsheets.views.types import GaugeLine, StationCardView, StationRow, StepView

LAYOUTS = Layouts()
SWEET = ("Honey syrup", (("25%", "1"), ("50%", "2"), ("75%", "3")))
ICE = ("Ice cubes", (("Less ice", "1"),))


def row(drink: str = "Marsh tea", **changes: object) -> StationRow:
    adds = (
        StepView(1, "4", "pumps", "Honey syrup", "20 ml", "", "", "Shake", "liquid", "shaker"),
        StepView(2, "2", "scoops", "Ice cubes", "120 g", "", "", "Shake", "ice"),
    )
    made = StationRow(drink, "empty cup", adds, "topping to 90 ml", "", "Contains milk",
                      choices=(SWEET, ICE), comes_from="P", goes_to="T")  # fmt: skip
    return replace(made, **changes)


def view(*rows: StationRow, **changes: object) -> StationCardView:
    made = replace(
        STATION, station=SHAKE, rows=rows or (row(),), gauge=(), size_name="Medium",
        cup_name="505 ml to the rim", marks=(TEA, SHAKE, TOP),
    )  # fmt: skip
    return replace(made, **changes)


def planned(card: object) -> tuple[Plan, ...]:
    plans, found = plan_card(card, Pages(LAYOUTS), RenderOptions())  # type: ignore[arg-type]
    assert [f for f in found if f.severity is Severity.ERROR] == []
    return plans


def said(text: Text) -> str:
    lines = ("".join(run.text for run in line) for line in text.lines)
    return "\n".join(lines).replace("\u00a0", " ")


def of_kind(plan: Plan, kind: str) -> list[Text]:
    return [text for zone in plan.zones for text in zone.texts if text.kind == kind]


def test_each_choice_stands_beside_its_add_label_and_amount_on_one_line() -> None:
    (plan,) = planned(view())
    cells = of_kind(plan, "choice")
    assert [said(cell).split() for cell in cells] == [
        ["25%", "1"], ["50%", "2"], ["75%", "3"], ["Less", "ice", "1"],
    ]  # fmt: skip
    what = {said(text).split("\n")[0].split(" ·")[0]: text for text in of_kind(plan, "what")}
    for cell, name in zip(cells, ["Honey syrup"] * 3 + ["Ice cubes"], strict=True):
        beside = what[name]
        assert cell.x_mm >= beside.x_mm + beside.width_mm
        middle = cell.y_mm + cell.height_mm / 2
        assert beside.y_mm < middle < beside.y_mm + beside.height_mm
    (label, amount) = cells[0].lines[0]
    assert amount.bold
    assert amount.points > cells[0].points  # the amount is larger than its label
    assert not label.bold


def test_equal_choices_stand_under_each_other() -> None:
    longer = ("Honey syrup", (("25%", "11"), ("50%", "12"), ("75%", "13")))
    (plan,) = planned(view(row(), row("Reed tea", choices=(longer, ICE))))
    places = {}
    for cell in of_kind(plan, "choice"):
        places.setdefault(said(cell).split()[0], set()).add(round(cell.x_mm, 3))
    assert all(len(xs) == 1 for xs in places.values())


@given(
    lines=st.integers(1, 4),
    amounts=st.lists(st.integers(1, 999), min_size=1, max_size=7),
)
def test_a_grid_is_as_narrow_as_its_lines_allow_and_never_wider(
    lines: int, amounts: list[int]
) -> None:
    desk = Desk.at(LAYOUTS.tokens(), LAYOUTS.words("en"), 600.0, 20.0)
    cells = tuple((f"{n * 10}%", str(amount)) for n, amount in enumerate(amounts))
    one = row(choices=(("Honey syrup", cells),))
    grid = grid_for([one], lines, desk)
    block = grid.beside(one.adds[0], one)
    assert len(block.texts) == len(cells)
    assert len({text.y_mm for text in block.texts}) <= lines
    assert max(t.x_mm + t.width_mm for t in block.texts) <= grid.width_mm + 1e-6


def test_a_sentence_for_every_choice_and_choices_of_no_add_are_not_lost() -> None:
    fill = StepView(1, "425", "ml line", "Black tea", "pour up", "", "", "Shake", "line")
    other = ("Milk", (("No ice", "80"),))
    (plan,) = planned(view(row(adds=(fill,), choices=(("any choice: same line", ()), other))))
    texts = " ".join(said(text) for zone in plan.zones for text in zone.texts)
    assert texts.count("any choice: same line") == 1
    assert "Milk: No ice 80" in texts


def test_a_card_shows_where_its_cups_come_from_and_go_to() -> None:
    (plan,) = planned(view(row(), row("Reed tea", comes_from="", goes_to="")))
    chips = of_kind(plan, "chip")
    assert [said(chip) for chip in chips] == ["S", "P", "T"]  # the card's own, then the first row's
    drink, leaves = of_kind(plan, "drink")[0], of_kind(plan, "level")[1]
    assert drink.x_mm < chips[1].x_mm < leaves.x_mm < chips[2].x_mm
    accents = {shape.pen.fill or shape.pen.stroke for shape in plan.shapes}
    accents |= {shape.pen.stroke for shape in plan.shapes}
    assert {TOP.accent, TEA.accent} <= accents


def test_the_last_station_hands_over_and_unknown_letters_stay_letters() -> None:
    (plan,) = planned(view(row(goes_to=""), row("Reed tea", comes_from="X")))
    texts = [said(text) for zone in plan.zones for text in zone.texts]
    assert "hand over" in texts
    assert "X" in texts


def test_marks_of_a_route_are_told_apart_by_shape() -> None:
    alike = view(marks=(SHAKE, replace(TEA, shape=SHAKE.shape)))
    _, found = plan_card(alike, Pages(LAYOUTS), RenderOptions())
    assert [f.code for f in found] == ["CARD13"]


def test_the_size_is_as_large_as_the_stations_name_and_stands_out() -> None:
    (plan,) = planned(view())
    (title,), (size,) = of_kind(plan, "title"), of_kind(plan, "tag")
    assert (said(title), said(size)) == (SHAKE.name, "Medium")
    assert size.points == title.points
    assert size.ink == "#ffffff"


def test_levels_are_large_and_an_empty_cup_is_small() -> None:
    (plan,) = planned(view())
    empty, level = of_kind(plan, "level")
    assert {run.points for line in empty.lines for run in line} == {0.0}
    large = [run for line in level.lines for run in line if run.points]
    assert [run.text.strip() for run in large] == ["90\u00a0ml"]
    assert large[0].bold


def test_without_a_gauge_the_table_takes_its_room() -> None:
    (without,), (with_it,) = planned(view()), planned(view(gauge=STATION.gauge))
    assert of_kind(without, "drink")[0].x_mm < of_kind(with_it, "drink")[0].x_mm - 10
    assert of_kind(without, "gauge-words") == []


@given(heights=st.lists(st.floats(5, 40), min_size=1, max_size=8), count=st.integers(1, 8))
def test_rows_are_shared_out_in_order_and_as_evenly_as_can_be(
    heights: list[float], count: int
) -> None:
    count = min(count, len(heights))
    runs = _shared(heights, count)
    assert [n for run in runs for n in range(*run.indices(len(heights)))] == list(
        range(len(heights))
    )
    highest = max(sum(heights[run]) for run in runs)
    for cuts in combinations(range(1, len(heights)), count - 1):
        edges = (0, *cuts, len(heights))
        other = max(sum(heights[a:b]) for a, b in pairwise(edges))
        assert highest <= other + 1e-9


def test_a_level_to_pour_to_does_not_look_like_an_amount() -> None:
    (plan,) = planned(PLAIN)
    poured, filled = of_kind(plan, "amount")
    assert said(poured) == "15 ml"
    assert said(filled).split() == ["to", "200", "ml"]
    small, numeral, *_ = filled.lines[0]
    assert small.points < numeral.points
    # A box around the numeral, and none around the amount poured.
    boxes = [s for s in plan.shapes if s.pen.width_mm == 0.5 and "q" in s.d]
    inside = [s for s in boxes if filled.x_mm <= s.x_mm < filled.x_mm + filled.width_mm]
    assert len(inside) == 1
    assert poured.y_mm + poured.height_mm <= inside[0].y_mm + 0.5


def test_a_run_in_the_shaker_is_named_once_on_every_build_card() -> None:
    (plan,) = planned(BUILD)
    assert [said(tag) for tag in of_kind(plan, "tag")] == ["SHAKER"]
    first = next(text for text in of_kind(plan, "what") if "Brown sugar" in said(text))
    (tag,) = of_kind(plan, "tag")
    assert first.y_mm < tag.y_mm + tag.height_mm / 2 < first.y_mm + first.height_mm


def test_step_marks_carry_the_stations_letter_beside_the_number() -> None:
    (plan,) = planned(BUILD)
    steps = plan.zone("steps").texts
    letters = [said(text) for text in steps if text.kind == "chip"]
    assert letters == ["P", "T", "T", "T", "S", "P", "P"]
    assert [said(text) for text in steps if text.kind == "number"] == [str(n) for n in range(1, 8)]


@pytest.mark.parametrize("language", ["en", "es", "fr", "de"])
def test_every_gauge_says_how_to_use_it_clear_of_marks_and_labels(language: str) -> None:
    (plan,) = planned(replace(BUILD, language=language))
    (words,) = of_kind(plan, "gauge-words")
    assert said(words).replace("\n", " ") == LAYOUTS.words(language)("gauge").replace("\u00a0", " ")
    assert words.x_mm > TICK_MM
    for label in of_kind(plan, "gauge"):
        assert (
            label.y_mm + label.height_mm <= words.y_mm or words.y_mm + words.height_mm <= label.y_mm
        )


def test_add_ons_are_grouped_under_the_place_where_they_go_in() -> None:
    first, second = BUILD.add_ons
    card = replace(
        BUILD,
        add_ons=(
            replace(first, place="before step 1", allergens="may contain soya"),
            replace(second, place="after step 5"),
            replace(first, name="Seeds", place="before step 1"),
        ),
    )
    (plan,) = planned(card)
    low = [said(text).replace("\n", " ") for text in plan.zone("low").texts]
    start = low.index("Add-ons · before step 1")
    assert low[start + 1].startswith("Grass jelly: 1 scoop, leave out 40 ml tea, to 330 ml. May ")
    assert low[start + 2].startswith("Seeds: ")
    assert low[start + 3] == "Add-ons · after step 5"
    assert low[start + 4].startswith("Second cream: Does not fit")


def test_the_code_asks_its_question_and_prints() -> None:
    printed = render_pdf([view(), BUILD])
    assert [f for f in printed.findings if f.severity is Severity.ERROR] == []
    for card in (view(), BUILD):
        (plan, *_) = planned(card)
        assert "Still current?" in [said(text).replace("\n", " ") for text in of_kind(plan, "foot")]


@given(st.lists(st.floats(20, 140), min_size=1, max_size=7, unique=True))
def test_gauge_labels_never_overlap_however_near_their_marks_stand(heights: list[float]) -> None:
    desk = Desk.at(LAYOUTS.tokens(), LAYOUTS.words("en"), 600.0, 20.0)
    lines = [GaugeLine(height, f"{n}20 ml topping", "bed") for n, height in enumerate(heights)]
    strip = gauge_strip(lines, 3.0, 210.0, desk)
    boxes = sorted((t.y_mm, t.y_mm + t.height_mm) for t in strip.marks.texts)
    assert len(boxes) == len(heights)
    assert all(end <= start + 1e-6 for (_, end), (start, _) in pairwise(boxes))
