"""A language in; the words that editions, comparisons and phone pages are written in out."""

from __future__ import annotations

from functools import lru_cache

from buildsheets.print.layouts import LayoutMissing, Layouts
from buildsheets.views.words import Words


@lru_cache(maxsize=32)
def edition_words(layouts: Layouts, language: str) -> Words:
    """The words of ``layouts/words/editions.<language>.yaml``.

    "es-MX" takes those of "es"; a language without a list takes the English one.
    """
    for name in (language, language.split("-")[0]):
        try:
            return Words(name, layouts.mapping(f"words/editions.{name}.yaml"))
        except LayoutMissing:
            continue
    return Words("en", layouts.mapping("words/editions.en.yaml"))
