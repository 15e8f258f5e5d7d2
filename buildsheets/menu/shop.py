"""The shop's own choices, its edition and what it accepts: checked as they are linked."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import lru_cache
from typing import Annotated, Literal

from buildsheets.findings.finding import Label
from buildsheets.findings.spelling import listed
from buildsheets.menu.linker import Linker
from buildsheets.menu.schema import (
    ABOVE_0,
    LANGUAGE_PATTERN,
    NO_DEVICE,
    NOWHERE,
    Celsius,
    Form,
    Mm,
    Range,
    Record,
    Share,
    Text,
    key,
    maybe,
)
from buildsheets.menu.tables import (
    ALLERGEN_KINDS,
    ALLERGEN_LISTS,
    PAPER_MM,
    SHELF_RULES,
    ShelfRules,
)
from buildsheets.menu.volumes import FLUID_OUNCES, ML, VolumeUnit

LANGUAGES = ("en", "es", "fr", "de")
"""Languages the fixed words of the cards are written in."""

FAHRENHEIT = ("us_customary", "us_label")
"""The measures of shops that read temperatures in it."""

BUILD_DISTANCE_MM = 500.0
"""A card in front of whoever learns from it; the usual viewing distance of ISO 9241-303."""

POUCH_BORDER_MM = 3.0
"""Sealed edge of a laminate pouch; common practice, no source."""

CARD_SIZE = re.compile(r"\s*([0-9]+\.?[0-9]*)\s*[x×]\s*([0-9]+\.?[0-9]*)\s*mm\s*")
RULE_KEYS = {"shelf_rules", "rule_days", "cold_at", "hot_at"}
NO_RULES = ShelfRules(36_500, math.inf, -math.inf, False)
"""Stands in for keeping rules that could not be read: no batch breaks them."""


def _card_size(text: str) -> tuple[float, float] | None:
    if text.casefold() in PAPER_MM:
        return PAPER_MM[text.casefold()]
    match = CARD_SIZE.fullmatch(text)
    if match is None:
        return None
    width, height = float(match[1]), float(match[2])
    return (width, height) if 60 <= width <= 600 and 60 <= height <= 600 else None


def time_zone(text: str) -> str | None:
    """A time zone by its IANA name, or None where there is none of that name."""
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError  # not needed by who imports the types

    try:
        ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None
    return text


def matching(pattern: str, code: str, message: str, hint: str = "") -> Form:
    """A text that a pattern matches as a whole."""
    return Form(code, lambda text: text if re.fullmatch(pattern, text) else None, message, hint)


WITH_WORDS = f"languages with card words: {listed(LANGUAGES)}; for another one write its words"
Language = Annotated[
    str, matching(LANGUAGE_PATTERN, "LNG01", "'{}' is no language a card could be in", WITH_WORDS)
]
Currency = Annotated[
    str,
    matching(
        "[A-Z]{3}", "SHP03", "'{}' is no currency code", "three capitals, as in EUR, USD, GBP"
    ),
]
TimeZone = Annotated[
    str,
    Form(
        "SHP01",
        time_zone,
        "there is no time zone '{}'",
        "write an IANA name such as Europe/Lisbon or America/Chicago",
    ),
]
_PORT = (  # 1 to 65535 (RFC 9293 section 3.1: 16 bits, 0 is nobody's)
    r"[1-9][0-9]{0,3}|[1-5][0-9]{4}|6[0-4][0-9]{3}|65[0-4][0-9]{2}|655[0-2][0-9]|6553[0-5]"
)
# Scheme, a host of the usual letters (a name or an IPv4 address), a port, a plain path.
Address = Annotated[
    str,
    matching(
        r"https?://[A-Za-z0-9](?:[A-Za-z0-9.-]{0,251}[A-Za-z0-9])?"
        rf"(?::(?:{_PORT}))?"
        r"(?:/[A-Za-z0-9._~-]{1,60}){0,5}/?",
        "SHP04",
        "'{}' is no address a phone can open",
        "write it like https://cards.example.org",
    ),
]
CardSize = Annotated[
    tuple[float, float],
    Form(
        "SHP02",
        _card_size,
        "'{}' is no card size",
        f"write {listed(sorted(PAPER_MM))}, or '148 x 210 mm' from 60 to 600 mm",
    ),
]
EditionCode = Annotated[
    str,
    matching(
        f"(?i:{NO_DEVICE})[A-Za-z0-9][A-Za-z0-9-]{{0,11}}",
        "EDN02",
        "'{}' does not fit as an edition code",
        "up to 12 letters, digits and hyphens, since it names the output folder",
    ),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSheet(Record):
    """A sheet of date labels, measured with a ruler."""

    width_mm: Mm = key("of the sheet", "width", within=ABOVE_0)
    height_mm: Mm = key("of the sheet", "height", within=ABOVE_0)
    label_width_mm: Mm = key("of one label", "label_width", within=ABOVE_0)
    label_height_mm: Mm = key("of one label", "label_height", within=ABOVE_0)
    across: int = key("labels side by side", within=ABOVE_0)
    down: int = key("labels from top to bottom", within=ABOVE_0)
    left_mm: Mm = key("from the sheet's left edge to the first label", "left")
    top_mm: Mm = key("from the sheet's top edge to the first label", "top")
    pitch_x_mm: Mm = key("from one label's left edge to the next one's", "pitch_x", within=ABOVE_0)
    pitch_y_mm: Mm = key("from one label's top edge to the next one's", "pitch_y", within=ABOVE_0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop(Record):
    """The shop's own choices.

    ``allergens`` are the names of the list followed, with the shop's own. Heights are printed
    ``in_inches`` where all of its cups are written so.
    """

    name: Text = key("what the shop is called on the cards")
    languages: tuple[Language, ...] = key(
        "languages to print cards in, the shop's own first: [en, es]; one beside en, es, fr and de "
        "needs a list of words in layouts/words/"
    )
    measures: Literal["metric", "us_customary", "us_label", "imperial", "australian"] = key(
        "which spoons, cups and fluid ounces are meant", default=""
    )
    volumes_in: Literal["ml", "fl oz"] = key(
        "what lines, levels and batches are printed in: ml or fl oz; without it fl oz where the "
        "shop's measures have one. A jug's amounts are printed in what its step is written in",
        "volumes",
        default="",
    )
    currency: Currency = key("three-letter currency code (ISO 4217)", default="")
    tax: Share | None = maybe(
        "rate of tax on what is sold: 10 %; a drink may have its own",
        within=Range("from 0 to 100 %", 0.0, 1.0),
    )
    prices: Literal["with tax", "without tax"] = key(
        "with tax: guests pay the prices written here; without tax: it comes on top of them",
        default="with tax",
    )
    allergen_list: Literal["eu14", "us9"] = key(
        "the list of allergens the law asks for: eu14 or us9"
    )
    more_allergens: Mapping[str, Text] = key(
        "allergens to declare beyond the list, by id", factory=dict
    )
    shelf_rules: Literal["us-food-code", "england", "custom"] = key(
        "the set of keeping rules followed; your local code comes first"
    )
    rule_days: int = key("longest keeping in days, preparation day as day 1", default=0)
    cold_limit_c: Celsius = key(
        "warmest cold holding, where stricter than the rules", "cold_at", default=0.0
    )
    hot_limit_c: Celsius = key(
        "coolest hot holding, where stricter than the rules", "hot_at", default=0.0
    )
    label_rules: Literal["eu", "us"] = key(
        "how nutrition figures are rounded: eu or us", default="eu"
    )
    site: Address | None = maybe("address of the shop's card pages, for the QR code")
    practice: bool = key("no to leave the practice questions off the phone pages", default=True)
    time_zone: TimeZone = key("time zone of the shop (IANA name)", default="UTC")
    card_mm: CardSize = key(
        "card size: A5, A6, half-letter … or '148 x 210 mm'", "card", default=PAPER_MM["a5"]
    )
    reading_distance_mm: Mm = key(
        "from the eye to a build card; stations say their own",
        "reading_distance",
        default=BUILD_DISTANCE_MM,
        within=ABOVE_0,
    )
    pouch_border_mm: Mm = key(
        "sealed border of the laminate pouch outside the card",
        "pouch_border",
        default=POUCH_BORDER_MM,
    )
    label_sheet: LabelSheet | None = maybe("the sheet date labels are printed on")
    ask: Text | None = maybe("whom new staff ask, as their first-day pack says it")
    round_error_warn_share: Share = key(
        "warn when a tool's step changes an amount by more", "warn_rounding", default=0.1
    )
    overflow_warn_share: Share = key(
        "share of cups that may pass the fill limit: more is warned of in a recipe, and for all "
        "other choices so much base is left out",
        "warn_overflow",
        default=0.05,
    )
    allergens: Mapping[str, Text] = field(default_factory=dict)
    in_inches: bool = False

    def language_of(self, asked: str) -> str:
        """The language asked for, or the first for "". Raises ``ValueError`` for one without
        cards."""
        if asked and asked not in self.languages:
            there = listed(self.languages, "and")
            raise ValueError(f"the menu has no cards in '{asked}'; it has {there}")
        return asked or self.languages[0]

    @property
    def volumes(self) -> VolumeUnit:
        """What its volumes are printed in."""
        return ML if self.volumes_in == "ml" else FLUID_OUNCES.get(self.measures, ML)

    def marks(self, unit: str) -> VolumeUnit:
        """What a tool shows whose step is written in a unit."""
        return ML if unit in ("ml", "cl", "dl", "l") else FLUID_OUNCES.get(self.measures, ML)

    @property
    def reads_fahrenheit(self) -> bool:
        """Whether temperatures are said in Fahrenheit first."""
        return self.measures in FAHRENHEIT

    @property
    def card_width_mm(self) -> float:
        """Width of a card."""
        return self.card_mm[0]

    @property
    def card_height_mm(self) -> float:
        """Height of a card."""
        return self.card_mm[1]

    @property
    def has_statutory_days(self) -> bool:
        """Whether ``rule_days`` is the number of the rule set that is followed."""
        rules = SHELF_RULES.get(self.shelf_rules)
        return rules is not None and rules.has_days and self.rule_days == rules.rule_days

    def tax_in_price(self, own: float | None = None) -> float | None:
        """The rate of tax that a price holds, of a drink with its ``own`` or of the shop; 0 where
        prices are without tax, ``None`` where nobody said."""
        if self.prices == "without tax":
            return 0.0
        return self.tax if own is None else own

    def in_order(self, allergens: Iterable[str]) -> tuple[str, ...]:
        """Allergen ids in the order of the shop's list, cereals and nuts where their group stands;
        ids outside the list come last, by name."""
        held, every = set(allergens), self.every_allergen
        return (*(one for one in every if one in held), *sorted(held.difference(every)))

    @property
    def every_allergen(self) -> tuple[str, ...]:
        """What may be declared: the list, after each of its groups what belongs to it."""
        return _with_kinds(tuple(self.allergens))

    def linked(self, link: Linker) -> Shop:
        """With the limits of the rules followed where the shop has none of its own."""
        if not self.languages and "languages" not in self.failed:
            link.error("LNG01", self.at("languages"), "no language is named")
        if self.volumes_in == "fl oz" and self.volumes is ML and "measures" not in self.failed:
            message = f"{self.measures or 'no measures declared'}: there is no fluid ounce in it"
            hint = f"write measures: {listed(FLUID_OUNCES)}, or volumes: ml"
            link.error("SHP05", self.written("volumes").span, message, hint)
        rules, unread = SHELF_RULES.get(self.shelf_rules), RULE_KEYS & self.failed
        least = rules or NO_RULES
        own = {name for name in RULE_KEYS - unread if self.says(name)}
        days = self.rule_days if "rule_days" in own else least.rule_days
        cold = self.cold_limit_c if "cold_at" in own else least.cold_limit_c
        hot = self.hot_limit_c if "hot_at" in own else least.hot_limit_c
        chosen = self.written("shelf_rules").span
        if rules is None and not unread and own != RULE_KEYS:
            message = "custom keeping rules need all three of rule_days, cold_at and hot_at"
            hint = "take them from your local food code"
            link.error("KEEP01", chosen, message, hint)
        if rules is not None and (
            days > rules.rule_days or cold > rules.cold_limit_c or hot < rules.hot_limit_c
        ):
            link.error(
                "KEEP02",
                chosen,
                f"the shop's own limits are looser than {self.shelf_rules}: "
                f"at most {rules.rule_days} days, {rules.cold_limit_c:g} °C cold, "
                f"{rules.hot_limit_c:g} °C hot",
                hint="stricter is always allowed; for other rules write shelf_rules: custom",
            )
        if days < 1:
            link.error("RNG01", self.at("rule_days"), f"rule_days is {days}, at least 1")
        allergens = {name: Text({"": name}) for name in ALLERGEN_LISTS[self.allergen_list]}
        return replace(
            self,
            languages=tuple(dict.fromkeys(self.languages)),
            allergens={**allergens, **self.more_allergens},
            rule_days=days,
            cold_limit_c=cold,
            hot_limit_c=hot,
            site=self.site.rstrip("/") if self.site else None,
        )


@lru_cache(maxsize=8)
def _with_kinds(allergens: tuple[str, ...]) -> tuple[str, ...]:
    kinds = ((one, *ALLERGEN_KINDS.get(one, ())) for one in allergens)
    return tuple(dict.fromkeys(id_ for group in kinds for id_ in group))


@dataclass(frozen=True, slots=True, kw_only=True)
class Edition(Record):
    """The season's menu."""

    code: EditionCode = key("short code printed on every card: W26")
    name: Text = key("the season in words")
    valid_from: date = key("first day, as 2026-12-01")
    valid_to: date = key("last day, as 2027-02-28")

    def linked(self, link: Linker) -> Edition:
        """Checked: it must end on or after the day it begins."""
        if self.valid_to < self.valid_from and not self.failed & {"valid_from", "valid_to"}:
            link.error(
                "EDN01",
                self.written("valid_to").span,
                f"the edition ends on {self.valid_to}, before it begins on {self.valid_from}",
                labels=(Label(self.written("valid_from").span, "begins here"),),
            )
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class Allow(Record):
    """A finding the owner accepts at one place, with the reason."""

    code: str = key("its code: FIT04", "finding")
    place: str = key("the drink, cup or other id it concerns, or all", "at")
    reason: str = key("why it is acceptable", default="")


# What takes the place of a shop or edition that could not be read, so that the rest is checked all
# the same. Such a menu is never printed, since an error stands where the stand-in was needed.
NO_SHOP = Shop(
    span=NOWHERE, name=Text({"": "?"}), languages=(), allergen_list="eu14", shelf_rules="custom"
)
NO_EDITION = Edition(
    span=NOWHERE, code="X", name=Text({"": "?"}), valid_from=date.min, valid_to=date.max
)
