"""The prep room's views format what was figured: they import types and look-ups, no arithmetic."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

VIEWS = Path(__file__).parents[2] / "buildsheets" / "views"

LOOKUPS = {"ordered", "named_tea_or_coffee", "clock"}
"""The order of a list, a word in a name, minutes as a clock time."""


@pytest.mark.parametrize(
    "name", ["batch_compose", "facts_compose", "prep_compose", "prep_words", "sheet_compose"]
)
def test_nothing_that_computes_is_imported(name: str) -> None:
    tree = ast.parse((VIEWS / f"{name}.py").read_text("utf-8"))
    figured = {
        alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module
        if node.module.startswith(("buildsheets.prep", "buildsheets.cup"))
        for alias in node.names
    }
    assert figured
    assert {one for one in figured if not one[0].isupper()} <= LOOKUPS
