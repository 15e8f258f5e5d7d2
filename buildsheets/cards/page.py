"""Placed cards and layout files in; one HTML text with its style sheet for the PDF engine out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup, escape

from buildsheets.cards.art import data_uri, svg
from buildsheets.cards.fonts import families
from buildsheets.cards.layouts import Layouts
from buildsheets.cards.legibility import Run
from buildsheets.cards.plan import Plan, Text
from buildsheets.cards.templates import environment

_KINDS = (
    "build", "station", "addons", "gauge",
    "batch", "allergens", "labels", "prepsheet", "costs", "facts",
)  # fmt: skip


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


def text_box(text: Text, names: ClassNames, end: str = "") -> str:
    """One text as an element; ``end`` is the id of the mark that proves its end was laid out."""
    across = names.name("x", f"left:{text.x_mm:.2f}mm;width:{text.width_mm:.2f}mm")
    down = names.name("y", f"top:{text.y_mm:.2f}mm")
    align = "" if text.align == "left" else f";text-align:{text.align}"
    ink = f";color:{text.ink}" if text.ink else ""
    tab = f";tab-size:{text.tab_mm:.2f}mm" if text.tab_mm else ""
    size = names.name("f", _size(text.points, text.leading) + align + ink + tab)
    bold = all(run.bold for line in text.lines for run in line)
    lines = "\n".join("".join(_run(run, text, bold, names) for run in line) for line in text.lines)
    tag = "h1" if text.kind == "title" else "div"
    mark = f'<a id="{end}"></a>' if end else ""
    weight = " B" if bold else ""
    return f'<{tag} class="t {text.kind} {across} {down} {size}{weight}">{lines}{mark}</{tag}>'


def _size(points: float, leading: float) -> str:
    return f"font-size:{points:g}pt;line-height:{points * leading:.3f}pt"


def _run(run: Run, text: Text, all_bold: bool, names: ClassNames) -> str:
    size = names.name("f", _size(run.points, text.leading)) if run.points else ""
    tag = "b" if run.bold and not all_bold else "span"
    if size:
        return f'<{tag} class="{size}">{escape(run.text)}</{tag}>'
    return f"<b>{escape(run.text)}</b>" if tag == "b" else str(escape(run.text))


def end_mark(number: int, zone: str) -> str:
    """The anchor at the end of a zone of the ``number``-th card of a document."""
    return f"c{number}-{zone}"


class Pages:
    """Templates and styles of one set of layouts; ``html`` puts cards through them."""

    def __init__(self, layouts: Layouts) -> None:
        self.layouts = layouts
        self.tokens: Mapping[str, Any] = layouts.tokens()
        templates = environment(layouts)
        self._cards = {kind: templates.get_template(f"{kind}/card.html") for kind in _KINDS}
        self._styles = "\n".join(
            templates.get_template(name).render(
                families=Markup(", ").join(Markup('"{}"').format(name) for name in families()),
                **self.tokens,
            )
            for name in ("shared/base.css", *(f"{kind}/style.css" for kind in _KINDS))
        )

    def html(self, plans: Sequence[Plan], language: str, title: str) -> str:
        """One document of one page a card."""
        names = ClassNames()
        cards = [self._card(number, plan, names) for number, plan in enumerate(plans)]
        style = self._styles + "\n" + "\n".join(names.rules)
        return (
            f'<!doctype html><html lang="{escape(language)}"><head><meta charset="utf-8">'
            f"<title>{escape(title)}</title><style>{style}</style></head>"
            f"<body>{''.join(cards)}</body></html>"
        )

    def _card(self, number: int, plan: Plan, names: ClassNames) -> str:
        width, height = plan.stock.width_mm, plan.stock.height_mm
        picture = data_uri(svg(plan.shapes, width, height))
        art = Markup('<img class="art" src="{}" alt="{}">').format(picture, plan.alt)

        def zone(name: str) -> Markup:
            texts = plan.zone(name).texts
            last = len(texts) - 1
            return Markup(
                "".join(
                    text_box(text, names, end_mark(number, name) if index == last else "")
                    for index, text in enumerate(texts)
                )
            )

        return self._cards[plan.view.kind].render(
            card=plan.view,
            plan=plan,
            page=names.page(width, height),
            art=art,
            zone=zone,
            code=_code(plan, names),
        )


def _code(plan: Plan, names: ClassNames) -> Markup:
    if plan.qr is None:
        return Markup("")
    side = plan.qr.code.side_mm
    place = names.name(
        "q",
        f"left:{plan.qr.x_mm:.2f}mm;top:{plan.qr.y_mm:.2f}mm;width:{side:.2f}mm;height:{side:.2f}mm",
    )
    return Markup('<img class="code {}" src="{}" alt="{}">').format(
        place, plan.qr.code.data_uri, plan.qr.alt
    )
