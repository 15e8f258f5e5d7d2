"""Cards that differ and a language's words in; what is read first, then changes by kind, out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from buildsheets.compare.change import ALLERGENS, CAUTIONS, Change, What, grouped, joined
from buildsheets.compare.compare import CardChange, Comparison
from buildsheets.compare.sentences import DECLARED, capital, sentence, small
from buildsheets.compare.wall import Group, of_portions
from buildsheets.ledger.card_texts import name_of
from buildsheets.views.words import Words


def is_safety(change: Change, kind: str) -> bool:
    """Whether a card's change is told first: allergens, and the cautions of drinks and batches.

    Those of station cards are their drinks'.
    """
    return change.what in ALLERGENS or (change.what in CAUTIONS and kind in ("build", "batch"))


def new_name(card: CardChange, comparison: Comparison, words: Words) -> str:
    """A new card's name, said to be new; of a drink in another size before, that its size is."""
    before = {
        name_of(comparison.before.texts[entry.code])
        for entry in comparison.before.entries.values()
        if (entry.key.kind, entry.key.language) == (card.key.kind, card.key.language)
    }
    return words("is_new_size" if card.name in before else "is_new", name=card.name)


_Lines = dict[tuple[str, str], dict[str, None]]  # each text once, under a name and a second word


def safety(cards: Sequence[CardChange], comparison: Comparison, words: Words) -> tuple[str, ...]:
    """A line a drink or batch: its allergens and cautions, where they changed or it is new; then
    a line an add-on, with its drinks.

    What its own card says is not said again from the rows that station cards and the allergen
    sheet have of it.
    """
    own: _Lines = {}
    add_ons: _Lines = {}
    rows: _Lines = {}
    for card in cards:
        if not card.before:
            name = new_name(card, comparison, words)
            own.setdefault((name, card.size), {})[_brings(card, words)] = None
            continue
        for change in card.changes:
            if not is_safety(change, card.key.kind):
                continue
            if change.what in (What.ADD_ON_ALLERGENS, What.SWAP_ALLERGENS):
                text = sentence(change, words)
                add_ons.setdefault((change.subject, text), {})[card.name] = None
            elif change.drinks:
                text = small(sentence(replace(change, where=()), words))
                rows.setdefault((change.drinks[0], ""), {})[text] = None
            else:
                text = small(sentence(replace(change, where=change.where[-1:]), words))
                own.setdefault((card.name, card.size), {})[text] = None
    named = {name for name, _ in (*own, *add_ons)}
    sizes = grouped(((name, "; ".join(filter(None, told))), s) for (name, s), told in own.items())
    return (
        *(f"{joined(name, *of)}: {text}" for (name, text), of in sizes.items() if text),
        *(
            words("add_on_with", change=text, drinks=", ".join(drinks))
            for (_, text), drinks in add_ons.items()
        ),
        *(f"{name}: {'; '.join(texts)}" for (name, _), texts in rows.items() if name not in named),
    )


def _brings(card: CardChange, words: Words) -> str:
    """Allergens and cautions of a new card: "contains milk; may contain gluten"; of no allergen
    what the card says."""
    declared = {f: [c.now for c in card.changes if c.subject == f] for f in DECLARED}
    parts = [words(f"new_{f}", list=words.list(names)) for f, names in declared.items() if names]
    parts = parts or [c.now for c in card.changes if c.what is What.TEXT]
    parts += [sentence(c, words) for c in card.changes if c.what is What.ADD_ON_OFFERED]
    cautions = [c.subject for c in card.changes if c.what is What.CAUTION_ADDED]
    if cautions:
        parts.append(words("new_cautions", list=" · ".join(cautions)))
    return "; ".join(map(small, parts))


KINDS = ("build", "addons", "batch", "station", "gauge", "allergens", "words")
"""Kinds of card in the order in which their changes are told."""
_FOLLOWING = ("station", "gauge", "allergens")
"""Kinds of card that say again, of each drink, what its build card says."""
_CAME_OR_WENT = {What.ADDED, What.REMOVED, What.FOR_MORE, What.FOR_FEWER}


@dataclass(frozen=True, slots=True)
class Section:
    """All changes of one kind of card."""

    title: str
    groups: tuple[Group, ...]


def sections(
    cards: Sequence[CardChange], comparison: Comparison, words: Words
) -> tuple[Section, ...]:
    """Changes by kind of card, then by its name; those told as safety are not told again."""
    drinks, resized = _drink_changes(cards), _resized(cards)
    found = []
    for kind in KINDS:
        by_name = grouped(
            (card.name if card.before else new_name(card, comparison, words), (lines, card.size))
            for card in cards
            if card.key.kind == kind and card.after
            if (lines := tuple(_lines(card, drinks, resized, words)))
        )
        alike = grouped((_by_size(of_name), name) for name, of_name in by_name.items())
        if alike:
            groups = tuple(Group(", ".join(names), lines) for lines, names in alike.items())
            found.append(Section(words("changes_changed", kind=words(f"kind_{kind}")), groups))
    return tuple(found)


def _by_size(cards: Iterable[tuple[tuple[str, ...], str]]) -> tuple[str, ...]:
    """Lines of the cards of a name after their size; sizes of which all the same is said
    together."""
    return tuple(
        f"{', '.join(sizes)}: {line}" if any(sizes) else line
        for lines, sizes in grouped(cards).items()
        for line in lines
    )


class _Drink(StrEnum):
    """What became of a drink."""

    CHANGED = "changed"
    SAFETY = "safety"  # only its allergens or cautions changed
    NEW = "new"
    GONE = "gone"


_Drinks = Mapping[str, _Drink]


def _drink_changes(cards: Iterable[CardChange]) -> Mapping[str, _Drinks]:
    """What became of each drink whose build card differs, by cup; under "" for cards of all cups,
    where a drink that fared differently by cup has changed."""
    found: dict[str, dict[str, _Drink]] = {}
    for card in cards:
        if card.key.kind != "build":
            continue
        if not (card.after and card.before):
            became = _Drink.NEW if card.after else _Drink.GONE
        else:
            only_safety = all(is_safety(change, "build") for change in card.changes)
            became = _Drink.SAFETY if only_safety else _Drink.CHANGED
        found.setdefault(card.key.cup, {})[card.name] = became
        of_all = found.setdefault("", {})
        of_all[card.name] = became if of_all.get(card.name, became) is became else _Drink.CHANGED
    return found


def _resized(cards: Iterable[CardChange]) -> Mapping[str, Collection[str]]:
    """Add-ons of which another amount goes in, by cup, as their add-on card tells."""
    return {
        card.key.cup: {
            change.where[-1]
            for change in card.changes
            if change.what is What.TEXT and change.where and not change.subject
        }
        for card in cards
        if card.key.kind == "addons"
    }


def _lines(
    card: CardChange,
    drinks_by_cup: Mapping[str, _Drinks],
    resized_by_cup: Mapping[str, Collection[str]],
    words: Words,
) -> Iterator[str]:
    """A card's changes, but for those that follow from drinks told of already: these are named.
    Of a new build card, its steps."""
    if not card.before:
        steps = [change.now for change in card.changes if change.what is What.STEP_ADDED]
        if steps:
            yield " / ".join(steps)
        return
    kind, cup = card.key.kind, card.key.cup
    drinks, resized = drinks_by_cup.get(cup, {}), resized_by_cup.get(cup, ())
    following: dict[str, set[What]] = {}
    own: list[Change] = []
    on_add_on_card = False
    for change in card.changes:
        if change.drinks and all(_follows(change, drinks.get(d), kind) for d in change.drinks):
            for drink in change.drinks:
                following.setdefault(drink, set()).add(change.what)
        elif change.subject == "amount" and change.where and change.where[0] in resized:
            on_add_on_card = True
        elif not is_safety(change, kind):
            own.append(change)
    if any(map(of_portions, own)):
        alone = all(map(of_portions, card.changes))
        yield capital(words("portions_only" if alone else "portions_changed"))
    for change in _together([change for change in own if not of_portions(change)]):
        yield sentence(change, words)
    if following:
        named = grouped(
            (_where_told(whats, drinks.get(drink), kind), drink)
            for drink, whats in following.items()
        )
        keys = [k for k in ("follows", "follows_safety", "added", "removed") if k in named]
        yield capital("; ".join(words(key, what=", ".join(named[key])) for key in keys))
    elif not own:
        yield capital(words("add_ons_only" if on_add_on_card else "safety_only"))


def _follows(change: Change, drink: _Drink | None, kind: str) -> bool:
    """Whether a card's change for a drink is told elsewhere: with the drink, or as safety."""
    if change.what in ALLERGENS:
        return True
    if drink in (None, _Drink.SAFETY):
        return False
    return kind in _FOLLOWING or drink is not _Drink.CHANGED


def _where_told(whats: set[What], drink: _Drink | None, kind: str) -> str:
    """Where a card's changes for a drink are told: the key of the words that say so."""
    if kind == "station" and whats in ({What.ADDED}, {What.REMOVED}):
        return "added" if What.ADDED in whats else "removed"  # its row came or went
    if drink in (_Drink.NEW, _Drink.GONE) and whats <= _CAME_OR_WENT:
        return "added" if drink is _Drink.NEW else "removed"
    return "follows_safety" if whats <= {*ALLERGENS} else "follows"


def _together(changes: Sequence[Change]) -> list[Change]:
    """Items that came to one place, or went from it, as one change."""
    found: dict[object, Change] = {}
    for place, change in enumerate(changes):
        plain = change.what in (What.ADDED, What.REMOVED) and not change.now
        alike = plain or change.what in (What.FOR_MORE, What.FOR_FEWER)
        key = (change.what, change.where, change.now) if alike else place
        if key in found:
            subject = f"{found[key].subject.removesuffix('.')}, {change.subject}"
            change = replace(change, subject=subject)
        found[key] = change
    return list(found.values())
