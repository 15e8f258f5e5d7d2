"""A change and a language's words in; the change as a shop would say it out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildsheets.compare.change import Change, What, same_but_for_numbers
from buildsheets.compare.compare import Side
from buildsheets.ledger.ledger import Published
from buildsheets.ledger.said import BETWEEN
from buildsheets.views.words import Words

DECLARED = ("contains", "may_contain")
TOGETHER = " + "
"""Stands between add-ons of which a row says what several at once ask."""


def name_in(side: Side | Published, language: str) -> str:
    """An edition's name in a language, else in any."""
    return side.names.get(language) or side.names.get("") or next(iter(side.names.values()), "")


def edition_name(side: Side | Published, language: str) -> str:
    """An edition's code and name: "W26 (Winter 2026)"."""
    name = name_in(side, language)
    return f"{side.code} ({name})" if name and name != side.code else side.code


def change_text(change: Change, words: Words) -> str:
    """One change as a shop would say it: "Black tea to 480 ml, was 500"."""
    place = [name for name in (field_name(part, words) for part in change.where) if name]
    text = ": ".join((*place, _said(change, words)))
    return capital(text)


def _said(change: Change, words: Words) -> str:
    match change.what:
        case What.ALLERGEN_ADDED | What.ALLERGEN_REMOVED if change.subject not in DECLARED:
            return _changed(field_name(change.subject, words), change.was, change.now, words)
        case What.ALLERGEN_ADDED:
            return words(f"now_{change.subject}", allergen=change.now)
        case What.ALLERGEN_TURNED:
            return words(f"turned_{change.subject}", allergen=change.now)
        case What.ADD_ON_OFFERED:
            return words("add_on_offered", add_on=change.subject, allergens=small(change.now))
        case What.ADD_ON_ALLERGENS:
            text = _changed("", small(change.was), small(change.now), words)
            return words("add_on_allergens", add_on=change.subject, allergens=text)
        case What.RENAMED:
            return words("renamed", was=change.was, now=change.now)
        case What.ALLERGEN_REMOVED:
            gone = words(f"gone_{change.subject}", allergen=change.was)
            if not change.now:
                return gone
            return f"{gone}; {words('still_with', add_ons=change.now)}"
        case What.STEP_SWAPPED:
            swap = words("step_swapped", now=change.now, was=change.was)
            return "; ".join((swap, *_step_parts(change, words, skip=("what",))))
        case What.STEP_ADDED:
            return words("step_added", step=change.now)
        case What.STEP_REMOVED:
            return words("step_removed", step=change.was)
        case What.STEP_MOVED:
            return words("step_moved", step=change.subject, was=change.was, now=change.now)
        case What.STEP_CHANGED:
            parts = list(_step_parts(change, words))
            apart = ":" if change.parts[0][0] in ("note", "setting") else ""
            return f"{change.subject}{apart} " + "; ".join(parts)
        case What.ADDED | What.CAUTION_ADDED:
            more = f", {change.now}" if "(" in change.now else f" ({change.now})"
            name = field_name(change.subject, words)
            return words("added", what=name + more if change.now else name)
        case What.REMOVED | What.CAUTION_REMOVED:
            return words("removed", what=field_name(change.subject, words))
        case What.FOR_MORE:
            if change.now:
                return words("for_more_with", drinks=change.subject, now=change.now)
            return words("for_more", drinks=change.subject)
        case What.FOR_FEWER:
            several = bool(change.where) and TOGETHER in change.where[-1]
            return words("for_fewer_together" if several else "for_fewer", drinks=change.subject)
        case What.ROOM:
            (was, before, _), (now, _, after) = change.parts
            asks = _asked(now, after, words)
            if was:
                text = words("text_changed", was=_asked(was, before, words), now=asks)
            else:
                text = words("text_added", now=asks)
            return text
        case What.ORDER:
            name = field_name(change.subject, words)
            return f"{name} {words('order_changed', now=change.now)}".strip()
        case What.LOOK:
            return words("look_changed")
        case _:
            name = field_name(change.subject, words)
            if name and not change.where:
                name += ":"  # of the card itself: a sentence follows
            return _changed(name, change.was, change.now, words)


def _asked(field: str, text: str, words: Words) -> str:
    """What an add-on asks of a drink: "leave out 20 ml of Black tea", or nothing."""
    if not field:
        return words("as_written")
    return text if field == "line" else f"{field_name(field, words)} {text}"


def _step_parts(change: Change, words: Words, skip: Sequence[str] = ()) -> Iterator[str]:
    for field, was, now in change.parts:
        if field in skip:
            continue
        plain = field in ("amount", "line", "tool", "note", "setting")  # these speak for themselves
        yield _changed("" if plain else field_name(field, words), was, now, words)


def _changed(name: str, was: str, now: str, words: Words) -> str:
    if not was:
        text = words("text_added", now=now)
    elif not now:
        text = words("text_removed", was=was)
    else:
        alike = same_but_for_numbers(was, now) and BETWEEN not in was  # a list is told whole
        short = without_common(was, now) if alike else was
        text = words("text_changed", now=now, was=short)
    return f"{name} {text}" if name else text


def without_common(was: str, now: str) -> str:
    """The stretch of ``was`` that differs: "500" of "to 500 ml" beside "to 480 ml"."""
    old, new = was.split(), now.split()
    start = end = 0
    while start < min(len(old), len(new)) and old[start] == new[start]:
        start += 1
    while end < min(len(old), len(new)) - start and old[-1 - end] == new[-1 - end]:
        end += 1
    stretch = " ".join(old[start : len(old) - end]).rstrip(",;.")
    return stretch if stretch and stretch.count("(") == stretch.count(")") else was


def field_name(name: str, words: Words) -> str:
    """What a field of a card is called; a name that is no field's, as it is."""
    key = f"field_{name}"
    return words(key) if key in words.catalogue else name.replace("_", " ")


def capital(text: str) -> str:
    """A text as it begins a line."""
    return text[:1].upper() + text[1:]


def small(text: str) -> str:
    """A text as it goes on within a line."""
    return text[:1].lower() + text[1:]
