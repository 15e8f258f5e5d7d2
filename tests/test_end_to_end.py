"""The main job on the demo menu: what is printed, what stops it, what a change costs."""

from __future__ import annotations

import contextlib
import io
import os
import random
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pikepdf
import pypdf
import pypdfium2
import pytest
import zxingcpp
from command_samples import ROOT, Ran, demo_copy, own_process, snapshot

pytestmark = pytest.mark.slow

MM_PER_PT = 25.4 / 72  # ISO 32000-1, 8.3.2.3: default user space
A5, A4 = (148.0, 210.0), (210.0, 297.0)  # ISO 216
STATIONS = ("toppings", "brew", "shake", "finish")
COLD_SIZES = ("small", "medium", "large")


@dataclass(frozen=True)
class Shop:
    """A copy of the demo menu, where it prints to, and its own cache."""

    menu: Path
    out: Path
    cache: Path

    def __call__(self, *words: object, **env: str) -> Ran:
        return own_process(*words, env={"XDG_CACHE_HOME": str(self.cache), **env})

    def edit(self, name: str, old: str, new: str) -> None:
        path = self.menu / name
        text = path.read_text("utf-8")
        assert text.count(old) == 1, old
        path.write_text(text.replace(old, new), "utf-8")


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """The demo, printed once for all tests that only look at it."""
    folder = tmp_path_factory.mktemp("printed")
    shop = Shop(demo_copy(folder / "menu"), folder / "out", folder / "cache")
    ran = shop("print", shop.menu, "--out", shop.out)
    assert ran.code == 0, ran.out + ran.err
    return shop


def pdfs(folder: Path) -> Iterator[Path]:
    yield from sorted(folder.rglob("*.pdf"))


def test_there_is_a_file_for_each_station_and_size_in_each_language(printed: Shop) -> None:
    made = {path.relative_to(printed.out).as_posix() for path in pdfs(printed.out)}
    for language in ("en", "es"):
        for station in STATIONS:
            for size in COLD_SIZES:
                assert f"W26/{language}/{station}/{size}.pdf" in made
        for size in (*COLD_SIZES, "hot"):
            assert f"W26/{language}/build-cards/{size}.pdf" in made


def test_each_page_has_exactly_its_cards_size(printed: Shop) -> None:
    seen = set()
    for path in pdfs(printed.out):
        for page in pypdf.PdfReader(path).pages:
            size = tuple(round(float(side) * MM_PER_PT, 2) for side in page.mediabox[2:])
            seen.add(size)
            # A gauge strip is the smallest stock its cup fits on, the rest A5 or A4.
            allowed = [A5, A4, A5[::-1], A4[::-1]]
            strip = "gauge-cards" in path.parts
            assert strip or any(size == pytest.approx(one, abs=0.05) for one in allowed), path
    assert any(size == pytest.approx(A5, abs=0.05) for size in seen)


def test_build_cards_stay_on_the_stock_the_shop_declared(printed: Shop) -> None:
    for path in pdfs(printed.out / "W26" / "en" / "build-cards"):
        for page in pypdf.PdfReader(path).pages:
            size = [float(side) * MM_PER_PT for side in page.mediabox[2:]]
            assert size == pytest.approx(A5, abs=0.05), path


def test_every_font_is_ours_and_embedded(printed: Shop) -> None:
    for path in pdfs(printed.out):
        with pikepdf.open(path) as pdf:
            fonts = [
                font
                for page in pdf.pages
                for font in (page.resources.get("/Font") or {}).values()  # type: ignore[union-attr]
            ]
            assert fonts, path
            for font in fonts:
                inner = font.DescendantFonts[0] if "/DescendantFonts" in font else font
                assert "AtkinsonHyperlegible" in str(font.BaseFont).replace("-", "")
                assert any(key in inner.FontDescriptor for key in ("/FontFile2", "/FontFile3"))


def test_viewers_are_asked_not_to_scale(printed: Shop) -> None:
    for path in pdfs(printed.out):
        with pikepdf.open(path) as pdf:
            assert pdf.Root.ViewerPreferences.PrintScaling == pikepdf.Name("/None")


def test_each_qr_code_leads_to_the_card_it_stands_on(printed: Shop) -> None:
    path = printed.out / "W26" / "en" / "build-cards" / "medium.pdf"
    document = pypdfium2.PdfDocument(path)
    try:
        for page in document:
            picture = page.render(scale=150 / 72).to_pil()
            (found,) = zxingcpp.read_barcodes(picture)
            text = page.get_textpage().get_text_bounded()
            code = re.search(r"\bB-[0-9A-Z]{5}-[0-9A-Z*$=]\b", text)
            assert code is not None
            assert code[0] in found.text
    finally:
        document.close()


def test_nothing_is_logged_and_the_proof_is_clean(printed: Shop) -> None:
    ran = printed("proof", printed.out)
    assert (ran.code, ran.err) == (0, "")


def test_a_second_print_does_nothing(printed: Shop) -> None:
    before = snapshot(printed.out)
    ran = printed("print", printed.menu, "--out", printed.out)
    assert ran.code == 0
    assert "nothing has changed" in ran.out
    assert snapshot(printed.out) == before


def test_a_file_tampered_with_is_found(printed: Shop, tmp_path: Path) -> None:
    name = "W26/en/brew/medium.pdf"
    whole = (printed.out / name).read_bytes()
    assert printed("print", printed.menu, "--out", printed.out, "--check").code == 0
    try:
        (printed.out / name).write_bytes(whole[:-1] + b" ")
        ran = printed("print", printed.menu, "--out", printed.out, "--check")
        assert ran.code == 1
        assert "brew/medium.pdf" in ran.out
    finally:
        (printed.out / name).write_bytes(whole)


def test_the_same_menu_gives_the_same_bytes_elsewhere(printed: Shop, tmp_path: Path) -> None:
    ran = Shop(printed.menu, tmp_path / "out", tmp_path / "cache")(
        "print", printed.menu, "--out", tmp_path / "out", "--only", "brew", "--workers", "1",
        TZ="Pacific/Auckland", PYTHONHASHSEED="7",
    )  # fmt: skip
    assert ran.code == 0, ran.out + ran.err
    for path in pdfs(tmp_path / "out"):
        twin = printed.out / "W26" / path.relative_to(tmp_path / "out" / "W26-brew")
        assert path.read_bytes() == twin.read_bytes(), path


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (["--only", "gauge", "--language", "es"], "es/gauge-cards/"),
        (["--only", "marsh-milk-tea", "--sheet", "A3", "--flip", "long"], "en/sheets-a3.pdf"),
        (["--only", "honey-lantern", "--accessible"], "en/accessible.pdf"),
    ],
)
def test_parts_sheets_and_the_accessible_edition(
    printed: Shop, tmp_path: Path, words: list[str], named: str
) -> None:
    ran = printed("print", printed.menu, "--out", tmp_path, *words)
    assert ran.code == 0, ran.out + ran.err
    assert any(named in path.as_posix() for path in pdfs(tmp_path))
    assert printed("proof", tmp_path).code == 0


def test_a_smaller_cup_is_overfull_and_nothing_is_printed(tmp_path: Path) -> None:
    # 20 % off every inner measure of the medium cup: half its volume.
    menu = demo_copy(
        tmp_path / "menu",
        ("base: 58 mm\n    rim: 91 mm\n    height: 114 mm",
         "base: 46.4 mm\n    rim: 72.8 mm\n    height: 91.2 mm"),
        ("brimful: 505 ml", "brimful: 258.6 ml"),
    )  # fmt: skip
    shop = Shop(menu, tmp_path / "out", tmp_path / "cache")
    ran = shop("print", menu, "--out", shop.out)
    assert ran.code == 1
    assert "FIT01" in ran.out or "FIT08" in ran.out
    assert not shop.out.exists()
    told = shop("check", menu, "--format", "json").data
    full = [f for f in told["findings"] if f["code"] == "FIT01"]
    assert full
    for finding in full:
        parts = {line["part"]: line for line in finding["sums"]}
        over = float(parts["too much by"]["takes_up"].split()[0])
        room = float(parts["may be filled"]["takes_up"].split()[0])
        assert over > 0
        shown = [float(n) for n in re.findall(r"[\d.]+", parts["reaches"]["takes_up"])]
        assert shown[0] - room == pytest.approx(over, abs=0.11)


def test_one_edited_drink_reprints_its_own_cards_alone(printed: Shop, tmp_path: Path) -> None:
    menu = demo_copy(tmp_path / "menu")
    shop = Shop(menu, tmp_path / "out", printed.cache)
    assert shop("publish", menu).code == 0
    assert shop("print", menu, "--out", shop.out).code == 0
    shop.edit("drinks.yaml", "fill_to: {small: 280 ml, medium: 420 ml}, body: yes",
              "fill_to: {small: 275 ml, medium: 420 ml}, body: yes")  # fmt: skip
    shop.edit("shop.yaml", "code: W26", "code: W26B")
    told = shop("compare", "W26", "--menu", menu, "--format", "json").data
    changed = {(card["kind"], card["subject"], card["cup"]) for card in told["cards"]}
    kinds = {kind for kind, _, _ in changed}
    assert all(card["revision"] == 2 for card in told["cards"])
    # Cold Dock Coffee in the small cup: its build card, the stations that pour or check its line,
    # and the small cup's add-on card and gauge; nothing of any other cup.
    assert ("build", "cold-dock-coffee", "small") in changed
    assert {cup for _, _, cup in changed} == {"small"}
    assert {subject for kind, subject, _ in changed if kind == "build"} == {"cold-dock-coffee"}
    assert kinds <= {"build", "station", "addons", "gauge"}
    ran = shop("print", menu, "--out", shop.out, "--changed")
    assert ran.code == 0, ran.out + ran.err
    match = re.search(r"(\d+) cards \((\d+) rendered anew\)", ran.out)
    assert match is not None
    assert int(match[1]) == int(match[2]) == 2 * len(changed)  # English and Spanish


def test_comments_order_and_names_of_keys_change_no_card(printed: Shop, tmp_path: Path) -> None:
    menu = demo_copy(tmp_path / "menu")
    shop = Shop(menu, tmp_path / "out", printed.cache)
    assert shop("publish", menu).code == 0
    drinks = (menu / "drinks.yaml").read_text("utf-8")
    drinks = "# a word to ourselves\n" + drinks.replace("honey-lantern", "lantern-of-honey")
    (menu / "drinks.yaml").write_text(drinks, "utf-8")
    told = shop("compare", "W26", "--menu", menu, "--format", "json").data
    assert told["cards"] == []
    assert told["reprint"] == told["pull"] == {}


def killed_at(seconds: float, *words: object, cache: Path) -> None:
    """A run in a process group of its own, killed with all its workers after some seconds."""
    running = subprocess.Popen(
        [sys.executable, "-m", "buildsheets", *map(str, words)],
        cwd=ROOT, env={**os.environ, "XDG_CACHE_HOME": str(cache)}, start_new_session=True,
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    time.sleep(seconds)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(running.pid, signal.SIGKILL)
    running.wait()


@pytest.mark.skipif(sys.platform == "win32", reason="needs process groups")
def test_a_print_killed_at_any_moment_leaves_no_half_file(tmp_path: Path) -> None:
    menu = demo_copy(tmp_path / "menu")
    shop = Shop(menu, tmp_path / "out", tmp_path / "cache")
    chance = random.Random(26)
    words = ("print", menu, "--out", shop.out, "--only", "small", "--language", "en")
    for _ in range(6):
        killed_at(chance.uniform(0.2, 6.0), *words, cache=shop.cache)
        for path in pdfs(shop.out):
            with pikepdf.open(io.BytesIO(path.read_bytes())) as pdf:
                assert len(pdf.pages) > 0
    assert shop(*words).code == 0
    assert shop("print", menu, "--out", shop.out, "--check").code == 0


@pytest.mark.skipif(sys.platform == "win32", reason="needs process groups")
def test_a_publish_killed_at_any_moment_loses_nothing(tmp_path: Path) -> None:
    menu = demo_copy(tmp_path / "menu")
    shop = Shop(menu, tmp_path / "out", tmp_path / "cache")
    assert shop("publish", menu).code == 0
    (first,) = sorted((menu / "editions").glob("*.yaml"))
    kept = first.read_bytes()
    shop.edit("shop.yaml", "code: W26", "code: W27")
    shop.edit("shop.yaml", "valid_from: 2026-12-01", "valid_from: 2027-01-10")
    chance = random.Random(27)
    for _ in range(6):
        killed_at(chance.uniform(0.2, 2.5), "publish", menu, cache=shop.cache)
        assert first.read_bytes() == kept
        assert shop("current", "B-00000-0", "--menu", menu).code in (0, 1)
    last = shop("publish", menu)
    names = [path.name for path in sorted((menu / "editions").glob("*.yaml"))]
    assert last.code == 0 or "PUB01" in last.out
    assert len(names) == 2
