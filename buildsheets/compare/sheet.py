"""A report on changes in; a PDF for the team, with boxes to tick off at each station, out."""

from __future__ import annotations

from dataclasses import astuple

from buildsheets.compare.report import Report
from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.findings.spelling import listed
from buildsheets.print.layouts import Layouts
from buildsheets.views.words import Words


def change_sheet(report: Report, words: Words, layouts: Layouts) -> tuple[bytes, list[Finding]]:
    """The sheet, or findings that say why it cannot be printed. Raises
    ``NativeLibrariesMissing``."""
    from buildsheets.print.bounds import bounded
    from buildsheets.print.document import maker
    from buildsheets.print.engine import EngineComplaint, lay_out
    from buildsheets.print.fonts import missing_glyphs
    from buildsheets.print.typeface import font_rules

    ready = maker(layouts)
    if lacking := missing_glyphs(_text(astuple(report)), ready.faces):
        return b"", [_broken(f"its typeface has no {listed(map(repr, lacking))}")]
    given = {"families": ready.families, **ready.tokens}
    try:
        with bounded(layouts):
            style = ready.environment.get_template("changes/style.css").render(given)
            page = ready.environment.get_template("changes/sheet.html")
            sheet = f"{font_rules(layouts)}\n{style}"
            html = page.render(report=report, w=words)
            return lay_out(html, sheet, layouts, well_formed=False).pdf(), []
    except EngineComplaint as complaint:
        return b"", [_broken(str(complaint))]


def _text(part: object) -> str:
    if isinstance(part, str):
        return part
    assert isinstance(part, tuple | list)
    return "".join(map(_text, part))


def _broken(why: str) -> Finding:
    return finding("PUB06", None, f"the change sheet: {why}")
