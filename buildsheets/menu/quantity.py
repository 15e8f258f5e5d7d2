"""Amounts as people write them: a text and a system of measures go in, a quantity comes out."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from typing import NoReturn

from buildsheets.findings.spelling import listed, nearest
from buildsheets.menu.units import (
    KIND_WORDS,
    UNITS,
    Measures,
    Unit,
    find_unit,
    in_base_unit,
    systems_with,
)

__all__ = ["Choice", "Measures", "Quantity", "QuantityError", "parse_quantity", "unknown_unit"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """An amount as written (``magnitude``, ``unit``) and in the base unit of its kind (``value``).

    ======================  ====================================================
    kind                    ``value`` is in
    ======================  ====================================================
    volume                  ml
    mass                    g
    length                  mm
    temperature             degrees Celsius
    time                    s
    percent                 a fraction (``65 %`` is 0.65)
    density                 g/ml
    brix                    degrees Brix (g of sucrose in 100 g)
    speed                   turns per minute
    power                   watts
    count                   pieces (a number alone, or ``3 pieces``; the unit is "piece")
    tool                    strokes or fills of the tool in ``unit`` (``pump``)
    pieces                  pieces counted by hand; ``unit`` is "piece", or a word that may be what
                            the tool calls one (``leaves``), which who knows the tool has to tell
    ======================  ====================================================
    """

    magnitude: Decimal
    unit: str
    kind: str
    value: float


@dataclass(frozen=True, slots=True)
class Choice:
    """An amount that could be written instead, and what would be meant by it."""

    write: str
    because: str


class QuantityError(ValueError):
    """A text that is not one clear amount: what is wrong, what to do, what could be meant."""

    def __init__(self, message: str, hint: str = "", choices: tuple[Choice, ...] = ()) -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint
        self.choices = choices


MAX_LENGTH = 60
MAX_DIGITS = 12
ABSOLUTE_ZERO_C = -273.15  # the kelvin scale's zero: SI Brochure (9th edition), section 2.3.1

_DECIMAL = r"[0-9]+(?:\.[0-9]+)?|\.[0-9]+"
_FRACTION = r"[0-9]+ ?/ ?[0-9]+"
_NUMBER = rf"(?:[0-9]+ {_FRACTION}|{_FRACTION}|{_DECIMAL})"
_AMOUNT = re.compile(rf"(?P<sign>[-+]?) ?(?P<number>{_NUMBER}) ?(?P<unit>[^0-9.,/+-].*)?")
_RANGE = re.compile(r".*[0-9][^0-9]{0,15}(?:-|~|\.\.|\bto\b) ?[0-9].*")
_VAGUE = re.compile(
    r"\b(pinch|pinches|dash|dashes|handfuls?|heaped|heaping|rounded|scant|generous|splash|drops?|"
    r"drizzle|sprinkle|knob|some|little|few|to taste|as needed)\b",
    re.IGNORECASE,
)
_ROUGHLY = re.compile(
    r"(?:~|≈|<|>|≤|≥|about\b|around\b|approx\b|ca\b|circa\b|up to\b)\.? ?(.*)|(.*[0-9])\+(.*)",
    re.IGNORECASE,
)
_BY_WEIGHT = re.compile(r"\b(weight|wt)\b")
_COMMA = re.compile(r"([0-9]+),([0-9]+)(.*)")
_EXPONENT = re.compile(r"[-+]?[0-9.]+e[-+]?[0-9].*", re.IGNORECASE)

# Letters that stand for two units each, and what to write instead.
_UNCLEAR = {"c": ("cup", "°C"), "f": ("fl oz", "°F"), "t": ("tsp", "tbsp"), "T": ("tbsp", "tsp")}

_PLAIN = str.maketrans("⁄−–—‐‑º˚", "/-----°°") | {ord("℃"): "°C", ord("℉"): "°F"}


def parse_quantity(
    text: str,
    measures: Measures | None = None,
    kinds: Collection[str] = (),
    *,
    plain_ounces: bool = False,
) -> Quantity:
    """Read one amount: a number (``30``, ``1.5``, ``1/2``, ``1½``) and a unit, spaced or glued.

    ``measures`` says which spoons, cups and fluid ounces are meant; without it these units are
    refused. ``kinds`` are the kinds wanted here, or units of tools (``pump``); none means any.
    ``plain_ounces`` are a weight; without it they are refused where a volume may be meant.

    Raises :class:`QuantityError` for anything that is not one clear amount of a wanted kind;
    each of its choices can be read here.
    """
    try:
        return _parse(text, measures, kinds, plain_ounces)
    except QuantityError as error:
        error.choices = tuple(c for c in error.choices if _reads(c.write, measures, kinds))
        raise


def _reads(text: str, measures: Measures | None, kinds: Collection[str]) -> bool:
    try:
        _parse(text, measures, kinds)
    except QuantityError:
        return False
    return True


def _parse(
    text: str, measures: Measures | None, kinds: Collection[str], plain_ounces: bool = False
) -> Quantity:
    plain = _plain(text)
    _refuse_unclear(text, plain, kinds)
    match = _AMOUNT.fullmatch(plain)
    if match is None:
        without_number = find_unit(plain)
        raise QuantityError(
            f"{_quoted(text)} " + ("has no number" if without_number else "is not an amount"),
            f"Write 1 {without_number.name}." if without_number else _one_of(kinds),
        )
    magnitude = _magnitude(match["number"], text)
    if match["sign"] == "-":
        magnitude = -magnitude
    spelling = (match["unit"] or "").strip()
    unit = _unit(spelling, match["number"], text, kinds) if spelling else UNITS["piece"]
    if unit is UNITS["piece"] and spelling and "pieces" in kinds:
        unit = Unit(unit.name, "pieces")
    by_weight = plain_ounces or _BY_WEIGHT.search(spelling.casefold())
    if unit.name == "oz" and not by_weight and (not kinds or "volume" in kinds):
        _refuse_ounce(text, magnitude, match["number"], measures)
    if kinds and unit.kind not in kinds and not (unit.kind == "tool" and unit.name in kinds):
        found = _kind_words(unit.name if unit.kind == "tool" else unit.kind)
        raise QuantityError(
            f"{_quoted(text)} is {found if spelling else 'a number without a unit'}; "
            f"{listed(_kind_words(kind) for kind in kinds)} is wanted",
            f"Write it like {_example(kinds)}.",
            () if spelling else _with_its_unit(match["number"], magnitude, kinds),
        )
    if unit.by_system and measures not in systems_with(unit):
        _refuse_system(magnitude, unit, measures)
    value = in_base_unit(magnitude, unit, measures)
    if unit.kind != "temperature" and magnitude < 0:
        raise QuantityError(
            f"{_quoted(text)} is negative; an amount cannot be less than nothing",
            "Leave the minus sign out.",
        )
    if unit.kind == "temperature" and value < ABSOLUTE_ZERO_C:
        raise QuantityError(f"{_quoted(text)} is colder than absolute zero ({ABSOLUTE_ZERO_C} °C)")
    return Quantity(magnitude, unit.name, unit.kind, value)


def _plain(text: str) -> str:
    """The text with every kind of space, minus, degree sign and ready-made fraction made plain."""
    out = []
    for char in text:
        if unicodedata.category(char) == "Zs" or char == "\t":
            out.append(" ")
        elif unicodedata.decomposition(char).startswith("<fraction>"):
            # a space first: "1½" is one and a half, not eleven halves
            out.append(" " + unicodedata.normalize("NFKC", char))
        else:
            out.append(char)
    return re.sub(" +", " ", "".join(out)).strip().translate(_PLAIN)


def _magnitude(number: str, text: str) -> Decimal:
    if len(re.findall("[0-9]", number)) > MAX_DIGITS:
        raise QuantityError(f"{_quoted(text)} has more than {MAX_DIGITS} digits")
    if "/" not in number:
        return Decimal(number)
    above, below = (part.strip() for part in number.split("/"))
    *whole, top = above.split()
    if not int(below):
        raise QuantityError(
            f"{_quoted(text)} divides by nothing", "The number under the stroke cannot be 0."
        )
    return Decimal(whole[0] if whole else 0) + Decimal(top) / Decimal(below)


def _refuse_unclear(text: str, plain: str, kinds: Collection[str]) -> None:
    """Refuse, in words of its own, each way of writing that is not one exact amount."""
    quoted = _quoted(text)
    if not plain:
        raise QuantityError("the amount is missing", _one_of(kinds))
    if len(plain) > MAX_LENGTH:
        raise QuantityError(f"{quoted} is too long for an amount", _one_of(kinds))
    if match := _VAGUE.search(plain):
        raise QuantityError(
            f"{quoted} is no fixed amount: {match[0].lower()!r} has no agreed size",
            "Measure or weigh it once and write ml or g.",
        )
    if _RANGE.fullmatch(plain):
        raise QuantityError(
            f"{quoted} is a range; a build needs one amount",
            "Write the one amount to measure (one and a half is written 1 1/2).",
        )
    if match := _ROUGHLY.fullmatch(plain):
        exact = "".join(part for part in match.groups() if part).strip()
        message = f"{quoted} is not exact; a build needs one amount"
        hint = "Write the amount to measure, without more words."
        raise QuantityError(message, hint, (Choice(exact, "the exact amount"),))
    if match := _COMMA.fullmatch(plain):
        whole, rest, unit = match.groups()
        meant = [Choice(f"{whole}.{rest}{unit}", "a decimal comma")]
        if len(rest) == 3:
            meant.append(Choice(f"{whole}{rest}{unit}", "a comma between the thousands"))
        message = f"{quoted} has a comma in its number"
        hint = "Write decimals with a point and thousands without a mark."
        raise QuantityError(message, hint, tuple(meant))
    if _EXPONENT.fullmatch(plain):
        raise QuantityError(f"{quoted} has an exponent", "Write the number out in full.")


def _unit(spelling: str, number: str, text: str, kinds: Collection[str]) -> Unit:
    if unit := find_unit(spelling):
        return unit
    if re.search("[0-9]", spelling):
        raise QuantityError(
            f"{_quoted(text)} holds more than one number; a build needs one amount", _one_of(kinds)
        )
    if spelling in _UNCLEAR:
        raise QuantityError(
            f"{_quoted(text)} is not clear: {spelling!r} is read in two ways",
            f"Write {listed(_UNCLEAR[spelling])}.",
            tuple(Choice(f"{number} {unit}", "one reading") for unit in _UNCLEAR[spelling]),
        )
    if "pieces" in kinds and spelling[0].isalpha():
        return Unit(spelling, "pieces")
    raise unknown_unit(text, number, spelling, kinds)


def unknown_unit(text: str, number: str, spelling: str, kinds: Collection[str]) -> QuantityError:
    """That nobody knows the unit of an amount, and which of the wanted kinds are spelt like it."""
    wanted = (s for s, u in UNITS.items() if not kinds or u.kind in kinds or u.name in kinds)
    return QuantityError(
        f"{_quoted(spelling)} in {_quoted(text)} is not a known unit",
        f"Write the amount like {_example(kinds)}.",
        tuple(Choice(f"{number} {near}", "the nearest unit") for near in nearest(spelling, wanted)),
    )


def _with_its_unit(number: str, magnitude: Decimal, kinds: Collection[str]) -> tuple[Choice, ...]:
    """A number alone where one unit can be meant; a share below 1 may be meant either way."""
    if tuple(kinds) == ("brix",):
        return (Choice(f"{number} °Bx", "its unit"),)
    share = tuple(kinds) == ("percent",) and magnitude > 1
    return (Choice(f"{number} %", "its unit"),) if share else ()


def _refuse_ounce(
    text: str, magnitude: Decimal, number: str, measures: Measures | None
) -> NoReturn:
    volume = Choice(f"{number} fl oz", "a volume")
    if measures not in systems_with(UNITS["fl oz"]):  # it is meant all the same, by somebody's
        ml = in_base_unit(magnitude, UNITS["fl oz"], Measures.US_CUSTOMARY)
        volume = Choice(f"{_short(ml)} ml", "a volume, in fluid ounces of us_customary")
    raise QuantityError(
        f"{_quoted(text)} is not clear: an ounce may be a volume or a weight here",
        "Write fl oz for a volume, or oz by weight for a mass.",
        (volume, Choice(f"{number} oz by weight", "a mass")),
    )


def _refuse_system(magnitude: Decimal, unit: Unit, measures: Measures | None) -> NoReturn:
    systems_by_size: dict[float, list[str]] = {}
    for system in systems_with(unit):
        ml = in_base_unit(Decimal(1), unit, system)
        systems_by_size.setdefault(ml, []).append(system)
    why = f"{measures} has no {unit.name}" if measures else "no measures are declared"
    sizes = listed(
        (f"{_short(ml)} ml in {listed(names, 'and')}" for ml, names in systems_by_size.items()),
        "and",
    )
    raise QuantityError(
        f"{unit.name} has no fixed size: {why}; it holds {sizes}",
        "Write ml." if measures else "Write ml, or declare the shop's measures.",
        tuple(
            Choice(f"{_short(float(magnitude) * ml)} ml", f"the {unit.name} of {listed(names)}")
            for ml, names in systems_by_size.items()
        ),
    )


def _kind_words(kind: str) -> str:
    return KIND_WORDS[kind][0] if kind in KIND_WORDS else f"a count of {kind}s"


def _example(kinds: Collection[str]) -> str:
    examples = [KIND_WORDS[kind][1] if kind in KIND_WORDS else f"2 {kind}s" for kind in kinds]
    return listed(examples or ["30 ml"])


def _one_of(kinds: Collection[str]) -> str:
    return f"Write one number and one unit, such as {_example(kinds)}."


def _short(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _quoted(text: str) -> str:
    return f"“{text if len(text) <= MAX_LENGTH else text[:MAX_LENGTH] + '…'}”"
