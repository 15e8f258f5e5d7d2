"""The shop's side linked: written shop, stations, tools and cups in, model entries out."""

from __future__ import annotations

import re
from itertools import pairwise
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from buildsheets.core.finding import At, Label, Span
from buildsheets.core.model import (
    CupShape,
    CupSize,
    Edition,
    LabelSheet,
    Shop,
    Station,
    Text,
    Tool,
    Written,
)
from buildsheets.core.quantity import Quantity
from buildsheets.core.spelling import listed
from buildsheets.core.tables import ALLERGEN_LISTS, PAPER_MM, SHELF_RULES
from buildsheets.text.linking import Linker, text, tolerance, value, written
from buildsheets.text.shapes import Named
from buildsheets.text.written import (
    WrittenCup,
    WrittenEdition,
    WrittenLabelSheet,
    WrittenLevel,
    WrittenShop,
    WrittenStation,
    WrittenTool,
)

LANGUAGES = ("en", "es", "fr", "de")
"""Languages the fixed words of the cards are written in."""

READING_DISTANCE_MM = 600.0
"""Arm's length from a counter card; common practice, no source."""

POUCH_BORDER_MM = 3.0
"""Sealed edge of a laminate pouch; common practice, no source."""

CARD_SIZE = re.compile(r"\s*([\d.]+)\s*[x×]\s*([\d.]+)\s*mm\s*")
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
    if not w.languages:
        link.error("LNG01", w.at("languages"), "no language is named")
    rules = SHELF_RULES.get(w.shelf_rules.value)
    days = w.rule_days.value if w.rule_days else (rules.rule_days if rules else 0)
    cold = value(w.cold_at, rules.cold_limit_c if rules else float("nan"))
    hot = value(w.hot_at, rules.hot_limit_c if rules else float("nan"))
    if rules is None and not (w.rule_days and w.cold_at and w.hot_at):
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
        label_sheet=_label_sheet(w.label_sheet) if w.label_sheet else None,
    )


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


def _label_sheet(w: WrittenLabelSheet) -> LabelSheet:
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
    if w.valid_to.value < w.valid_from.value:
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


def cups(link: Linker, section: Named[WrittenCup]) -> dict[str, CupSize]:
    """Cups with a checked inner geometry; a cup without one is left out after a finding."""
    found: dict[str, CupSize] = {}
    for key, w in section.items.items():
        shape = _shape(link, key, w)
        if shape is None:
            continue
        height = _height_mm(shape)
        headspace = w.headspace.value
        in_mm = headspace.value if headspace.kind == "length" else None
        if headspace.value < 0 or (in_mm is not None and in_mm >= height):
            link.error(
                "CUP04",
                w.headspace.span,
                f"headspace is {w.headspace.raw}; the cup is {height:g} mm high",
                hint="write what must stay empty under the lid, from 0 to less than the cup",
            )
            continue
        if link.positive(w.floor, "the outer floor", zero=True) is None:
            continue
        found[key] = CupSize(
            id=key,
            name=text(w.name),
            shape=shape,
            floor_mm=w.floor.value.value,
            headspace_mm=in_mm,
            headspace_ml=headspace.value if in_mm is None else None,
            declared_brimful_ml=link.positive(w.brimful, "the brimful capacity"),
            lid=w.lid.value,
            hot=bool(w.hot and w.hot.value),
            capacity_tolerance=tolerance(w.capacity_tolerance, None),
            shape_written=_shape_written(w),
            headspace_written=written(w.headspace),
            declared_written=written(w.brimful) if w.brimful else None,
            span=w.span,
        )
    return found


def _shape_written(w: WrittenCup) -> Written:
    """The geometry as one phrase, placed at its first key."""
    if w.profile is not None:
        return Written("profile", w.at("profile"))
    if w.calibration is not None:
        return Written("pour calibration", w.at("calibration"))
    sides = [side.raw for side in (w.base, w.rim, w.height) if side is not None]
    return Written(" / ".join(sides), w.at("base"))


def _shape(link: Linker, key: str, w: WrittenCup) -> CupShape | None:
    frustum = (w.base, w.rim, w.height)
    forms = [
        any(side is not None for side in frustum),
        w.profile is not None,
        w.calibration is not None,
    ]
    if sum(forms) != 1:
        given = "none is written" if not any(forms) else "more than one is written"
        link.error(
            "CUP01",
            w.span,
            f"cup '{key}' needs its inside in exactly one form, and {given}",
            hint="base, rim and height; or profile; or calibration",
        )
        return None
    if w.profile is not None:
        return _points(link, key, w.at("profile"), w.profile, "diameter")
    if w.calibration is not None:
        return _points(link, key, w.at("calibration"), w.calibration, "volume")
    missing = [n for n in ("base", "rim", "height") if getattr(w, n) is None]
    if missing:
        link.error(
            "CUP01",
            w.span,
            f"cup '{key}' lacks its {listed(missing, 'and')}",
            hint="inner diameters at floor and rim, and the inner height",
        )
        return None
    base = link.positive(w.base, "the base", zero=True)
    rim = link.positive(w.rim, "the rim")
    height = link.positive(w.height, "the height")
    if base is None or rim is None or height is None:
        return None
    return CupShape(frustum=(base, rim, height))


def _points(
    link: Linker, key: str, span: Span, levels: tuple[WrittenLevel, ...], other: str
) -> CupShape | None:
    points: list[tuple[float, float]] = []
    for level in levels:
        leaf: At[Quantity] | None = getattr(level, other)
        if leaf is None:
            link.error(
                "CUP02",
                level.span,
                f"this level of cup '{key}' lacks its {other}",
            )
            return None
        points.append((level.height.value.value, leaf.value.value))
    heights = [height for height, _ in points]
    rising = all(a <= b for a, b in pairwise(heights))
    if other == "volume":
        if points and points[0] != (0.0, 0.0):
            points.insert(0, (0.0, 0.0))
        rising = all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(points))
    elif points and heights[0] != 0.0:
        rising = False
    if len(points) < 2 or not rising or points[-1][0] <= 0.0:
        rule = (
            "heights and volumes must both rise from one level to the next"
            if other == "volume"
            else "heights must start at 0 mm and never fall"
        )
        link.error("CUP03", span, f"cup '{key}': {rule}")
        return None
    if any(v < 0 for _, v in points):
        link.error("RNG01", span, f"cup '{key}': below zero")
        return None
    if other == "volume":
        return CupShape(calibration=tuple(points))
    return CupShape(profile=tuple(points))


def _height_mm(shape: CupShape) -> float:
    if shape.frustum is not None:
        return shape.frustum[2]
    points = shape.profile or shape.calibration or ()
    return points[-1][0]
