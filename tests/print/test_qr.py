"""QR codes against ISO/IEC 18004 and an independent reader."""

from __future__ import annotations

import base64
import io

import numpy as np
import pypdfium2
import pytest
import segno
import zxingcpp
from PIL import Image

from buildsheets.print.qr import (
    MASK,
    MAX_VERSION,
    MIN_MODULE_MM,
    QUIET_MODULES,
    PayloadTooLong,
    QrCode,
    qr_code,
)
from buildsheets.print.render import Printed


def pixels(code: QrCode) -> np.ndarray:
    """The picture's own pixels, True where dark."""
    raw = base64.b64decode(code.data_uri.split(",", 1)[1])
    return ~np.asarray(Image.open(io.BytesIO(raw)).convert("1"))


def test_one_pixel_a_module_with_quiet_zone() -> None:
    code = qr_code("TRK/RCT-M/4/2026-3")
    dark = pixels(code)
    assert dark.shape == (code.modules, code.modules)
    # ISO/IEC 18004: four light modules on every side, side 4 v + 17.
    edge = QUIET_MODULES
    assert edge == 4
    inside = dark[edge:-edge, edge:-edge]
    assert dark.sum() == inside.sum()
    assert (inside.shape[0] - 17) % 4 == 0
    assert inside[0].any()
    assert inside[:, 0].any()
    assert code.module_mm >= 0.4


@pytest.mark.parametrize("payload", ["x" * 106, "a" * 14, "TRK/RCT-M/4/2026-3"])
def test_version_is_the_smallest_that_holds_the_payload(payload: str) -> None:
    # ISO/IEC 18004 table 7: 106 bytes fit version 6 at level M; segno is an independent encoder.
    theirs = segno.make_qr(payload, error="m", boost_error=False)
    assert qr_code(payload).modules == theirs.symbol_size(border=QUIET_MODULES)[0]


def test_a_longer_payload_is_refused() -> None:
    assert MAX_VERSION == 6
    with pytest.raises(PayloadTooLong, match="107 bytes"):
        qr_code("x" * 107)
    with pytest.raises(ValueError, match="under"):
        qr_code("x", MIN_MODULE_MM - 0.01)


@pytest.mark.slow
def test_printed_codes_read_from_a_150_dpi_raster(
    rendered: Printed, document: pypdfium2.PdfDocument
) -> None:
    expected = ["TRK/RCT-M/4/2026-3", "TRK/RCT-M/4/2026-3", "TRK/GBT-S/1/2026-3"]
    expected.append("TRK/ST-P-M/2/2026-3")
    for number, payload in enumerate(expected):
        image = document[number].render(scale=150 / 72).to_pil()
        assert [found.text for found in zxingcpp.read_barcodes(image)] == [payload]


@pytest.mark.parametrize("payload", ["x" * 106, "TRK/RCT-M/4/2026-3"])
def test_modules_are_those_of_another_encoder(payload: str) -> None:
    # Of one mode throughout, so that ISO/IEC 18004 leaves no choice but the mask.
    edge = QUIET_MODULES
    segnos = segno.make_qr(payload, error="m", boost_error=False, mask=MASK)
    theirs = np.array(segnos.matrix, dtype=bool)
    assert (pixels(qr_code(payload))[edge:-edge, edge:-edge] == theirs).all()
