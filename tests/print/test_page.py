"""Texts in place, as elements: nothing of them lost, each letter in its look and size."""

from __future__ import annotations

from html.parser import HTMLParser

from buildsheets.print.legibility import Run
from buildsheets.print.page import STEP_MM, ClassNames, zone_html
from buildsheets.print.plan import Text
from hypothesis import given
from hypothesis import strategies as st

runs = st.builds(
    Run,
    st.text("ab\t &<", min_size=1, max_size=4),
    st.booleans(),
    st.sampled_from([0.0, 9.0, 14.0]),
)
lines = st.lists(runs, min_size=1, max_size=3).map(tuple)
texts = st.builds(
    Text,
    kind=st.sampled_from(["what", "title"]),
    x_mm=st.floats(0, 90),
    y_mm=st.floats(0, 200),
    width_mm=st.floats(10, 90),
    points=st.just(11.0),
    leading=st.just(1.2),
    lines=st.lists(lines, min_size=1, max_size=3).map(tuple),
    align=st.sampled_from(["left", "right", "center"]),
    ink=st.just(""),
    tab_mm=st.just(0.0),
)


class Reader(HTMLParser):
    """Every letter with the declarations that reach it, and each box's own."""

    def __init__(self, names: ClassNames) -> None:
        super().__init__()
        self.rules = dict(rule[1:-1].split("{") for rule in names.rules)
        self.open: list[dict[str, str]] = []
        self.boxes: list[dict[str, str]] = []
        self.letters: list[list[tuple[str, bool, str]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = ";".join(self.rules.get(c, "") for c in (dict(attrs).get("class") or "").split())
        own = dict(one.split(":") for one in told.split(";") if one)
        if len(self.open) == 1:
            self.boxes.append(own)
            self.letters.append([])
        weight = {"font-weight": "700"} if tag in ("b", "h1") else {}
        self.open.append((self.open[-1] if self.open else {}) | weight | own)

    def handle_endtag(self, tag: str) -> None:
        self.open.pop()

    def handle_data(self, data: str) -> None:
        look = self.open[-1]
        for letter in data:
            size = look["font-size"]
            self.letters[-1].append((letter, look.get("font-weight") == "700", size))


def read(zone: list[Text]) -> Reader:
    names = ClassNames()
    html = zone_html(zone, names)
    reader = Reader(names)
    reader.feed(html)
    reader.close()
    return reader


@given(texts)
def test_every_letter_stands_there_once_in_its_look(text: Text) -> None:
    """Tabs and line ends have no look, and may take a neighbour's weight."""
    (found,) = read([text]).letters
    wanted = [
        (letter, run.bold, f"{run.points or text.points:g}pt")
        for line in text.lines
        for run in line
        for letter in run.text
    ]
    said = "".join(letter for letter, _, _ in found)
    assert said == "\n".join("".join(run.text for run in line) for line in text.lines)
    inked = [(x, b, p) for x, b, p in found if x not in "\n\t"]
    if text.kind == "title":  # bold as a whole
        inked = [(x, True, p) for x, _, p in inked]
        wanted = [(x, True, p) for x, _, p in wanted]
    assert inked == [one for one in wanted if one[0] not in "\t"]


@given(texts)
def test_a_line_end_never_makes_a_small_line_as_high_as_a_large_one(text: Text) -> None:
    (found,) = read([text]).letters
    for place, (letter, _, size) in enumerate(found):
        if letter == "\n" and size != f"{text.points:g}pt":
            beside = found[place - 1], found[place + 1]
            assert {size} == {one for _, _, one in beside}


@given(st.lists(texts, min_size=1, max_size=6))
def test_gaps_lead_every_text_to_its_place(zone: list[Text]) -> None:
    """Each box begins a gap below the end of the one before; what is rounded does not add up."""
    bottom = 0.0
    for text, box in zip(zone, read(zone).boxes, strict=True):
        top = bottom + float(box["margin-top"].removesuffix("mm"))
        assert abs(top - text.y_mm) <= STEP_MM / 2 + 1e-6
        bottom = top + text.height_mm


@given(texts)
def test_texts_keep_left_right_and_middle(text: Text) -> None:
    (box,) = read([text]).boxes
    left = float(box.get("margin-left", "0mm").removesuffix("mm"))
    width = box.get("width")
    if text.align == "left":
        assert width is None
        assert abs(left - text.x_mm) <= STEP_MM / 2 + 1e-6
    else:
        right = left + float((width or "0mm").removesuffix("mm"))
        assert box["text-align"] == text.align
        assert abs(right - text.x_mm - text.width_mm) <= STEP_MM / 2 + 1e-6
        assert text.align == "right" or abs(left - text.x_mm) <= STEP_MM / 2 + 1e-6
    size = float(box["font-size"].removesuffix("pt"))
    assert abs(float(box["line-height"].removesuffix("pt")) - size * text.leading) <= 0.001


def test_no_texts_no_zone() -> None:
    assert zone_html([], ClassNames()) == ""
