"""The manifest finds every file that is not as it was built, and nothing else."""

from __future__ import annotations

import hashlib
import json
import tracemalloc
from pathlib import Path

import pytest
from edition_samples import codes_of
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.ledger.manifest import NAME, check, drafts_in, manifest, remove, write_folder
from buildsheets.print.spool import IN_MEMORY_BYTES, Spool

FILES = {"build.pdf": b"%PDF-1", "site/index.html": b"<p>", "site/C/x/index.html": b""}


def test_what_was_built_checks_clean(tmp_path: Path) -> None:
    assert write_folder(tmp_path, FILES, "A26") == sorted(FILES)
    assert check(tmp_path) == []
    told = json.loads((tmp_path / NAME).read_text("utf-8"))
    assert told["files"]["build.pdf"]["sha256"] == hashlib.sha256(b"%PDF-1").hexdigest()
    assert told["edition"] == "A26"


def test_a_second_build_writes_only_what_changed_and_removes_what_it_no_longer_makes(
    tmp_path: Path,
) -> None:
    write_folder(tmp_path, FILES, "A26")
    (tmp_path / "notes.txt").write_text("mine", "utf-8")
    rest = {"build.pdf": b"%PDF-2", "site/index.html": b"<p>"}
    assert write_folder(tmp_path, rest, "A26") == ["build.pdf"]
    assert not (tmp_path / "site/C/x/index.html").exists()
    assert (tmp_path / "notes.txt").read_text("utf-8") == "mine"
    assert codes_of(check(tmp_path)) == ["OUT04"]


def test_files_that_are_held_on_disk_are_written_one_at_a_time(tmp_path: Path) -> None:
    one, files = IN_MEMORY_BYTES // 2, Spool(bytes)
    for number in range(8):
        files.put(f"{number}.pdf", bytes(one))
    tracemalloc.start()
    try:
        write_folder(tmp_path, files, "A26")
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 4 * one


@pytest.mark.parametrize("path", sorted(FILES))
def test_every_change_is_found(tmp_path: Path, path: str) -> None:
    write_folder(tmp_path, FILES, "A26")
    (tmp_path / path).write_bytes(FILES[path] + b" ")
    assert codes_of(check(tmp_path)) == ["OUT03"]
    (tmp_path / path).unlink()
    assert codes_of(check(tmp_path)) == ["OUT02"]


@given(st.binary(max_size=60) | st.sampled_from([b"[]", b'{"files": 3, "format": 1}', b"{}"]))
def test_a_damaged_manifest_is_one_finding(data: bytes) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / NAME).write_bytes(data)
        assert codes_of(check(Path(folder))) == ["OUT01"]
        write_folder(Path(folder), FILES, "A26")
        assert check(Path(folder)) == []


def test_a_manifest_that_points_outside_removes_nothing_there(tmp_path: Path) -> None:
    outside = tmp_path / "keep.txt"
    outside.write_text("mine", "utf-8")
    out = tmp_path / "out"
    out.mkdir()
    told = json.loads(manifest({"../keep.txt": b"x"}, "A26"))
    (out / NAME).write_text(json.dumps(told), "utf-8")
    remove(out)
    assert outside.read_text("utf-8") == "mine"
    out.mkdir()
    (out / NAME).write_text(json.dumps(told), "utf-8")
    write_folder(out, FILES, "A26")
    assert outside.read_text("utf-8") == "mine"


def test_what_was_built_is_removed_and_nothing_that_somebody_made_of_it(tmp_path: Path) -> None:
    out = tmp_path / "A26"
    write_folder(out, FILES, "A26", drafts=3)
    assert (drafts_in(out), drafts_in(out, "A26"), drafts_in(out, "W26")) == (3, 3, 0)
    remove(out)
    assert list(tmp_path.iterdir()) == []
    write_folder(out, FILES, "A26")
    assert drafts_in(out) == 0
    (out / "site/index.html").write_text("changed by hand", "utf-8")
    (out / "notes.txt").write_text("mine", "utf-8")
    remove(out)
    left = sorted(path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file())
    assert left == ["notes.txt", "site/index.html"]


@pytest.mark.parametrize("drafts", [None, "x", [1]])
def test_a_manifest_that_does_not_count_drafts_has_none(drafts: object, tmp_path: Path) -> None:
    """As those of an older version, which did not say."""
    told = json.loads(manifest(FILES, "A26")) | {"drafts": drafts}
    (tmp_path / NAME).write_text(json.dumps(told), "utf-8")
    assert drafts_in(tmp_path) == 0


def test_the_same_files_give_the_same_bytes() -> None:
    assert manifest(FILES, "A26") == manifest(dict(reversed(FILES.items())), "A26")


def test_a_manifest_of_brackets_is_no_manifest(tmp_path: Path) -> None:
    (tmp_path / "manifest.json").write_text("[" * 100_000)
    assert [one.code for one in check(tmp_path)] == ["OUT01"]
