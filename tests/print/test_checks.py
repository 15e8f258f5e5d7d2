"""What is wrong with a view before it is laid out, and colours against WCAG."""

from __future__ import annotations

from dataclasses import replace

import pytest
import wcag_contrast_ratio
from card_samples import BUILD, PLAIN, SHAKE, STATION, TEA, TOP
from pdf_reading import errors

from buildsheets.print.checks import letters, lost_letters, texts_of
from buildsheets.print.layouts import Layouts
from buildsheets.print.render import Printed, render_pdf
from buildsheets.views.types import Allergens, StationCardView


@pytest.mark.parametrize("char", ["\u2192", "\u2713", "\u2011"])
def test_a_glyph_the_typeface_lacks_is_an_error(char: str) -> None:
    printed = render_pdf([replace(PLAIN, title=f"Ginger {char} tea"), STATION])
    assert errors(printed) == ["CARD01"]
    assert f"U+{ord(char):04X}" in printed.findings[0].message
    assert {page.code for page in printed.pages} == {"ST-P-M"}


def test_undeclared_allergens_are_an_error_never_a_blank() -> None:
    printed = render_pdf([replace(PLAIN, allergens=Allergens((), (), ""))])
    assert errors(printed) == ["CARD16"]
    assert printed.pdf == b""


def test_a_step_at_a_station_the_card_does_not_list_is_an_error() -> None:
    step = replace(PLAIN.steps[0], station="Attic")
    printed = render_pdf([replace(PLAIN, steps=(step, *PLAIN.steps[1:]))])
    assert errors(printed) == ["CARD16"]
    assert "'Attic'" in printed.findings[0].message


def test_stations_are_told_apart_without_colour() -> None:
    alike = replace(BUILD, stations=(TEA, replace(SHAKE, shape="disc"), TOP))
    assert errors(render_pdf([alike])) == ["CARD13"]
    unknown = replace(PLAIN, stations=(replace(TEA, shape="star"),))
    assert errors(render_pdf([unknown])) == ["CARD13"]
    route: StationCardView = replace(STATION, marks=(SHAKE, replace(TEA, shape=SHAKE.shape)))
    assert errors(render_pdf([route])) == ["CARD13"]


def test_pale_accents_are_refused() -> None:
    printed = render_pdf([replace(PLAIN, stations=(replace(TEA, accent="#c8e0d8"),))])
    assert set(errors(printed)) == {"CARD08"}
    assert errors(render_pdf([replace(PLAIN, stations=(replace(TEA, accent="blue"),))])) == [
        "CARD08"
    ]


def test_colours_of_text_reach_the_contrast_asked_for() -> None:
    def ratio(first: str, second: str) -> float:
        return float(wcag_contrast_ratio.rgb(*(
            tuple(int(c[i : i + 2], 16) / 255 for i in (1, 3, 5)) for c in (first, second)
        )))  # fmt: skip

    colours = Layouts().tokens()["colour"]
    for ink in ("ink", "soft"):
        for ground in ("paper", "band"):
            # WCAG 2.2, 1.4.6 (AAA) for all text on both grounds.
            assert ratio(colours[ink], colours[ground]) >= 7
    for mark in (TEA, SHAKE, TOP):
        assert ratio(mark.accent, mark.ink) >= 4.5


def test_lost_letters_are_counted_page_by_page(rendered: Printed) -> None:
    pages = [""] * len(rendered.pages)
    pages[0] = "ROASTED cloud-tea qqqqqqqqqq"
    ((page, missing),) = lost_letters(pages, rendered.pdf)
    assert page == 0
    assert set(missing) == {"q"}
    assert lost_letters([""] * len(rendered.pages), rendered.pdf) == []


def test_letters_leave_out_what_line_breaks_and_capitals_change() -> None:
    assert letters("Milk\u00a0tea,\nso\u00adya-FREE") == "milktea,soyafree"
    assert "#0b5d4e" not in set(texts_of(BUILD))
    assert "Brown sugar syrup" in set(texts_of(BUILD))
