"""A language in; the words that editions, comparisons and phone pages are written in out."""

from __future__ import annotations

from datetime import date
from functools import lru_cache

from buildsheets.print.layouts import LayoutMissing, Layouts
from buildsheets.views.words import Words

FALL_BACK = "en"


@lru_cache(maxsize=32)
def edition_words(layouts: Layouts, language: str) -> Words:
    """The words of ``layouts/words/editions.<language>.yaml``.

    "es-MX" takes those of "es"; a language without a list takes the English one.
    """
    for name in (language, language.split("-")[0], FALL_BACK):
        try:
            return Words(name, layouts.mapping(f"words/editions.{name}.yaml"))
        except LayoutMissing:
            continue
    raise LayoutMissing(f"no words/editions.{FALL_BACK}.yaml")


def foot_texts(words: Words, name: str, valid_from: date, valid_to: date) -> tuple[str, str]:
    """The foot's edition text and validity text: "Winter 2026, from 1 Dec 2026" and until when."""
    return (
        words("foot_edition", name=name, day=words.date(valid_from)),
        words("foot_valid", day=words.date(valid_to)),
    )
