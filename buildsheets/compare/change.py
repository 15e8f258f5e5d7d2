"""What one change of a card is: what kind, its two texts, and where on the card it stands."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import count
from typing import TypeVar

Where = tuple[str, ...]  # the fields, rows and names that lead to a text, from the outside in
_Key = TypeVar("_Key")
_Item = TypeVar("_Item")


class What(StrEnum):
    """What kind of change, in the order in which a shop should read them."""

    ALLERGEN_ADDED = "allergen-added"
    ALLERGEN_TURNED = "allergen-turned"  # from possible to contained, or back
    ALLERGEN_REMOVED = "allergen-removed"
    ADD_ON_OFFERED = "add-on-offered"  # what an add-on new to a drink brings
    ADD_ON_ALLERGENS = "add-on-allergens"
    SWAP_ALLERGENS = "swap-allergens"
    CAUTION_ADDED = "caution-added"
    CAUTION_REMOVED = "caution-removed"
    RENAMED = "renamed"  # a drink, on a card of several
    STEP_SWAPPED = "step-swapped"  # another thing in the same place
    STEP_ADDED = "step-added"
    STEP_REMOVED = "step-removed"
    STEP_MOVED = "step-moved"
    STEP_CHANGED = "step-changed"
    ROOM = "room"  # how the drink makes room for an add-on
    TEXT = "text"
    ADDED = "added"  # a row, a line or an item of a list that was not there
    REMOVED = "removed"
    FOR_MORE = "for-more"  # a drink that a row or a line now holds for as well
    FOR_FEWER = "for-fewer"
    ORDER = "order"
    LOOK = "look"


ALLERGENS = (
    What.ALLERGEN_ADDED,
    What.ALLERGEN_TURNED,
    What.ALLERGEN_REMOVED,
    What.ADD_ON_OFFERED,
    What.ADD_ON_ALLERGENS,
    What.SWAP_ALLERGENS,
)
CAUTIONS = (What.CAUTION_ADDED, What.CAUTION_REMOVED)


@dataclass(frozen=True, slots=True)
class Change:
    """One change: ``subject`` is what changed, ``was`` and ``now`` its two texts ("" for none).

    ``parts`` are the fields of a changed step as (field, was, now). ``where`` leads there: the
    row of a station card, the name of an add-on, the table. ``drinks`` are those that a row
    common to several drinks changed for. An allergen that went has in ``now`` the add-ons that
    still bring it.
    """

    what: What
    subject: str = ""
    was: str = ""
    now: str = ""
    parts: tuple[tuple[str, str, str], ...] = ()
    where: Where = ()
    drinks: tuple[str, ...] = ()


Changes = Iterator[Change]
_NUMBERS = re.compile(r"[\d.,½⅓⅔¼¾⅛]*[\d½⅓⅔¼¾⅛]")


def numbers_of(text: str) -> list[str]:
    """The amounts in a text, as written."""
    return _NUMBERS.findall(text)


def same_but_for_numbers(was: str, now: str) -> bool:
    """Whether two texts say the same of other amounts: "to 480 ml", "to 500 ml"."""
    return _NUMBERS.sub("#", was) == _NUMBERS.sub("#", now)


def joined(*texts: str) -> str:
    """Those of the texts that say something, with commas between."""
    return ", ".join(filter(None, texts))


def numbered(names: Iterable[str]) -> list[str]:
    """Names made single: the second of a name as "name (2)".

    >>> numbered(["Milk", "Tea", "Milk"])
    ['Milk', 'Tea', 'Milk (2)']
    """
    found: dict[str, None] = {}
    for name in names:
        several = (f"{name} ({number})" if number > 1 else name for number in count(1))
        found[next(one for one in several if one not in found)] = None
    return list(found)


def pairs(
    before: Mapping[str, _Item], after: Mapping[str, _Item]
) -> Iterator[tuple[str, _Item | None, _Item | None]]:
    """Each name with what it stood for and stands for, those of before first."""
    for name in dict.fromkeys((*before, *after)):
        yield name, before.get(name), after.get(name)


def grouped(items: Iterable[tuple[_Key, _Item]]) -> dict[_Key, list[_Item]]:
    """Items under their keys, both in the order in which they come."""
    found: dict[_Key, list[_Item]] = {}
    for key, item in items:
        found.setdefault(key, []).append(item)
    return found


def order_changed(subject: str, old: Iterable[str], new: Iterable[str], where: Where) -> Changes:
    """One change where what stayed stands in another order, how often each stands included."""
    old, new = list(old), list(new)
    was, now = [item for item in old if item in new], [item for item in new if item in old]
    if was != now:
        yield Change(What.ORDER, subject, " · ".join(was), " · ".join(now), where=where)
