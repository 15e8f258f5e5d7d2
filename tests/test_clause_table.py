"""tests/food_safety.md lists every clause that is tested, with what its test says."""

from __future__ import annotations

from clause_table import PAGE, clauses, page


def test_the_page_is_as_the_tests_say() -> None:
    # Written anew by `python tests/clause_table.py`.
    assert PAGE.read_text("utf-8") == page()


def test_each_test_names_its_clause() -> None:
    found = clauses()
    assert len(found) == 4
    for rows in found.values():
        assert len(rows) > 5
        for clause, says, _name in rows:
            assert len(clause) < 90
            assert says.endswith(".")
