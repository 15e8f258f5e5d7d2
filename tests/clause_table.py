"""The docstrings of the clause tests go in; the tables of tests/food_safety.md come out.

`python tests/clause_table.py` writes them; a test holds that they are as the tests say.
"""

from __future__ import annotations

import ast
from pathlib import Path

ROOT = Path(__file__).parent.parent
PAGE = ROOT / "tests" / "food_safety.md"
BEGIN, END = "<!-- clauses: made by tests/clause_table.py -->", "<!-- /clauses -->"


def clauses() -> dict[str, list[tuple[str, str, str]]]:
    """By module's first sentence: clause, what the product says, name of the test."""
    found = {}
    for path in sorted((ROOT / "tests" / "prep").glob("test_clauses_*.py")):
        tree = ast.parse(path.read_text("utf-8"))
        rows = []
        for node in tree.body:
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                clause, colon, says = " ".join((ast.get_docstring(node) or "").split()).partition(
                    ": "
                )
                assert colon, f"{node.name} names no clause"
                rows.append((clause, says, node.name))
        heading = " ".join((ast.get_docstring(tree) or "").split()).partition(",")[0]
        found[f"{heading} (`{path.name}`)"] = rows
    return found


def tables() -> str:
    """A table for each module."""
    parts = []
    for heading, rows in clauses().items():
        lines = [f"### {heading}", "", "| clause | what the product says | test |", "|---|---|---|"]
        lines += [
            f"| {clause} | {says} | `{name.removeprefix('test_')}` |" for clause, says, name in rows
        ]
        parts.append("\n".join(lines))
    return "\n\n".join(parts)


def page() -> str:
    """The page with its tables written anew."""
    before, _, rest = PAGE.read_text("utf-8").partition(BEGIN)
    return f"{before}{BEGIN}\n{tables()}\n{END}{rest.partition(END)[2]}"


if __name__ == "__main__":
    PAGE.write_text(page(), "utf-8")
