"""A report on changes in; a PDF for the team, with boxes to tick off at each station, out."""

from __future__ import annotations

from buildsheets.compare.report import Report
from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.print.layouts import Layouts
from buildsheets.views.words import Words


def change_sheet(report: Report, words: Words, layouts: Layouts) -> tuple[bytes, list[Finding]]:
    """The sheet, or findings that say why it cannot be printed. Raises
    ``NativeLibrariesMissing``."""
    from buildsheets.print.running import running_pages

    page, style = "changes/sheet.html", "changes/style.css"
    pdf, _, why = running_pages(layouts, page, style, words, report=report)
    return pdf, [finding("PUB06", None, f"the change sheet: {why}")] if why else []
