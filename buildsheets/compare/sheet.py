"""A comparison in words in; a PDF for the team, with boxes to tick off at each station, out."""

from __future__ import annotations

import re
from dataclasses import astuple

from jinja2 import StrictUndefined
from jinja2.sandbox import ImmutableSandboxedEnvironment
from markupsafe import Markup

from buildsheets.compare.telling import Told
from buildsheets.findings.finding import Finding
from buildsheets.findings.spelling import listed
from buildsheets.ledger.faults import fault
from buildsheets.print.layouts import Layouts
from buildsheets.views.words import Words


def change_sheet(told: Told, words: Words, layouts: Layouts) -> tuple[bytes, list[Finding]]:
    """The sheet, or findings that say why it cannot be printed. Raises
    ``NativeLibrariesMissing``."""
    from buildsheets.print.engine import EngineComplaint, lay_out
    from buildsheets.print.fonts import families, missing_glyphs
    from buildsheets.print.typeface import faces_of, font_rules

    faces = faces_of(layouts)
    if lacking := missing_glyphs("".join(_texts(astuple(told))), faces):
        return b"", [_broken(f"its typeface has no {listed(map(repr, lacking))}")]
    environment = ImmutableSandboxedEnvironment(autoescape=True, undefined=StrictUndefined)
    style = environment.from_string(layouts.text("changes/style.css")).render(
        families=Markup(", ").join(Markup('"{}"').format(name) for name in families(faces)),
        **layouts.tokens(),
    )
    html = environment.from_string(layouts.text("changes/sheet.html")).render(
        told=told, w=words, glued=_glued, style=Markup(style)
    )
    try:
        return lay_out(html, font_rules(layouts), layouts, well_formed=False).pdf(), []
    except EngineComplaint as complaint:
        return b"", [_broken(str(complaint))]


_UNIT = re.compile(r"(?<=\d) (?=(?:ml|l|fl|g|kg|mm|s|min|h|%|°C)(?!\w))")


def _glued(text: str) -> str:
    """A text whose figures do not part from their units at a line's end."""
    return _UNIT.sub("\u00a0", text)


def _texts(part: object) -> list[str]:
    if isinstance(part, str):
        return [part]
    assert isinstance(part, tuple | list)
    return [text for item in part for text in _texts(item)]


def _broken(why: str) -> Finding:
    return fault("PUB06", f"the change sheet: {why}")
