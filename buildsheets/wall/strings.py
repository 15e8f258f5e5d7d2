"""A printed string goes in; the number or the values it says come out, in the card's language.

The reader's eyes: nothing here knows how a card is made, only how its language is read.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from string import Formatter

from buildsheets.views.words import Words

NOT_MADE = "–"
"""In the place of an amount: this is not made."""

_FRACTIONS = {"¼": 0.25, "½": 0.5, "¾": 0.75}


def number(text: str, words: Words) -> float:
    """A printed number: "120", "1½", "1 3/8", "1,5". Raises ``ValueError`` for anything else.

    >>> number("1½", Words("en", {}))
    1.5
    """
    from babel.numbers import get_decimal_symbol, get_group_symbol

    if fraction := re.fullmatch(r"(?:(\d+)\s)?(\d)/8", text):
        return int(fraction[1] or 0) + int(fraction[2]) / 8
    plain = "".join(text.split())
    share = _FRACTIONS.get(plain[-1:], 0.0)
    whole = plain[:-1] if share else plain
    if not whole and share:
        return share
    if not re.fullmatch(r"\d[\d.,]*", whole):
        raise ValueError(f"'{text}' is no number")
    grouped = whole.replace(get_group_symbol(words.locale), "")
    return float(grouped.replace(get_decimal_symbol(words.locale), ".")) + share


def said(text: str, key: str, words: Words) -> Mapping[str, str] | None:
    """What stands in the places of a fixed word that a text is: "to 90 ml" is "to {level}" with
    "90 ml". ``None`` where it is not that word."""
    word = words.catalogue.get(key, "")
    forms = word.values() if isinstance(word, Mapping) else (word,)
    for form in forms:
        if found := _pattern(str(form)).fullmatch(text):
            return found.groupdict()
    return None


def readings(label: str, words: Words) -> list[str]:
    """What the mark of a line says, without its unit: of "380 / 385 ml" both numbers; nothing of
    any other mark."""
    told = said(label, words.volumes.word, words)
    return told["n"].split(" / ") if told else []


@lru_cache(maxsize=512)
def _pattern(word: str) -> re.Pattern[str]:
    parts = []
    for plain, name, _, _ in Formatter().parse(word):
        parts.append(re.escape(plain))
        if name is not None:
            parts.append(f"(?P<{name}>.+)")
    return re.compile("".join(parts))


def level(text: str, words: Words) -> float:
    """The ml of a level: "90 ml", "3 fl oz"."""
    found = said(text, words.volumes.word, words)
    if found is None:
        raise ValueError(f"'{text}' is no level")
    return number(found["n"], words) * words.volumes.ml


def reached(text: str, words: Words) -> float | None:
    """The ml of "to 90 ml"; ``None`` where no level is printed, or only the usual one."""
    if not text or said(text, "usually", words):
        return None
    found = said(text, "to_level", words)
    if found is None:
        raise ValueError(f"'{text}' says no level")
    return level(found["level"], words)
