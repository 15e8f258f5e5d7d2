"""Pictures: few elements, true sizes, station marks that differ in form."""

from __future__ import annotations

import base64
import io

import pypdfium2
import pytest
from card_samples import CUP
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.print.cup_drawing import drawn_cup
from buildsheets.print.drawing import SHAPES, number, station_shape
from buildsheets.print.engine import lay_out
from buildsheets.print.layouts import Layouts


def source(address: str) -> str:
    return base64.b64decode(address.split(",", 1)[1]).decode()


def test_one_element_a_pen_keeps_the_picture_small() -> None:
    picture = source(drawn_cup(CUP, 40, 60, "#111", lambda _: 3.0, lambda _: 3.0).picture)
    assert picture.count("<path") <= 12
    assert 'width="' in picture


@given(st.floats(-1000, 1000))
def test_numbers_keep_a_thousandth_of_a_millimetre(value: float) -> None:
    assert float(number(value)) == pytest.approx(value, abs=0.00051)
    assert "e" not in number(value)
    assert number(value) != "-0"


def grey(shape: str) -> list[int]:
    html = (
        "<style>@page{size:10mm 10mm;margin:0}body{margin:0}img{display:block;width:10mm}"
        f'</style><img src="{station_shape(shape, "#000000")}" alt=""/>'
    )
    pdf = lay_out(html, "", Layouts(), well_formed=False).pdf()
    image = pypdfium2.PdfDocument(io.BytesIO(pdf))[0].render(scale=4, grayscale=True).to_pil()
    return list(image.convert("L").resize((24, 24)).tobytes())


def test_station_marks_differ_in_form_alone() -> None:
    """A tenth of the mark or more differs between any two, in one colour."""
    drawn = {shape: grey(shape) for shape in SHAPES}
    for first in SHAPES:
        assert sum(value < 128 for value in drawn[first]) > 150
        for second in SHAPES:
            if first < second:
                apart = zip(drawn[first], drawn[second], strict=True)
                assert sum(abs(a - b) > 100 for a, b in apart) > 24, (first, second)
