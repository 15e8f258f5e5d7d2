"""Card views in; one PDF with a page a card, each of exactly the card's size, out."""

from __future__ import annotations

import io
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Severity
from buildsheets.print.desk import Desk
from buildsheets.print.engine import EngineResult, to_pdf
from buildsheets.print.faults import after_layout, before_layout, lost_text
from buildsheets.print.gauge import POUCH_BORDER_MM, OffCard
from buildsheets.print.layouts import LayoutBroken, LayoutMissing, Layouts
from buildsheets.print.legibility import PREFERRED_ARCMIN, Fitted, Misfit, fit
from buildsheets.print.page import Pages, pages_for
from buildsheets.print.plan import Plan
from buildsheets.print.planners import planned
from buildsheets.print.qr import PayloadTooLong
from buildsheets.print.templates import broken_layout
from buildsheets.views.paper import DEFAULT_LARGEST, Stock, stocks_from
from buildsheets.views.prep_views import AnyView
from buildsheets.views.words import UnknownWord

# A document holds this many cards whatever the number of workers, so that the bytes do not
# depend on it and memory stays flat.
CHUNK = 25


@dataclass(frozen=True, slots=True)
class RenderOptions:
    """How to print: the shop's own layout folder, the pouch, metadata, and what stock there is."""

    layouts: Path | None = None
    pouch_border_mm: float = POUCH_BORDER_MM
    title: str = ""
    author: str = ""
    edition: str = ""
    language: str = ""  # of the document; each card has its own. "" takes the first card's
    largest_stocks: tuple[str, ...] = DEFAULT_LARGEST
    most_parts: int = 6
    workers: int = 1


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
class RenderedPdf:
    """The PDF (empty when every card was refused), its pages, plain-word notes, findings."""

    pdf: bytes
    pages: tuple[PageInfo, ...]
    notes: tuple[str, ...]
    findings: tuple[Finding, ...]


def plan_card(
    view: AnyView, pages: Pages, options: RenderOptions
) -> tuple[tuple[Plan, ...], list[Finding]]:
    """Lay one view out on as few and as small cards as legibility allows; findings say how.

    A view with an error gives no plans.
    """
    found = before_layout(view)
    if found:
        return (), found
    try:
        words = pages.layouts.words(view.language)
        stocks = stocks_from(view.width_mm, view.height_mm, options.largest_stocks)

        def attempt(stock: Stock, arcmin: float, count: int) -> tuple[Plan, ...]:
            desk = Desk.at(
                pages.tokens, words, view.reading_distance_mm, arcmin, options.pouch_border_mm
            )
            return planned(view, stock, desk, arcmin, count)

        fitted = fit(attempt, stocks, options.most_parts)
    except LayoutBroken as broken:
        return (), [broken_layout(broken, [view.code])]
    except (UnknownWord, LayoutMissing) as missing:
        message = str(missing.args[0])
        return (), [finding("CARD02", None, f"card {view.code}: {message}", subject=[view.code])]
    except OffCard as off:
        hint = "use a taller card for this cup"
        return (), [
            finding("CARD09", None, f"card {view.code}: {off}", subject=[view.code], hint=hint)
        ]
    except PayloadTooLong as long:
        return (), [finding("CARD10", None, f"card {view.code}: {long}", subject=[view.code])]
    except ValueError as wrong:
        message = f"card {view.code}: {wrong}"
        return (), [finding("CARD16", None, message, subject=[view.code])]
    except Misfit as misfit:
        message = f"card {view.code} does not fit at the smallest legible size: {misfit}"
        hint = "a larger stock, fewer options on the card, or a shorter reading distance"
        return (), [finding("CARD03", None, message, subject=[view.code], hint=hint)]
    return fitted.plans, _choices(view, fitted, stocks[0])


def _choices(view: AnyView, fitted: Fitted[Plan], declared: Stock) -> list[Finding]:
    """Plain words for what the search did beyond the declared size and the preferred type."""
    found = []
    if fitted.stock != declared:
        found.append(
            finding(
                "CARD04",
                None,
                f"card {view.code} is printed on {fitted.stock.name} instead of {declared.name}: "
                f"{fitted.reason}",
                subject=[view.code],
            )
        )
    if len(fitted.plans) > 1:
        found.append(
            finding(
                "CARD05",
                None,
                f"card {view.code} is split over {len(fitted.plans)} cards: {fitted.reason}",
                subject=[view.code],
            )
        )
    if fitted.arcmin < PREFERRED_ARCMIN:
        found.append(
            finding(
                "CARD15",
                None,
                f"card {view.code} is set at {fitted.arcmin:g} arcmin from "
                f"{view.reading_distance_mm:g} mm; {PREFERRED_ARCMIN:g} is preferred, 16 the floor",
                subject=[view.code],
            )
        )
    return found


def render_pdf(views: Sequence[AnyView], options: RenderOptions | None = None) -> RenderedPdf:
    """Render views to one PDF, in order, a page a card (more where a card had to be split).

    Cards with an error are left out and named in the findings. The same views and options give
    the same bytes. Raises ``NativeLibrariesMissing``.
    """
    options = options or RenderOptions()
    parts, findings = render_parts(views, options)
    printed = [plan for part in parts for plan in part.plans]
    pdf = _finish([part.pdf for part in parts], printed, options) if parts else b""
    notes = tuple(found.message for found in findings if found.severity is Severity.NOTE)
    return RenderedPdf(pdf, tuple(page_info(plan) for plan in printed), notes, tuple(findings))


@dataclass(frozen=True, slots=True)
class Part:
    """Some cards in order and the PDF of them, without metadata and bookmarks."""

    plans: tuple[Plan, ...]
    pdf: bytes


def render_parts(
    views: Sequence[AnyView], options: RenderOptions
) -> tuple[list[Part], list[Finding]]:
    """Render views to several PDFs of some cards each, in order, for joining; and what was found.

    Raises ``NativeLibrariesMissing``.
    """
    try:
        pages = pages_for(Layouts(options.layouts))
    except Exception as broken:  # a shop's own template may raise anything
        return [], [broken_layout(broken)]
    chunks: list[list[Plan]] = [[]]
    findings: list[Finding] = []
    for view in views:
        placed, found = plan_card(view, pages, options)
        if len(chunks[-1]) + len(placed) > CHUNK:  # no card is torn between documents
            chunks.append([])
        chunks[-1] += placed
        findings += found
    chunks = [chunk for chunk in chunks if chunk]
    good: list[Part] = []
    for chunk, outcome in zip(chunks, _print_all(chunks, options), strict=True):
        sound, wrong = _sound(chunk, outcome, options)
        good += sound
        findings += wrong
    return good, _one_a_cause(findings)


def _one_a_cause(findings: Sequence[Finding]) -> list[Finding]:
    """A layout that does not work is one finding, however many cards it keeps from printing."""
    found: dict[Finding, list[str]] = {}
    for one in findings:
        shared = replace(one, subject=()) if one.code == "CARD12" else one
        found.setdefault(shared, []).extend(one.subject)
    return [replace(one, subject=tuple(dict.fromkeys(cards))) for one, cards in found.items()]


def page_info(plan: Plan) -> PageInfo:
    """What there is to know of a card's page."""
    stock = plan.stock
    return PageInfo(
        plan.view.code, plan.title, stock.width_mm, stock.height_mm, plan.part, plan.parts,
        plan.arcmin,
    )  # fmt: skip


def _print_chunk(chunk: list[Plan], options: RenderOptions) -> EngineResult | Finding:
    layouts = Layouts(options.layouts)
    language = options.language or chunk[0].view.language
    try:
        html = pages_for(layouts).html(chunk, language, options.title)
    except Exception as broken:  # a shop's own template may raise anything
        return broken_layout(broken, [plan.view.code for plan in chunk])
    # A shop's own templates may be HTML that is not XML.
    return to_pdf(html, layouts, well_formed=layouts.own is None)


def _sound(
    chunk: list[Plan], outcome: EngineResult | Finding, options: RenderOptions
) -> tuple[list[Part], list[Finding]]:
    """A chunk's PDF if nothing is wrong with it, else those of its cards that print alone."""
    if isinstance(outcome, Finding):
        wrong = [outcome]
    else:
        wrong = after_layout(chunk, outcome) or lost_text(chunk, outcome.pdf)
        if not wrong:
            return [Part(tuple(chunk), outcome.pdf)], []
    cards: dict[str, list[Plan]] = {}
    for plan in chunk:
        cards.setdefault(plan.view.code, []).append(plan)
    if len(cards) == 1:
        return [], wrong
    good: list[Part] = []
    found: list[Finding] = []
    for card in cards.values():
        sound, faults = _sound(card, _print_chunk(card, options), options)
        good += sound
        found += faults
    return good, found


def _print_all(chunks: list[list[Plan]], options: RenderOptions) -> list[EngineResult | Finding]:
    workers = min(options.workers, len(chunks))
    if workers < 2:
        return [_print_chunk(chunk, options) for chunk in chunks]
    # Forking after import halves the start-up but has crashed on macOS.
    context = get_context("fork" if sys.platform == "linux" else "spawn")
    with ProcessPoolExecutor(workers, mp_context=context) as pool:
        return list(pool.map(_print_chunk, chunks, [options] * len(chunks)))


def _finish(parts: Sequence[bytes], plans: Sequence[Plan], options: RenderOptions) -> bytes:
    """Join the chunks; set metadata, bookmarks and the wish not to be scaled."""
    import pikepdf

    with pikepdf.open(io.BytesIO(parts[0])) as pdf:
        for part in parts[1:]:
            with pikepdf.open(io.BytesIO(part)) as more:
                pdf.pages.extend(more.pages)
        root = pdf.Root
        root.Lang = pikepdf.String(options.language or plans[0].view.language)
        preferences = root.get("/ViewerPreferences", pikepdf.Dictionary())
        preferences.PrintScaling = pikepdf.Name("/None")
        preferences.DisplayDocTitle = True
        root.ViewerPreferences = preferences
        root.PageMode = pikepdf.Name("/UseOutlines")
        info = pdf.docinfo
        info["/Title"] = options.title or plans[0].title
        if options.author:
            info["/Author"] = options.author
        if options.edition:
            info["/Keywords"] = options.edition
            info["/Edition"] = options.edition
        with pdf.open_outline() as outline:
            for number, plan in enumerate(plans):
                mark = f" {plan.part}/{plan.parts}" if plan.parts > 1 else ""
                outline.root.append(
                    pikepdf.OutlineItem(f"{plan.view.code}  {plan.title}{mark}", number)
                )
        buffer = io.BytesIO()
        pdf.save(
            buffer, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.generate
        )
        return buffer.getvalue()
