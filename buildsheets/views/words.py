"""A language in; a card's fixed words, and numbers, dates and lists in that language, out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any, Protocol
from unicodedata import bidirectional

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.menu.model import Drink, Text
from buildsheets.menu.shop import LANGUAGES, Shop
from buildsheets.menu.volumes import ML, VolumeUnit

# Babel writes narrow no-break spaces and no-break hyphens the card's typeface does not have, and
# marks of direction, which a card sets itself.
_PLAIN = str.maketrans(
    {"\u202f": "\u00a0", "\u2009": "\u00a0", "\u2011": "-"} | dict.fromkeys("\u061c\u200e\u200f")
)

_NUMBERS = (int, float, Decimal)

# The first letters that are written from right to left stand here (Unicode: Hebrew).
_FIRST_RTL = "\u0590"


# A text between a first strong isolate and its pop, which is set in its own direction (UAX 9).
_ISOLATED = re.compile("\u2068[^\u2068\u2069]*\u2069")


class UnknownWord(KeyError):
    """A card asked for a fixed word the language's catalogue does not have."""


class Named(Protocol):
    """An entry of the menu."""

    @property
    def name(self) -> Text: ...


@dataclass(frozen=True)
class Words:
    """Fixed words of one language. ``words("contains")``, ``words("parts", part=1, parts=2)``.

    A word with plural forms is a mapping by CLDR plural category and is chosen by ``count``.
    A key the catalogue lacks raises ``UnknownWord``; ``missing`` lists such keys beforehand.
    """

    language: str
    catalogue: Mapping[str, Any] = field(repr=False)
    volumes: VolumeUnit = ML
    in_inches: bool = False  # heights

    def measured_in(self, shop: Shop) -> Words:
        """The same words for a shop's measures: of America, Fahrenheit before Celsius; volumes in
        the unit its vessels are marked in, heights in what its cups are written in."""
        changed = {}
        if shop.reads_fahrenheit:
            changed["prep_celsius"] = self.catalogue["prep_fahrenheit"]
        if shop.volumes.in_fractions:
            changed["ml_line"] = self.catalogue["fl_oz_line"]
        if not changed and not shop.in_inches:
            return self
        catalogue = {**self.catalogue, **changed}
        return replace(self, catalogue=catalogue, volumes=shop.volumes, in_inches=shop.in_inches)

    def __call__(self, key: str, **params: object) -> str:
        if key not in self.catalogue:
            raise UnknownWord(f"no word {key!r} in the {self.language!r} catalogue")
        text = self.catalogue[key]
        if not isinstance(text, str) and isinstance(text, Mapping):
            form = self.locale.plural_form(params.get("count", 0))
            text = text.get(form, text.get("other", ""))
        written = {
            name: self.number(value) if isinstance(value, _NUMBERS) else value
            for name, value in params.items()
        }
        try:
            return self._isolated(str(text).format(**written))
        except (KeyError, IndexError, ValueError, AttributeError) as wrong:
            raise UnknownWord(
                f"the word {key!r} in the {self.language!r} catalogue, {text!r}, asks for "
                f"something it is not given: {wrong}"
            ) from wrong

    def get(self, key: str, otherwise: str) -> str:
        """The word under ``key``, or ``otherwise`` where the language has none."""
        return self(key) if key in self.catalogue else otherwise

    def text(self, text: Text) -> str:
        """A text of the menu in the reader's language."""
        return self._isolated(text.in_language(self.language))

    def name(self, entry: Named) -> str:
        """The name of an entry of the menu in the reader's language."""
        return self._isolated(entry.name.in_language(self.language))

    @cached_property
    def is_rtl(self) -> bool:
        """Whether the language is written from right to left."""
        return self.language not in LANGUAGES and self.locale.text_direction == "rtl"

    def _isolated(self, text: str) -> str:
        """A text that may stand within a line, kept together where any of it runs against the line:
        else it would draw its neighbours' numbers and signs to its side."""
        against = runs_against(_ISOLATED.sub("", text) if self.is_rtl else text, self.is_rtl)
        return f"\u2068{text}\u2069" if against else text

    def drink(self, drink: Drink) -> str:
        """The name of a drink, with what a guest swaps in it."""
        name, swaps = self.name(drink), " + ".join(map(self.name, drink.swapped))
        return self("drink_with", drink=name, swaps=swaps) if swaps else name

    def names(self, entries: Iterable[Named]) -> str:
        """Names one after the other."""
        return ", ".join(map(self.name, entries))

    @cached_property
    def locale(self) -> Any:
        """The language as babel knows it."""
        from babel import Locale

        return Locale.parse(self.language, sep="-")

    def number(self, value: float | Decimal, decimals: int | None = None) -> str:
        """A number with the language's marks; ``decimals`` fixes the places shown."""
        if decimals is None and 0 <= value < 1000 and value == int(value):
            return str(int(value))  # no marks: the way of most numbers, and a hundred times as fast
        pattern = None if decimals is None else "#,##0" + ("." + "0" * decimals) * bool(decimals)
        from babel import numbers

        return numbers.format_decimal(value, pattern, self.locale).translate(_PLAIN)

    def percent(self, share: float, *, exact: bool = False) -> str:
        """A share between 0 and 1 as a whole percentage, or with all its places."""
        from babel import numbers

        text = numbers.format_percent(share, locale=self.locale, decimal_quantization=not exact)
        return text.translate(_PLAIN)

    def money(self, amount: Decimal, currency: str) -> str:
        """An amount in an ISO 4217 currency."""
        from babel import numbers

        return numbers.format_currency(amount, currency, locale=self.locale).translate(_PLAIN)

    def date(self, day: date, form: str = "medium") -> str:
        """A day in one of CLDR's forms: short, medium, long or full."""
        from babel import dates

        return dates.format_date(day, form, self.locale).translate(_PLAIN)

    def list(self, items: Sequence[str]) -> str:
        """Items joined as the language joins them: "milk, soy and egg"."""
        from babel import lists

        return lists.format_list([*items], locale=self.locale).translate(_PLAIN)

    def missing(self, keys: Sequence[str]) -> tuple[Finding, ...]:
        """One finding for each of ``keys`` the catalogue does not have."""
        return tuple(unknown_word(self.language, key) for key in keys if key not in self.catalogue)


def runs_against(text: str, is_rtl: bool) -> bool:
    """Whether a text has letters of the other writing direction than the line it stands in."""
    if is_rtl:
        return any(bidirectional(letter) == "L" for letter in text)
    if text.isascii():  # most are
        return False
    return max(text) >= _FIRST_RTL and any(bidirectional(letter) in ("R", "AL") for letter in text)


def unknown_word(language: str, key: str) -> Finding:
    """The finding for a fixed word without an entry in a language."""
    message = f"the word list for {language!r} has no entry for {key!r}"
    hint = f"add {key}: to layouts/words/{language}.yaml beside the menu"
    return finding("CARD02", None, message, hint=hint)
