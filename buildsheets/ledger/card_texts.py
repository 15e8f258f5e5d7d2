"""A card's view in; what it says, as plain nested texts for the ledger and for comparing, out.

Only what a reader reads is kept: texts and the gauge's heights. Colours, patterns, sizes and the
drawing are left to the digest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any

from buildsheets.views.card import IDENTITY, SIZE_FIELDS
from buildsheets.views.grids import grids
from buildsheets.views.types import AllergenMatrixView, AmountTable, GaugeLine, View

CardTexts = Mapping[str, Any]  # texts, lists of texts, and mappings and lists of these
Items = Sequence[CardTexts]  # steps, rows, add-ons of a card

LOOKS = frozenset(
    {"kind", "language", "accent", "ink", "letter", "letters", "pattern", "shape",
     "drawing", "align", "weights", "strong", "tick"}
)  # fmt: skip
"""Fields of a view that say how something looks, not what it says."""

BETWEEN = " · "
"""Stands between the drinks of a row."""

# The marks of an allergen matrix, in the order of its legend.
_MARKS = ("contains", "may-contain", "undeclared", "none-declared")


def card_texts(view: View) -> dict[str, Any]:
    """What the card says, field by field; empty fields are left out."""
    texts: dict[str, Any] = _texts(view)
    if isinstance(view, AllergenMatrixView):  # each row's marks in words, by allergen
        legend = dict(zip(_MARKS, view.legend, strict=False))
        texts["rows"] = [
            {
                "name": row.name,
                "marks": {
                    allergen: legend[mark]
                    for allergen, mark in zip(view.allergens, row.marks, strict=True)
                },
            }
            for row in view.rows
        ]
    return texts


def _texts(value: object) -> Any:
    if isinstance(value, str):
        return value
    if isinstance(value, GaugeLine):
        return {"label": value.label, "at": f"{value.height_mm:.1f} mm"}
    if isinstance(value, tuple) and value and isinstance(value[0], AmountTable):
        value = grids(value)
    if is_dataclass(value):
        names = (field.name for field in fields(value))
        value = {n: getattr(value, n) for n in names if n not in IDENTITY and n not in LOOKS}
    if isinstance(value, Mapping):
        return {str(name): texts for name, held in value.items() if (texts := _texts(held))}
    if isinstance(value, Sequence):  # an empty cell of a table keeps its place
        return [_texts(part) or "" for part in value]
    return None  # a number is a size of the paper or the drawing


def with_names(texts: Any, names: Mapping[str, str]) -> Any:
    """A card's texts with other names for its drinks, wherever one stands alone or in a list."""
    if isinstance(texts, str):
        return BETWEEN.join(names.get(part, part) for part in texts.split(BETWEEN))
    if isinstance(texts, Mapping):
        return {field: with_names(held, names) for field, held in texts.items()}
    return [with_names(held, names) for held in texts]


def name_of(texts: CardTexts) -> str:
    """What people call the card: its title, or the name of its station."""
    return str(texts.get("title") or texts.get("station", {}).get("name") or "")


def size_of(texts: CardTexts) -> str:
    """The size the card is for, or the scale of a batch; "" if for none."""
    return next((str(texts[name]) for name in SIZE_FIELDS if texts.get(name)), "")


def stations_of(texts: CardTexts) -> tuple[str, ...]:
    """The stations at which the card hangs."""
    if "station" in texts:
        own = texts["station"]
        return (own if isinstance(own, str) else own.get("name", ""),)
    return tuple(mark["name"] for mark in texts.get("stations", ()) if mark.get("name"))
