"""Figures of the prep room and a language in; the amounts, times and names a reader sees out.

Rounding happens here, once: yields and volumes down (the safe side for what is promised), grams to
the step of the shop's scale as figured.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Protocol

from buildsheets.cup.allergens import AllergenReport
from buildsheets.menu.days import clock as time_and_day
from buildsheets.menu.model import Batch, Component, Ingredient, KeepsFor, Menu, Text
from buildsheets.views.prep_views import SheetTable, SheetView
from buildsheets.views.views import Allergens, Foot
from buildsheets.views.words import Words

_NOISE = 1e-6

A4_MM = (210.0, 297.0)


class Named(Protocol):
    """An entry of the menu."""

    @property
    def name(self) -> Text: ...


def name(words: Words, entry: Named) -> str:
    """The name of an entry in the reader's language."""
    return entry.name.in_language(words.language)


def names(words: Words, entries: Iterable[Named]) -> str:
    """Names one after the other."""
    return ", ".join(name(words, entry) for entry in entries)


def word_or(words: Words, key: str, otherwise: str) -> str:
    """The word under ``key`` where the language has one."""
    return words(key) if key in words.catalogue else otherwise


def grams(words: Words, value: float) -> str:
    """Grams without a thousands mark: 1250; tenths or hundredths only where the scale shows them.

    >>> grams(Words("es", {}), 2.5)
    '2,5'
    """
    if abs(value - round(value)) < _NOISE:
        return str(round(value))
    decimals = 1 if abs(value - round(value, 1)) < _NOISE else 2
    return words.number(round(value, decimals), decimals)


def whole_grams(words: Words, value: float, *, up: bool = False) -> str:
    """Grams with the unit, to 1 g: a yield down, what is needed up."""
    return words("prep_grams", g=str(_whole(value, up)))


def millilitres(words: Words, value: float, *, up: bool = False) -> str:
    """Below a litre to 5 ml, above to 0.01 l: a yield down, what is needed up.

    Under 5 ml as it is, in tenths.
    """
    if value >= 1000:
        return words("prep_litres", l=words.number(_whole(value / 10, up) / 100))
    if value >= 5:
        return words("prep_ml", ml=str(5 * _whole(value / 5, up)))
    return words("prep_ml", ml=words.number(round(value, 1)))


def _whole(value: float, up: bool) -> int:
    return math.ceil(value - _NOISE) if up else math.floor(value + _NOISE)


def amount(words: Words, mass_g: float | None, volume_ml: float | None) -> str:
    """Volume and mass of a yield, what is known of them: ``1.55 l · 1470 g``."""
    known = [millilitres(words, volume_ml)] if volume_ml is not None else []
    known += [whole_grams(words, mass_g)] if mass_g is not None else []
    return " · ".join(known) or words("prep_unknown")


def factor(words: Words, value: float) -> str:
    """A factor with its sign: ``× 0.5``; two decimals at most, rounded half up."""
    return f"× {words.number(math.floor(value * 100 + 0.5) / 100)}"


def seconds(words: Words, value: float) -> str:
    """A time in the unit a kitchen timer shows: seconds to 2 min, minutes to 2 h, then hours."""
    if value < 120:
        return words("prep_s", s=words.number(round(value)))
    if value < 7200:
        return words("prep_min", min=words.number(round(value / 60, 1)))
    return words("prep_h", h=words.number(round(value / 3600, 1)))


def celsius(words: Words, value: float) -> str:
    """A temperature in whole degrees."""
    return words("prep_celsius", t=words.number(round(value)))


def keeps(words: Words, value: KeepsFor) -> str:
    """A keeping time: ``3 days`` or ``4 h``."""
    if value.days is not None:
        return words("prep_days", count=value.days)
    return words("prep_h", h=words.number(value.hours or 0.0))


def moment(when: datetime) -> str:
    """A clock time in 24 hours."""
    return f"{when:%H:%M}"


def day(words: Words, when: date) -> str:
    """A date with its weekday, so that nobody has to count."""
    return _date(words, when, "yMMMEd")


def day_unbroken(words: Words, when: date) -> str:
    """A weekday and date without the year, kept on one line."""
    return _date(words, when, "MMMEd").replace(" ", "\u00a0")


def _date(words: Words, when: date, skeleton: str) -> str:
    from babel.dates import format_skeleton

    return str(format_skeleton(skeleton, when, locale=words.language.replace("-", "_")))


def clock(words: Words, minutes: float) -> str:
    """Minutes of the planned day as a time, with the day where it is another one."""
    time, days = time_and_day(minutes)
    if days == 0:
        return time
    if days > 0:
        other = words("prep_day_after")
    else:
        other = words("prep_days_before", count=-days) if days < -1 else words("prep_day_before")
    return f"{time} ({other})"


def allergen_name(words: Words, menu: Menu, allergen: str) -> str:
    """The shop's own word in this language, else the list's, else whatever the shop wrote."""
    own = menu.shop.allergens.get(allergen)
    if own is not None and own.has(words.language) and own.in_language(words.language) != allergen:
        return own.in_language(words.language)
    otherwise = allergen if own is None else own.in_language(words.language)
    return word_or(words, f"allergen_{allergen}", otherwise)


def allergens(words: Words, menu: Menu, report: AllergenReport) -> Allergens:
    """Contains and may contain by name; the statement when neither is, or when one is unknown."""
    statement = ""
    if report.undeclared:
        who = dict.fromkeys(name(words, path[-1]) for path in report.undeclared)
        statement = words("prep_undeclared", names=", ".join(who))
    elif not report.contains and not report.may_contain:
        statement = words("allergens_none", count=len(menu.shop.allergens))
    contains, may_contain = (
        tuple(allergen_name(words, menu, one) for one in menu.shop.in_order(ids))
        for ids in (report.contains, report.may_contain)
    )
    return Allergens(contains, may_contain, statement)


def allergen_line(words: Words, known: Allergens) -> str:
    """All of it in one line, never blank: "Contains milk; may contain soya"."""
    lists = []
    if known.contains:
        lists.append(words("contains_list", list=words.list(known.contains)))
    if known.may_contain:
        lists.append(words("may_list", list=words.list(known.may_contain)))
    line = ". ".join(filter(None, ("; ".join(lists), known.statement)))
    return line[:1].upper() + line[1:]


def caution_ids(item: Ingredient | Batch | Component) -> tuple[str, ...]:
    """Cautions of an entry and of everything in it, each once, in the order met."""
    found: dict[str, None] = dict.fromkeys(item.cautions)
    inner: Sequence[Ingredient | Batch] = ()
    if isinstance(item, Batch):
        inner = [part.item for part in item.parts]
    elif isinstance(item, Component) and item.source is not None:
        inner = [item.source]
    for one in inner:
        found.update(dict.fromkeys(caution_ids(one)))
    return tuple(found)


def office_foot(words: Words, menu: Menu, code: str) -> Foot:
    """The foot of a sheet that belongs to no edition: shop, season and the local code note."""
    return Foot(
        code=code,
        revision="",
        edition=name(words, menu.edition),
        valid="",
        qr_payload="",
        local_code_note=words("follow_code"),
        shop=name(words, menu.shop),
    )


def table(
    words: Words,
    title: str,
    keys: Sequence[str],
    rows: Iterable[tuple[str, ...]],
    align: str,
    weights: tuple[float, ...],
    strong: tuple[int, ...],
    *,
    tick: bool = False,
    note: str = "",
) -> SheetTable:
    """A table of a sheet; ``title``, ``keys`` of its columns and ``note`` are words' keys or ""."""
    return SheetTable(
        title=title and words(title),
        header=tuple(words(key) for key in keys),
        rows=tuple(rows),
        align=align,
        weights=weights,
        tick=tick,
        strong=strong,
        note=note and words(note),
    )


def sheet(
    menu: Menu,
    words: Words,
    kind: str,
    code: str,
    title: str,
    tables: Iterable[SheetTable],
    notes: Iterable[str],
    distance_mm: float,
    *,
    subtitle: str = "",
    landscape: bool = False,
) -> SheetView:
    """An A4 sheet of those tables that have rows."""
    short_mm, long_mm = A4_MM
    return SheetView(
        kind=kind,
        language=words.language,
        code=code,
        title=title,
        subtitle=subtitle,
        tables=tuple(one for one in tables if one.rows),
        notes=tuple(notes),
        foot=office_foot(words, menu, code),
        reading_distance_mm=distance_mm,
        width_mm=long_mm if landscape else short_mm,
        height_mm=short_mm if landscape else long_mm,
    )
