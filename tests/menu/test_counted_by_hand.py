"""Amounts counted by hand: in pieces, or in what the tool of an ingredient calls one."""

from __future__ import annotations

import menu_samples as m
import pytest
from test_json_schema import errors

from buildsheets.findings.finding import Finding, Severity
from buildsheets.menu.model import AddStep, Amount

# One leaf of mint weighs about 0.2 g: by hand, 6 of them are 1.2 g.
HAND = (
    "  fingers: {name: fingers, kind: hand, step: 1 piece, holds: 0.2 g, "
    "one: {en: leaf, de: Blatt}, many: {en: leaves, de: Blätter}}\n"
)
BY_HAND = m.swapped(
    m.swapped(m.SMALL, "tools:\n", f"tools:\n{HAND}").replace(
        "{topping: pearls, amount: 1 scoop", "{topping: pearls, amount: 4 leaves"
    ),
    "    tool: scoop\n    station: bar",
    "    tool: fingers\n    station: bar",
)


def written(amount: str, text: str = BY_HAND) -> str:
    return m.swapped(text, "{add: pearls, amount: 1 scoop}", f"{{add: pearls, amount: {amount}}}")


def faults(text: str) -> list[Finding]:
    return [one for one in m.check_texts(text).findings if one.severity is Severity.ERROR]


@pytest.mark.parametrize(
    ("amount", "count", "grams"),
    [
        ("6 leaves", 6, 1.2),
        ("1 leaf", 1, 0.2),
        ("6 Blätter", 6, 1.2),
        ("6 pieces", 6, 1.2),
        ("1 piece", 1, 0.2),
    ],
)
def test_what_is_counted_by_hand_is_written_as_it_is_called(
    amount: str, count: float, grams: float
) -> None:
    checked = m.check_texts(written(amount))
    assert checked.menu is not None
    step = checked.menu.drinks["cloud"].steps[0]
    assert isinstance(step, AddStep)
    (of_medium, *_) = step.amounts.values()
    assert isinstance(of_medium, Amount)
    assert (of_medium.count, of_medium.mass_g) == (count, pytest.approx(grams))
    assert errors(written(amount)) == []


def test_pieces_are_counts_of_any_counted_tool() -> None:
    """Two scoops of 40 g."""
    checked = m.check_texts(written("2 pieces", m.SMALL))
    assert checked.menu is not None
    step = checked.menu.drinks["cloud"].steps[0]
    assert isinstance(step, AddStep)
    assert {
        (one.count, one.mass_g) for one in step.amounts.values() if isinstance(one, Amount)
    } == {(2, 80)}


@pytest.mark.parametrize(
    ("amount", "code", "told", "hint", "taken"),
    [
        ("6 leafs", "VAL08", "“leafs”", "write 6 leaves or 6 pieces", "6 leaves"),
        ("30 mll", "VAL08", "“mll”", "write 30 leaves or 30 pieces", "30 ml"),
        ("6 scoops", "TOOL02", "counted by hand, with 'fingers'", "write 6 leaves", ""),
    ],
)
def test_another_word_is_answered_with_those_of_its_own_tool(
    amount: str, code: str, told: str, hint: str, taken: str
) -> None:
    text = written(amount)
    (found,) = faults(text)
    assert (found.code, m.starts(found.span)) == (code, m.place_of(text, f"{amount}}}"))
    assert told in found.message
    assert hint in found.hint
    assert [fix.replacement for fix in found.fixes] == [taken] * bool(taken)
    if taken:
        assert faults(m.swapped(text, f"{amount}}}", f"{taken}}}")) == []


def test_pieces_of_what_is_poured_name_the_tool_that_counts() -> None:
    text = m.swapped(m.SMALL, "plain-milk, amount: 100 ml", "plain-milk, amount: 6 leaves")
    (found,) = faults(text)
    assert found.code == "VAL08"
    assert "kind: hand with step: 1 piece" in found.hint
    (found,) = faults(text.replace("6 leaves", "6 pieces"))
    assert found.code == "TOOL02"
    assert "measured with 'jug'" in found.message
    assert "kind: hand with step: 1 piece" in found.hint


def test_a_number_alone_is_no_count_of_leaves() -> None:
    (found,) = faults(written("6"))
    assert found.code == "VAL08"
    assert "6 pieces" in found.hint
    assert errors(written("6"))


@pytest.mark.parametrize("amount", ["10 °C", "65 %", "4 h", "90 mm", "10,5 g", "2 to 3 g"])
def test_what_is_no_amount_does_not_validate_for_all_that(amount: str) -> None:
    assert errors(written(f'"{amount}"'))
    assert faults(written(f'"{amount}"'))
