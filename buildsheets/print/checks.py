"""What is wrong with a card, before it is laid out and after, as findings."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import fields, is_dataclass
from functools import lru_cache
from typing import Any
from unicodedata import normalize

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.menu.tables import MIN_CONTRAST, contrast
from buildsheets.print.drawing import SHAPES
from buildsheets.print.fonts import Face, missing_glyphs
from buildsheets.views.types import Allergens, BuildCardView, StationCardView, StationMark, View
from buildsheets.views.words import runs_against

SIZE_TOLERANCE_MM = 0.1
DARKER = "choose a darker accent"


# Fields that are instructions to the layout or to a machine, not text for a reader.
_NOT_TEXT = frozenset(
    {
        *("qr_payload", "accent", "ink", "shape", "pattern", "kind", "language", "align"),
        *("sold_days", "by_drink"),
    }
)


def texts_of(value: Any) -> Iterator[str]:
    """Every string of a view that a reader will see, in field order."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for item in value:
            yield from texts_of(item)
    elif is_dataclass(value):
        for name in _text_fields(value.__class__):
            yield from texts_of(getattr(value, name))


@lru_cache(maxsize=256)
def _text_fields(kind: type) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind) if field.name not in _NOT_TEXT)


def before_layout(view: View, among: tuple[Face, ...]) -> list[Finding]:
    """Characters without a glyph in the faces, stations told apart by nothing, allergens unsaid."""
    found: list[Finding] = []
    card = view.code
    for text in dict.fromkeys(texts_of(view)):
        if lacking := missing_glyphs(text, among):
            named = ", ".join(f"{char} (U+{ord(char):04X})" for char in lacking)
            message = f"card {card}: the typeface has no glyph for {named} in {text!r}"
            hint = "write it with other characters, or install a font package that has them"
            found.append(finding("CARD01", None, message, hint=hint, subject=[card]))
    if isinstance(view, BuildCardView):
        found += _marks_alike(card, view.stations)
        known = {mark.name for mark in view.stations}
        for step in view.steps:
            if step.station not in known:
                message = (
                    f"card {card}: step {step.number} names a station the card does not list: "
                    f"{step.station!r}"
                )
                found.append(finding("CARD16", None, message, subject=[card]))
    elif isinstance(view, StationCardView):
        found += _marks_alike(card, view.marks or (view.station,))
    told = getattr(view, "allergens", None)
    if isinstance(told, Allergens) and not (told.contains or told.may_contain or told.statement):
        message = f"card {card}: it states no allergens: contains, may contain or a statement"
        found.append(finding("CARD16", None, message, subject=[card]))
    return found


def _marks_alike(card: str, marks: Sequence[StationMark]) -> Iterator[Finding]:
    for mark in marks:
        try:
            inside, outside = contrast(mark.accent, mark.ink), contrast(mark.accent, "#ffffff")
        except ValueError as wrong:
            yield finding("CARD08", None, f"station {mark.name}: {wrong}", subject=[card])
            continue
        for ratio, pair, needed in (
            (inside, f"{mark.ink} on {mark.accent}", MIN_CONTRAST),
            (outside, f"{mark.accent} on white", 3.0),  # WCAG 2.2, 1.4.11 non-text contrast
        ):
            if ratio < needed:
                has = f"has contrast {ratio:.2f} : 1, needs {needed:g} : 1"
                message = f"station {mark.name}: {pair} {has}"
                yield finding("CARD08", None, message, hint=DARKER, subject=[card])
        if mark.shape not in SHAPES:
            known = ", ".join(SHAPES)
            message = f"station {mark.name}: no shape {mark.shape!r}; there are {known}"
            yield finding("CARD13", None, message, subject=[card])
    if len({mark.shape for mark in marks}) < len({(mark.shape, mark.letter) for mark in marks}):
        message = (
            f"card {card}: two of its stations have the same shape; step marks are told apart by "
            "shape"
        )
        hint = "give every station a shape of its own"
        yield finding("CARD13", None, message, hint=hint, subject=[card])


# What a PDF may add or drop: white space, hyphens at line ends, and marks of writing direction,
# which have no ink. Case is a style's affair.
_ADDED = re.compile("[\\s\ufffe\u00ad\u200b\u061c\u200e\u200f\u2066-\u2069\u2010-]+")


_BRACKETS = re.compile(r"[()<>\[\]{}«»‹›]")


def as_copied(text: str) -> str:
    """A text from right to left as far as what is copied from a PDF can be held against it: signs
    come out parted (½ as 1⁄2), brackets mirrored or not."""
    return _BRACKETS.sub(" ", normalize("NFKC", text)).replace("\u2044", "/")


# Thai and Lao AM with the tone mark before it; it is drawn as a ring over the tone's place and AA.
_AM = re.compile("([\u0e48-\u0e4b]?)\u0e33|([\u0ec8-\u0ecb]?)\u0eb3")


def parted(text: str) -> str:
    """A text with AM as the two signs it is drawn with. It looks the same; as one sign the engine
    could not say in the PDF which letter the ring is of, and what is copied would lack it."""
    if "\u0e33" not in text and "\u0eb3" not in text:
        return text
    return _AM.sub(
        lambda found: f"\u0e4d{found[1]}\u0e32" if found[2] is None else f"\u0ecd{found[2]}\u0eb2",
        text,
    )


def letters(text: str) -> str:
    """A text without white space, hyphens and case."""
    return _ADDED.sub("", parted(text)).casefold()


def lost_letters(said: Sequence[str], pdf: bytes) -> list[tuple[int, str]]:
    """What is in the text laid out on each page and not in the PDF's: (page, the letters)."""
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    lost = []
    for number, (text, page) in enumerate(zip(said, document, strict=True)):
        shown = page.get_textpage().get_text_range()
        if runs_against(text, False):
            text, shown = as_copied(text), as_copied(shown)
        missing = Counter(letters(text)) - Counter(letters(shown))
        if missing:
            lost.append((number, "".join(sorted(missing.elements()))))
    document.close()
    return lost
