"""Figures of the prep room and a language in; the amounts, times and names a reader sees out.

Rounding happens here, once: yields and volumes down (the safe side for what is promised), grams to
the step of the shop's scale as figured.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime

from buildsheets.menu.model import Batch, Component, Ingredient, KeepsFor, Menu
from buildsheets.prep.allergens import AllergenReport, ordered
from buildsheets.views.views import Allergens, Foot
from buildsheets.views.words import Words

_NOISE = 1e-6


def grams(words: Words, value: float) -> str:
    """Grams without a thousands mark: 1250; tenths or hundredths only where the scale shows them.

    >>> grams(Words("es", {}), 2.5)
    '2,5'
    """
    for decimals in (0, 1):
        if abs(value - round(value, decimals)) < _NOISE:
            return _plain(words, value, decimals)
    return _plain(words, value, 2)


def _plain(words: Words, value: float, decimals: int) -> str:
    return str(round(value)) if decimals == 0 else words.number(round(value, decimals), decimals)


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
    shown = []
    if volume_ml is not None:
        shown.append(millilitres(words, volume_ml))
    if mass_g is not None:
        shown.append(whole_grams(words, mass_g))
    return " · ".join(shown) or words("prep_unknown")


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
    return f"{when.hour:02d}:{when.minute:02d}"


def day(words: Words, when: date) -> str:
    """A date with its weekday, so that nobody has to count."""
    from babel.dates import format_skeleton

    return str(format_skeleton("yMMMEd", when, locale=words.language.replace("-", "_")))


def day_unbroken(words: Words, when: date) -> str:
    """A weekday and date without the year, kept on one line."""
    from babel.dates import format_skeleton

    shown = str(format_skeleton("MMMEd", when, locale=words.language.replace("-", "_")))
    return shown.replace(" ", "\u00a0")


def day_word(words: Words, offset: int) -> str:
    """Which day a time lies on, seen from the day planned: nothing for the day itself."""
    if offset == 0:
        return ""
    if offset == -1:
        return words("prep_day_before")
    return words("prep_days_before", count=-offset) if offset < 0 else words("prep_day_after")


def clock(words: Words, minutes: float) -> str:
    """Minutes of the planned day as a time, with the day where it is another one."""
    whole = math.floor(minutes + _NOISE)
    shown = f"{whole % 1440 // 60:02d}:{whole % 60:02d}"
    other = day_word(words, whole // 1440)
    return f"{shown} ({other})" if other else shown


def allergen_names(words: Words, menu: Menu, ids: Iterable[str]) -> tuple[str, ...]:
    """Names in the order of the shop's list: the shop's own word, else the list's."""
    return tuple(allergen_name(words, menu, one) for one in ordered(ids, menu.shop))


def allergen_name(words: Words, menu: Menu, allergen: str) -> str:
    """The shop's own word in this language, else the list's, else whatever the shop wrote."""
    own = menu.shop.allergens.get(allergen)
    if own is not None and own.has(words.language) and own.in_language(words.language) != allergen:
        return own.in_language(words.language)
    key = f"allergen_{allergen}"
    if key in words.catalogue:
        return words(key)
    return allergen if own is None else own.in_language(words.language)


def allergens(words: Words, menu: Menu, report: AllergenReport) -> Allergens:
    """Contains and may contain by name; the statement when neither is, or when one is unknown."""
    statement = ""
    if report.undeclared:
        who = dict.fromkeys(path[-1].name.in_language(words.language) for path in report.undeclared)
        statement = words("prep_undeclared", names=", ".join(who))
    elif not report.contains and not report.may_contain:
        statement = words("allergens_none", count=len(menu.shop.allergens))
    return Allergens(
        allergen_names(words, menu, report.contains),
        allergen_names(words, menu, report.may_contain),
        statement,
    )


def allergen_line(words: Words, told: Allergens) -> str:
    """All of it in one line, never blank: "Contains milk; may contain soya"."""
    lists = []
    if told.contains:
        lists.append(words("contains_list", list=words.list(told.contains)))
    if told.may_contain:
        lists.append(words("may_list", list=words.list(told.may_contain)))
    line = ". ".join(filter(None, ("; ".join(lists), told.statement)))
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
        edition=menu.edition.name.in_language(words.language),
        valid="",
        qr_payload="",
        local_code_note=words("follow_code"),
        shop=menu.shop.name.in_language(words.language),
    )
