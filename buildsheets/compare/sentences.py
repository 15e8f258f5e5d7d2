"""A change and a language's words in; the change as a shop would say it out."""

from __future__ import annotations

from collections.abc import Iterator

from buildsheets.compare.change import Change, What, same_but_for_numbers
from buildsheets.compare.compare import Side
from buildsheets.ledger.card_texts import BETWEEN
from buildsheets.ledger.ledger import PublishedEdition
from buildsheets.views.words import Words

DECLARED = ("contains", "may_contain")
TOGETHER = " + "
"""Stands between add-ons of which a row says what several at once ask."""


def name_in(side: Side | PublishedEdition, language: str) -> str:
    """An edition's name in a language, else in any."""
    return side.names.get(language) or side.names.get("") or next(iter(side.names.values()), "")


def edition_name(side: Side | PublishedEdition, language: str) -> str:
    """An edition's code and name: "W26 (Winter 2026)"."""
    name = name_in(side, language)
    return f"{side.code} ({name})" if name and name != side.code else side.code


def sentence(change: Change, words: Words) -> str:
    """One change as a shop would say it: "Black tea to 480 ml, was 500"."""
    place = filter(None, (field_name(part, words) for part in change.where))
    return capital(": ".join((*place, _change(change, words))))


def _change(change: Change, words: Words) -> str:
    subject, was, now = change.subject, change.was, change.now
    match change.what:
        case What.ALLERGEN_ADDED | What.ALLERGEN_REMOVED if subject not in DECLARED:
            return _text(field_name(subject, words), was, now, words)
        case What.ALLERGEN_ADDED:
            return words(f"now_{subject}", allergen=now)
        case What.ALLERGEN_TURNED:
            return words(f"turned_{subject}", allergen=now)
        case What.ALLERGEN_REMOVED:
            gone = words(f"gone_{subject}", allergen=was)
            return f"{gone}; {words('still_with', add_ons=now)}" if now else gone
        case What.ADD_ON_OFFERED:
            return words("add_on_offered", add_on=subject, allergens=small(now))
        case What.ADD_ON_ALLERGENS:
            text = _text("", small(was), small(now), words)
            return words("add_on_allergens", add_on=subject, allergens=text)
        case What.SWAP_ALLERGENS:
            text = _text("", small(was), small(now), words)
            return words("swap_allergens", swap=subject, allergens=text)
        case What.RENAMED:
            return words("renamed", was=was, now=now)
        case What.STEP_SWAPPED:
            swapped = words("step_swapped", now=now, was=was)
            return "; ".join((swapped, *_step_parts(change.parts[1:], words)))
        case What.STEP_ADDED:
            return words("step_added", step=now)
        case What.STEP_REMOVED:
            return words("step_removed", step=was)
        case What.STEP_MOVED:
            return words("step_moved", step=subject, was=was, now=now)
        case What.STEP_CHANGED:
            apart = ":" if change.parts[0][0] in ("note", "setting") else ""
            return f"{subject}{apart} {'; '.join(_step_parts(change.parts, words))}"
        case What.ADDED | What.CAUTION_ADDED:
            more = f", {now}" if "(" in now else f" ({now})"
            return words("added", what=field_name(subject, words) + (more if now else ""))
        case What.REMOVED | What.CAUTION_REMOVED:
            return words("removed", what=field_name(subject, words))
        case What.FOR_MORE:
            return words("for_more_with" if now else "for_more", drinks=subject, now=now)
        case What.FOR_FEWER:
            several = bool(change.where) and TOGETHER in change.where[-1]
            return words("for_fewer_together" if several else "for_fewer", drinks=subject)
        case What.ROOM:
            (asked_by, before, _), (asks_by, _, after) = change.parts
            was = _asked(asked_by, before, words) if asked_by else ""
            key = "text_changed" if was else "text_added"
            return words(key, was=was, now=_asked(asks_by, after, words))
        case What.ORDER:
            return f"{field_name(subject, words)} {words('order_changed', now=now)}".strip()
        case What.LOOK:
            return words("look_changed")
        case _:
            name = field_name(subject, words)
            # of the card itself: a sentence follows
            return _text(name if change.where or not name else f"{name}:", was, now, words)


def _asked(field: str, text: str, words: Words) -> str:
    """What an add-on asks of a drink: "leave out 20 ml of Black tea", or nothing."""
    if not field:
        return words("as_written")
    return text if field == "line" else f"{field_name(field, words)} {text}"


def _step_parts(parts: tuple[tuple[str, str, str], ...], words: Words) -> Iterator[str]:
    for field, was, now in parts:
        plain = field in ("amount", "line", "tool", "note", "setting")  # these speak for themselves
        yield _text("" if plain else field_name(field, words), was, now, words)


def _text(name: str, was: str, now: str, words: Words) -> str:
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
    return words.get(f"field_{name}", name.replace("_", " "))


def capital(text: str) -> str:
    """A text as it begins a line."""
    return text[:1].upper() + text[1:]


def small(text: str) -> str:
    """A text as it goes on within a line."""
    return text[:1].lower() + text[1:]
