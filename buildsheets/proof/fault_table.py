"""Every code the cards room gives its findings: name, weight, and why it matters."""

from __future__ import annotations

from collections.abc import Mapping

from buildsheets.findings.finding import Severity
from buildsheets.proof.proof import PROOFS
from buildsheets.sheets.sheets import SHEET_FAULTS

_CARDS: Mapping[str, tuple[str, Severity, str]] = {
    "CARD01": (
        "glyph-missing",
        Severity.ERROR,
        "The typeface cannot draw a character; a box would be printed in its place.",
    ),
    "CARD02": (
        "word-missing",
        Severity.ERROR,
        "A fixed word has no entry in the card's language, or its entry asks for a value there is "
        "not.",
    ),
    "CARD03": (
        "card-too-full",
        Severity.ERROR,
        "Even the largest stock and several cards do not hold the text at the smallest legible "
        "size. It is never shrunk below that or cut off.",
    ),
    "CARD04": (
        "larger-stock",
        Severity.NOTE,
        "The card needs larger stock than asked for, to be read from its distance.",
    ),
    "CARD05": (
        "card-split",
        Severity.NOTE,
        "The card goes on on further cards; print them back to back or hang them side by side.",
    ),
    "CARD06": (
        "text-lost",
        Severity.ERROR,
        "Something of the card did not reach the page; a step or an allergen may be missing.",
    ),
    "CARD07": (
        "engine-complaint",
        Severity.ERROR,
        "The PDF engine reported something it could not do as asked.",
    ),
    "CARD08": (
        "low-contrast",
        Severity.ERROR,
        "A station's colour is too near to white or to its letter (WCAG 2.2, 1.4.3 and 1.4.11).",
    ),
    "CARD09": (
        "gauge-off-card",
        Severity.ERROR,
        "The cup is higher than the card, so a fill line would lie off its edge.",
    ),
    "CARD10": (
        "code-too-long",
        Severity.ERROR,
        "What the QR code says does not fit a code that can be read at its printed size.",
    ),
    "CARD11": (
        "foreign-font",
        Severity.ERROR,
        "Text was set in a typeface that is not among those chosen for legibility.",
    ),
    "CARD12": (
        "layout-broken",
        Severity.ERROR,
        "A layout file, the shop's own or a shipped one, does not work; nothing that needs it is "
        "printed.",
    ),
    "CARD13": (
        "unknown-shape",
        Severity.ERROR,
        "Stations are told apart by shape where colour cannot: each needs a known one of its own.",
    ),
    "CARD14": (
        "page-size",
        Severity.ERROR,
        "The page came out in another size than the card, so its gauge would not be at 1:1.",
    ),
    "CARD15": (
        "type-below-preferred",
        Severity.NOTE,
        "Letters are smaller than the 20 arcmin that read well, though not under the 16 that can "
        "be read (ISO 9241-303).",
    ),
    "CARD16": (
        "card-incomplete",
        Severity.ERROR,
        "Something the card must say is missing, such as its allergens.",
    ),
    "CARD17": (
        "layouts-misplaced",
        Severity.NOTE,
        "A layouts folder lies beside the menu's folder, where it is not read; it belongs inside.",
    ),
}

_SHEET_SEVERITIES = {
    "SHEET01": Severity.ERROR,
    "SHEET02": Severity.WARNING,
    "SHEET03": Severity.WARNING,
    "SHEET04": Severity.NOTE,
}

FAULTS: Mapping[str, tuple[str, Severity, str]] = {
    **_CARDS,
    **{code: (name, _SHEET_SEVERITIES[code], why) for code, (name, why) in SHEET_FAULTS.items()},
    **{code: (name, Severity.ERROR, why) for code, (name, why) in PROOFS.items()},
}
