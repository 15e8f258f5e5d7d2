"""A folder of finished files in; a list of their digests, and what differs from it later, out."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding
from buildsheets.print.files import write_whole
from buildsheets.print.versions import engine_versions, tool_version

NAME = "manifest.json"
FORMAT = 1


def manifest(
    files: Mapping[str, bytes],
    edition: str,
    menu_digest: str = "",
    inputs: str = "",
    drafts: int = 0,
    warnings: str = "",
) -> bytes:
    """The manifest of ``files`` (path within the folder, content): the same bytes every time.

    ``drafts`` is how many of the cards in them are drafts; ``warnings`` is what was said of making
    them, to be said again where they are not made anew.
    """
    content = {
        "format": FORMAT,
        "edition": edition,
        "menu": menu_digest,
        "inputs": inputs,
        "drafts": drafts,
        **({"warnings": warnings} if warnings else {}),
        "made_with": {"buildsheets": tool_version(), **engine_versions()},
        "files": {
            path: {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
            for path, data in files.items()
        },
    }
    return (json.dumps(content, indent=1, sort_keys=True, ensure_ascii=False) + "\n").encode()


def write_folder(
    out: Path,
    files: Mapping[str, bytes],
    edition: str,
    menu_digest: str = "",
    inputs: str = "",
    drafts: int = 0,
    warnings: str = "",
) -> list[str]:
    """Write the files and then their manifest, each whole; unchanged ones are left alone.

    Files of the manifest before that are no longer made are removed; files it did not list are
    not touched. Returns the paths that were written, the manifest aside.
    """
    before = _read(out / NAME)
    written = []
    for path in sorted(files):  # one at a time is read: together they may be more than fits
        target, data = out / path, files[path]
        if target.is_file() and target.read_bytes() == data:
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        write_whole(target, data)
        written.append(path)
    for path in sorted(set((before or {}).get("files", {})) - files.keys()):
        # A manifest is a file like others: a path in it may lead out of the folder.
        if (out / path).resolve().is_relative_to(out.resolve()):
            (out / path).unlink(missing_ok=True)
    write_whole(out / NAME, manifest(files, edition, menu_digest, inputs, drafts, warnings))
    return written


def drafts_in(folder: Path, edition: str = "") -> int:
    """How many cards in the folder's files are drafts, of ``edition`` where one is named."""
    built = _read(folder / NAME) or {}
    drafts = built.get("drafts", 0)  # those printed by an older version do not say
    if not isinstance(drafts, int) or edition not in ("", built.get("edition")):
        return 0
    return drafts


def warnings_in(folder: Path) -> str:
    """What was said of making the folder's files."""
    return str((_read(folder / NAME) or {}).get("warnings", ""))


def remove(folder: Path) -> None:
    """Remove what was built into the folder, and the folder where nothing else is in it. A file
    that is no longer as it was built is somebody's own and stays."""
    built = _read(folder / NAME) or {}
    for path, kept in built.get("files", {}).items():
        target = folder / path
        if (
            target.resolve().is_relative_to(folder.resolve())
            and target.is_file()
            and hashlib.sha256(target.read_bytes()).hexdigest() == kept["sha256"]
        ):
            target.unlink()
    (folder / NAME).unlink(missing_ok=True)
    below = [path for path in folder.rglob("*") if path.is_dir() and not path.is_symlink()]
    for path in [*sorted(below, reverse=True), folder]:
        if not any(path.iterdir()):
            path.rmdir()


def unchanged(out: Path, inputs: str) -> bool:
    """Whether the folder holds, whole and untouched, what a run on ``inputs`` would make.

    ``inputs`` is :func:`buildsheets.print.inputs.inputs_digest`. A run on the same inputs need
    then do nothing at all, not even figure the menu.
    """
    built = _read(out / NAME)
    return built is not None and built.get("inputs") == inputs and not check(out)


def check(out: Path) -> list[Finding]:
    """Findings for files that are missing, differ from the manifest, or are not in it."""
    built = _read(out / NAME)
    if built is None:
        message = f"{out / NAME} is missing or cannot be read"
        return [finding("OUT01", None, message, hint="build the cards again")]
    found = []
    for path, kept in sorted(built["files"].items()):
        target = out / path
        if not target.is_file():
            found.append(finding("OUT02", None, f"{path} is missing from {out}"))
        elif hashlib.sha256(target.read_bytes()).hexdigest() != kept["sha256"]:
            message = f"{path} is not the file that was built: its digest differs"
            hint = "do not print it; build the cards again"
            found.append(finding("OUT03", None, message, hint=hint))
    for target in sorted(out.rglob("*")):
        path = target.relative_to(out).as_posix()
        hidden = any(part.startswith(".") for part in target.relative_to(out).parts)
        if target.is_file() and not hidden and path not in built["files"] and path != NAME:
            message = f"{path} is in {out} but was not built with the other files"
            found.append(finding("OUT04", None, message, hint="it may be an old card: remove it"))
    return found


def _read(path: Path) -> dict[str, Any] | None:
    try:
        built = json.loads(path.read_bytes())
        sound = built["format"] == FORMAT and all(
            isinstance(file["sha256"], str) for file in built["files"].values()
        )
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return None
    return dict(built) if sound else None
