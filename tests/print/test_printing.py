"""Printing through the cache: same bytes whatever was kept and whoever renders; shared fonts."""

from __future__ import annotations

import hashlib
import io
import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pikepdf
import pypdfium2
import pytest
from edition_samples import kiosk
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.print import inputs, printing
from buildsheets.print.cache import Cache
from buildsheets.print.parts import Kept
from buildsheets.print.printing import Press, base_digest, card_key, print_files, render_all
from buildsheets.print.render import Printed, RenderOptions, render_cards, render_pdf
from buildsheets.views.card import Card
from buildsheets.views.types import View

OPTIONS = RenderOptions(title="Cards", author="Lantern Kiosk", edition="A26", language="en")


def printed(cards: Sequence[Card], **press: Any) -> Printed:
    return print_files({"all": cards}, Press(OPTIONS, **press))[0]["all"]


@pytest.fixture(scope="module")
def cold() -> Printed:
    return printed(kiosk(), workers=1)


def test_a_page_a_card_with_metadata_bookmarks_and_no_scaling(cold: Printed) -> None:
    assert not [f for f in cold.findings if f.severity == "error"]
    assert len(cold.pages) == 5
    with pikepdf.open(io.BytesIO(cold.pdf)) as pdf, pdf.open_outline() as outline:
        assert len(pdf.pages) == 5
        assert pdf.Root.ViewerPreferences.PrintScaling == "/None"
        assert str(pdf.Root.Lang) == "en"
        assert str(pdf.docinfo["/Author"]) == "Lantern Kiosk"
        assert [item.title.split()[0] for item in outline.root] == [p.code for p in cold.pages]


def test_a_file_is_marked_with_the_language_of_its_cards() -> None:
    cards = [Card(replace(card.key, language="es"), card.view) for card in kiosk(1)[:1]]
    with pikepdf.open(io.BytesIO(printed(cards, workers=1).pdf)) as pdf:
        assert str(pdf.Root.Lang) == "es"


def test_pages_look_and_read_as_the_engine_made_them(cold: Printed) -> None:
    direct = render_pdf([card.view for card in kiosk()], OPTIONS)  # type: ignore[misc]
    ours, engines = pypdfium2.PdfDocument(cold.pdf), pypdfium2.PdfDocument(direct.pdf)
    for mine, engine in zip(ours, engines, strict=True):
        assert (
            mine.render(scale=2).to_numpy().tobytes() == engine.render(scale=2).to_numpy().tobytes()
        )
        text = mine.get_textpage().get_text_range()
        assert text.replace("\xa0", " ") == engine.get_textpage().get_text_range().replace(
            "\xa0", " "
        )
        assert "tea" in text


def test_bytes_do_not_depend_on_workers_chunks_or_what_was_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, cold: Printed
) -> None:
    cache = Cache(tmp_path)
    printed(kiosk(edited=2), cache=cache)
    assert printed(kiosk(), cache=cache).pdf == cold.pdf  # one card anew, four kept
    assert printed(kiosk(), cache=cache) == cold  # the whole file kept
    monkeypatch.setattr(printing, "MOST_CARDS", 2)
    assert printed(kiosk(), workers=2).pdf == cold.pdf
    with ThreadPoolExecutor(1) as executor:  # any executor will do
        assert printed(kiosk(), executor=executor).pdf == cold.pdf


@pytest.mark.slow
def test_bytes_are_the_same_in_any_process(cold: Printed) -> None:
    here = Path(__file__).parent
    script = (
        "import hashlib; from edition_samples import kiosk; from test_printing import printed\n"
        "print(hashlib.sha256(printed(kiosk(), workers=1).pdf).hexdigest())"
    )
    for seed, zone, locale in (("0", "Asia/Tokyo", "C"), ("4242", "America/Lima", "C.UTF-8")):
        path = os.pathsep.join((str(here), str(here.parent), str(here.parents[1])))
        environment = os.environ | {
            "PYTHONHASHSEED": seed, "TZ": zone, "LC_ALL": locale, "PYTHONPATH": path,
        }  # fmt: skip
        run = subprocess.run(
            [sys.executable, "-c", script],
            env=environment, capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert run.stdout.strip() == hashlib.sha256(cold.pdf).hexdigest()


@pytest.fixture
def counts(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many cards each job rendered."""
    counted: list[int] = []

    def render(views: Sequence[View], options: RenderOptions, kept: Kept) -> list[Printed]:
        counted.append(len(views))
        return render_cards(views, options, kept)

    monkeypatch.setattr(printing, "render_cards", render)
    return counted


def keyed(cards: Sequence[Card]) -> dict[str, Card]:
    base = base_digest(OPTIONS)
    return {card_key(card, base): card for card in cards}


def test_only_what_is_missing_is_rendered(tmp_path: Path, counts: list[int]) -> None:
    press = Press(OPTIONS, Cache(tmp_path), workers=1)
    for cards in (kiosk(), kiosk(), kiosk(edited=1)):
        render_all(keyed(cards), press)
    assert counts == [5, 1]  # five cards of few letters are one job, the edited one another


def test_jobs_get_shorter_so_that_workers_end_together() -> None:
    """Forty texts of 2,000 letters for two workers: the last job is not what one waits for."""
    chunks = printing._chunks({str(n): 2000 for n in range(40)}, 2)
    assert [key for chunk in chunks for key in chunk] == [str(n) for n in range(40)]
    assert [len(chunk) for chunk in chunks] == [10, 8, 6, 4, 3, 3, 2, 2, 2]
    assert printing._chunks({}, 2) == []


def test_a_run_that_is_broken_off_keeps_what_it_had_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, counts: list[int]
) -> None:
    monkeypatch.setattr(printing, "MOST_CARDS", 2)

    def breaking(done: int, _: int) -> None:
        if done == 4:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        render_all(keyed(kiosk()), Press(OPTIONS, Cache(tmp_path), workers=1, progress=breaking))
    render_all(keyed(kiosk()), Press(OPTIONS, Cache(tmp_path), workers=1))
    assert counts == [2, 2, 2, 1]


def test_a_change_of_layout_font_or_engine_is_another_key(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = base_digest(OPTIONS)
    assert base_digest(replace(OPTIONS, title="Other", author="Other")) == before
    assert base_digest(replace(OPTIONS, pouch_border_mm=4.0)) != before
    (tmp_path / "build").mkdir()
    own = replace(OPTIONS, layouts=tmp_path)
    empty = base_digest(own)
    (tmp_path / "build" / "style.css").write_text(".t{color:#000}", "utf-8")
    assert base_digest(own) != empty
    monkeypatch.setattr(inputs, "engine_versions", lambda: {"weasyprint": "0"})
    assert base_digest(OPTIONS) != before


def test_a_card_that_cannot_be_printed_leaves_the_others_alone(tmp_path: Path) -> None:
    cards = kiosk()
    broken = replace(cards[1].view, title="\u2603 tea")  # type: ignore[type-var]
    cards[1] = Card(cards[1].key, broken)
    result = printed(cards, cache=Cache(tmp_path))
    assert len(result.pages) == 4
    errors = [f for f in result.findings if f.severity == "error"]
    assert {f.subject for f in errors} == {(broken.code,)}
    again = printed(cards, cache=Cache(tmp_path))  # an error is never kept
    assert [f.code for f in again.findings] == [f.code for f in result.findings]


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cache with what a print leaves there."""
    folder = tmp_path_factory.mktemp("filled")
    printed(kiosk(), cache=Cache(folder))
    return folder


@pytest.mark.parametrize("harm", ["cut", "flip", "empty", "swap"])
def test_a_damaged_cache_is_only_slower(
    tmp_path: Path, harm: str, cold: Printed, filled: Path
) -> None:
    shutil.copytree(filled, tmp_path, dirs_exist_ok=True)
    cache = Cache(tmp_path)
    paths = sorted(tmp_path.glob("??/*"))
    assert len(paths) == 6  # five cards and their file
    contents = [path.read_bytes() for path in paths]
    for place, path in enumerate(paths):
        data = contents[place]
        path.write_bytes(
            {
                "cut": data[: len(data) // 2],
                "flip": data[:-9] + bytes([data[-9] ^ 1]) + data[-8:],
                "empty": b"",
                "swap": contents[place - 1],
            }[harm]
        )
    assert printed(kiosk(), cache=cache).pdf == cold.pdf


def test_a_cache_that_cannot_be_written_is_no_error(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("not a folder", "utf-8")
    assert Cache(blocked).get("x") is None
    Cache(blocked).put("x", b"y")


@given(st.dictionaries(st.text(min_size=1, max_size=9), st.binary(max_size=50), max_size=8))
def test_the_cache_gives_back_what_it_took(held: dict[str, bytes]) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        cache = Cache(Path(folder))
        for key, data in held.items():
            cache.put(key, data)
        assert {key: cache.get(key) for key in held} == held
        cache.trim(0)
        assert all(cache.get(key) is None or not data for key, data in held.items())


def test_trimming_keeps_the_newest(tmp_path: Path) -> None:
    cache = Cache(tmp_path)
    for number in range(4):
        cache.put(str(number), b"x" * 1000)
        for path in tmp_path.glob("??/*"):
            stat = path.stat()
            os.utime(path, (stat.st_atime - 100, stat.st_mtime - 100))
    cache.trim(2100)
    assert [cache.get(str(number)) is not None for number in range(4)] == [False, False, True, True]


def test_a_print_larger_than_what_a_cache_usually_holds_is_kept_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(printing, "CACHE_BYTES", 1000)
    cards, press = kiosk(), Press(OPTIONS, Cache(tmp_path), workers=1)
    print_files({"all": cards}, press)
    assert print_files({"all": cards}, press)[1] == 0
    assert render_all(keyed(cards), press)[1] == 0  # each card as well, for when one is edited


def test_a_run_that_finds_everything_imports_no_engine(tmp_path: Path) -> None:
    printed(kiosk(), cache=Cache(tmp_path))
    here = Path(__file__).parent
    script = (
        "import sys; from pathlib import Path\n"
        "from edition_samples import kiosk\n"
        "from buildsheets.print.printing import Press, RenderOptions, print_files\n"
        "from buildsheets.print.cache import Cache\n"
        f"press = Press({OPTIONS!r}, Cache(Path({str(tmp_path)!r})))\n"
        "done = print_files({'all': kiosk()}, press)\n"
        "heavy = {'weasyprint', 'pikepdf', 'pypdfium2', 'qrcode', 'PIL', 'pint'}\n"
        "print(done[1], sorted(heavy & set(sys.modules)))"
    )
    path = os.pathsep.join((str(here), str(here.parent), str(here.parents[1])))
    run = subprocess.run(
        [sys.executable, "-c", script], env=os.environ | {"PYTHONPATH": path},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert run.stdout.strip() == "0 []"
