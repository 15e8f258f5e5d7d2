"""Nothing in; the versions of the tool and of all that decides how a card comes out, out."""

from __future__ import annotations

import ctypes
import sys
from functools import lru_cache
from importlib import metadata

from buildsheets import __version__

# What decides a card's bytes, beside its view and the layouts.
ENGINES = ("weasyprint", "pydyf", "tinycss2", "jinja2", "fonttools", "pikepdf", "qrcode", "pillow")

_NATIVE = {
    "pango": ("pango-1.0", "pango_version_string"),
    "harfbuzz": ("harfbuzz", "hb_version_string"),
}
_FILE_NAMES = {
    "linux": ("lib{}.so.0",),
    "darwin": ("lib{}.0.dylib", "/opt/homebrew/lib/lib{}.0.dylib", "/usr/local/lib/lib{}.0.dylib"),
    "win32": ("lib{}-0.dll",),
}


def tool_version() -> str:
    """This tool's own version."""
    return __version__


@lru_cache(maxsize=1)
def engine_versions() -> dict[str, str]:
    """Versions of the layout engine and what it stands on, asked without importing any of it."""
    packages = {name: _version(name) for name in ENGINES}
    return packages | {name: _native_version(*where) for name, where in _NATIVE.items()}


def _version(package: str) -> str:
    try:
        return metadata.version(package)
    except metadata.PackageNotFoundError:
        return "absent"


def _native_version(library: str, function: str) -> str:
    for name in _FILE_NAMES.get(sys.platform, _FILE_NAMES["linux"]):
        try:
            ask = getattr(ctypes.CDLL(name.format(library)), function)
        except (OSError, AttributeError):
            continue
        ask.restype = ctypes.c_char_p
        return bytes(ask()).decode("ascii", "replace")
    return "unknown"
