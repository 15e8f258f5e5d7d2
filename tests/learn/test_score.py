"""What was missed most, counted by hand on two sheets, and what a table may have wrong."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest

from buildsheets.learn.questions import Choose, Fill, Question, Row
from buildsheets.learn.score import Missed, score, sheet_code, typed_in
from buildsheets.learn.sheets import SheetCode

ROWS = (
    Row("1 · Syrup", "4", "pumps", 1),
    Row("2 · Tea", "425", "ml line", 2),
    Row("3 · Stir", step=3),
)


def amounts(id_: str, drink: str) -> Question:
    return Question(
        id=id_, kind="amounts", level=1, drink=drink, title=drink, ask="?", form=Fill(ROWS),
        reason="so", sources=(),
    )  # fmt: skip


CUP = Question(
    id="CCCCC", kind="cup", level=1, drink="fog", title="Fog", ask="?",
    form=Choose(("a", "b"), (0,)), reason="so", sources=(),
)  # fmt: skip
SHEETS = {1: (amounts("AAAAA", "fog"), CUP), 2: (amounts("BBBBB", "fog"), amounts("DDDDD", "mist"))}


def on_sheet(code: SheetCode) -> Sequence[Question] | str:
    return SHEETS.get(code.number, "there is no such sheet")


def told(table: str) -> tuple[list[Missed], int, list[str]]:
    missed, sheets, findings = score(typed_in(table, "results.csv"), on_sheet)
    return (
        missed,
        sheets,
        [f"{one.code} {one.span and one.span.line}: {one.message}" for one in findings],
    )


def test_shares_are_of_how_often_it_was_asked() -> None:
    """Tea of fog is asked three times (sheets 1, 1, 2) and missed twice; its cup twice, once."""
    missed, sheets, findings = told(
        "sheet,missed\nen.all.1.7.1.K4,AAAAA/b CCCCC\nen.all.1.7.1.K4,\nen.all.1.7.2.K4,bbbbb\n"
    )
    assert (sheets, findings) == (3, [])
    assert [(o.point.subject, o.point.what or o.point.kind, o.missed, o.asked) for o in missed] == [
        ("fog", "2 · Tea", 2, 3),
        ("fog", "cup", 1, 2),
        ("fog", "1 · Syrup", 1, 3),
    ]
    assert missed[0].share == pytest.approx(float(Fraction(2, 3)))


def test_a_question_typed_twice_in_a_row_counts_once() -> None:
    missed, _, _ = told("sheet;missed\nen.all.1.7.1.K4;CCCCC, CCCCC\n")
    assert [(one.missed, one.asked) for one in missed] == [(1, 1)]


def test_the_same_step_of_two_questions_counts_of_both_but_once_of_each() -> None:
    missed, _, _ = told("sheet,missed\nen.all.1.7.2.K4,BBBBB BBBBB/b DDDDD/b\n")
    by_what = {(one.point.subject, one.point.what): (one.missed, one.asked) for one in missed}
    assert by_what == {("fog", "1 · Syrup"): (1, 1), ("fog", "2 · Tea"): (1, 1),
                       ("mist", "2 · Tea"): (1, 1)}  # fmt: skip


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("en.all.1.7.1.K4,AAAAB", "LEARN02 2: 'AAAAB' is no question of sheet en.all.1.7.1.K4"),
        ("en.all.1.7.1.K4,AAAAA/9", "LEARN02 2: 'AAAAA/9' is no question"),
        ("en.all.1.7.1.K4,AAAAA/c", "LEARN02 2: 'AAAAA/C' is no question"),  # nothing to fill in
        ("en.all.1.7.9.K4,AAAAA", "LEARN01 2: 'en.all.1.7.9.K4' is no sheet of this menu"),
        ("en.all.1.7.0.K4,AAAAA", "LEARN01 2"),
        ("nonsense,AAAAA", "LEARN01 2: 'nonsense' is no sheet of this menu"),
        ("en.all.1.7.²1.K4,", "LEARN01 2"),
        (f"en.all.1.{'9' * 5000}.1.K4,", "LEARN01 2"),
        (",AAAAA", "LEARN01 2: '' is no sheet of this menu"),
    ],
)
def test_what_does_not_count_is_told_in_words(row: str, said: str) -> None:
    missed, _, findings = told(f"sheet,missed\n{row}\n")
    assert missed == []
    assert [one.startswith(said) for one in findings] == [True]


def test_a_line_that_is_no_row_is_refused() -> None:
    with pytest.raises(ValueError, match="no table"):
        typed_in(f"sheet,missed\n{'x' * 200_000},\n", "results.csv")


@pytest.mark.parametrize("table", ["", "AAAAA\n", "\x00", "sheet\nen.all.1.7.1.K4\n"])
def test_a_table_without_its_columns_is_refused(table: str) -> None:
    with pytest.raises(ValueError, match="the first line has to be sheet,missed"):
        typed_in(table, "results.csv")


def test_a_code_is_read_as_it_is_printed() -> None:
    code = SheetCode("es-MX", "hot-bar", 2, 70, 13, "K4")
    assert sheet_code(str(code)) == code
    assert sheet_code("es-MX.hot-bar.2.70.13.k4") == code
