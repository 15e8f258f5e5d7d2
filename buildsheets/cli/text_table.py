"""Rows of texts go in; the same in columns for a terminal comes out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from tabulate import tabulate


def text_table(rows: Iterable[Sequence[str]], align: str) -> str:
    """Rows in columns two spaces apart; ``align`` is "l" or "r" for each column."""
    sides = ["right" if one == "r" else "left" for one in align]
    return tabulate(list(rows), tablefmt="plain", colalign=sides, disable_numparse=True)
