"""Views of a few cards in; each card's finished pages, kept apart and free of the others, out."""

from __future__ import annotations

import gc
import io
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from typing import Any

from buildsheets.findings.finding import Finding, Severity
from buildsheets.print.render import PageInfo, Part, RenderOptions, page_info, render_parts
from buildsheets.views.cards import View

GLYPHS = "/BuildsheetsGlyphs"  # our own mark on a font stub: face file, then glyphs and texts


@dataclass(frozen=True, slots=True)
class Leaf:
    """One card's pages: what stands on them, what there was to say, and the PDF of them.

    Its fonts are stubs that name the face and the glyphs used; joining fills them in.
    """

    pages: tuple[PageInfo, ...]
    findings: tuple[Finding, ...]
    pdf: bytes

    @property
    def sound(self) -> bool:
        """Whether the card may be printed and kept."""
        return bool(self.pages) and all(f.severity is not Severity.ERROR for f in self.findings)

    def to_bytes(self) -> bytes:
        """For the cache: a line of JSON, then the PDF."""
        head = {
            "pages": [asdict(page) for page in self.pages],
            "findings": [_plain(finding) for finding in self.findings],
        }
        return json.dumps(head, sort_keys=True).encode() + b"\n" + self.pdf

    @classmethod
    def from_bytes(cls, data: bytes) -> Leaf:
        """What :meth:`to_bytes` made."""
        head, _, pdf = data.partition(b"\n")
        read = json.loads(head)
        return cls(
            tuple(PageInfo(**page) for page in read["pages"]),
            tuple(_finding(found) for found in read["findings"]),
            pdf,
        )


def _plain(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "name": finding.name,
        "severity": finding.severity.value,
        "message": finding.message,
        "hint": finding.hint,
        "subject": list(finding.subject),
    }


def _finding(held: Mapping[str, Any]) -> Finding:
    return Finding(
        held["code"], held["name"], Severity(held["severity"]), None, held["message"],
        hint=held["hint"], subject=tuple(held["subject"]),
    )  # fmt: skip


def print_leaves(views: Sequence[View], options: RenderOptions) -> list[Leaf]:
    """Render the views in one document and take it apart into a leaf for each, in order.

    When a document fails as a whole, its cards are rendered one by one, so that a card that
    cannot be printed does not take its neighbours with it. Views carry distinct codes.
    """
    with _uncollected():
        parts, findings = render_parts(views, options)  # type: ignore[arg-type]
    printed = {plan.view.code for part in parts for plan in part.plans}
    named = {code for finding in findings for code in finding.subject}
    if len(views) > 1 and {_code(view) for view in views} - printed - named:
        return [leaf for view in views for leaf in print_leaves([view], options)]
    pdfs = {code: pdf for part in parts for code, pdf in _cards(part)}
    pages: dict[str, list[PageInfo]] = {}
    for plan in (plan for part in parts for plan in part.plans):
        pages.setdefault(plan.view.code, []).append(page_info(plan))
    return [
        Leaf(
            tuple(pages.get(code, ())),
            tuple(f for f in findings if code in f.subject or (len(views) == 1 and not f.subject)),
            pdfs.get(code, b""),
        )
        for code in map(_code, views)
    ]


@contextmanager
def _uncollected() -> Iterator[None]:
    """Let no cyclic garbage be looked for while a document is made, and all of it be after.

    The engine makes hundreds of thousands of objects that live until the document is written;
    looking through them again and again takes a sixth of the time. What was there before it is
    not looked through at all.
    """
    was_on = gc.isenabled()
    gc.disable()
    gc.freeze()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
            gc.collect()
        gc.unfreeze()


def _code(view: View) -> str:
    return view.foot.code


def _cards(part: Part) -> Iterator[tuple[str, bytes]]:
    """Each card's pages as a PDF that holds nothing of the other cards."""
    import pikepdf

    with pikepdf.open(io.BytesIO(part.pdf)) as whole:
        places: dict[str, list[int]] = {}
        for place, plan in enumerate(part.plans):
            places.setdefault(plan.view.code, []).append(place)
        for code, own in places.items():
            with pikepdf.new() as card:
                for place in own:
                    card.pages.append(whole.pages[place])
                    _keep_used(card, card.pages[-1])
                buffer = io.BytesIO()
                card.save(buffer, deterministic_id=True)
                yield code, buffer.getvalue()


_NAMED = re.compile(rb"/([^\s/<>\[\]()]+)")
_TEXT = re.compile(rb"/([^\s/<>\[\]()]+) [-0-9.]+ Tf|<([0-9a-f]+)>")


def _keep_used(pdf: Any, page: Any) -> None:
    """Leave in the page's resources only what its own drawing names; put stubs for its fonts."""
    import pikepdf

    drawn = _drawn(page.obj)
    names = {f"/{name.decode()}" for stream in drawn for name in _NAMED.findall(stream)}
    resources = pikepdf.Dictionary()
    for kind in sorted(page.Resources.keys()):
        held = page.Resources[kind]
        if isinstance(held, pikepdf.Dictionary):
            used = {name: held[name] for name in sorted(held.keys()) if name in names}
            if used:
                resources[kind] = pikepdf.Dictionary(used)
    glyphs = _glyphs(drawn)
    for name in sorted(resources.get("/Font", {}).keys()):
        resources.Font[name] = _stub(pdf, resources.Font[name], glyphs.get(name, set()))
    page.obj.Resources = resources


def _drawn(obj: Any) -> list[bytes]:
    """The page's own drawing and that of every form it places."""
    import pikepdf

    contents = obj.Contents if "/Contents" in obj else obj
    streams = list(contents) if isinstance(contents, pikepdf.Array) else [contents]
    drawn = [stream.read_bytes() for stream in streams]
    names = {f"/{name.decode()}" for stream in drawn for name in _NAMED.findall(stream)}
    for kind in ("/XObject", "/Pattern"):
        held = obj.get("/Resources", {}).get(kind, {})
        for name in held.keys():  # noqa: SIM118 - a PDF dictionary iterates over pairs
            form = held[name]
            if name in names and form.get("/Subtype") != "/Image" and "/Resources" in form:
                drawn += _drawn(form)
    return drawn


def _glyphs(drawn: Sequence[bytes]) -> dict[str, set[int]]:
    """The glyph numbers each font is used for."""
    used: dict[str, set[int]] = {}
    for stream in drawn:
        font: set[int] = set()
        for name, text in _TEXT.findall(stream):
            if name:
                font = used.setdefault(f"/{name.decode()}", set())
            else:
                font.update(int(text[at : at + 4], 16) for at in range(0, len(text), 4))
    return used


def _stub(pdf: Any, font: Any, glyphs: set[int]) -> Any:
    """The font without widths, texts and program, if it can be filled in again from its face."""
    import pikepdf

    from buildsheets.print.faces import match, unmapped

    face = match(font, glyphs)
    if face is None:
        return font
    inner = font.DescendantFonts[0]
    kept = {
        name: inner.FontDescriptor[name]
        for name in sorted(inner.FontDescriptor.keys())
        if name not in ("/FontFile2", "/FontBBox")
    }
    plain = {name: inner[name] for name in sorted(inner.keys()) if name != "/W"}
    plain["/FontDescriptor"] = pdf.make_indirect(pikepdf.Dictionary(kept))
    stub = {name: font[name] for name in sorted(font.keys()) if name != "/ToUnicode"}
    stub["/DescendantFonts"] = pikepdf.Array([pdf.make_indirect(pikepdf.Dictionary(plain))])
    told = {
        "face": face.name,
        "glyphs": sorted(glyphs),
        "texts": {str(gid): text for gid, text in sorted(unmapped(font, face, glyphs).items())},
    }
    stub[GLYPHS] = pikepdf.String(json.dumps(told))
    return pdf.make_indirect(pikepdf.Dictionary(stub))
