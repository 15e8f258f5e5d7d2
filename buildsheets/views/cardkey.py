"""Which card: the stable key that editions follow from one season to the next."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class CardKey:
    """A card's place in the menu: kind, subject id (drink, station, batch), cup id, language.

    ``cup`` is "" for cards that are not made per size; for batch cards it holds the scale.
    """

    kind: str  # "build", "station", "batch", "addons", "allergens", "gauge"
    subject: str
    cup: str
    language: str
