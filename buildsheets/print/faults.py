"""What is wrong with a card, before layout and after it, as findings."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import fields, is_dataclass
from typing import Any

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.menu.tables import MIN_CONTRAST, contrast
from buildsheets.print.desk import SHAPES
from buildsheets.print.engine import EngineResult
from buildsheets.print.fonts import MM_PER_PT, missing_glyphs
from buildsheets.print.plan import Plan
from buildsheets.views.prep_views import AnyView
from buildsheets.views.views import BuildCardView, StationCardView, StationMark

SIZE_TOLERANCE_MM = 0.1
BOX_TOLERANCE_MM = 0.4


# Fields that are instructions to the layout or to a machine, not text for a reader.
_UNSHOWN = frozenset(
    {"qr_payload", "accent", "ink", "shape", "pattern", "kind", "language", "align"}
)


def shown_strings(value: Any) -> Iterator[str]:
    """Every string of a view that a reader will see, in field order."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for item in value:
            yield from shown_strings(item)
    elif is_dataclass(value):
        for field in fields(value):
            if field.name not in _UNSHOWN:
                yield from shown_strings(getattr(value, field.name))


def before_layout(view: AnyView) -> list[Finding]:
    """Characters without a glyph, stations that cannot be told apart, too little contrast."""
    found: list[Finding] = []
    for text in dict.fromkeys(shown_strings(view)):
        if lacking := missing_glyphs(text):
            named = ", ".join(f"{char} (U+{ord(char):04X})" for char in lacking)
            found.append(
                finding(
                    "CARD01",
                    None,
                    f"card {view.code}: the typeface has no glyph for {named} in {text!r}",
                    subject=[view.code],
                    hint="write it with other characters, or install a font package that has them",
                )
            )
    if isinstance(view, BuildCardView):
        found += _mark_faults(view, view.stations)
    elif isinstance(view, StationCardView):
        found += _mark_faults(view, view.marks or (view.station,))
    return found


def _mark_faults(view: AnyView, marks: Sequence[StationMark]) -> list[Finding]:
    found = []
    for mark in marks:
        try:
            inside, outside = contrast(mark.accent, mark.ink), contrast(mark.accent, "#ffffff")
        except ValueError as wrong:
            found.append(
                finding("CARD08", None, f"station {mark.name}: {wrong}", subject=[view.code])
            )
            continue
        for ratio, pair, needed in (
            (inside, f"{mark.ink} on {mark.accent}", MIN_CONTRAST),
            (outside, f"{mark.accent} on white", 3.0),  # WCAG 2.2, 1.4.11 non-text contrast
        ):
            if ratio < needed:
                found.append(
                    finding(
                        "CARD08",
                        None,
                        f"station {mark.name}: {pair} has contrast {ratio:.2f} : 1, "
                        f"needs {needed:g} : 1",
                        subject=[view.code],
                        hint="choose a darker accent",
                    )
                )
        if mark.shape not in SHAPES:
            found.append(
                finding(
                    "CARD13",
                    None,
                    f"station {mark.name}: no shape {mark.shape!r}; there are {', '.join(SHAPES)}",
                    subject=[view.code],
                )
            )
    looks = [(mark.shape, mark.letter) for mark in marks]
    if len({shape for shape, _ in looks}) < len(looks):
        found.append(
            finding(
                "CARD13",
                None,
                f"card {view.code}: two of its stations have the same shape; step marks are told "
                "apart by shape",
                subject=[view.code],
                hint="give every station a shape of its own",
            )
        )
    return found


def after_layout(plans: Sequence[Plan], result: EngineResult) -> list[Finding]:
    """Complaints of the engine, foreign fonts, wrong page sizes."""
    cards = [plan.view.code for plan in plans]
    found = [
        finding("CARD07", None, f"the PDF engine said: {line}", subject=cards)
        for line in result.complaints
    ]
    if result.strange_fonts:
        fonts = ", ".join(result.strange_fonts)
        found.append(
            finding("CARD11", None, f"text was set in a font not ours: {fonts}", subject=cards)
        )
    if not result.pdf:
        return found
    if len(result.pages) != len(plans):
        found.append(
            finding(
                "CARD06",
                None,
                f"{len(plans)} cards came out as {len(result.pages)} pages: something overflowed",
                subject=cards,
            )
        )
        return found
    for plan, page in zip(plans, result.pages, strict=True):
        stock = plan.stock
        off = max(abs(page.width_mm - stock.width_mm), abs(page.height_mm - stock.height_mm))
        if off > SIZE_TOLERANCE_MM:
            found.append(
                finding(
                    "CARD14",
                    None,
                    f"card {plan.view.code}: page {page.width_mm:.1f} x {page.height_mm:.1f} mm, "
                    f"the card {stock.width_mm:g} x {stock.height_mm:g} mm",
                    subject=[plan.view.code],
                )
            )
    return found


def lost_text(plans: Sequence[Plan], pdf: bytes) -> list[Finding]:
    """Texts that do not stand, whole, in the place the plan gave them in the finished PDF.

    Asks the PDF's own text within each box, so text that was dropped, moved, enlarged or pushed
    over its neighbours shows.
    """
    import pypdfium2

    found = []
    document = pypdfium2.PdfDocument(pdf)
    for plan, page in zip(plans, document, strict=True):
        height = page.get_height()
        words = page.get_textpage()
        for text in (text for zone in plan.zones for text in zone.texts):
            wanted = "".join(run.text for line in text.lines for run in line)
            left, top = text.x_mm - BOX_TOLERANCE_MM, text.y_mm - BOX_TOLERANCE_MM
            right = text.x_mm + text.width_mm + BOX_TOLERANCE_MM
            bottom = text.y_mm + text.height_mm + BOX_TOLERANCE_MM
            have = words.get_text_bounded(
                left / MM_PER_PT, height - bottom / MM_PER_PT,
                right / MM_PER_PT, height - top / MM_PER_PT,
            )  # fmt: skip
            if _letters(wanted) not in _letters(have):
                found.append(
                    finding(
                        "CARD06",
                        None,
                        f"card {plan.view.code}: {wanted!r} does not stand whole in its place, "
                        f"there is {have.strip()!r}",
                        subject=[plan.view.code],
                    )
                )
    document.close()
    return found


_ADDED = re.compile("[\\s\ufffe\u00ad-]+")


def _letters(text: str) -> str:
    """Text without what a PDF may add or drop: white space, and hyphens at line ends."""
    return _ADDED.sub("", text)
