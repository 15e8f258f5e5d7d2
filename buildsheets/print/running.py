"""A template, its style and what they are given go in; a PDF of pages that run on, as many as it
takes, comes out: sheets for the office and the hand, which are no cards."""

from __future__ import annotations

import io
from typing import Any

from buildsheets.findings.spelling import listed
from buildsheets.print.bounds import bounded
from buildsheets.print.document import maker
from buildsheets.print.engine import EngineComplaint, lay_out
from buildsheets.print.fonts import missing_glyphs
from buildsheets.print.join import finish
from buildsheets.print.layouts import Layouts
from buildsheets.print.typeface import font_rules
from buildsheets.views.words import Words


def running_pages(
    layouts: Layouts, template: str, style: str, w: Words, **given: Any
) -> tuple[bytes, tuple[str, ...], str]:
    """The PDF, the families it may be set in, and, where it cannot be printed, why. ``w`` is the
    language's words; a style is also given what begins and ends a line: ``start``, ``end``.

    Raises ``NativeLibrariesMissing`` and what a shop's own template may raise.
    """
    ready = maker(layouts)
    sides = {"start": "right", "end": "left"} if w.is_rtl else {"start": "left", "end": "right"}
    given |= {"w": w, "signs": ready.signs, "families": ready.families, **ready.tokens, **sides}
    try:
        with bounded(layouts):
            html = ready.environment.get_template(template).render(given)
            if lacking := missing_glyphs("".join(dict.fromkeys(html)), ready.faces):
                return b"", (), f"its typeface has no {listed(map(repr, lacking))}"
            css = ready.environment.get_template(style).render(given)
            laid = lay_out(html, f"{font_rules(layouts)}\n{css}", layouts, well_formed=False)
            return laid.pdf(), laid.families, ""
    except EngineComplaint as complaint:
        return b"", (), str(complaint)


def at_full_size(pdf: bytes, language: str, title: str, author: str) -> bytes:
    """The same pages with their title and language, and the wish to be printed at 100 %."""
    import pikepdf

    buffer = io.BytesIO()
    with pikepdf.open(io.BytesIO(pdf)) as held:
        finish(held, language, {"/Title": title, "/Author": author}, ())
        held.save(buffer, deterministic_id=True)
    return buffer.getvalue()
