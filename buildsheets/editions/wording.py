"""A comparison and a language's words in; lines as a shop would say them, and JSON, out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from typing import Any

from buildsheets.cards.words import Words
from buildsheets.editions.change import Change, What, same_but_for_numbers
from buildsheets.editions.compare import CardChange, Comparison, Side
from buildsheets.editions.ledger import Published

_ALLERGENS = (What.ALLERGEN_ADDED, What.ALLERGEN_REMOVED)
_CAUTIONS = (What.CAUTION_ADDED, What.CAUTION_REMOVED)
_FOLLOWING = ("station", "gauge", "allergens")
"""Kinds of card that say again, of each drink, what its build card says."""
_DECLARED = ("contains", "may_contain")
_CAME_OR_WENT = (What.ADDED, What.REMOVED, What.FOR_MORE, What.FOR_FEWER)
KINDS = ("build", "station", "addons", "gauge", "batch", "allergens")
"""Kinds of card in the order in which their changes are told."""


@dataclass(frozen=True, slots=True)
class Group:
    """A heading and its lines: a drink and its changes by size, a station and its cards."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """All that is told of one kind of card."""

    title: str
    groups: tuple[Group, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """A comparison in words: allergens and cautions first, then what came and went, then each kind
    of card; last what to hang up and take down, station by station."""

    title: str
    safety: tuple[str, ...]
    new: tuple[str, ...]
    withdrawn: tuple[str, ...]
    changed: tuple[Section, ...]
    wall_title: str
    wall: tuple[Group, ...]


def tell(comparison: Comparison, words: Words) -> Told:
    """The comparison in words, told once: from the cards in the words' language if any are."""
    cards = _in_language(comparison.cards, words.language)
    changed = [card for card in cards if card.before and card.after]
    begins = comparison.after.valid_from
    same = comparison.before.code == comparison.after.code  # the menu goes by the code it had
    counts = {"up": len(comparison.reprint), "down": len(comparison.pull)}
    return Told(
        title=words(
            "changes_title",
            before=edition_name(comparison.before, words.language),
            after=words("changes_now") if same else edition_name(comparison.after, words.language),
        ),
        safety=_safety(changed, words),
        new=_names((card for card in cards if not card.before), words),
        withdrawn=_names((card for card in cards if not card.after), words),
        changed=_sections(cards, words),
        wall_title=words("changes_wall", **counts, day=words.date(begins) if begins else ""),
        wall=_wall(comparison, words),
    )


def edition_name(side: Side | Published, language: str) -> str:
    """An edition's code and name: "W26 (Winter 2026)"."""
    name = side.names.get(language) or side.names.get("") or next(iter(side.names.values()), "")
    return f"{side.code} ({name})" if name and name != side.code else side.code


def as_text(told: Told, words: Words) -> str:
    """The comparison as a text for a terminal or a message to the team."""
    lines = [told.title, ""]
    lists = (
        ("changes_safety", told.safety),
        ("changes_new", told.new),
        ("changes_withdrawn", told.withdrawn),
    )
    for key, names in lists:
        if names:
            lines += [words(key), *_indented(names), ""]
    for section in told.changed:
        lines += [section.title, *_indented(section.groups), ""]
    if told.wall:
        lines += [told.wall_title, *_indented(told.wall), ""]
    else:
        lines.append(words("changes_none"))
    return "\n".join(lines).rstrip() + "\n"


def as_json(comparison: Comparison, words: Words) -> dict[str, Any]:
    """The comparison as plain data; every change has its ``text`` in the words' language."""
    return {
        "from": comparison.before.code,
        "to": comparison.after.code,
        "cards": [_card_json(card, words) for card in comparison.cards],
        "reprint": _codes_by_station(comparison.reprint, after=True),
        "pull": _codes_by_station(comparison.pull, after=False),
    }


def change_text(change: Change, words: Words) -> str:
    """One change as a shop would say it: "Black tea to 480 ml, was 500"."""
    place = [name for name in (_field(part, words) for part in change.where) if name]
    text = ": ".join((*place, _said(change, words)))
    return _capital(text)


def _said(change: Change, words: Words) -> str:
    match change.what:
        case What.ALLERGEN_ADDED | What.ALLERGEN_REMOVED if change.subject not in _DECLARED:
            return _changed(_field(change.subject, words), change.was, change.now, words)
        case What.ALLERGEN_ADDED:
            return words(f"now_{change.subject}", allergen=change.now)
        case What.ALLERGEN_REMOVED:
            gone = words(f"gone_{change.subject}", allergen=change.was)
            return f"{gone}; {words('still_with', add_ons=change.now)}" if change.now else gone
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
            return f"{change.subject} " + "; ".join(_step_parts(change, words))
        case What.ADDED | What.CAUTION_ADDED:
            more = f" ({change.now})" if change.now else ""
            return words("added", what=_field(change.subject, words) + more)
        case What.REMOVED | What.CAUTION_REMOVED:
            return words("removed", what=_field(change.subject, words))
        case What.FOR_MORE:
            more = f" ({change.now})" if change.now else ""
            return words("for_more", drinks=change.subject) + more
        case What.FOR_FEWER:
            return words("for_fewer", drinks=change.subject)
        case What.ROOM:
            (was, before, _), (now, _, after) = change.parts
            texts = _asked(was, before, words), _asked(now, after, words)
            return f"{change.subject}: {_changed('', *texts, words)}"
        case What.ORDER:
            name = _field(change.subject, words)
            return f"{name} {words('order_changed', now=change.now)}".strip()
        case What.LOOK:
            return words("look_changed")
        case _:
            return _changed(_field(change.subject, words), change.was, change.now, words)


def _asked(field: str, text: str, words: Words) -> str:
    """What an add-on asks of a drink: "leave out 20 ml of Black tea", or nothing."""
    if not field:
        return words("as_written")
    return text if field == "line" else f"{_field(field, words)} {text}"


def _step_parts(change: Change, words: Words, skip: Sequence[str] = ()) -> Iterator[str]:
    for field, was, now in change.parts:
        if field in skip:
            continue
        plain = field in ("amount", "line")  # these say themselves what they are
        yield _changed("" if plain else _field(field, words), was, now, words)


def _changed(name: str, was: str, now: str, words: Words) -> str:
    if not was:
        text = words("text_added", now=now)
    elif not now:
        text = words("text_removed", was=was)
    else:
        short = without_common(was, now) if same_but_for_numbers(was, now) else was
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
    stretch = " ".join(old[start : len(old) - end])
    return stretch if stretch and stretch.count("(") == stretch.count(")") else was


def _field(name: str, words: Words) -> str:
    key = f"field_{name}"
    return words(key) if key in words.catalogue else name.replace("_", " ")


def _sized(cards: Iterable[tuple[CardChange, str]]) -> tuple[str, ...]:
    """Lines of single sizes; sizes of which the same is said share a line."""
    sizes: dict[str, list[str]] = {}
    for card, text in cards:
        named = sizes.setdefault(text, [])
        if card.size and card.size not in named:
            named.append(card.size)
    return tuple(f"{', '.join(named)}: {text}" if named else text for text, named in sizes.items())


def _sections(cards: Sequence[CardChange], words: Words) -> tuple[Section, ...]:
    """Changes by kind of card, then by its name; those told as safety are not told again."""
    fates = _fates(cards)
    found = []
    for kind in KINDS:
        named: dict[str, list[tuple[CardChange, str]]] = {}
        for card in cards:
            if card.key.kind == kind and card.before and card.after:
                told = _card_lines(card, fates.get(card.key.cup, {}), words)
                named.setdefault(card.name, []).extend((card, text) for text in told)
        groups = tuple(Group(name, _sized(said)) for name, said in named.items() if said)
        if groups:
            title = words("changes_changed", kind=words(f"kind_{kind}"))
            found.append(Section(title, groups))
    return tuple(found)


class _Fate(StrEnum):
    """What became of a drink."""

    CHANGED = "changed"
    NEW = "new"
    GONE = "gone"


_Fates = Mapping[str, _Fate]


def _fates(cards: Iterable[CardChange]) -> Mapping[str, _Fates]:
    """What became of each drink whose build card differs, by cup; under "" for cards of all cups,
    where a drink of several fates has changed."""
    found: dict[str, dict[str, _Fate]] = {}
    for card in cards:
        if card.key.kind != "build":
            continue
        fate = _Fate.GONE if not card.after else _Fate.CHANGED if card.before else _Fate.NEW
        found.setdefault(card.key.cup, {})[card.name] = fate
        overall = found.setdefault("", {})
        overall[card.name] = fate if overall.get(card.name, fate) is fate else _Fate.CHANGED
    return found


def _card_lines(card: CardChange, fates: _Fates, words: Words) -> Iterator[str]:
    """A card's changes, but for those that follow from drinks told of already: these are named."""
    following: dict[_Fate, dict[str, None]] = {fate: {} for fate in _Fate}
    own = []
    for change in card.changes:
        kind = card.key.kind
        told = {fates.get(drink) for drink in change.drinks}
        if told and None not in told and (kind in _FOLLOWING or _Fate.CHANGED not in told):
            for drink in change.drinks:
                fate = fates[drink]
                following[fate if change.what in _CAME_OR_WENT else _Fate.CHANGED][drink] = None
        elif change.what not in _ALLERGENS and not (change.what in _CAUTIONS and kind == "build"):
            own.append(change)
    if any(map(_of_portions, own)):
        yield _capital(words("portions_changed"))
    for change in _together([change for change in own if not _of_portions(change)]):
        yield change_text(change, words)
    keys = ("follows", "added", "removed")
    if lines := [
        words(key, what=", ".join(drinks))
        for key, drinks in zip(keys, following.values(), strict=True)
        if drinks
    ]:
        yield _capital("; ".join(lines))


def _together(changes: Sequence[Change]) -> list[Change]:
    """Items that came to one place, or went from it, as one change."""
    found: dict[object, Change] = {}
    for place, change in enumerate(changes):
        plain = change.what in (What.ADDED, What.REMOVED) and not change.now
        alike = plain or change.what in (What.FOR_MORE, What.FOR_FEWER)
        key = (change.what, change.where, change.now) if alike else place
        known = found.get(key)
        subject = f"{known.subject}, {change.subject}" if known else change.subject
        found[key] = replace(change, subject=subject)
    return list(found.values())


def _safety(changed: Sequence[CardChange], words: Words) -> tuple[str, ...]:
    """A line a drink or batch: allergens, and the cautions of drinks. What its own card says is
    not said again from the rows that station cards and the allergen sheet have of it."""
    own: dict[tuple[str, str], list[str]] = {}
    rows: dict[str, list[str]] = {}
    for card in changed:
        for change in card.changes:
            caution = change.what in _CAUTIONS and card.key.kind == "build"
            if change.what not in _ALLERGENS and not caution:
                continue
            if not change.where or caution:
                own.setdefault((card.name, card.size), []).append(change_text(change, words))
            else:
                first, *others = change.where
                text = change_text(replace(change, where=tuple(others)), words)
                rows.setdefault(_field(first, words), []).append(_small(text))
    lines: dict[tuple[str, str], list[str]] = {}
    for (name, size), texts in own.items():
        lines.setdefault((name, "; ".join(map(_small, texts))), []).append(size)
    found = [
        f"{', '.join(filter(None, (name, *sizes)))}: {text}"
        for (name, text), sizes in lines.items()
    ]
    told = {name for name, _ in own}
    found += [
        f"{name}: {'; '.join(dict.fromkeys(texts))}"
        for name, texts in rows.items()
        if name not in told
    ]
    return tuple(found)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _small(text: str) -> str:
    return text[:1].lower() + text[1:]


def _names(cards: Iterable[CardChange], words: Words) -> tuple[str, ...]:
    """Each drink or other card once, with its sizes and, where it is new, its allergens."""
    sizes: dict[tuple[str, str], list[str]] = {}
    for card in cards:
        name = card.name
        if card.key.kind != "build":
            name = f"{_capital(words(f'kind_{card.key.kind}'))}: {card.name}"
        sizes.setdefault((name, _brings(card, words)), []).append(card.size)
    return tuple(
        ", ".join(filter(None, (name, *named))) + (f": {brings}" if brings else "")
        for (name, brings), named in sizes.items()
    )


def _brings(card: CardChange, words: Words) -> str:
    """Allergens and cautions of a new card: "contains milk; may contain gluten"; of no allergen
    what the card says."""
    parts = [
        words(f"new_{field}", list=words.list([c.now for c in card.changes if c.subject == field]))
        for field in _DECLARED
        if any(c.subject == field for c in card.changes)
    ]
    parts = parts or [c.now for c in card.changes if c.what is What.TEXT]
    cautions = [c.subject for c in card.changes if c.what is What.CAUTION_ADDED]
    if cautions:
        parts.append(words("new_cautions", list=" ".join(cautions)))
    return "; ".join(parts)


def _wall(comparison: Comparison, words: Words) -> tuple[Group, ...]:
    """What to hang up and take down: station by station, then cards that hang elsewhere, once."""
    lines: dict[tuple[int, str], list[str]] = {}
    spoken_first = sorted(comparison.cards, key=lambda card: card.key.language != words.language)
    for card in spoken_first:
        place = _capital(words(f"kind_{card.key.kind}"))
        if station := card.key.kind == "station":
            spoken = comparison.stations.get((card.key.subject, words.language), card.name)
            place = f"{_capital(words('field_station'))} {spoken}"
        order = 0 if station else KINDS.index(card.key.kind) + 1
        lines.setdefault((order, place), []).append(_wall_line(card, words))
    return tuple(Group(place, tuple(found)) for (_, place), found in sorted(lines.items()))


def _wall_line(card: CardChange, words: Words) -> str:
    """ "B-7K3QF-9  Lantern milk tea, Large: hang up revision 2, take down revision 1"."""
    up, down = (
        words("revision", number=side.revision) if side else ""
        for side in (card.after, card.before)
    )
    key = "wall_swap" if up and down else "wall_up" if up else "wall_down"
    where = "" if card.key.kind == "station" else ", ".join(card.stations)
    language = f" [{card.key.language}]" if card.key.language != words.language else ""
    line = words(key, up=up, down=down)
    if card.changes and all(map(_of_portions, card.changes)):
        line = words("wall_portions", line=line)
    return f"{card.entry.code}  {_label(card)}{language}: {line}" + (f" ({where})" if where else "")


def _of_portions(change: Change) -> bool:
    """Of the table of how many portions a batch gives, which follows from the drinks."""
    return change.where[:1] == ("portions",)


def _codes_by_station(cards: Sequence[CardChange], after: bool) -> dict[str, list[dict[str, Any]]]:
    """Each card once for every station it hangs at; ``after`` says which of its two prints."""
    found: dict[str, list[dict[str, Any]]] = {}
    for card in cards:
        entry = card.after if after else card.before
        assert entry is not None
        for station in card.stations or ("",):
            found.setdefault(station, []).append({"code": entry.code, "revision": entry.revision})
    return dict(sorted(found.items()))


def _card_json(card: CardChange, words: Words) -> dict[str, Any]:
    key = card.key
    return {
        "status": "new" if not card.before else "changed" if card.after else "withdrawn",
        "code": card.entry.code,
        "was_revision": card.before.revision if card.before else None,
        "revision": card.after.revision if card.after else None,
        "kind": key.kind,
        "subject": key.subject,
        "cup": key.cup,
        "language": key.language,
        "name": card.name,
        "size": card.size,
        "stations": list(card.stations),
        "changes": [
            {**asdict(change), "text": change_text(change, words)} for change in card.changes
        ],
    }


def _in_language(cards: Sequence[CardChange], language: str) -> list[CardChange]:
    return [card for card in cards if card.key.language == language] or list(cards)


def _label(card: CardChange) -> str:
    return ", ".join(filter(None, (card.name, card.size)))


def _indented(part: Sequence[str | Group]) -> Iterator[str]:
    for item in part:
        if isinstance(item, str):
            yield f"  {item}"
        else:
            yield f"  {item.title}"
            yield from (f"    {line}" for line in item.lines)
