"""The shop's side linked: written shop, stations, tools and cups in, model entries out."""

from __future__ import annotations

import math
import re
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from buildsheets.findings.finding import At, Label
from buildsheets.findings.spelling import listed
from buildsheets.menu.linking import Linker, text, tolerance, value
from buildsheets.menu.model import (
    Edition,
    LabelSheet,
    Shop,
    Station,
    Text,
    Tool,
    Written,
)
from buildsheets.menu.quantity import Quantity
from buildsheets.menu.shapes import Lost, Named
from buildsheets.menu.tables import ALLERGEN_LISTS, PAPER_MM, SHELF_RULES, ShelfRules
from buildsheets.menu.written import (
    WrittenEdition,
    WrittenLabelSheet,
    WrittenShop,
    WrittenStation,
    WrittenTool,
)

LANGUAGES = ("en", "es", "fr", "de")
"""Languages the fixed words of the cards are written in."""

READING_DISTANCE_MM = 600.0
"""Arm's length from a counter card; common practice, no source."""

BUILD_DISTANCE_MM = 500.0
"""A card in front of whoever learns from it; the usual viewing distance of ISO 9241-303."""

POUCH_BORDER_MM = 3.0
"""Sealed edge of a laminate pouch; common practice, no source."""

CARD_SIZE = re.compile(r"\s*([\d.]+)\s*[x×]\s*([\d.]+)\s*mm\s*")
CURRENCY = re.compile(r"[A-Z]{3}")
RULE_FIELDS = {"shelf_rules", "rule_days", "cold_at", "hot_at"}
NO_RULES = ShelfRules(36_500, math.inf, -math.inf)
"""Stands in for keeping rules that could not be read: no batch breaks them."""
COLOUR = re.compile(r"#[0-9a-fA-F]{6}")


def shop(link: Linker, w: WrittenShop) -> Shop:
    """The shop's choices with their defaults filled in."""
    for language in w.languages:
        if language.value not in LANGUAGES:
            link.error(
                "LNG01",
                language.span,
                f"cards cannot be printed in '{language.value}' yet",
                hint=f"languages with card words: {listed(LANGUAGES)}",
            )
    if not w.languages and "languages" not in w.failed:
        link.error("LNG01", w.at("languages"), "no language is named")
    rules, unread = SHELF_RULES.get(w.shelf_rules.value), RULE_FIELDS & w.failed
    least = rules or NO_RULES
    days = w.rule_days.value if w.rule_days else least.rule_days
    cold = value(w.cold_at, least.cold_limit_c)
    hot = value(w.hot_at, least.hot_limit_c)
    if rules is None and not unread and not (w.rule_days and w.cold_at and w.hot_at):
        link.error(
            "KEEP01",
            w.shelf_rules.span,
            "custom keeping rules need all three of rule_days, cold_at and hot_at",
            hint="take them from your local food code",
        )
    if rules is not None and (
        days > rules.rule_days or cold > rules.cold_limit_c or hot < rules.hot_limit_c
    ):
        link.error(
            "KEEP02",
            w.shelf_rules.span,
            f"the shop's own limits are looser than {w.shelf_rules.value}: "
            f"at most {rules.rule_days} days, {rules.cold_limit_c:g} °C cold, "
            f"{rules.hot_limit_c:g} °C hot",
            hint="stricter is always allowed; for other rules write shelf_rules: custom",
        )
    if days < 1:
        link.error("RNG01", w.at("rule_days"), f"rule_days is {days}, at least 1")
    if w.currency is not None and not CURRENCY.fullmatch(w.currency.value):
        link.error(
            "SHP03",
            w.currency.span,
            f"'{w.currency.value}' is no currency code",
            hint="three capitals, as in EUR, USD, GBP",
        )
    width, height = _card(link, w.card)
    allergens: dict[str, Text] = {
        allergen: Text({"": allergen}) for allergen in ALLERGEN_LISTS[w.allergen_list.value]
    }
    if w.more_allergens is not None:
        allergens.update({key: text(words) for key, words in w.more_allergens.items.items()})
    return Shop(
        name=text(w.name),
        languages=tuple(dict.fromkeys(language.value for language in w.languages)),
        measures=w.measures.value if w.measures else "",
        currency=w.currency.value if w.currency else "",
        allergen_list=w.allergen_list.value,
        allergens=allergens,
        shelf_rules=w.shelf_rules.value,
        rule_days=days,
        cold_limit_c=cold,
        hot_limit_c=hot,
        label_rules=w.label_rules.value if w.label_rules else "eu",
        site=w.site.value.rstrip("/") if w.site else None,
        time_zone=_time_zone(link, w.time_zone),
        card_width_mm=width,
        card_height_mm=height,
        pouch_border_mm=value(w.pouch_border, POUCH_BORDER_MM),
        round_error_warn_share=value(w.warn_rounding, 0.1),
        overflow_warn_share=value(w.warn_overflow, 0.05),
        span=w.span,
        reading_distance_mm=link.positive(w.reading_distance, "the reading distance")
        or BUILD_DISTANCE_MM,
        label_sheet=_label_sheet(link, w.label_sheet) if w.label_sheet else None,
    )


def listed_allergens_lost(w: WrittenShop) -> Lost:
    """Every allergen if the shop's list could not be read, else those added that could not."""
    own = w.more_allergens.lost() if w.more_allergens is not None else Lost()
    unread = bool({"allergen_list", "more_allergens"} & w.failed)
    return own | Lost(everything=unread)


def _time_zone(link: Linker, written_zone: At[str] | None) -> str:
    if written_zone is None:
        return "UTC"
    try:
        ZoneInfo(written_zone.value)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        link.error(
            "SHP01",
            written_zone.span,
            f"there is no time zone '{written_zone.value}'",
            hint="write an IANA name such as Europe/Lisbon or America/Chicago",
        )
    return written_zone.value


def _card(link: Linker, card: At[str] | None) -> tuple[float, float]:
    if card is None:
        return PAPER_MM["a5"]
    known = PAPER_MM.get(card.value.casefold())
    if known is not None:
        return known
    match = CARD_SIZE.fullmatch(card.value)
    if match is not None:
        try:
            width, height = float(match[1]), float(match[2])
        except ValueError:
            width = height = 0.0
        if 60.0 <= width <= 600.0 and 60.0 <= height <= 600.0:
            return width, height
    link.error(
        "SHP02",
        card.span,
        f"'{card.value}' is no card size",
        hint=f"write {listed(sorted(PAPER_MM))}, or '148 x 210 mm' from 60 to 600 mm",
    )
    return PAPER_MM["a5"]


def _label_sheet(link: Linker, w: WrittenLabelSheet) -> LabelSheet | None:
    measured = [w.width, w.height, w.label_width, w.label_height, w.pitch_x, w.pitch_y]
    right = [link.positive(leaf, "a measure of the label sheet") for leaf in measured]
    right += [link.positive(leaf, "the number of labels") for leaf in (w.across, w.down)]
    if None in right:
        return None
    return LabelSheet(
        width_mm=w.width.value.value,
        height_mm=w.height.value.value,
        label_width_mm=w.label_width.value.value,
        label_height_mm=w.label_height.value.value,
        across=w.across.value,
        down=w.down.value,
        left_mm=w.left.value.value,
        top_mm=w.top.value.value,
        pitch_x_mm=w.pitch_x.value.value,
        pitch_y_mm=w.pitch_y.value.value,
    )


def edition(link: Linker, w: WrittenEdition) -> Edition:
    """The season; it must end on or after the day it begins."""
    if w.valid_to.value < w.valid_from.value and not w.failed & {"valid_from", "valid_to"}:
        link.error(
            "EDN01",
            w.valid_to.span,
            f"the edition ends on {w.valid_to.value}, before it begins on {w.valid_from.value}",
            labels=(Label(w.valid_from.span, "begins here"),),
        )
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9-]{0,11}", w.code.value):
        link.error(
            "EDN02",
            w.code.span,
            f"'{w.code.value}' does not fit as an edition code",
            hint="up to 12 letters, digits and hyphens, since it names the output folder",
        )
    return Edition(w.code.value, text(w.name), w.valid_from.value, w.valid_to.value, w.span)


def stations(link: Linker, section: Named[WrittenStation]) -> dict[str, Station]:
    """Stations in menu order; letters must differ, since they mark the cards in grey print."""
    found: dict[str, Station] = {}
    letters: dict[str, WrittenStation] = {}
    for key, w in section.items.items():
        letter = w.letter.value.strip().upper()
        if len(letter) != 1 or not letter.isalnum():
            link.error(
                "STN01",
                w.letter.span,
                f"a station's mark is one letter or digit, not '{w.letter.value}'",
            )
            continue
        if letter in letters:
            link.error(
                "STN02",
                w.letter.span,
                f"two stations are marked '{letter}'; in grey print nobody could tell them apart",
                labels=(Label(letters[letter].letter.span, "also marked so"),),
            )
            continue
        letters[letter] = w
        if not COLOUR.fullmatch(w.accent.value):
            link.error(
                "STN03",
                w.accent.span,
                f"'{w.accent.value}' is no colour of the form '#rrggbb'",
                hint="in quotes, since YAML reads # as a comment",
            )
            continue
        distance = link.positive(w.reading_distance, "the reading distance")
        found[key] = Station(
            key,
            text(w.name),
            letter,
            w.accent.value.lower(),
            distance or READING_DISTANCE_MM,
            w.span,
            Written(w.accent.raw, w.accent.span),
        )
    return found


def tools(link: Linker, section: Named[WrittenTool]) -> dict[str, Tool]:
    """Tools with their step in the unit they count in."""
    found: dict[str, Tool] = {}
    for key, w in section.items.items():
        step, unit = _step(w.step.value)
        holds = w.holds.value if w.holds else None
        if link.positive(w.step, "the step") is None:
            continue
        if w.holds is not None and link.positive(w.holds, "what it holds") is None:
            continue
        if unit == "count" and holds is None:
            link.error(
                "TOOL01",
                w.step.span,
                f"'{key}' counts in {w.step.value.unit or w.kind.value}s, "
                "but nothing says what one holds",
                hint="add holds: 8 ml, or holds: 55 g",
            )
            continue
        spread = tolerance(w.tolerance, w.tolerance_kind.value if w.tolerance_kind else None)
        found[key] = Tool(
            id=key,
            name=text(w.name),
            kind=w.kind.value,
            unit=unit,
            step=step,
            holds_ml=holds.value if holds and holds.kind == "volume" else None,
            holds_g=holds.value if holds and holds.kind == "mass" else None,
            tolerance=spread,
            one=text(w.one) if w.one else None,
            many=text(w.many) if w.many else None,
            span=w.span,
        )
    return found


def _step(step: Quantity) -> tuple[float, str]:
    unit = {"volume": "ml", "mass": "g", "length": "mm"}.get(step.kind, "count")
    return step.value, unit
