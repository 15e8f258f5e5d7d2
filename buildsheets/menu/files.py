"""Menu files on disk: a path goes in, the texts of its files and findings come out."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Source, Span
from buildsheets.findings.spelling import listed, nearest

# A menu of a hundred drinks takes some 100 kB; these bounds only keep accidents out.
MAX_FILE_BYTES = 2_000_000
MAX_FILES = 200
MAX_MENU_BYTES = 10_000_000
MAX_BAD_BYTES_REPORTED = 5

WATCH_S = 0.1
"""How long a menu's files are left alone between two looks at them, which take some 1 ms."""

SETTLE_S = 0.03
"""A file that is being saved is cut short for less; common practice, no source."""

STDIN = "stdin"
SUFFIXES = (".yaml", ".yml")

BEGIN = "`buildsheets new` begins a menu"
"""What every message says that finds no menu."""


def own_layouts(menu: Path) -> Path:
    """Where a shop's own layouts are, if it has any: in the folder, or beside the file, of the
    menu."""
    return (menu if menu.is_dir() else menu.parent) / "layouts"


def shipped_root() -> Path:
    """The shipped layouts: inside an installed package, else beside it in a checkout."""
    package = Path(__file__).parent.parent
    inside = package / "_layouts"
    return inside if inside.is_dir() else package.parent / "layouts"


def load_sources(path: str | Path) -> tuple[dict[str, Source], list[Finding]]:
    """Read a menu file, or every ``.yaml`` and ``.yml`` file right in a folder, by name.

    ``-`` is standard input. Hidden files and folders within are left out. Files keep the name they
    are given here in all findings: relative to the working folder where they lie in it. Never
    raises for what it finds on disk.
    """
    path = Path(path)
    findings: list[Finding] = []
    sources: dict[str, Source] = {}
    if str(path) == "-":
        text = _text_of(STDIN, standard_input(), findings)
        return ({STDIN: Source(STDIN, text)} if text is not None else {}), findings
    left = MAX_MENU_BYTES
    for file in _menu_files(path, findings):
        text = _read_text(file, findings)
        if text is None:
            continue
        name, left = _name(file), left - len(text)
        if left < 0:
            message = f"the files up to {name} are larger than the {MAX_MENU_BYTES} bytes read"
            findings.append(finding("TXT04", None, message))
            break
        sources[name] = Source(name, text)
    return sources, findings


def watched(
    path: Path, wait: Callable[[float], bool | None] | None = None
) -> Iterator[tuple[dict[str, Source], list[Finding]]]:
    """What :func:`load_sources` gives, now and again after each change, until ``wait``, which waits
    so many seconds as ``time.sleep`` does, says that it is over."""
    seen: tuple[dict[str, Source], list[Finding]] | None = None
    wait = wait or time.sleep
    while True:
        now = load_sources(path)
        if now != seen and not wait(SETTLE_S) and load_sources(path) == now:
            seen = now
            yield now
        if wait(WATCH_S):
            return


@cache
def standard_input() -> bytes:
    """What was piped in, up to what is read of a file; it can be read once, and is asked twice."""
    return sys.stdin.buffer.read(MAX_FILE_BYTES + 1)


def _menu_files(path: Path, findings: list[Finding]) -> list[Path]:
    try:
        if path.is_file():
            return [path]
        if not path.exists():
            findings.append(_missing(path))
            return []
        if not path.is_dir():
            findings.append(finding("TXT02", None, f"{_name(path)} is neither a file nor a folder"))
            return []
        visible = sorted(file for file in path.iterdir() if not file.name.startswith("."))
    except (OSError, ValueError) as error:
        findings.append(_unreadable(path, error))
        return []
    files = [file for file in visible if file.suffix.lower() in SUFFIXES and not file.is_dir()]
    if not files:
        others = [file.name for file in visible[:5]]
        message = f"the folder {_name(path)} has no .yaml or .yml file; {BEGIN}"
        hint = f"It holds {listed(others, 'and')}." if others else "It is empty."
        findings.append(finding("TXT03", None, message, hint))
    if len(files) > MAX_FILES:
        message = f"the folder {_name(path)} has {len(files)} menu files; {MAX_FILES} are read"
        findings.append(finding("TXT04", None, message))
    return files[:MAX_FILES]


def _missing(path: Path) -> Finding:
    parent = path.parent
    try:
        beside = sorted(entry.name for entry in parent.iterdir() if entry.name[:1] != ".")
    except OSError:
        beside = []
    near = nearest(path.name, beside, count=2)
    hint = f"Did you mean {listed(_name(parent / name) for name in near)}?" if near else ""
    return finding("TXT01", None, f"there is no file or folder {_name(path)}; {BEGIN}", hint)


def _unreadable(path: Path, error: Exception) -> Finding:
    reason = getattr(error, "strerror", None) or str(error)
    return finding("TXT02", None, f"{_name(path)} cannot be read: {reason}")


def _name(path: Path) -> str:
    """The path relative to the working folder where it lies in it; with forward slashes."""
    here = Path.cwd()
    absolute = Path(os.path.abspath(path))
    return (absolute.relative_to(here) if absolute.is_relative_to(here) else path).as_posix()


def _read_text(file: Path, findings: list[Finding]) -> str | None:
    try:
        if not file.is_file():
            findings.append(finding("TXT02", None, f"{_name(file)} is not an ordinary file"))
            return None
        with file.open("rb") as stream:
            data = stream.read(MAX_FILE_BYTES + 1)
    except OSError as error:
        findings.append(_unreadable(file, error))
        return None
    return _text_of(_name(file), data, findings)


def _text_of(name: str, data: bytes, findings: list[Finding]) -> str | None:
    if len(data) > MAX_FILE_BYTES:
        message = f"{name} is larger than the {MAX_FILE_BYTES} bytes that are read"
        hint = "Check that it is a menu; a long menu can be divided into several files."
        findings.append(finding("TXT04", None, message, hint))
        return None
    return decode_text(name, data, findings)


def decode_text(name: str, data: bytes, findings: list[Finding]) -> str | None:
    """The text of a file's bytes; bytes that are not UTF-8 are reported and become U+FFFD.

    None for UTF-16, where every byte would be a finding.
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff", b"\0\0\xfe\xff")) or b"\0" in data[:4]:
        message = f"{name} is not saved as UTF-8 (it looks like UTF-16)"
        hint = "Save it with the encoding UTF-8."
        findings.append(finding("TXT05", Span(name, 1, 1, 1, 1), message, hint))
        return None
    text, rest, bad = "", data.removeprefix(b"\xef\xbb\xbf"), 0
    while True:
        try:
            return text + rest.decode()
        except UnicodeDecodeError as error:
            text += rest[: error.start].decode()
            bad += 1
            if bad > MAX_BAD_BYTES_REPORTED:
                more = "and there are more bytes that are not UTF-8, starting with"
                findings.append(_bad_bytes(name, text, rest[error.start : error.end], more))
                return text + rest[error.start :].decode(errors="replace")
            findings.append(_bad_bytes(name, text, rest[error.start : error.end], "not UTF-8:"))
            text, rest = text + "�", rest[error.end :]


def _bad_bytes(name: str, before: str, bad: bytes, words: str) -> Finding:
    lines = before.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    line, column = len(lines), len(lines[-1]) + 1
    looks_like = bad.decode("cp1252", errors="replace")
    message = f"{words} byte {' '.join(f'0x{byte:02x}' for byte in bad)}"
    hint = f"Save the file as UTF-8; in the encoding Windows-1252 this would be {looks_like}."
    return finding("TXT05", Span(name, line, column, line, column + 1), message, hint)
