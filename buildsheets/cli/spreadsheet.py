"""A table of drinks saved as CSV goes in; drinks as lines of a menu, and what could not be read,
come out.

A row is a step of a drink: the drink, what is added or done, and the amount for each cup, one
column a cup. The step ``price`` gives prices, an amount that begins with ``to`` is a line.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import get_args, get_type_hints

from buildsheets.findings.spelling import listed
from buildsheets.menu.drinks import DoStep
from buildsheets.menu.quantity import Measures, QuantityError, parse_quantity
from buildsheets.menu.schema import Kinds, LengthOrVolume, note
from buildsheets.menu.volumes import FLUID_OUNCES
from buildsheets.prep.dates import plain

ACTIONS: tuple[str, ...] = get_args(get_type_hints(DoStep)["action"])
HOT = frozenset({"hot", "steamed", "caliente", "chaud", "chaude", "heisse", "heisser", "heisses"})
ICE = frozenset({"ice", "hielo", "glace", "glacons", "eis", "cubes", "cubitos", "eiswurfel"})
SWEET = frozenset({"syrup", "sugar", "honey", "sirope", "azucar", "miel", "sirop", "sucre", "sirup",
                   "zucker", "honig"})  # fmt: skip
LONGEST_LINE = 100_000
"""Characters, that no row of a table of drinks comes near (common practice, no source)."""
AMOUNT_KINDS = ("volume", "mass", "tool")
LINE_KINDS = note(LengthOrVolume, Kinds).names
TO_LINE = re.compile(r"(?:up )?to (.*)", re.IGNORECASE)
PRICE = re.compile(r"[0-9]+(?:\.[0-9]+)?")
DECIMAL_COMMA = re.compile(r"([0-9]+),([0-9]{1,2})(?![0-9])")


@dataclass(frozen=True, slots=True)
class Thing:
    """What steps add: its id, its name, and "base", "sweetener", "topping" or "ice"; ``hot`` is
    whether its name says so."""

    id: str
    name: str
    kind: str
    hot: bool = False


@dataclass(slots=True)
class Drink:
    """A drink; ``price`` and ``steps`` are written as the menu has them."""

    id: str
    name: str
    cups: list[str] = field(default_factory=list)
    price: str = ""
    steps: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Imported:
    """What a table holds; ``unread`` says of each thing left out where it stands and why."""

    cups: dict[str, str] = field(default_factory=dict)
    drinks: dict[str, Drink] = field(default_factory=dict)
    things: dict[str, Thing] = field(default_factory=dict)
    unread: list[str] = field(default_factory=list)


def read_drinks(text: str, file: str, measures: Measures) -> Imported:
    """The drinks of a table. Raises ``ValueError`` where its first line does not say what stands
    in which column."""
    first = text.partition("\n")[0]
    comma = max(",;\t", key=first.count)
    if len(max(text.splitlines(), key=len, default="")) > LONGEST_LINE:
        raise ValueError(f"{file} has a line of more than {LONGEST_LINE} characters: no table")
    rows = csv.reader(text.splitlines(), delimiter=comma)
    head = [cell.strip() for cell in next(rows, [])]
    if [plain(cell) for cell in head[:2]] != ["drink", "step"] or len(head) < 3:
        raise ValueError(
            f"{file}:1: the first line has to be drink, step, and a column for each cup: "
            "drink,step,small,large"
        )
    found = Imported({id_of(cup): cup for cup in head[2:] if id_of(cup)})
    for cells in rows:
        row = [cell.strip() for cell in cells]
        if any(row):
            _read_row(row, list(found.cups), f"{file}:{rows.line_num}", measures, found)
    return found


def id_of(name: str) -> str:
    """A name as an id: small letters, digits and hyphens, with a letter first."""
    return re.sub("[^a-z0-9]+", "-", plain(name)).strip("-0123456789")


def quoted(text: str) -> str:
    """A text as YAML reads it unchanged wherever it stands."""
    return "'" + text.replace("'", "''") + "'"


def _read_row(
    row: Sequence[str], cups: Sequence[str], place: str, measures: Measures, found: Imported
) -> None:
    name, step, *cells = [*row, "", ""]
    if not id_of(name) or not id_of(step):
        found.unread.append(f"{place}: no drink or no step in its first two columns")
        return
    drink = found.drinks.setdefault(id_of(name), Drink(id_of(name), quoted(name)))
    given = {cup: DECIMAL_COMMA.sub(r"\1.\2", cell) for cup, cell in zip(cups, cells, strict=False)}
    given = {cup: cell for cup, cell in given.items() if cell}
    if (action := plain(step)) in ACTIONS:
        drink.steps.append(_action(action, given, place, measures, found))
        return
    if action == "price":
        bad = [cell for cell in given.values() if not PRICE.fullmatch(cell)]
        found.unread += [f"{place}: '{cell}' is no price; write 4.50" for cell in bad]
        drink.price = _each({cup: cell for cup, cell in given.items() if cell not in bad})
        return
    lines = {cup: match[1] for cup, cell in given.items() if (match := TO_LINE.fullmatch(cell))}
    amounts = {cup: cell for cup, cell in given.items() if cup not in lines}
    if (lines and amounts) or not given:
        what = "both amounts and lines" if lines else "no amount"
        mend = "2 fl oz, or to 12 fl oz" if measures in FLUID_OUNCES else "60 ml, or to 285 ml"
        found.unread.append(f"{place}: {step} has {what}; write {mend}")
        lines = amounts = {}
    wanted = LINE_KINDS if lines else AMOUNT_KINDS
    good = dict(_readable(lines or amounts, wanted, f"{place}: {step}", measures, found.unread))
    hot = not HOT.isdisjoint(plain(step).split())
    thing = Thing(id_of(step), quoted(step), _kind(step, good), hot)
    thing = found.things.setdefault(thing.id, thing)
    drink.cups += [cup for cup in good if cup not in drink.cups]
    # A step nobody could read stays without its amount, so that the check asks for it.
    key = "fill_to" if lines else "amount"
    amount = f", {key}: {_each(good)}" if good else ""
    drink.steps.append(f"{{add: {thing.id}{amount}}}")


def _readable(
    cells: Mapping[str, str],
    kinds: Sequence[str],
    place: str,
    measures: Measures,
    unread: list[str],
) -> Iterator[tuple[str, str]]:
    for cup, cell in cells.items():
        try:
            parse_quantity(cell, measures, kinds)
        except QuantityError as error:
            meant = listed(choice.write for choice in error.choices)
            unread.append(f"{place}: {error.message}" + (f"; write {meant}" if meant else ""))
        else:
            yield cup, cell


def _action(
    action: str, given: Mapping[str, str], place: str, measures: Measures, found: Imported
) -> str:
    times = dict(_readable(given, ("time",), f"{place}: {action}", measures, found.unread))
    seconds = f", for: {next(iter(times.values()))}" if times else ""
    return f"{{do: {action}{seconds}}}"


def _each(cells: Mapping[str, str]) -> str:
    """The same for all cups once, else each."""
    if len(set(cells.values())) == 1 and len(cells) > 1:
        return next(iter(cells.values()))
    return "{" + ", ".join(f"{cup}: {cell}" for cup, cell in cells.items()) + "}" if cells else ""


def _kind(name: str, amounts: Mapping[str, str]) -> str:
    """What a thing most likely is; whoever reads the menu may move it."""
    words = set(re.findall("[a-z]+", plain(name)))
    if words & ICE:
        return "ice"
    units = " ".join(amounts.values())
    if words & SWEET or "pump" in units:
        return "sweetener"
    return "topping" if re.search(r"scoop|\bg\b", units) else "base"
