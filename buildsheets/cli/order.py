"""An order as a guest says it goes in; the drink, the cup and the choice it means come out.

"marsh milk tea large less ice 50 + cap": the drink, its size, ice and sweetness in any order, then
the add-ons and swaps, each after a +, which may be left out. Names count in every language of the
menu, and ids; a part of a name does where it can mean one thing only.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from typing import Generic, TypeVar

from buildsheets.cup.fit import default_choice
from buildsheets.cup.serving import Choice
from buildsheets.cup.swaps import swap_sets
from buildsheets.findings.spelling import listed, nearest
from buildsheets.menu.model import AddOn, CupSize, Drink, Menu, Swap, Text
from buildsheets.menu.swaps import SWAPS_MOST
from buildsheets.prep.dates import plain

T_co = TypeVar("T_co", covariant=True)
T = TypeVar("T")

Phrase = tuple[str, ...]
EXACT, HOT_OR_ICED, PART, CLIPPED, UNREAD = 1, 5, 10, 20, 1000
"""What reading words as a whole name, as hot or iced, as words of a name, as beginnings of these or
not at all takes; the least is meant, and so one long name before two short ones."""
CLIPPED_LETTERS = 3
"""A beginning has at least so many letters."""
FILLERS = frozenset({"with", "and", "sugar", "sweet", "con", "y", "mit", "und", "avec", "et"})
"""Words that may stand in an order and choose nothing."""
SHARES: Mapping[float, tuple[Phrase, ...]] = {
    0.25: (("quarter",),), 0.5: (("half",), ("medio",), ("halb",), ("demi",)),
}  # fmt: skip
"""Levels of sweetness that guests ask for by a word."""
KINDS: Mapping[bool, tuple[Phrase, ...]] = {
    True: (("hot",), ("caliente",), ("heiss",), ("chaud",), ("chaude",)),
    False: (("iced",), ("cold",), ("helado",), ("frio",), ("kalt",), ("glace",), ("froid",)),
}
"""Words for a drink in the cups it is made hot in, and in the others."""


@dataclass(frozen=True, slots=True)
class Order:
    """What a guest asked for; without a size it is asked of every cup the drink is sold in, or of
    every hot or iced one."""

    drink: Drink
    size: CupSize | None
    choice: Choice
    cups: tuple[CupSize, ...]


@dataclass(frozen=True, slots=True)
class Said(Generic[T_co]):
    """Something that can be asked for, and how it may be said; answers call it by its label."""

    means: T_co
    phrases: tuple[Phrase, ...]
    label: str


class Misread(ValueError):
    """An order that cannot be read: what was understood, what was not, and what it may be."""


def words_of(text: str) -> Phrase:
    """The words of a text; a number keeps its decimals and drops its per cent sign."""
    return tuple(re.findall(r"\d+(?:[.,]\d+)?|[^\W\d_]+", plain(text)))


def read_order(menu: Menu, text: str) -> Order:
    """The order a text means. Raises :class:`Misread` with words for whoever wrote it."""
    head, *extras = text.split("+")
    asked = tuple(word for word in words_of(head) if word not in FILLERS)
    every = (one for drink in menu.drinks.values() for one in _readings(drink, asked))
    readings = [(cost, one) for cost, one in every if one.drink is not None]
    least = min((cost for cost, _ in readings), default=UNREAD)
    best = list({_key(one): one for cost, one in readings if cost == least}.values())
    drinks = {one.drink.means.id: one.drink for one in best if one.drink is not None}
    if not drinks:
        raise Misread(_no_drink(menu, text.strip(), asked))
    if len(drinks) > 1:
        several = listed((said.label for said in drinks.values()), "and")
        raise Misread(f"'{head.strip()}' may be {several}; say more of the name")
    (said,) = drinks.values()
    found, cups = best[0], best[0].cups
    size = cups[0] if found.size or (found.kind and len(cups) == 1) else None
    drink = said.means.in_cup(cups[0]) if size or found.kind else said.means
    unread = _extras_named(drink, found.unread)
    if len(best) > 1 or (found.unread and not unread):
        raise Misread(_no_choice(menu, said, found.unread) or _not_understood(said, best))
    extras += unread
    if size and ((found.ice and not drink.ice) or (found.sweetness and not drink.sweetness)):
        what = "ice" if found.ice and not drink.ice else "sweetness"
        raise Misread(f"{drink.id} in {size.id} is not offered with a choice of {what}")
    try:
        chosen = _chosen(drink, extras)
    except Misread:  # other cups may have it
        drink = said.means
        chosen = _chosen(drink, extras)
    usual = default_choice(drink)
    return Order(
        drink,
        size,
        Choice(
            found.sweetness.means if found.sweetness else usual.sweetness,
            found.ice.means if found.ice else usual.ice,
            tuple(in_order(drink, [one.id for one in chosen if isinstance(one, AddOn)])),
            swaps_in_order(drink, [one.id for one in chosen if isinstance(one, Swap)]),
        ),
        cups,
    )


@dataclass(frozen=True, slots=True)
class _Reading:
    """The words of an order shared out; each name may be said once."""

    drink: Said[Drink] | None = None
    size: Said[CupSize] | None = None
    kind: Said[bool] | None = None
    ice: Said[str] | None = None
    sweetness: Said[float] | None = None
    unread: tuple[str, ...] = ()

    @property
    def options(self) -> tuple[Said[CupSize] | Said[bool] | Said[str] | Said[float], ...]:
        asked = (self.size, self.kind, self.ice, self.sweetness)
        return tuple(one for one in asked if one is not None)

    @property
    def cups(self) -> tuple[CupSize, ...]:
        """The cups that are meant: none where a size is asked for hot that is not."""
        assert self.drink is not None
        cups = (self.size.means,) if self.size else self.drink.means.cups
        return tuple(cup for cup in cups if not self.kind or cup.hot == self.kind.means)


def _key(reading: _Reading) -> tuple[str, ...]:
    parts = (reading.drink, *reading.options)
    return (*(part.label for part in parts if part is not None), *reading.unread)


def _readings(drink: Drink, asked: Phrase) -> Iterator[tuple[int, _Reading]]:
    """Ways to share the words out over a drink and its options, with what each takes."""
    slots: Mapping[str, Sequence[Said[object]]] = {
        "drink": [_named(drink, drink.id, drink.name)],
        "size": [_named(cup, cup.id, cup.name) for cup in drink.cups],
        "kind": _kinds(drink),
        "ice": _ices(drink),
        "sweetness": _sweets(drink),
    }

    def share(at: int, cost: int, read: Mapping[str, object]) -> Iterator[tuple[int, _Reading]]:
        if at == len(asked):
            reading = _Reading(**read)  # type: ignore[arg-type]
            if reading.drink is None or reading.cups:
                yield cost, reading
            return
        for slot, known in slots.items():
            if slot in read:
                continue
            for end in range(len(asked), at, -1):
                for said in known:
                    taken = _cost(asked[at:end], said.phrases, slot)
                    if taken < UNREAD:
                        yield from share(end, cost + taken, {**read, slot: said})
        unread = (*read.get("unread", ()), asked[at])  # type: ignore[misc]
        yield from share(at + 1, cost + UNREAD, {**read, "unread": unread})

    return share(0, 0, {})


def _cost(words: Phrase, phrases: Iterable[Phrase], slot: str = "") -> int:
    """What it takes to read the words as one of the phrases."""
    if slot == "kind":
        return HOT_OR_ICED if words in phrases else UNREAD
    return min((_cost_of(words, phrase) for phrase in phrases), default=UNREAD)


def _cost_of(words: Phrase, phrase: Phrase) -> int:
    if words == phrase:
        return EXACT
    rest = iter(phrase)
    if all(word in rest for word in words):
        return PART
    rest = iter(phrase)
    if all(any(_begins(word, full) for full in rest) for word in words):
        return CLIPPED
    return UNREAD


def _begins(word: str, full: str) -> bool:
    return word == full or (len(word) >= CLIPPED_LETTERS and full.startswith(word))


def _named(means: T, id: str, name: Text) -> Said[T]:
    names = dict.fromkeys(name.by_language.values())
    phrases = (words_of(id), *(words_of(each) for each in names))
    return Said(means, phrases, f"{next(iter(names))} ({id})")


def _kinds(drink: Drink) -> list[Said[bool]]:
    kinds = {cup.hot for cup in drink.cups}
    names = {True: "hot", False: "iced"}
    return [Said(hot, KINDS[hot], names[hot]) for hot in names if hot in kinds]


def _ices(drink: Drink) -> list[Said[str]]:
    ice = drink.ice
    return [_named(id, id, ice.names[id]) for id in ice.levels] if ice else []


def _sweets(drink: Drink) -> list[Said[float]]:
    levels = drink.sweetness.levels if drink.sweetness else ()
    return [
        Said(level, (words_of(f"{100 * level:g}"), *SHARES.get(level, ())), f"{100 * level:g} %")
        for level in levels
    ]


def _extras(drink: Drink) -> list[Said[AddOn | Swap]]:
    found = []
    extras: list[AddOn | Swap] = [*drink.add_ons, *drink.swaps]
    for extra in extras:
        said = _named(extra, extra.id, extra.name)
        inside = _named(extra, extra.component.id, extra.component.name)
        phrases = (*said.phrases, *inside.phrases)
        if isinstance(extra, Swap):  # oat milk: what goes in, for the milk
            old = _named(extra, extra.replaced.id, extra.replaced.name)
            phrases += tuple(a + b for a in phrases for b in old.phrases)
        found.append(Said(extra, phrases, said.label))
    return found


def _extras_named(drink: Drink, words: Phrase) -> list[str]:
    """Words without a +, parted into the fewest names of different add-ons and swaps: "with oat",
    "oat cap"; none where some words name none."""
    for cuts in range(min(len(words), drink.add_ons_at_most + SWAPS_MOST)):
        for places in combinations(range(1, len(words)), cuts):
            parts = [" ".join(words[a:b]) for a, b in pairwise((0, *places, len(words)))]
            try:
                meant = {one.id for one in _chosen(drink, parts)}
            except Misread:
                continue
            if len(meant) == len(parts):
                return parts
    return []


def _chosen(drink: Drink, extras: Sequence[str]) -> list[AddOn | Swap]:
    """The add-ons and swaps named."""
    offered, asked = _extras(drink), []
    for extra in extras:
        words = tuple(word for word in words_of(extra) if word not in FILLERS)
        costs = [(_cost(words, said.phrases), said) for said in offered] if words else []
        least = min((cost for cost, _ in costs), default=UNREAD)
        meant = [said for cost, said in costs if cost == least < UNREAD]
        if len(meant) > 1:
            several = listed((said.label for said in meant), "and")
            raise Misread(f"'{extra.strip()}' may be {several}")
        if not meant:
            near = _near(words, offered)
            names = listed((said.label for said in near or offered), "and") or "none"
            kinds = "add-ons and swaps" if drink.swaps else "add-ons"
            likely = f"did you mean {names}?" if near else f"its {kinds}: {names}"
            raise Misread(f"{drink.id} is not offered with '{extra.strip()}'; {likely}")
        asked.append(meant[0].means)
    return asked


def in_order(drink: Drink, asked: Sequence[str]) -> list[str]:
    """Ids of add-ons of a drink in the order of its list; refused where they are too many."""
    if len(asked) > drink.add_ons_at_most or len(set(asked)) < len(asked):
        raise Misread(
            f"{drink.id} with {listed(asked, 'and')}: {drink.add_ons_at_most} different add-ons at "
            "most go into one cup"
        )
    return [add_on.id for add_on in drink.add_ons if add_on.id in asked]


def swaps_in_order(drink: Drink, asked: Sequence[str]) -> tuple[str, ...]:
    """Ids of swaps of a drink in the order of its list; refused where no cup has them together."""
    if not any(sorted(asked) == sorted(one.id for one in some) for some in swap_sets(drink)):
        raise Misread(
            f"{drink.id} with {listed(asked, 'and')}: {SWAPS_MOST} swaps at most go into one cup, "
            "each in the place of another thing"
        )
    return tuple(swap.id for swap in drink.swaps if swap.id in asked)


def _near(words: Sequence[str], known: Iterable[Said[T]]) -> list[Said[T]]:
    """What the words may be slips for, by any word of a name."""
    return [
        said
        for said in known
        if any(
            nearest(word, {part for phrase in said.phrases for part in phrase}) for word in words
        )
    ]


def _no_drink(menu: Menu, text: str, asked: Phrase) -> str:
    drinks = [_named(drink, drink.id, drink.name) for drink in menu.drinks.values()]
    near = _near([word for word in asked if len(word) > 2], drinks)
    if near:
        return f"no drink is called '{text}'; did you mean {_labels(near)}?"
    return f"no drink is called '{text}'; there is {_labels(drinks, 'and')}"


def _no_choice(menu: Menu, said: Said[Drink], unread: Phrase) -> str:
    """That other drinks have the choice of ice or sweetness that was asked for; "" where not so."""
    drink, others = said.means, menu.drinks.values()
    kinds: list[tuple[str, object, Callable[[Drink], Sequence[Said[object]]]]] = [
        ("ice", drink.ice, _ices),
        ("sweetness", drink.sweetness, _sweets),
    ]
    for what, own, known in kinds:
        asked = (_cost(unread, one.phrases) for other in others for one in known(other))
        if unread and own is None and min(asked, default=UNREAD) < UNREAD:
            words = " ".join(unread)
            return f"understood {said.label}, but not '{words}': {drink.id} has no choice of {what}"
    return ""


def _labels(known: Iterable[Said[T]], joint: str = "or") -> str:
    return listed((said.label for said in known), joint)


def _not_understood(said: Said[Drink], best: Sequence[_Reading]) -> str:
    """What was read of an order, the words that were not, and the likely ones for them."""
    drink, first = said.means, best[0]
    understood = listed((one.label for one in (said, *first.options)), "and")
    if not first.unread:
        either = [listed((o.label for o in one.options), "and") for one in best]
        return f"understood {said.label}, but not whether {listed(either)} is meant; say more"
    kinds: list[tuple[str, bool, Sequence[Said[object]]]] = [
        ("", False, [said]),
        ("its cups", first.size is None, [_named(cup, cup.id, cup.name) for cup in drink.cups]),
        ("ice", True, _ices(drink)),
        ("sweetness", first.sweetness is None, _sweets(drink)),
        ("with a + before it", True, _extras(drink)),
    ]
    near = [one for _, _, known in kinds for one in _near(first.unread, known)]
    words = " ".join(first.unread)
    if near:
        plus = " (add-ons stand after a +)" if any(one in _extras(drink) for one in near) else ""
        return f"understood {understood}, but not '{words}'; did you mean {_labels(near)}?{plus}"
    offered = [f"{what}: {_labels(known, 'and')}" for what, free, known in kinds if known and free]
    return f"understood {understood}, but not '{words}'; {'; '.join(offered)}"


def changed(
    order: Order, sweetness: str, ice: str, add_ons: Sequence[str], swaps: Sequence[str] = ()
) -> Choice:
    """The choice of an order with what options of the command line say instead, or add."""
    drink, said = order.drink, order.choice
    if ice and (drink.ice is None or ice not in drink.ice.levels):
        offered = ", ".join(drink.ice.levels) if drink.ice else "no ice levels"
        raise Misread(f"{drink.id} is not offered with ice '{ice}': {offered}")
    known = [add_on.id for add_on in drink.add_ons]
    for key in add_ons:
        if key not in known:
            names = ", ".join(known) or "none"
            raise Misread(f"{drink.id} is not offered with '{key}'; its add-ons: {names}")
    for key in swaps:
        offered_swaps = [swap.id for swap in drink.swaps]
        if key not in offered_swaps:
            names = ", ".join(offered_swaps) or "none"
            raise Misread(f"{drink.id} is not offered with swap '{key}'; its swaps: {names}")
    level = _sweetness(drink, sweetness) if sweetness else said.sweetness
    return Choice(
        level,
        ice or said.ice,
        tuple(in_order(drink, [*said.add_ons, *add_ons])),
        swaps_in_order(drink, [*said.swaps, *swaps]),
    )


def in_cup(drink: Drink, size: CupSize, choice: Choice) -> Choice | None:
    """The choice as it is of the drink in one cup, whose hot build may have no ice to choose;
    nothing where it is not offered in that cup."""
    build, usual = drink.in_cup(size), default_choice(drink)
    ice = choice.ice if build.ice else None
    sweetness = choice.sweetness if build.sweetness else None
    asked = (choice.ice, usual.ice), (choice.sweetness, usual.sweetness)
    for (said, default), kept in zip(asked, (ice, sweetness), strict=True):
        if kept is None and said != default:
            return None
    if not {swap.id for swap in build.swaps} >= {*choice.swaps}:
        return None
    return replace(choice, ice=ice, sweetness=sweetness)


def _sweetness(drink: Drink, wanted: str) -> float:
    levels = drink.sweetness.levels if drink.sweetness else ()
    try:
        value = float(wanted.removesuffix("%").strip()) / 100.0
    except ValueError:
        value = -1.0
    for level in levels:
        if abs(level - value) < 1e-9:
            return level
    offered = ", ".join(f"{100 * level:g} %" for level in levels) or "no sweetness levels"
    raise Misread(f"{drink.id} is not offered with sweetness '{wanted}': {offered}")
