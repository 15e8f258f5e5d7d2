"""Text in; a QR code as a bitmap of one pixel a module, and its printed size, out."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

# ISO/IEC 18004: four modules of quiet zone on every side.
QUIET_MODULES = 4
# common practice, no source: finer modules than this suffer from laminate glare and smudges.
MIN_MODULE_MM = 0.4
# Version 6 (41 modules) is as much as a card foot can take: 106 bytes at level M (ISO 18004).
MAX_VERSION = 6


class PayloadTooLong(ValueError):
    """The text needs a larger code than a card foot can hold."""


@dataclass(frozen=True, slots=True)
class QrCode:
    """A QR code: its rows, a bit a module (0 dark), each padded to whole bytes; modules a side with
    the quiet zone; a module's printed side in mm."""

    rows: bytes
    modules: int
    module_mm: float

    @property
    def side_mm(self) -> float:
        """Side of the printed picture, quiet zone included."""
        return self.modules * self.module_mm

    @property
    def data_uri(self) -> str:
        """As the data address of a PNG picture."""
        from PIL import Image

        buffer = io.BytesIO()
        Image.frombytes("1", (self.modules, self.modules), self.rows).save(buffer, "PNG")
        return f"data:image/png;base64,{base64.b64encode(buffer.getvalue()).decode('ascii')}"


@lru_cache(maxsize=2048)
def qr_code(payload: str, module_mm: float = MIN_MODULE_MM) -> QrCode:
    """The code for ``payload`` at error level M, in the mask ISO/IEC 18004 scores best.

    Raises ``PayloadTooLong`` beyond version 6 and ``ValueError`` for modules under 0.4 mm.
    """
    if module_mm < MIN_MODULE_MM:
        raise ValueError(f"QR module of {module_mm} mm is under {MIN_MODULE_MM} mm")
    import zxingcpp

    code = zxingcpp.create_barcode(payload, zxingcpp.BarcodeFormat.QRCode, ec_level="M")
    image: Any = code.to_image(scale=1, add_quiet_zones=True)
    picture, side = memoryview(image), int(image.shape[0])
    version = (side - 2 * QUIET_MODULES - 17) // 4
    if version > MAX_VERSION:
        raise PayloadTooLong(
            f"QR payload of {len(payload.encode())} bytes needs version {version}; "
            f"a card foot holds version {MAX_VERSION}"
        )
    bits, spare = picture.tobytes().translate(_BITS), b"0" * (-side % 8)
    rows = (int(bits[at : at + side] + spare, 2) for at in range(0, side * side, side))
    packed = b"".join(row.to_bytes((side + 7) // 8, "big") for row in rows)
    return QrCode(packed, side, module_mm)


_BITS = b"0" * 128 + b"1" * 128  # a grey level as the digit of a light or a dark module
