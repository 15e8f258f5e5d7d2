"""Views at a type size on a stock in; the HTML of one document of them, a section a card, out."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from markupsafe import Markup, escape

from buildsheets.print.checks import parted
from buildsheets.print.cup_drawing import LEADER_MM as LEADER_IN_CUP_MM
from buildsheets.print.cup_drawing import DrawnCup, cup_at_true_size, drawn_cup
from buildsheets.print.drawing import arrow, station_shape, tick_box, warning_triangle
from buildsheets.print.fonts import MM_PER_PT, advance_mm, families
from buildsheets.print.gauge import (
    LEADER_MM,
    TICK_MM,
    free_top_mm,
    gauge_picture,
    place_marks,
    proof_bar,
)
from buildsheets.print.kinds import as_printed
from buildsheets.print.layouts import Layouts
from buildsheets.print.qr import qr_code
from buildsheets.print.sizes import TypeSizes, type_sizes
from buildsheets.print.templates import environment
from buildsheets.print.typeface import faces_of, font_rules
from buildsheets.views.grids import grids, sections
from buildsheets.views.paper import Paper
from buildsheets.views.types import (
    BuildCardView,
    CupDrawing,
    CupView,
    GaugeLine,
    GaugeStripView,
    LabelSheetView,
    RackLine,
    SheetView,
    StationCardView,
    StationMark,
    View,
)

MOST_CUP_HEIGHT_MM = 40.0
# On a drink's page for new staff: width, which is less than would pass for a proof bar, height, and
# width of the labels.
PACK_CUP_MM = (40.0, 78.0, 50.0)
BESIDE_CUP_MM = 0.4  # from a drawn cup's leaders to its labels
CUP_LABEL_MM = 1.2  # and to the text of those of a cup at true size, as in its style sheet
# Of a gauge strip's labels, as in its style sheet: where they begin, and what is under each.
STRIP_LEFT_MM, STRIP_PADDING_MM = 9.0, 0.8
_LABELS_MM = TICK_MM + LEADER_MM + 0.6  # where the labels of the edge gauge begin
_LEVEL = "1000 ml"
USE_MM = 34.0  # the words on how to use the edge gauge, set in its width


@dataclass(frozen=True, slots=True)
class Setting:
    """What all cards of a document share: layouts, kind, language, stock, type size, pouch."""

    layouts: Layouts
    kind: str
    language: str
    stock: Paper
    distance_mm: float
    arcmin: float
    pouch_border_mm: float

    @property
    def is_rtl(self) -> bool:
        """Whether it is read from right to left."""
        return self.layouts.words(self.language).is_rtl

    @property
    def sizes(self) -> TypeSizes:
        """Its type sizes."""
        capitals_em = faces_of(self.layouts)[0].cap_height_em
        return type_sizes(self.distance_mm, self.arcmin, capitals_em)


@dataclass(frozen=True, slots=True)
class Section:
    """One card of a document: its view, or the part of it that stands on this card."""

    view: View
    part: int = 1
    parts: int = 1
    # Of each of the cards: what its first and its last row are called; () where rows have no names.
    spans: tuple[tuple[str, str], ...] = ()
    # Of a gauge strip that was laid out once: how high its labels are, and from where to where
    # down the card they may stand.
    label_heights_mm: tuple[float, ...] = ()
    room_mm: tuple[float, float] | None = None


@dataclass(slots=True)
class Classes:
    """Gives equal declarations one class, so that boxes share computed styles.

    A ``style`` attribute a box costs the engine more than the whole box otherwise does.
    """

    names: dict[str, str] = field(default_factory=dict)

    def __call__(self, declarations: str) -> str:
        """The class for these declarations."""
        return self.names.setdefault(declarations, f"g{len(self.names)}")

    def rules(self) -> str:
        """All of them as a style sheet."""
        return "".join(f".{name}{{{rule}}}" for rule, name in self.names.items())


class Maker:
    """Templates, words and tokens of a set of layouts, made ready once."""

    def __init__(self, layouts: Layouts) -> None:
        self.layouts = layouts
        self.tokens = layouts.tokens()
        self.faces = faces_of(layouts)
        self.families = Markup(", ").join(
            Markup('"{}"').format(name) for name in families(self.faces)
        )
        # How much wider than ours a shop's typeface sets what stands beside a gauge's marks.
        self.wider = max(
            1.0, advance_mm(_LEVEL, 10, True, self.faces) / advance_mm(_LEVEL, 10, True)
        )
        self.environment = environment(layouts)
        self.environment.finalize = glued
        self.environment.tests["says"] = lambda text, part: part in text
        self.environment.filters |= {
            "groups": _groups,
            "grids": grids,
            "sections": sections,
            "unbroken": unbroken,
            "has_digit": lambda word: any(char.isdigit() for char in word),
            "first_capital": lambda text: text[:1].upper() + text[1:],
        }
        colour = self.tokens["colour"]
        self.signs = {
            "bar": proof_bar(colour["ink"]),
            "caution": warning_triangle(colour["ink"], colour["paper"]),
            "arrow": arrow(colour["ink"]),
            "tick": tick_box(colour["ink"]),
        }

    def style(self, setting: Setting) -> str:
        """The style sheet of a kind of card at a size: the shared one, then the kind's own."""
        given = {
            "size": setting.sizes,
            "stock": setting.stock,
            "families": self.families,
            "gauge_mm": self._gauge_mm(setting.sizes),
            "rtl": setting.is_rtl,
            "start": "right" if setting.is_rtl else "left",
            "end": "left" if setting.is_rtl else "right",
            **self.tokens,
            "type": {**self.tokens["type"], "line_height": self._line_height(setting)},
            "signs": {name: Markup(uri) for name, uri in self.signs.items()},
        }
        names = ("shared/base.css", f"{setting.kind}/style.css")
        sheets = [self.environment.get_template(name).render(given) for name in names]
        return "\n".join([font_rules(self.layouts), *sheets])

    def html(
        self,
        sections: Sequence[Section],
        setting: Setting,
        title: str = "",
        first: int = 0,
        /,
        **meta: str,
    ) -> str:
        """The document: each card is a section with the id ``c0``, ``c1`` and so on from ``first``.

        Raises what a shop's own template may raise, ``OffCard``, ``TooCrowded``,
        ``PayloadTooLong`` and ``UnknownWord``.
        """
        classes = Classes()
        words = self.layouts.words(setting.language)
        cards = [
            self.environment.get_template(f"{section.view.kind}/card.html").render(
                card=_card(section.view),
                w=words,
                id=f"c{place}",
                part=section.part,
                parts_count=section.parts,
                last=section.part == section.parts,
                where=_where(section, words),
                drawn=self._drawn(section, setting, classes),
            )
            for place, section in enumerate(sections, first)
        ]
        metas = "".join(
            f'<meta name="{name}" content="{escape(content)}"/>'
            for name, content in meta.items()
            if content
        )
        way = "rtl" if setting.is_rtl else "ltr"
        return (
            f'<html lang="{setting.language}" dir="{way}"><head><meta charset="utf-8"/>'
            f"<title>{escape(title)}</title>{metas}<style>{classes.rules()}</style></head>"
            f"<body>{''.join(cards)}</body></html>"
        )

    def _drawn(self, section: Section, setting: Setting, classes: Classes) -> dict[str, Any]:
        """The pictures of a card and the classes that place what stands on them."""
        view, space = section.view, self.tokens["space"]
        ink = self.tokens["colour"]["ink"]
        drawn: dict[str, Any] = {**self.signs, "code": None, "gauge": None}
        if view.foot.qr_payload:
            code = qr_code(view.foot.qr_payload, space["qr_module"])
            side = f"{code.side_mm:.2f}mm"
            drawn["code"] = {
                "uri": code.data_uri,
                "place": classes(f"width:{side}"),
                "size": classes(f"display:block;width:{side};height:{side}"),
            }
        marks = getattr(view, "stations", ()) or getattr(view, "marks", ())
        if station := getattr(view, "station", None):
            marks = (*marks, station)
        signs = {mark: _sign(mark, classes) for mark in marks}
        drawn["stations"] = [signs[mark] for mark in getattr(view, "stations", ())]
        drawn["by_name"] = {sign.name: sign for sign in signs.values()}
        drawn["by_letter"] = {sign.letter: sign for sign in signs.values()}
        if isinstance(view, GaugeStripView):
            drawn["gauge"] = self._strip(section, setting, classes, ink)
        elif isinstance(view, BuildCardView | StationCardView) and view.gauge:
            drawn["gauge"] = self._gauge(view.gauge, view.gauge_floor_mm, setting, classes, ink)
        if isinstance(view, BuildCardView):
            usual = (space["cup"], MOST_CUP_HEIGHT_MM, space["cup_labels"])
            room_mm = PACK_CUP_MM if view.kind == "pack_drink" else usual
            drawn["cup"] = self._cup(view.drawing, room_mm, setting, classes, ink)
        if isinstance(view, CupView):
            drawn["cup"] = self._true_cup(view, setting, classes, ink)
        if isinstance(view, SheetView):
            # The first takes what the others and the boxes to tick leave.
            drawn["columns"] = [
                [
                    classes(f"width:{100 * weight / sum(table.weights):.1f}%") if column else ""
                    for column, weight in enumerate(table.weights)
                ]
                for table in view.tables
            ]
        if isinstance(view, LabelSheetView):
            size = f"width:{view.label_width_mm:g}mm;height:{view.label_height_mm:g}mm"
            drawn["places"] = [
                classes(f"left:{left:.2f}mm;top:{top:.2f}mm;{size}") for left, top in view.places_mm
            ]
        return drawn

    def _line_height(self, setting: Setting) -> float:
        """Of running text, as a multiple of the type size."""
        told = self.tokens["type"]
        return float(told["line_heights"].get(setting.language.split("-")[0], told["line_height"]))

    def _gauge_mm(self, sizes: TypeSizes) -> float:
        """Width of the edge gauge: its labels keep their lines at any type size and typeface."""
        wide = (float(self.tokens["space"]["gauge"]) - _LABELS_MM) * self.wider
        return round(_LABELS_MM + wide * sizes.minor / 10.0, 2)

    def _label_mm(
        self, text: str, width_mm: float, setting: Setting, bold: bool = False, size_pt: float = 0.0
    ) -> float:
        """How high a text is that wraps in a width: at least what the engine will need."""
        size, lines, used = size_pt or setting.sizes.minor, 1, 0.0
        for word in unbroken(text):
            wide = advance_mm(word if not used else f" {word}", size, bold, self.faces)
            if used and used + wide > width_mm:
                lines, used = lines + 1, 0.0
            used += wide
            lines, used = lines + int(used // width_mm), used % width_mm  # a word too long breaks
        return lines * size * MM_PER_PT * self._line_height(setting)

    def strip_label_mm(self, row: RackLine, setting: Setting) -> float:
        """About how high a label of a gauge strip is: its level, and whom it is for."""
        sizes, margin = setting.sizes, self.tokens["space"]["margin"]
        level = sizes.body if row.line.kind == "line" else sizes.minor
        high = level * MM_PER_PT * self._line_height(setting) + STRIP_PADDING_MM
        width = setting.stock.width_mm - STRIP_LEFT_MM - margin
        return high + (
            self._label_mm(" · ".join(row.drinks), width, setting) if row.drinks else 0.0
        )

    def _gauge(
        self, lines: Sequence[GaugeLine], floor_mm: float, setting: Setting, classes: Classes,
        ink: str,
    ) -> dict[str, Any]:  # fmt: skip
        width = self._gauge_mm(setting.sizes) - _LABELS_MM - 1.5
        margin, height = self.tokens["space"]["margin"], setting.stock.height_mm
        heights = [
            self._label_mm(line.label, width, setting, line.kind == "line") for line in lines
        ]
        border = setting.pouch_border_mm
        low, high = margin, height - margin
        marks = place_marks(lines, heights, height, border, low, high)
        use_top = free_top_mm(marks, USE_MM, low, high)
        if use_top is None:
            use_top = low
            marks = place_marks(lines, heights, height, border, low + USE_MM, high)
        labels = _stacked(
            [
                (mark.line.label, mark.label_y_mm, mark.label_mm, mark.line.kind == "line")
                for mark in marks
            ],
            classes,
        )
        return {
            "uri": gauge_picture(marks, floor_mm, height, ink, border),
            "labels": labels,
            "use": classes(f"top:{use_top:.1f}mm"),
        }

    def _strip(
        self, section: Section, setting: Setting, classes: Classes, ink: str
    ) -> dict[str, Any]:
        """A gauge strip's labels stand where they are as high as they were once laid out."""
        view = section.view
        assert isinstance(view, GaugeStripView)
        height = setting.stock.height_mm
        heights = section.label_heights_mm or (0.0,) * len(view.rows)
        top, bottom = section.room_mm or (0.0, height)
        marks = place_marks(
            [row.line for row in view.rows], heights, height, setting.pouch_border_mm, top, bottom
        )
        rows = {row.line: (place, row) for place, row in enumerate(view.rows)}
        labels = []
        for mark in marks:
            place, row = rows[mark.line]
            # Until it was laid out, from the top: an end of the page would cut it.
            at = mark.label_y_mm - mark.label_mm / 2 if section.label_heights_mm else 0.0
            labels.append({"row": row, "number": place, "place": classes(f"top:{at:.1f}mm")})
        # Leaders end at the first line of a label, which says the level.
        line = setting.sizes.body * MM_PER_PT * self._line_height(setting)
        marks = tuple(
            replace(mark, label_y_mm=mark.label_y_mm - (mark.label_mm - line) / 2) for mark in marks
        )
        floor = view.gauge_floor_mm
        picture = gauge_picture(marks, floor, height, ink, setting.pouch_border_mm)
        return {"uri": picture, "labels": labels}

    def _cup(
        self, drawing: CupDrawing, room_mm: tuple[float, float, float], setting: Setting,
        classes: Classes, ink: str,
    ) -> dict[str, Any]:  # fmt: skip
        """A cup no wider and higher than the room, whose third figure is that of the labels."""
        sizes, (width_mm, height_mm, beside_mm) = setting.sizes, room_mm

        def label_mm(text: str) -> float:
            return self._label_mm(text, beside_mm, setting, bold=True)

        cup = drawn_cup(
            drawing, width_mm, height_mm, ink, label_mm,
            lambda text: advance_mm(text, sizes.minor, among=self.faces),
        )  # fmt: skip
        return _placed(cup, label_mm, beside_mm, classes)

    def _true_cup(
        self, view: CupView, setting: Setting, classes: Classes, ink: str
    ) -> dict[str, Any]:
        """The cup of a view as large as it is, its labels in what the page leaves beside it."""
        wide_mm = max(width for _, width in view.drawing.outline_mm) + LEADER_IN_CUP_MM
        margin_mm = self.tokens["space"]["margin"]
        beside_mm = setting.stock.width_mm - 2 * margin_mm - wide_mm - 3 * BESIDE_CUP_MM
        text_mm = beside_mm - CUP_LABEL_MM

        def label_mm(row: RackLine) -> float:
            size_pt = setting.sizes.body if row.line.kind == "line" else setting.sizes.minor
            head, drinks = f"{row.line.label} · {row.height}", " · ".join(row.drinks)
            high = self._label_mm(head, text_mm, setting, True, size_pt) + STRIP_PADDING_MM
            return high + (self._label_mm(drinks, text_mm, setting) if drinks else 0.0)

        heights = {row.line.label: label_mm(row) for row in view.rows}
        lines = tuple(line for line in view.drawing.lines if line.label in heights)
        drawing = replace(view.drawing, lines=lines)
        cup = cup_at_true_size(drawing, ink, heights.__getitem__)
        return _placed(cup, heights.__getitem__, beside_mm, classes)


def _placed(
    cup: DrawnCup, label_mm: Callable[[str], float], beside_mm: float, classes: Classes
) -> dict[str, Any]:
    """A drawn cup and its labels as a template places them."""
    across = cup.width_mm - LEADER_IN_CUP_MM
    inside = None
    if cup.inside:
        top = cup.inside.label_y_mm - label_mm("") / 2
        inside = _Label(cup.inside.text, classes(f"width:{across:.1f}mm;top:{top:.1f}mm"))
    labels = _stacked(
        [(at.text, at.label_y_mm, label_mm(at.text), at.bold) for at in cup.labels], classes
    )
    size = f"width:{cup.width_mm:.2f}mm;height:{cup.height_mm:.2f}mm"
    left_mm = cup.width_mm + BESIDE_CUP_MM
    return {
        "uri": cup.picture,
        "above": cup.above,
        "below": cup.below,
        "inside": inside,
        "labels": labels,
        "beside": classes(f"left:{left_mm:.1f}mm;width:{beside_mm:g}mm"),
        "place": classes(f"height:{cup.height_mm:.2f}mm"),
        "size": classes(f"display:block;{size}"),
        "names": classes(f"width:{across:.1f}mm"),
    }


MOST_NAMED = 5  # so many cards are all named on each of them; common practice, no source


def _where(section: Section, words: Callable[..., str]) -> str:
    """Which rows stand on this card of several, and on which card the others are; of many cards the
    one before and the one after are named."""
    if not section.spans:
        return ""

    def rows(part: int) -> str:
        return " – ".join(dict.fromkeys(section.spans[part - 1]))

    said = [words("part_here", rows=rows(section.part))]
    many = section.parts > MOST_NAMED
    near = (section.part - 1, section.part + 1) if many else range(1, section.parts + 1)
    said += [
        words("part_there", part=part, rows=rows(part))
        for part in near
        if part != section.part and 0 < part <= section.parts
    ]
    return " · ".join([*said, words("part_order")] if many else said)


def _card(view: View) -> View:
    """What a template is given of a view."""
    return as_printed(view) if isinstance(view, StationCardView) else view


@dataclass(frozen=True, slots=True)
class _Sign:
    """A station's mark: its name, its letter, and the class that draws it."""

    name: str
    letter: str
    css: str


@dataclass(frozen=True, slots=True)
class _Label:
    """A text on a picture: the class that places it, and whether it is set bold."""

    text: str
    place: str
    strong: bool = False


def _stacked(labels: Sequence[tuple[str, float, float, bool]], classes: Classes) -> list[_Label]:
    """Labels (text, middle, height, bold) one under the other, each led to its place by the gap
    before it: one positioned box for all takes the engine a fifth of the time of one for each."""
    bottom, placed = 0.0, []
    for text, middle, height, bold in labels:
        gap = round(middle - height / 2 - bottom, 1)
        bottom += gap + height
        placed.append(_Label(text, classes(f"margin-top:{gap:.1f}mm;height:{height:.2f}mm"), bold))
    return placed


def _sign(mark: StationMark, classes: Classes) -> _Sign:
    picture = station_shape(mark.shape, mark.accent)
    drawn = classes(f"color:{mark.ink};background-image:url({picture})")
    return _Sign(mark.name, mark.letter, drawn)


@lru_cache(maxsize=8)
def maker(layouts: Layouts) -> Maker:
    """The maker for these layouts. Raises what a shop's own template may raise."""
    return Maker(layouts)


# A number keeps what it counts beside it ("days", "scoops", "ladles"); nobody should read "240" at
# the end of a line. Words up to seven letters are taken to be what is counted.
_COUNTED = re.compile(r"(?<!\w)(\(?[\d.,½¼¾⅓⅔]*[\d½¼¾⅓⅔]) (?=\S{1,7}(?:[.,;:)]|\s|$))")


def glued(value: Any) -> Any:
    """A text whose numbers keep their units, and dots the word before them, on one line."""
    if type(value) is not str:
        return value
    if " " in value:
        value = _COUNTED.sub("\\1\u00a0", value).replace(" ·", "\u00a0·")
    return parted(value)


def unbroken(text: str) -> list[str]:
    """The pieces of a text that no line break parts."""
    return [piece for piece in str(glued(text)).split(" ") if piece]


def _groups(items: Iterable[Any], name: str) -> list[tuple[Any, list[Any]]]:
    """Items under the value of an attribute, both in the order they come in."""
    groups: dict[Any, list[Any]] = {}
    for item in items:
        groups.setdefault(getattr(item, name), []).append(item)
    return list(groups.items())
