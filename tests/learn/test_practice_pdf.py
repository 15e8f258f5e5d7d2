"""Sheets and keys are read back from their PDF; cups are measured on the page."""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from lessons import demo, demo_pool, lesson
from menu_samples import SMALL, check_once, check_texts
from pypdf import PdfReader

from buildsheets.learn.dry_runs import RIGHT_MM, DryRun, dry_runs, in_turn, lines_read
from buildsheets.learn.lesson import Lesson
from buildsheets.learn.pool import asked, pool_of
from buildsheets.learn.questions import Choose, Fill, answer
from buildsheets.learn.sheets import A_SHEET, Office, Sheet, cups, practice
from buildsheets.print.layouts import Layouts
from buildsheets.views.types import BuildCardView

MM_PER_PT = 25.4 / 72
US = Path(__file__).parent.parent / "menus/shops/us.yaml"


def office(taught: Lesson) -> Office:
    return Office(taught.menu, taught.words, Layouts())


def sheet(level: int, number: int) -> Sheet:
    on_it = asked(demo_pool("", level), 7, number, A_SHEET)
    code, whose = f"en.all.{level}.7.{number}.K4", "All stations"
    return Sheet(code, whose, f"Level {level}", on_it.questions, on_it.used_up)


def text_of(pdf: bytes) -> list[str]:
    """The words of each page, in one line."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def made(taught: Lesson, sheets: list[Sheet], key: bool) -> bytes:
    pdf, families, why = practice(office(taught), sheets, key)
    assert (why, len(families) > 0) == ("", True)
    return pdf


@cache
def two_sheets(level: int, key: bool) -> tuple[str, ...]:
    """The pages of the first two sheets of a level."""
    return tuple(text_of(made(demo(), [sheet(level, 1), sheet(level, 2)], key)))


@pytest.mark.parametrize("level", [1, 2, 3])
def test_a_sheet_asks_everything_and_its_key_answers_it_with_the_cards_code(level: int) -> None:
    sheets = [sheet(level, 1), sheet(level, 2)]
    asks, keys = (" ".join(two_sheets(level, key)) for key in (False, True))
    for one in sheets:
        assert one.code in asks
        assert one.code in keys
        for q in one.questions:
            assert q.id in asks
            assert " ".join(q.ask.split()) in asks
            assert q.id in keys
            assert " ".join(q.reason.split()) in keys
            assert all(source.code in keys and source.code not in asks for source in q.sources)
            for letter, (where, what) in zip("abcdefgh", answer(q), strict=False):
                gap = f"{letter} {where} " if isinstance(q.form, Fill) else ""
                assert f"{gap}{what}" in keys
            if q.caution:
                assert q.caution in asks
                assert q.caution in keys
            if isinstance(q.form, Choose) and q.form.mend:
                assert q.form.mend not in asks or q.form.mend in q.form.options
                assert "It should say:" in asks
        assert f"of {len(one.questions)} right" in asks
    assert asks.count("Name (if you like)") == len(sheets)
    assert ("Steps that are not listed stay as in the usual order." in asks) == (level > 1)
    assert "“Usual order”: as the card’s steps say, when a guest asks for no other" in asks


def test_an_amount_to_fill_in_does_not_stand_on_the_sheet() -> None:
    only = sheet(1, 1)
    usual = next(q for q in only.questions if q.kind == "amounts")
    alone = Sheet(only.code, only.station, only.level, (usual,), False)
    (page,) = text_of(made(demo(), [alone], False))
    for where, what in answer(usual):
        number, _, unit = what.removeprefix("to ").partition(" ")
        assert f"{where} {number} " not in page
        assert f"{number} {unit}" not in page


def test_each_sheet_begins_a_page_and_the_first_fills_about_one() -> None:
    pages = two_sheets(3, False)
    begun = [page for page in pages if "Practice sheet" in page]
    assert len(begun) == 2
    assert len(pages) <= 4


def test_the_shop_is_named_at_the_foot_of_every_page_as_it_is_written() -> None:
    named = SMALL.replace("name: Corner kiosk", 'name: "Joe\'s <b>& \\\\ \\"Co\\""')
    taught = lesson(check_texts(named))
    on_it = asked(pool_of(taught, "", 1), 1, 1, A_SHEET)
    one = Sheet("x", "x", "x", on_it.questions * 3, False)
    pages = text_of(made(taught, [one], False))
    assert len(pages) > 1
    assert all('Joe\'s <b>& \\ "Co" · Sample' in page for page in pages)


def test_that_all_was_asked_is_said() -> None:
    one = sheet(1, 1)
    again = Sheet(one.code, one.station, one.level, one.questions, True)
    said = "All questions of this level were asked on earlier sheets"
    assert [said in text_of(made(demo(), [it], False))[0] for it in (one, again)] == [False, True]


@pytest.mark.parametrize(("taught", "size_mm"), [("demo", (210, 297)), ("us", (215.9, 279.4))])
def test_the_paper_is_that_of_the_shops_cards(taught: str, size_mm: tuple[float, float]) -> None:
    which = demo() if taught == "demo" else lesson(check_once(US))
    runs = list(dry_runs(which, 1))[:1] or list(dry_runs(demo(), 1))[:1]
    for pdf in (made(which, [sheet(1, 1)], False), cups(office(which), runs, key=True)[0]):
        page = PdfReader(io.BytesIO(pdf)).pages[0].mediabox
        assert (float(page.width) * MM_PER_PT, float(page.height) * MM_PER_PT) == pytest.approx(
            size_mm, abs=0.1
        )
        with pikepdf.open(io.BytesIO(pdf)) as held:
            assert held.Root.ViewerPreferences.PrintScaling == "/None"
            assert str(held.Root.Lang) == which.words.language


# cups at true size --------------------------------------------------------------------------------

DPI = 300


def dark_rows(pdf: bytes, at_mm: float) -> list[float]:
    """How far down the page, in mm, something dark crosses a line from top to bottom."""
    page = pypdfium2.PdfDocument(pdf)[0]
    image = page.render(scale=DPI / 72, grayscale=True).to_numpy()
    column = image[:, round(at_mm / 25.4 * DPI)] < 128
    starts = [row for row in range(1, len(column)) if column[row] and not column[row - 1]]
    ends = [row for row in range(1, len(column)) if column[row - 1] and not column[row]]
    return [(a + b) / 2 / DPI * 25.4 for a, b in zip(starts, ends, strict=True)]


def run_of(title: str, level: int = 1) -> DryRun:
    return next(one for one in dry_runs(demo(), level) if one.title == title)


def test_lines_stand_as_high_over_the_counter_as_the_cards_edge_has_them() -> None:
    """Boathouse Pearl, medium: its line by its card's gauge, measured on the page."""
    run = run_of("Boathouse Pearl Tea, Medium")
    assert [line.label for line in run.lines] == ["425 ml"]
    key, _, why = cups(office(demo()), [run], key=True)
    empty, _, _ = cups(office(demo()), [run], key=False)
    assert why == ""
    middle = 12 + 6 + 1.5 + max(width for _, width in run.cup.outline_mm) / 2
    high, counter, _ = dark_rows(key, middle)[-3:]
    assert counter - high == pytest.approx(run.lines[0].height_mm, abs=0.1)
    # The counter is in the same place on both pages; and the empty cup is empty.
    in_cup = [row for row in dark_rows(empty, middle) if high - 10 < row]
    assert in_cup[0] == pytest.approx(counter, abs=0.05)


@pytest.mark.parametrize("level", [1, 2, 3])
def test_every_line_of_a_dry_run_stands_on_the_edge_of_its_card(level: int) -> None:
    taught = demo()
    runs = list(dry_runs(taught, level))
    assert len(runs) > 30
    for run in runs[::7]:
        view = next(v for k, v in taught.cards.items() if v.foot.code == run.source.code)
        assert isinstance(view, BuildCardView)
        marks = {(mark.height_mm, part) for mark in view.gauge if mark.kind == "line"
                 for part in mark.label.removesuffix(" ml").split(" / ")}  # fmt: skip
        assert {(x.height_mm, x.label.removesuffix(" ml")) for x in run.lines} <= marks
        assert all(" / " not in line.label for line in run.lines)


@pytest.mark.parametrize("level", [1, 2, 3])
def test_no_answer_comes_again_before_every_other_came(level: int) -> None:
    runs = list(dry_runs(demo(), level))
    answers = {run.answer for run in runs}
    turns = in_turn(runs, "3", A_SHEET)
    assert sorted(run.id for run in turns) == sorted(run.id for run in runs)
    assert len(answers) > A_SHEET
    assert {run.answer for run in turns[: len(answers)]} == answers
    assert turns != in_turn(runs, "4", A_SHEET)


def test_a_shop_of_fluid_ounces_draws_its_lines() -> None:
    """Its cards say 13 fl oz and 20 fl oz of the two sizes of its iced tea."""
    assert {run.answer for run in dry_runs(lesson(check_once(US)), 1)} == {
        ("13 fl oz",),
        ("20 fl oz",),
    }


def test_a_dry_run_says_which_lines_count_how_near_and_where_rims_meet() -> None:
    run = run_of("Boathouse Pearl Tea, Medium")
    (empty,), (key,) = (text_of(cups(office(demo()), [run], key=key)[0]) for key in (False, True))
    border_mm = demo().menu.shop.pouch_border_mm
    for told in (
        "Name (if you like)",
        "For each step that is poured to a line (the boxed number",
        "draw no other.",
        "rim to rim.",
        f"A card without its pouch then ends {border_mm:g} mm above the counter.",
        "“Usual order”: as the card’s steps say",
    ):
        assert told in empty
    assert all(f"A line is right within {RIGHT_MM} mm." in page for page in (empty, key))


def test_a_card_without_a_pouch_is_not_said_to_have_one() -> None:
    taught = demo()
    shop = replace(taught.menu.shop, pouch_border_mm=0.0)
    bare = Office(replace(taught.menu, shop=shop), taught.words, Layouts())
    (page,) = text_of(cups(bare, [run_of("Boathouse Pearl Tea, Medium")], key=False)[0])
    assert "rim to rim." in page
    assert "pouch" not in page


def test_an_order_with_a_cap_is_filled_to_a_lower_line() -> None:
    """Marsh Milk Tea with parsnip cream, medium: 405 ml instead of 425, as its card says."""
    taught = demo()
    run = next(
        one for one in dry_runs(taught, 3)
        if one.title == "Marsh Milk Tea, Medium" and "Parsnip cream" in one.order
    )  # fmt: skip
    assert [line.label for line in run.lines] == ["405 ml"]
    serving = next(
        s for s in taught.servings if (s.drink.id, s.cup.id) == ("marsh-milk-tea", "medium")
    )
    assert [line.label for line in lines_read(taught, serving)] == ["425 ml"]


def test_a_cup_higher_than_the_paper_is_on_the_next_size() -> None:
    run = run_of("Boathouse Pearl Tea, Medium")
    tall = replace(
        run, cup=replace(run.cup, outline_mm=((0.0, 70.0), (240.0, 110.0)), rim_mm=240.0)
    )
    page = PdfReader(io.BytesIO(cups(office(demo()), [tall], key=False)[0])).pages[0].mediabox
    assert float(page.height) * MM_PER_PT == pytest.approx(420, abs=0.1)
    huge = replace(
        run, cup=replace(run.cup, outline_mm=((0.0, 70.0), (600.0, 110.0)), rim_mm=600.0)
    )
    assert "is on no sheet" in cups(office(demo()), [huge], key=False)[2]
