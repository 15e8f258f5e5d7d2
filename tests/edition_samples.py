"""An invented kiosk's cards and editions, for the tests of this folder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from buildsheets.findings.finding import Finding, Span
from buildsheets.ledger.ledger import Ledger, load
from buildsheets.ledger.publish import EditionCards, Issuer, edition_cards, publish
from buildsheets.menu.model import Edition, Text
from buildsheets.views.card import Card, CardKey
from buildsheets.views.types import (
    Allergens,
    AmountRow,
    AmountTable,
    BuildCardView,
    CupDrawing,
    DrawnLine,
    Foot,
    GaugeLine,
    Layer,
    StationCardView,
    StationMark,
    StationRow,
    StepView,
)

FOOT = Foot("", "", "", "", "", "Follow your local food code.", "Lantern Kiosk")
TEA = StationMark("Tea", "T", "#1f5f4a", "#ffffff", "disc")
TOP = StationMark("Top", "O", "#7a3b12", "#ffffff", "square")
SPAN = Span("shop.yaml", 3, 1, 3, 8)


def edition(code: str, begins: str, ends: str) -> Edition:
    names = {"A26": {"": "Autumn 2026"}, "W26": {"en": "Winter 2026", "es": "Invierno 2026"}}
    return Edition(
        code=code,
        name=Text(names.get(code, {"": code})),
        valid_from=date.fromisoformat(begins),
        valid_to=date.fromisoformat(ends),
        span=SPAN,
    )


AUTUMN = edition("A26", "2026-09-01", "2026-11-30")
WINTER = edition("W26", "2026-12-01", "2027-02-28")


def step(number: int, what: str, amount: str, unit: str, line: str = "", **more: str) -> StepView:
    return StepView(
        number, amount, unit, what, more.get("tool", ""), line, more.get("note", ""),
        more.get("station", "Tea"), more.get("kind", "liquid"),
    )  # fmt: skip


STEPS = (
    step(1, "Brown sugar syrup", "3", "pumps"),
    step(2, "Black tea", "120", "ml", "to 250 ml", tool="jigger 2 × 60 ml"),
    step(3, "Ice", "2", "scoops", "to 380 ml", kind="ice"),
    step(4, "Cream cap", "50", "ml", "to 430 ml", station="Top", kind="floated"),
)

AMOUNTS = (
    AmountTable(
        1, "Syrup", "pumps", ("0 %", "50 %"), (AmountRow((), "", ("0", "1½")),), "Sweetness"
    ),
)


def build(
    subject: str = "lantern-milk",
    title: str = "Lantern milk tea",
    cup: str = "large",
    cup_name: str = "Large",
    language: str = "en",
    steps: Sequence[StepView] = STEPS,
    contains: Sequence[str] = ("milk",),
    cautions: Sequence[str] = (),
) -> Card:
    view = BuildCardView(
        kind="build",
        language=language,
        code="",
        title=title,
        subtitle="iced, shaken",
        cup_name=cup_name,
        stations=(TEA, TOP),
        gauge=(GaugeLine(82.4, "250 ml", "line", 2), GaugeLine(121.0, "380 ml", "line", 3)),
        gauge_floor_mm=4.0,
        drawing=CupDrawing(
            outline_mm=((0.0, 58.0), (140.0, 88.0)),
            floor_mm=4.0,
            rim_mm=140.0,
            working_mm=132.0,
            layers=(Layer("liquid", 0.0, 78.4, "tea", "plain"),),
            lines=(DrawnLine(78.4, "250 ml", "line"),),
            alt="A cup",
        ),
        steps=tuple(steps),
        amounts=AMOUNTS,
        add_ons=(),
        allergens=Allergens(tuple(contains), (), "" if contains else "none of the 14 declared"),
        cautions=tuple(cautions),
        keeps=("Cream cap: discard after 4 h",),
        finish="Flat lid, 8 mm left",
        foot=FOOT,
        reading_distance_mm=600.0,
        width_mm=148.0,
        height_mm=210.0,
    )  # fmt: skip
    return Card(CardKey("build", subject, cup, language), view)


def station(cup: str = "large", cup_name: str = "Large", leaves: str = "380 ml") -> Card:
    row = StationRow("Lantern milk tea", "0 ml", STEPS[:3], leaves, "level at the line", "milk")
    view = StationCardView(
        kind="station",
        language="en",
        code="",
        station=TEA,
        cup_name=cup_name,
        rows=(row,),
        gauge=(),
        gauge_floor_mm=4.0,
        cautions=(),
        foot=FOOT,
        reading_distance_mm=600.0,
        width_mm=297.0,
        height_mm=210.0,
    )
    return Card(CardKey("station", "tea", cup, "en"), view)


def with_steps(card: Card, *steps: StepView) -> Card:
    return Card(card.key, replace(card.view, steps=steps))  # type: ignore[type-var]


def published(
    folder: Path,
    cards: Sequence[Card],
    which: Edition = AUTUMN,
    issuer: Issuer | None = None,
    parts: int = 0,
) -> EditionCards:
    """Publish; ``parts`` is on how many cards each is printed."""
    printed = {p.entry.code: parts for p in edition_cards(cards, load(folder), which).cards}
    plan, findings = publish(cards, folder, which, issuer, parts=printed if parts else None)
    assert plan is not None, findings
    assert not [f for f in findings if f.severity == "error"], findings
    return plan


def codes_of(findings: Sequence[Finding]) -> list[str]:
    return [finding.code for finding in findings]


def kiosk(count: int = 4, edited: int | None = None) -> list[Card]:
    """Cards with feet; the words differ, so that each needs glyphs the others do not."""
    words = ("Zebra", "Quartz", "Jade", "Onyx", "Waxwing", "Kiwi")
    cards = [
        build(
            f"drink-{n}",
            f"{words[n % len(words)]} tea {n}" + (" again" if n == edited else ""),
            steps=(*STEPS, step(5, f"Topping {words[-1 - n % len(words)]}", "5", "g")),
        )
        for n in range(count)
    ]
    plan = edition_cards([*cards, station()], Ledger(Path()), AUTUMN)
    return [planned.card for planned in plan.cards]
