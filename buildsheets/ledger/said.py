"""A card's view in; what it says, as plain nested texts for the ledger and for comparing, out.

Only what a reader reads is kept: texts and the gauge's heights. Colours, patterns, sizes and the
drawing are left to the digest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any

from buildsheets.views.cards import SIZE_FIELDS, View
from buildsheets.views.digest import IDENTITY
from buildsheets.views.prep_views import AllergenMatrixView, MatrixRow
from buildsheets.views.views import GaugeLine

Said = Mapping[str, Any]  # texts, lists of texts, and mappings and lists of these

LOOKS = frozenset(
    {"kind", "language", "accent", "ink", "letter", "letters", "pattern", "shape",
     "drawing", "align", "weights", "strong", "tick"}
)  # fmt: skip
"""Fields of a view that say how something looks, not what it says."""


BETWEEN = " · "
"""Stands between the drinks of a row."""


def said(view: View) -> dict[str, Any]:
    """What the card says, field by field; empty fields are left out."""
    told = _told(view)
    assert isinstance(told, dict)
    if isinstance(view, AllergenMatrixView):
        told["rows"] = [_marked(row, view) for row in view.rows]
    return told


# The marks of an allergen matrix, in the order of its legend.
_MARKS = ("contains", "may-contain", "undeclared", "none-declared")


def _marked(row: MatrixRow, view: AllergenMatrixView) -> dict[str, Any]:
    """A row of the allergen matrix with its marks in words, by allergen."""
    marks = (view.legend[_MARKS.index(mark)] for mark in row.marks)
    return {"name": row.name, "marks": dict(zip(view.allergens, marks, strict=True))}


def _told(value: object) -> Any:
    if isinstance(value, str):
        return value
    if isinstance(value, GaugeLine):
        return {"label": value.label, "at": f"{value.height_mm:.1f} mm"}
    if is_dataclass(value):
        told = {
            field.name: _told(getattr(value, field.name))
            for field in fields(value)
            if field.name not in IDENTITY and field.name not in LOOKS
        }
        return {name: part for name, part in told.items() if part}
    if isinstance(value, Mapping):
        return {str(name): part for name, held in value.items() if (part := _told(held))}
    if isinstance(value, Sequence):
        # an empty cell of a table keeps its place
        return [_told(part) or "" for part in value]
    return None  # a number is a size of the paper or the drawing


def with_names(told: Any, names: Mapping[str, str]) -> Any:
    """What a card says with other names for its drinks, wherever one stands alone or in a list."""
    if isinstance(told, str):
        return BETWEEN.join(names.get(part, part) for part in told.split(BETWEEN))
    if isinstance(told, Mapping):
        return {field: with_names(held, names) for field, held in told.items()}
    return [with_names(held, names) for held in told] if isinstance(told, Sequence) else told


def name_of(told: Said) -> str:
    """What people call the card: its title, or the name of its station."""
    title = told.get("title") or told.get("station", {}).get("name") or ""
    return str(title)


def size_of(told: Said) -> str:
    """The size the card is for, or the scale of a batch; "" if for none."""
    return next((str(told[name]) for name in SIZE_FIELDS if told.get(name)), "")


def stations_of(told: Said) -> tuple[str, ...]:
    """The stations at which the card hangs."""
    if "station" in told:
        own = told["station"]
        return (own if isinstance(own, str) else own.get("name", ""),)
    return tuple(mark["name"] for mark in told.get("stations", ()) if mark.get("name"))
