"""From the demo menu to files: what comes out, what a change makes anew, what a kill leaves.

Sizes are those of ISO 216; QR codes are read by zxing-cpp, PDFs by pypdf and PDFium, none of which
had a hand in making them.
"""

from __future__ import annotations

import io
import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import astuple
from pathlib import Path
from typing import Any

import pypdf
import pypdfium2
import pytest
import zxingcpp
from command_samples import ROOT, Ran, snapshot
from printed_demo import Printed, Shop, pages, planned

from buildsheets.findings.finding import Severity
from buildsheets.ledger import ledger
from buildsheets.ledger.payload import identity_in
from buildsheets.menu.model import AddStep
from buildsheets.pipeline import check

pytestmark = pytest.mark.slow

A_SERIES_MM = {"A6": (105, 148), "A5": (148, 210), "A4": (210, 297), "A3": (297, 420)}
"""ISO 216:2007, table 1: trimmed sizes."""

MORE_MILK = ("medium: 80 ml, large: 120 ml", "medium: 90 ml, large: 120 ml")
NEXT = (("  code: W26\n", "  code: W26B\n"), ("valid_from: 2026-12-01", "valid_from: 2026-12-15"))


@pytest.fixture
def copied(demo_print: Printed, tmp_path: Path) -> Shop:
    """A shop like the printed one, ledger and cache included, to change at will."""
    shutil.copytree(demo_print.shop.menu, tmp_path / "menu")
    return Shop(tmp_path, demo_print.shop.cache, Ran(0, "", ""))


def edit(menu: Path, *edits: tuple[str, str]) -> None:
    for old, new in edits:
        (path,) = [p for p in menu.glob("*.yaml") if old in p.read_text("utf-8")]
        text = path.read_text("utf-8")
        assert text.count(old) == 1, old
        path.write_text(text.replace(old, new), "utf-8")


# what comes out ---------------------------------------------------------------------------------


def test_the_print_ran_clean_and_quiet(demo_print: Printed) -> None:
    ran = demo_print.shop.printed
    assert ran.code == 0, ran
    assert ran.err == ""  # not a line of the renderer's log
    assert "error" not in ran.out
    assert "DRAFT" not in ran.out
    assert "50 mm" in ran.out


def test_there_is_a_file_for_every_station_size_and_language(demo_print: Printed) -> None:
    menu = check(demo_print.shop.menu).menu
    assert menu is not None
    wanted = {
        f"{language}/build-cards/{size}.pdf" for language in ("en", "es") for size in menu.cups
    }
    for drink in menu.drinks.values():
        for size in drink.cups:
            for step in drink.steps:
                used = isinstance(step, AddStep) and size.id not in step.amounts
                station = step.station
                if station is not None and not used:
                    wanted |= {f"{lang}/{station.id}/{size.id}.pdf" for lang in ("en", "es")}
    assert len(wanted) > 25
    got = set(demo_print.shop.pdfs())
    further = ("addons-cards", "gauge-cards", "batch-cards", "allergens-cards", "words-cards")
    assert {file for file in got if file.split("/")[1] not in further} == wanted
    assert {file.split("/")[1] for file in got} >= set(further)


def test_every_card_of_the_menu_has_its_pages_and_no_other(demo_print: Printed) -> None:
    assert {page.code for page in demo_print.pages} == set(demo_print.keys)
    for page in demo_print.pages:
        assert page.file.startswith(f"{demo_print.keys[page.code].language}/")


def test_the_card_of_words_is_one_sheet_a_language(demo_print: Printed) -> None:
    keys = [demo_print.keys[page.code] for page in demo_print.pages]
    assert sorted(key.language for key in keys if key.kind == "words") == ["en", "es"]


def test_every_page_is_of_its_cards_size(demo_print: Printed) -> None:
    ran = demo_print.shop.run("print", "--format", "json")
    assert ran.code == 0, ran
    larger = {
        code for finding in ran.data["findings"] if finding["code"] == "CARD04"
        for code in finding["subject"]
    }  # fmt: skip
    views = {one.entry.code: one.card.view for one in demo_print.plan.cards}
    own = 0
    for page in demo_print.pages:
        view = views[page.code]
        size = (page.width_mm, page.height_mm)
        if page.code in larger:
            assert any(sorted(size) == pytest.approx(s, abs=0.01) for s in A_SERIES_MM.values())
            assert page.width_mm * page.height_mm > view.width_mm * view.height_mm
        else:
            assert size == pytest.approx((view.width_mm, view.height_mm), abs=0.01), page
            own += 1
    assert own > 100


def fonts_of(page: Any) -> Iterator[tuple[str, bool]]:
    """Name and whether embedded, of each font of a page and of the forms it draws."""
    resources = [page["/Resources"].get_object()]
    while resources:
        one = resources.pop()
        for font in (one.get("/Font") or {}).values():
            font = font.get_object()
            for inner in font.get("/DescendantFonts", [font]):
                inner = inner.get_object()
                held = inner["/FontDescriptor"].get_object() if "/FontDescriptor" in inner else {}
                file = any(f"/FontFile{n}" in held for n in ("", "2", "3"))
                yield str(font["/BaseFont"]), file
        for drawn in (one.get("/XObject") or {}).values():
            drawn = drawn.get_object()
            if "/Resources" in drawn:
                resources.append(drawn["/Resources"].get_object())


def test_all_fonts_are_embedded_and_ours_and_the_reader_must_not_scale(demo_print: Printed) -> None:
    seen = set()
    for file, path in demo_print.shop.pdfs().items():
        reader = pypdf.PdfReader(path)
        root: Any = reader.root_object
        assert root["/ViewerPreferences"]["/PrintScaling"] == "/None", file  # ISO 32000, 12.2
        assert root["/Lang"].startswith(file[:2])
        for page in reader.pages:
            for name, embedded in fonts_of(page):
                assert embedded, (file, name)
                seen.add(name.rpartition("+")[2])
    assert seen
    assert all(re.match(r"Atkinson-?Hyperlegible", name) for name in seen), seen


def test_the_qr_code_of_each_page_names_its_card(demo_print: Printed) -> None:
    """One language is read in full: it takes a quarter of a second a page."""
    read = 0
    for file, path in demo_print.shop.pdfs().items():
        if not file.startswith("en/") or "/large" in file:
            continue
        held = {page.number: page.code for page in demo_print.pages if page.file == file}
        document = pypdfium2.PdfDocument(path)
        for number, page in enumerate(document):
            image = page.render(scale=200 / 72, grayscale=True).to_pil()
            said = [identity_in(code.text) for code in zxingcpp.read_barcodes(image)]
            entry = next(o.entry for o in demo_print.plan.cards if o.entry.code == held[number])
            assert (held[number], entry.revision) in said, (file, number)
            read += 1
        document.close()
    assert read > 50


def test_the_manifest_holds(demo_print: Printed) -> None:
    ran = demo_print.shop.run("print", "--check")
    assert (ran.code, ran.err) == (0, "")
    assert "is as it was printed" in ran.out
    listed = json.loads((demo_print.shop.out / "manifest.json").read_text("utf-8"))["files"]
    assert set(listed) == set(demo_print.shop.pdfs())


def test_a_second_print_does_nothing(demo_print: Printed) -> None:
    before = snapshot(demo_print.shop.folder / "out")
    listing = "import atexit; atexit.register(lambda: print('IMPORTED', *sys.modules))"
    ran = demo_print.shop.run("print", first=listing)
    assert ran.code == 0
    assert "nothing has changed" in ran.out
    imported = set(ran.out.rpartition("IMPORTED")[2].split())
    assert not imported & {"weasyprint", "pikepdf", "pypdfium2"}
    assert snapshot(demo_print.shop.folder / "out") == before


def test_tampering_is_found(demo_print: Printed, tmp_path: Path) -> None:
    out = tmp_path / "out"
    shutil.copytree(demo_print.shop.folder / "out", out)
    assert demo_print.shop.run("print", "--check", "--out", out).code == 0

    (out / "W26" / "old.pdf").write_bytes(b"%PDF-1.7")
    ran = demo_print.shop.run("print", "--check", "--out", out)
    assert (ran.code, "OUT04" in ran.out) == (0, True)
    assert demo_print.shop.run("print", "--check", "--out", out, "--strict").code == 1

    (out / "W26" / "old.pdf").unlink()

    victim = out / "W26" / "en" / "build-cards" / "small.pdf"
    data = bytearray(victim.read_bytes())
    data[len(data) // 2] ^= 1
    victim.write_bytes(data)
    ran = demo_print.shop.run("print", "--check", "--out", out, "--format", "json")
    assert ran.code == 1
    assert "OUT03" in {finding["code"] for finding in ran.data["findings"]}
    victim.unlink()
    assert "OUT02" in demo_print.shop.run("print", "--check", "--out", out).out

    # A print fixes it: of what is kept, so that nothing is rendered.
    ran = demo_print.shop.run("print", "--out", out)
    assert "(0 rendered anew)" in ran.out
    assert demo_print.shop.run("print", "--check", "--out", out, "--strict").code == 0


def test_a_preflight_finds_nothing(demo_print: Printed) -> None:
    ran = demo_print.shop.run("proof", demo_print.shop.out / "en" / "build-cards")
    assert ran.code == 0, ran
    assert "nothing wrong" in ran.out


# ways to print ----------------------------------------------------------------------------------


def test_only_what_is_asked_for(copied: Shop) -> None:
    ran = copied.run("print", "--only", "brew", "--language", "es")
    assert ran.code == 0, ran
    folder = copied.folder / "out" / "W26-brew-es"
    files = {path.relative_to(folder).as_posix() for path in folder.rglob("*.pdf")}
    assert files == {f"es/brew/{cup}.pdf" for cup in ("small", "medium", "large", "hot")}
    assert not (copied.folder / "out" / "W26").exists()


def test_changed_prints_nothing_while_nothing_differs(copied: Shop) -> None:
    first = "nothing was printed: this is the first edition, `print` alone prints all its cards\n"
    ran = copied.run("print", "--changed")
    assert (ran.code, ran.out) == (0, first)
    assert not (copied.folder / "out").exists()
    ran = copied.run("print", "--changed", "--only", "brew")
    assert (ran.code, ran.out) == (0, first)


def test_sheets_with_add_on_cards_behind(copied: Shop) -> None:
    ran = copied.run("print", "--sheet", "A3", "--flip", "long", "--language", "en",
                     "--only", "build", "--only", "addons")  # fmt: skip
    assert ran.code == 0, ran
    (pdf,) = (copied.folder / "out").rglob("*.pdf")
    reader = pypdf.PdfReader(pdf)
    root: Any = reader.root_object
    assert root["/ViewerPreferences"]["/PrintScaling"] == "/None"
    for page in reader.pages:
        size = [float(side) * 25.4 / 72 for side in page.mediabox[2:]]
        assert sorted(size) == pytest.approx(A_SERIES_MM["A3"], abs=0.01)
    assert len(reader.pages) % 2 == 0  # fronts and backs
    assert "A3" in ran.out
    assert copied.run("proof", pdf).code == 0


def test_an_accessible_document_a_language(copied: Shop) -> None:
    ran = copied.run("print", "--accessible", "--language", "en", "--only", "small")
    assert ran.code == 0, ran
    (pdf,) = (copied.folder / "out").rglob("*.pdf")
    root: Any = pypdf.PdfReader(pdf).root_object
    assert root["/MarkInfo"]["/Marked"]  # ISO 14289-1, 7.1: tagged
    assert b"pdfuaid:part" in root["/Metadata"].get_data()
    text = "".join(page.extract_text() for page in pypdf.PdfReader(pdf).pages)
    assert "Marsh Milk Tea" in text


def test_cards_of_an_unpublished_menu_say_draft(copied: Shop) -> None:
    shutil.rmtree(copied.menu / "editions")
    ran = copied.run("print", "--only", "gauge", "--language", "en")
    assert ran.code == 0, ran
    assert re.search(r"[1-9]\d* cards say DRAFT", ran.out)
    for path in (copied.folder / "out").rglob("*.pdf"):
        for page in pypdf.PdfReader(path).pages:
            assert "DRAFT" in page.extract_text()


# what stops it ----------------------------------------------------------------------------------


def test_a_cup_a_fifth_smaller_stops_everything(copied: Shop) -> None:
    cups = copied.menu / "shop.yaml"
    text = cups.read_text("utf-8")
    old = "    height: 114 mm\n    floor: 3 mm\n    headspace: 5 mm\n    brimful: 505 ml\n"
    assert text.count(old) == 1
    new = old.replace("114", f"{114 * 0.8:.1f}").replace("    brimful: 505 ml\n", "")
    cups.write_text(text.replace(old, new), "utf-8")
    before = snapshot(copied.folder)
    ran = copied.run("print", "--format", "json")
    assert ran.code == 1
    assert "nothing was printed" in ran.err
    found = [f for f in ran.data["findings"] if f["code"] == "FIT01"]
    assert found
    for finding in found:
        lines = {line["part"]: float(line["takes_up"].removesuffix(" ml"))
                 for line in finding["sums"]}  # fmt: skip
        reached, limit, over = (lines.pop(k) for k in ("reaches", "may be filled", "too much by"))
        assert reached - limit == pytest.approx(over, abs=0.05)
        assert sum(lines.values()) == pytest.approx(reached, abs=0.05)
        assert finding["subject"][1] == "medium"
    assert snapshot(copied.folder) == before  # no file at all, not even a folder

    full = copied.run("print")
    assert full.code == 1
    assert re.search(r"too much by +\d+\.\d ml", full.out)


def test_an_edition_with_a_card_that_cannot_be_made_is_not_published(copied: Shop) -> None:
    edit(copied.menu, *NEXT)
    drinks = copied.menu / "drinks.yaml"
    text = drinks.read_text("utf-8")
    assert text.count("en: Honey Lantern,") == 1
    drinks.write_text(text.replace("en: Honey Lantern,", "en: Honey \u2603 Lantern,"), "utf-8")
    before = snapshot(copied.menu)
    ran = copied.run("publish")
    assert ran.code == 1
    assert "CARD01" in ran.out
    assert "\u2603" in ran.out
    assert snapshot(copied.menu) == before
    drinks.write_text(text, "utf-8")
    assert copied.run("publish").code == 0


# what a change makes anew -----------------------------------------------------------------------


def test_a_change_of_one_drink_reprints_the_cards_that_show_it(copied: Shop) -> None:
    """More milk in one drink of one size. Its build card shows it; so does the station that pours
    it. Less tea fits, so the tea's batches give more portions of it. With pearls and cream the cup
    now needs a lower line, which the add-on card and the gauge strip of that cup show. Nothing else
    changes: every other station gets and leaves the cup as before."""
    _, before = planned(copied.menu)
    edit(copied.menu, MORE_MILK, *NEXT)
    expected = {
        (kind, subject, cup, language)
        for language in ("en", "es")
        for kind, subject, cup in (
            ("build", "marsh-milk-tea", "medium"),
            ("station", "brew", "medium"),
            ("addons", "all", "medium"),
            ("gauge", "all", "medium"),
            ("batch", "black-tea-brew", "half"),
            ("batch", "black-tea-brew", "full"),
            ("batch", "black-tea-brew", "double"),
        )
    }
    _, plan = planned(copied.menu)
    assert {astuple(o.card.key) for o in plan.cards if o.draft} == expected
    assert {o.entry.revision for o in plan.cards if o.draft} == {2}
    assert {o.entry.revision for o in plan.cards if not o.draft} == {1}
    assert [o.entry.code for o in plan.cards] == [o.entry.code for o in before.cards]

    compared = copied.run("compare", "W26", "--format", "json").result
    assert {
        (c["kind"], c["subject"], c["cup_or_scale"], c["language"]) for c in compared["cards"]
    } == expected
    assert {(c["was_revision"], c["revision"]) for c in compared["cards"]} == {(1, 2)}
    text = copied.run("compare", "W26").out
    assert "Whole milk 90 ml, was 80" in text

    ran = copied.run("print", "--changed")
    assert ran.code == 0, ran
    assert f"{len(expected)} cards ({len(expected)} rendered anew)" in ran.out
    codes = {o.entry.code for o in plan.cards if o.draft}
    printed = (copied.folder / "out").rglob("*.pdf")
    assert {page.code for path in printed for page in pages(path.name, path)} == codes

    published = copied.run("publish", "--format", "json")
    assert published.code == 0, published
    assert published.result["changes"] == compared
    ran = copied.run("print")
    assert "184 cards (0 rendered anew)" in ran.out  # publishing made them as they hang
    assert "DRAFT" not in ran.out
    ran = copied.run("print", "--changed", "--out", "final")  # and can be printed alone
    assert f"{len(expected)} cards" in ran.out
    assert {page.code for path in (copied.folder / "final").rglob("*.pdf")
            for page in pages(path.name, path)} == codes  # fmt: skip
    old, new = before.cards[0].entry.code, next(iter(codes))
    assert copied.run("current", old, "--day", "2026-12-20").code == 0
    assert copied.run("current", new, "r2", "--day", "2026-12-20").code == 0
    assert copied.run("current", new, "--day", "2026-12-20").code == 1  # which of two?


CAP = (
    """{do: stir, for: 5 s, station: brew}
      - {add: cap, amount: {small: 2 ladles, medium: 3 ladles, large: 4 ladles}}
      - {do: lid, station: finish}
  oolong""",
    """{station: brew, for: 5 s, do: stir}  # as it was

      - add: cap
        amount:
          large: 4 ladles
          small: 2 ladles
          medium: 3 ladles
      - {station: finish, do: lid}
  oolong""",
)
ANOTHER_ID = (
    ("  honey-lantern:\n", "  lantern-of-honey:\n"),
    ("drink: honey-lantern,", "drink: lantern-of-honey,"),
)
ANOTHER_UNIT = ("    rim: 84 mm\n    height: 94 mm\n", "    height: 9.4 cm\n    rim: 84 mm\n")


@pytest.mark.parametrize(
    "edits",
    [ANOTHER_ID, [CAP], [("# Inner measures, taken", "# Taken")], [ANOTHER_UNIT]],
    ids=["another id", "another order and a comment", "another comment", "another unit"],
)
def test_what_no_reader_sees_changes_no_revision(
    edits: Sequence[tuple[str, str]], copied: Shop
) -> None:
    edit(copied.menu, *edits)
    _, plan = planned(copied.menu)
    assert [o.entry.code for o in plan.cards if o.draft] == []
    assert plan.withdrawn == ()
    ran = copied.run("compare", "W26", "menu", "--format", "json")
    assert (ran.code, ran.result["cards"]) == (0, [])


# what a kill leaves -----------------------------------------------------------------------------


def started(shop: Shop, *words: str) -> subprocess.Popen[bytes]:
    code = f"import sys; from buildsheets.cli.main import main; sys.exit(main({list(words)!r}))"
    env = {**os.environ, "XDG_CACHE_HOME": str(shop.cache), "PYTHONPATH": str(ROOT)}
    return subprocess.Popen([sys.executable, "-c", code], cwd=shop.folder, env=env,
                            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # fmt: skip


def killed_after(run: subprocess.Popen[bytes], seconds: float) -> bool:
    """Kill a run after some time; whether it was still at work."""
    try:
        run.wait(seconds)
    except subprocess.TimeoutExpired:
        run.send_signal(signal.SIGKILL)
        run.wait()
        return True
    return False


def children(parent: int) -> set[int]:
    found = set()
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                stat = (entry / "stat").read_text("ascii", "replace").rpartition(")")[2].split()
            except OSError:
                continue
            if int(stat[1]) == parent and stat[0] != "Z":
                found.add(int(entry.name))
    return found


def test_a_killed_print_leaves_no_half_file_and_the_next_completes(
    copied: Shop, tmp_path: Path
) -> None:
    words = ["print", "--only", "toppings", "--only", "gauge", "--language", "en"]
    moments = random.Random(5)
    shop = Shop(copied.folder, tmp_path / "own-cache", copied.printed)
    begun = time.monotonic()
    assert shop.run(*words, "--out", "whole").code == 0
    whole_s = time.monotonic() - begun
    wanted = {p.relative_to(tmp_path / "whole") for p in (tmp_path / "whole").rglob("*.pdf")}
    shutil.rmtree(shop.cache)
    kills = 0
    for attempt in range(6):
        kills += killed_after(started(shop, *words), moments.uniform(0.2, 0.95) * whole_s)
        for pdf in (shop.folder / "out").rglob("*.pdf"):
            assert len(pypdf.PdfReader(io.BytesIO(pdf.read_bytes()), strict=True).pages) > 0
        if attempt % 2:
            shutil.rmtree(shop.cache, ignore_errors=True)
            shutil.rmtree(shop.folder / "out", ignore_errors=True)
    assert kills
    assert shop.run(*words).code == 0
    out = shop.folder / "out"
    assert {p.relative_to(out) for p in out.rglob("*.pdf")} == wanted
    assert shop.run("print", "--check").code == 0


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks at the processes of Linux")
def test_a_killed_print_leaves_no_worker_behind(copied: Shop, tmp_path: Path) -> None:
    run = started(Shop(copied.folder, tmp_path / "own-cache", copied.printed),
                  "print", "--no-cache", "--workers", "2")  # fmt: skip
    workers: set[int] = set()
    end = time.monotonic() + 60
    while len(workers) < 2 and run.poll() is None and time.monotonic() < end:
        time.sleep(0.05)
        workers = children(run.pid)
    assert len(workers) == 2
    run.send_signal(signal.SIGKILL)
    run.wait()
    while any(alive(one) for one in workers) and time.monotonic() < end:
        time.sleep(0.05)
    assert not any(alive(one) for one in workers)


def alive(process: int) -> bool:
    try:
        stat = Path(f"/proc/{process}/stat").read_text("ascii", "replace")
    except OSError:
        return False
    return stat.rpartition(")")[2].split()[0] != "Z"


def test_a_killed_publish_loses_nothing(copied: Shop) -> None:
    edit(copied.menu, MORE_MILK, *NEXT)
    folder = copied.menu / "editions"
    held = snapshot(folder)
    probe = Shop(copied.folder / "probe", copied.cache, copied.printed)
    for _ in range(2):  # the first makes the cards; the second takes as long as those below
        shutil.rmtree(probe.menu, ignore_errors=True)
        shutil.copytree(copied.menu, probe.menu)
        begun = time.monotonic()
        assert probe.run("publish").code == 0
        whole_s = time.monotonic() - begun
    moments = random.Random(6)
    kills = 0
    for _ in range(8):
        kills += killed_after(started(copied, "publish"), moments.uniform(0.2, 1.0) * whole_s)
        book = ledger.load(folder)
        assert book.findings == ()
        assert [e.code for e in book.editions][:1] == ["W26"]
        for name, before in held.items():
            if not name.startswith("."):  # the lock is not of the record
                assert (folder / name).read_bytes() == before[2]
        for made in folder.glob("*W26B*"):
            made.unlink()  # so that the next run has something to do
    assert kills
    assert copied.run("publish").code == 0
    book = ledger.load(folder)
    assert book.findings == ()
    assert [e.code for e in book.editions] == ["W26", "W26B"]
    findings = [f for f in check(copied.menu).findings if f.severity is Severity.ERROR]
    assert findings == []
