"""Placed cards and layout files in; one HTML text with its style sheet for the PDF engine out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from markupsafe import Markup, escape

from buildsheets.print.art import data_uri, svg
from buildsheets.print.fonts import families
from buildsheets.print.layouts import Layouts
from buildsheets.print.legibility import Line, Run
from buildsheets.print.plan import Plan, Text
from buildsheets.print.templates import environment


class ClassNames:
    """Gives equal declarations one class, so that boxes share computed styles.

    A ``style`` attribute a box costs the engine more than the whole box otherwise does.
    """

    def __init__(self) -> None:
        self._names: dict[str, str] = {}
        self.rules: list[str] = []

    def name(self, prefix: str, declarations: str) -> str:
        """The class for these declarations."""
        key = f"{prefix}{{{declarations}}}"
        if key not in self._names:
            self._names[key] = f"{prefix}{len(self._names)}"
            self.rules.append(f".{self._names[key]}{{{declarations}}}")
        return self._names[key]

    def page(self, width_mm: float, height_mm: float) -> str:
        """The class of a card of this size, with a page of exactly that size."""
        size = f"width:{width_mm:g}mm;height:{height_mm:g}mm"
        page = f"s{width_mm:g}x{height_mm:g}".replace(".", "_")
        rule = f"@page {page}{{size:{width_mm:g}mm {height_mm:g}mm;margin:0}}"
        if rule not in self.rules:
            self.rules.append(rule)
        return self.name("p", f"page:{page};{size}")


# Places are set in steps of this, so that texts nearly alike share one style; half of it is as far
# as a text stands from its place. A hairline is 0.2 mm.
STEP_MM = 0.1


def zone_html(texts: Sequence[Text], names: ClassNames) -> str:
    """The texts of a zone one under the other, each led to its place by the gap before it.

    A gap may be negative: texts of one row stand beside each other. Only the zone is positioned;
    texts that stand alike on many cards share their styles, and so does all that is in them,
    which takes the engine a third less time than a position for each.
    """
    boxes: list[str] = []
    bottom = 0.0
    for text in texts:
        gap = _stepped(text.y_mm - bottom)
        bottom += gap + text.height_mm
        boxes.append(_text_box(text, gap, names))
    return f'<div class="z">{"".join(boxes)}</div>' if boxes else ""


def _text_box(text: Text, gap_mm: float, names: ClassNames) -> str:
    runs = _merged(text.lines)
    alike = len(runs) == 1
    bold = all(run.bold for run in runs)
    points = (alike and runs[0].points) or text.points
    size = _size(points, text.leading) + (";font-weight:700" if bold else "")
    if text.align != "left":
        size += f";text-align:{text.align}"
    if text.ink:
        size += f";color:{text.ink}"
    if text.tab_mm:
        size += f";tab-size:{text.tab_mm:.2f}mm"
    classes = (
        f"t {text.kind} {names.name('x', _across(text))} "
        f"{names.name('y', f'margin-top:{gap_mm:.1f}mm')} {names.name('f', size)}"
    )
    inside = str(escape(runs[0].text)) if alike else _inside(runs, text, bold, names)
    tag = "h1" if text.kind == "title" else "div"
    return f'<{tag} class="{classes}">{inside}</{tag}>'


def _across(text: Text) -> str:
    """Where lines begin or end; nothing wraps, so a left-hand text needs no width."""
    left, right = _stepped(text.x_mm), _stepped(text.x_mm + text.width_mm)
    if text.align == "left":
        return f"margin-left:{left:.1f}mm"
    if text.align == "right":
        return f"width:{right:.1f}mm"
    return f"margin-left:{left:.1f}mm;width:{right - left:.1f}mm"


def _stepped(length_mm: float) -> float:
    return round(length_mm / STEP_MM) * STEP_MM


def _size(points: float, leading: float) -> str:
    return f"font-size:{points:g}pt;line-height:{points * leading:.3f}pt"


def _merged(lines: Sequence[Line]) -> list[Run]:
    """All runs with the line ends between them, neighbours that look alike made one.

    Line ends and tabs look like nothing: they go with a neighbour, though not with one of a size
    of its own, which would make the line beyond them as high.
    """
    merged: list[Run] = []
    for place, line in enumerate(lines):
        for run in (Run("\n"), *line) if place else line:
            last = merged[-1] if merged else run
            before, now = not last.text.strip("\n\t"), not run.text.strip("\n\t")
            if merged and (run[1:] == last[1:] or (run.points == last.points and (before or now))):
                look = run if before else last
                merged[-1] = Run(last.text + run.text, look.bold, look.points)
            elif last.text == "\n" and len(merged) > 1 and merged[-2][1:] == run[1:]:
                merged[-2:] = [Run(f"{merged[-2].text}\n{run.text}", run.bold, run.points)]
            else:
                merged.append(run)
    return merged


def _inside(runs: Sequence[Run], text: Text, all_bold: bool, names: ClassNames) -> str:
    parts: list[str] = []
    for run in runs:
        tag = "b" if run.bold and not all_bold else "span"
        size = names.name("f", _size(run.points, text.leading)) if run.points else ""
        named = f' class="{size}"' if size else ""
        shown = str(escape(run.text))
        parts.append(f"<{tag}{named}>{shown}</{tag}>" if size or tag == "b" else shown)
    return "".join(parts)


class Pages:
    """Templates and styles of one set of layouts; ``html`` puts cards through them."""

    def __init__(self, layouts: Layouts) -> None:
        self.layouts = layouts
        self.tokens: Mapping[str, Any] = layouts.tokens()
        self._templates = environment(layouts)
        self._families = Markup(", ").join(Markup('"{}"').format(name) for name in families())

    def _style(self, kinds: Iterable[str]) -> str:
        names = ("shared/base.css", *(f"{kind}/style.css" for kind in sorted(set(kinds))))
        return "\n".join(
            self._templates.get_template(name).render(families=self._families, **self.tokens)
            for name in names
        )

    def html(self, plans: Sequence[Plan], language: str, title: str) -> str:
        """One document of one page a card; well-formed XML where the templates are."""
        names = ClassNames()
        cards = [self._card(plan, language, names) for plan in plans]
        style = self._style(plan.view.kind for plan in plans) + "\n" + "\n".join(names.rules)
        return (
            f'<!DOCTYPE html><html lang="{escape(language)}"><head><meta charset="utf-8"/>'
            f"<title>{escape(title)}</title><style>{style}</style></head>"
            f"<body>{''.join(cards)}</body></html>"
        )

    def _card(self, plan: Plan, language: str, names: ClassNames) -> str:
        width, height = plan.stock.width_mm, plan.stock.height_mm
        picture = data_uri(svg(plan.shapes, width, height))
        art = Markup('<img class="art" src="{}" alt="{}"/>').format(picture, plan.alt)

        def zone(name: str) -> Markup:
            return Markup(zone_html(plan.zone(name).texts, names))

        return self._templates.get_template(f"{plan.view.kind}/card.html").render(
            card=plan.view,
            plan=plan,
            lang=_lang(plan.view.language, language),
            page=names.page(width, height),
            art=art,
            zone=zone,
            code=_code(plan, names),
        )


def pages_for(layouts: Layouts) -> Pages:
    """``Pages`` of these layouts, made anew only when a file of the shop's own has changed."""
    own = sorted(layouts.own.rglob("*")) if layouts.own else []
    return _pages(layouts, tuple((path, path.stat().st_mtime_ns) for path in own))


@lru_cache(maxsize=4)
def _pages(layouts: Layouts, own: tuple[tuple[Path, int], ...]) -> Pages:
    return Pages(layouts)


def _lang(own: str, document: str) -> Markup:
    """The attribute for a card in another language than its document's; cards that have one
    share no styles."""
    return Markup("") if own == document else Markup(' lang="{}"').format(own)


def _code(plan: Plan, names: ClassNames) -> Markup:
    if plan.qr is None:
        return Markup("")
    side = plan.qr.code.side_mm
    place = names.name(
        "q",
        f"left:{plan.qr.x_mm:.2f}mm;top:{plan.qr.y_mm:.2f}mm;width:{side:.2f}mm;height:{side:.2f}mm",
    )
    return Markup('<img class="code {}" src="{}" alt="{}"/>').format(
        place, plan.qr.code.data_uri, plan.qr.alt
    )
