"""Card views in; for each its finished pages as a PDF of its own, or what keeps it from print."""

from __future__ import annotations

import gc
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Severity
from buildsheets.print import kinds
from buildsheets.print.bounds import LayoutTooMuch
from buildsheets.print.checks import SIZE_TOLERANCE_MM, before_layout, lost_letters
from buildsheets.print.document import level_unit, maker
from buildsheets.print.engine import EngineComplaint, ForeignFont, NativeLibrariesMissing
from buildsheets.print.fit import Fitted, Misfit, fit
from buildsheets.print.gauge import POUCH_BORDER_MM, OffCard
from buildsheets.print.join import join
from buildsheets.print.layouts import LayoutBroken, LayoutMissing, Layouts
from buildsheets.print.parts import NOTHING, Kept
from buildsheets.print.qr import PayloadTooLong
from buildsheets.print.sizes import PREFERRED_ARCMIN
from buildsheets.print.templates import broken_layout
from buildsheets.print.typeface import faces_of
from buildsheets.views.types import View
from buildsheets.views.words import UnknownWord


@dataclass(frozen=True, slots=True)
class RenderOptions:
    """How to print: the shop's own layout folder, the pouch, and what the document is called."""

    layouts: Path | None = None
    pouch_border_mm: float = POUCH_BORDER_MM
    title: str = ""
    author: str = ""
    edition: str = ""
    language: str = ""  # of the document; each card has its own. "" takes the first card's


@dataclass(frozen=True, slots=True)
class PageInfo:
    """What stands on a page of the PDF, for sheets, tables of contents and the ledger."""

    code: str
    title: str
    width_mm: float
    height_mm: float
    part: int
    parts: int
    arcmin: float


@dataclass(frozen=True, slots=True)
class Printed:
    """A card, or a file of cards: its PDF (empty when refused), its pages, and findings."""

    pages: tuple[PageInfo, ...]
    findings: tuple[Finding, ...]
    pdf: bytes

    @property
    def sound(self) -> bool:
        """Whether it may be printed and kept."""
        return bool(self.pages) and all(f.severity is not Severity.ERROR for f in self.findings)

    @property
    def notes(self) -> tuple[str, ...]:
        """Plain words for what was done beyond the declared size and the preferred type."""
        return tuple(f.message for f in self.findings if f.severity is Severity.NOTE)

    def to_bytes(self) -> bytes:
        """For the cache: a line of JSON, then the PDF."""
        findings = [asdict(finding) for finding in self.findings]
        head = {"pages": [asdict(page) for page in self.pages], "findings": findings}
        return json.dumps(head, sort_keys=True).encode() + b"\n" + self.pdf

    @classmethod
    def from_bytes(cls, data: bytes) -> Printed:
        """What :meth:`to_bytes` made."""
        head, _, pdf = data.partition(b"\n")
        read = json.loads(head)
        pages = tuple(PageInfo(**page) for page in read["pages"])
        return cls(pages, tuple(_finding(held) for held in read["findings"]), pdf)


def _finding(held: Mapping[str, Any]) -> Finding:
    return Finding(
        held["code"], held["name"], Severity(held["severity"]), None, held["message"],
        hint=held["hint"], subject=tuple(held["subject"]),
    )  # fmt: skip


def render_pdf(views: Sequence[View], options: RenderOptions | None = None) -> Printed:
    """Render views to one PDF, in order, a page a card (more where a card had to be split).

    Cards with an error are left out and named in the findings. The same views and options give
    the same bytes. Raises ``NativeLibrariesMissing``.
    """
    options = options or RenderOptions()
    cards = render_cards(views, options)
    findings = _one_a_cause([finding for card in cards for finding in card.findings])
    sound = [card for card in cards if card.sound]
    language = options.language or (views[0].language if views else "")
    pdf = join(sound, replace(options, language=language)) if sound else b""
    return Printed(tuple(page for card in sound for page in card.pages), tuple(findings), pdf)


def _one_a_cause(findings: Sequence[Finding]) -> list[Finding]:
    """A layout that does not work is one finding, however many cards it keeps from printing."""
    found: dict[Finding, list[str]] = {}
    for one in findings:
        shared = replace(one, subject=()) if one.code == "CARD12" else one
        found.setdefault(shared, []).extend(one.subject)
    return [replace(one, subject=tuple(dict.fromkeys(cards))) for one, cards in found.items()]


def render_cards(
    views: Sequence[View], options: RenderOptions, kept: Kept = NOTHING
) -> list[Printed]:
    """Each view printed by itself, in order. The bytes do not depend on the views beside it, nor on
    what parts of cards are kept.

    Views of one kind, language, size and distance are laid out in one document, which takes less
    time; those that do not fit as they are, and those of a document that fails, are done alone.
    Raises ``NativeLibrariesMissing``.
    """
    done: dict[int, Printed] = {}
    together: dict[tuple[object, ...], list[int]] = {}
    try:
        faces = faces_of(Layouts(options.layouts))
    except LayoutMissing as broken:
        return [Printed((), (broken_layout(broken, [view.code]),), b"") for view in views]
    for place, view in enumerate(views):
        if found := before_layout(view, faces):
            done[place] = Printed((), tuple(found), b"")
        else:
            key = (view.kind, view.language, view.width_mm, view.height_mm,
                   view.reading_distance_mm, level_unit(view))  # fmt: skip
            together.setdefault(key, []).append(place)
    with _uncollected():
        for places in together.values():
            made = _render_alike([views[place] for place in places], options, kept)
            done.update(zip(places, made, strict=True))
    return [done[place] for place in range(len(views))]


@contextmanager
def _uncollected() -> Iterator[None]:
    """Look for cyclic garbage after documents, not while one is made: a sixth of the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.collect(0)  # all that was made since
            gc.enable()


def _render_alike(views: Sequence[View], options: RenderOptions, kept: Kept) -> list[Printed]:
    """Views of one kind, language, size and distance; where their document fails, each alone."""

    def fitted() -> list[Fitted | Misfit]:
        return fit(views, maker(Layouts(options.layouts)), options.pouch_border_mm, kept)

    if len(views) == 1:
        return [_guarded(views[0], lambda: _finished(views[0], fitted()[0]))]
    try:
        made = fitted()
    except (NativeLibrariesMissing, ModuleNotFoundError):
        raise
    except LayoutTooMuch as too_much:  # once is enough
        return [Printed((), (broken_layout(too_much, [view.code]),), b"") for view in views]
    except Exception:  # whatever it is, each card alone tells whose it is
        return [card for view in views for card in _render_alike([view], options, kept)]
    return [
        _guarded(view, partial(_finished, view, one)) for view, one in zip(views, made, strict=True)
    ]


def _finished(view: View, fitted: Fitted | Misfit) -> Printed:
    """The view printed from what was laid out. Raises the misfit, and ``EngineComplaint``."""
    if isinstance(fitted, Misfit):
        raise fitted
    pdf = fitted.pdf()
    wrong = [*_sizes(fitted), *_lost(fitted, pdf)]
    if wrong:
        return Printed((), tuple(wrong), b"")
    stock, parts = fitted.stock, len(fitted.sections)
    pages = tuple(
        PageInfo(
            view.code, kinds.title(view), stock.width_mm, stock.height_mm, part, parts,
            fitted.arcmin,
        )
        for part in range(1, parts + 1)
    )  # fmt: skip
    return Printed(pages, tuple(_choices(fitted)), pdf)


def _guarded(view: View, make: Callable[[], Printed]) -> Printed:
    """What ``make`` gives, or the finding for why it cannot."""
    card = view.code
    try:
        return make()
    except (UnknownWord, LayoutMissing) as missing:
        if isinstance(missing, LayoutBroken):
            found = broken_layout(missing, [card])
        else:
            found = finding("CARD02", None, f"card {card}: {missing.args[0]}", subject=[card])
    except OffCard as off:
        hint = "write another card: under shop:, high enough for this cup, or its pouch_border:"
        found = finding("CARD09", None, f"card {card}: {off}", hint=hint, subject=[card])
    except PayloadTooLong as long:
        found = finding("CARD10", None, f"card {card}: {long}", subject=[card])
    except Misfit as misfit:
        what = f"card {card} ({kinds.title(view)})"
        message = f"{what} does not fit at the smallest legible size: {misfit}"
        hint = (
            f"write a shorter reading_distance: (here {view.reading_distance_mm:g} mm; a station "
            "has its own) or a larger card: under shop:, or leave out options of its drinks"
        )
        found = finding("CARD03", None, message, hint=hint, subject=[card])
    except ForeignFont as foreign:
        found = finding("CARD11", None, f"card {card}: {foreign}", subject=[card])
    except EngineComplaint as complaint:
        message = f"card {card}: the PDF engine said: {complaint}"
        found = finding("CARD07", None, message, subject=[card])
    except (NativeLibrariesMissing, ModuleNotFoundError):
        raise
    except Exception as broken:  # a shop's own template may raise anything
        found = broken_layout(broken, [card])
    return Printed((), (found,), b"")


def _choices(fitted: Fitted) -> Iterator[Finding]:
    """Plain words for what was done beyond the declared size and the preferred type."""
    view, card = fitted.view, fitted.view.code
    notes = []
    if (fitted.stock.width_mm, fitted.stock.height_mm) != (view.width_mm, view.height_mm):
        message = (
            f"card {card} is printed on {fitted.stock.name} instead of "
            f"{view.width_mm:g} x {view.height_mm:g} mm: {fitted.reason}"
        )
        notes.append(("CARD04", message))
    if len(fitted.sections) > 1:
        message = f"card {card} is split over {len(fitted.sections)} cards: {fitted.reason}"
        notes.append(("CARD05", message))
    if fitted.arcmin < PREFERRED_ARCMIN:
        message = (
            f"card {card} is set at {fitted.arcmin:g} arcmin from "
            f"{view.reading_distance_mm:g} mm; {PREFERRED_ARCMIN:g} is preferred, 16 the floor"
        )
        notes.append(("CARD15", message))
    for code, message in notes:
        yield finding(code, None, message, subject=[card])


def _sizes(fitted: Fitted) -> Iterator[Finding]:
    stock, card = fitted.stock, fitted.view.code
    pages = fitted.laid_out.pages[fitted.first_page :][: len(fitted.sections)]
    for page in pages:
        off = max(abs(page.width_mm - stock.width_mm), abs(page.height_mm - stock.height_mm))
        if off > SIZE_TOLERANCE_MM:
            message = (
                f"card {card}: page {page.width_mm:.1f} x {page.height_mm:.1f} mm, "
                f"the card {stock.width_mm:g} x {stock.height_mm:g} mm"
            )
            yield finding("CARD14", None, message, subject=[card])


def _lost(fitted: Fitted, pdf: bytes) -> Iterator[Finding]:
    """Letters that were laid out and did not reach the PDF, whatever swallowed them."""
    said = fitted.laid_out.texts[fitted.first_section :][: len(fitted.sections)]
    card = fitted.view.code
    for page, missing in lost_letters(said, pdf):
        message = f"card {card}, page {page + 1}: these letters did not reach the page: {missing}"
        yield finding("CARD06", None, message, subject=[card])
