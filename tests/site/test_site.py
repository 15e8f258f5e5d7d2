"""The phone pages: states, words, policy, and the pages in a browser at phone size."""

from __future__ import annotations

import base64
import hashlib
import html
import io
import json
import re
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from html.parser import HTMLParser
from http.server import ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
from edition_browser import Browser, serving
from edition_samples import AUTUMN, STEPS, WINTER, build, edition, published, station
from PIL import Image

from buildsheets.cli.main import main
from buildsheets.ledger.current import State
from buildsheets.ledger.edition_words import edition_words
from buildsheets.ledger.ledger import Ledger, load
from buildsheets.print.layouts import Layouts
from buildsheets.site.site import SoldOut, periods, site_files
from buildsheets.views.card import Card
from buildsheets.views.types import CupDrawing, DrawnLine, Layer

IN_AUTUMN, IN_WINTER, AFTER = date(2026, 10, 5), date(2026, 12, 24), date(2027, 6, 1)
FIX = (STEPS[0], replace(STEPS[1], amount="140", line="to 270 ml"), *STEPS[2:])


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    """Autumn, then a winter in which one card changes, one goes, one comes and one stays."""
    folder = tmp_path / "editions"
    published(
        folder,
        [build(), build("old", "Old tea"), station(), build("es", "Té", language="es")],
        AUTUMN,
    )
    published(folder, [build(steps=FIX), build("dusk", "Dusk & dawn <tea>"), station()], WINTER)
    return load(folder)


def site(ledger: Ledger, day: date = IN_AUTUMN) -> dict[str, str]:
    files = site_files(ledger, day, "Lantern Kiosk", "en", Layouts())
    return {path: data.decode() for path, data in files.items() if path != "icon.png"}


def page(ledger: Ledger, label: str, revision: int, day: date = IN_AUTUMN) -> str:
    entry = next(e for e in ledger.printed().values() if (e.label, e.revision) == (label, revision))
    return site(ledger, day)[f"C/{entry.code.replace('-', '')}-{revision}/index.html"]


def shown(text: str) -> str:
    """The text outside what is hidden, as a reader without scripts sees it."""
    text = re.sub(r"<(style|script)>.*?</\1>", "", text.replace('hidden=""', "hidden"), flags=re.S)
    text = re.sub(r'<div class="state[^>]* hidden>.*?</div>', "", text, flags=re.S)
    text = re.sub(r'<div id="build" hidden>.*?</main>', "", text, flags=re.S)
    text = re.sub(r"<(p|span)[^>]* hidden>.*?</\1>", "", text, flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def test_a_current_card_shows_its_build_and_how_long_it_holds(ledger: Ledger) -> None:
    text = shown(page(ledger, "Lantern milk tea, Large", 1))
    assert "CURRENT Current until Nov 30, 2026. From Dec 1, 2026, replace it by revision 2." in text
    assert "120 ml Black tea to 250 ml" in text
    assert "contains: milk" in text
    assert "SUPERSEDED" not in text


def test_an_old_card_says_take_it_down_and_shows_no_build(ledger: Ledger) -> None:
    text = shown(page(ledger, "Lantern milk tea, Large", 1, IN_WINTER))
    assert "SUPERSEDED: TAKE THIS CARD DOWN" in text
    assert "Hang up instead: Lantern milk tea, Large" in text
    assert "revision 2" in text
    assert "120 ml" not in text
    assert "WITHDRAWN: TAKE THIS CARD DOWN" in shown(page(ledger, "Old tea, Large", 1, IN_WINTER))


def test_a_card_published_ahead_says_not_yet(ledger: Ledger) -> None:
    text = shown(page(ledger, "Lantern milk tea, Large", 2))
    assert "NOT YET Hang it up on Dec 1, 2026, not before." in text
    assert "140 ml Black tea" in text


def test_a_card_of_a_drink_of_some_days_says_when_they_are_over(tmp_path: Path) -> None:
    card = build()
    dated = replace(card.view, sold="10 to 20 September", sold_days=("2026-09-10", "2026-09-20"))
    published(tmp_path, [Card(card.key, dated)], AUTUMN)
    kept = load(tmp_path)

    def told(day: int) -> str:
        return shown(page(kept, "Lantern milk tea, Large", 1, date(2026, 9, day)))

    assert all("10 to 20 September" in told(day) for day in (9, 10, 20, 21))
    assert "CURRENT NOT YET SOLD: sold from Sep 10, 2026 on. Current until" in told(9)
    assert "SOLD" not in told(10) + told(20)
    assert "CURRENT NOT SOLD ANY MORE: it was sold until Sep 20, 2026. Current until" in told(21)
    (entry,) = kept.printed().values()
    found = periods(entry, kept, date(2026, 9, 1), edition_words(Layouts(), "en"))
    assert [one.first.isoformat() for one in found] == [
        "2026-09-01",
        "2026-09-10",
        "2026-09-21",
        "2026-12-01",
    ]


def test_pages_say_what_is_sold_out_on_the_day_they_are_made(ledger: Ledger) -> None:
    out = {
        "en": [
            SoldOut(
                "Lantern milk tea", "Lantern milk tea (sold out: Pearls)", drink="lantern-milk"
            ),
            SoldOut("Cap", "Cap (sold out)"),
        ]
    }
    files = site_files(ledger, IN_AUTUMN, "Lantern Kiosk", "en", Layouts(), out)
    texts = {path: shown(data.decode()) for path, data in files.items() if path.endswith("html")}
    whole = "Not sold as of Oct 5, 2026: Lantern milk tea (sold out: Pearls), Cap (sold out)."
    assert whole in texts["index.html"]

    def of(kind: str, subject: str, language: str = "en") -> str:
        (entry,) = [
            one
            for one in ledger.printed().values()
            if (one.key.kind, one.key.subject, one.key.language, one.revision)
            == (kind, subject, language, 1)
        ]
        return texts[f"C/{entry.code.replace('-', '')}-{entry.revision}/index.html"]

    assert "Not sold as of Oct 5, 2026: Lantern milk tea (sold out: Pearls)." in of(
        "build", "lantern-milk"
    )
    # A station reads of what it makes: nobody asks it for a cap.
    station = of("station", "tea")
    assert "Not sold as of Oct 5, 2026: Lantern milk tea (sold out: Pearls)." in station
    assert "Cap" not in station
    assert "Lantern milk tea sold out" in station  # and at its head in the card itself
    assert "Not sold" not in of("build", "old")
    assert "No se vende" not in of("build", "es", "es")
    plain = site_files(ledger, IN_AUTUMN, "Lantern Kiosk", "en", Layouts())
    assert b"Not sold" not in b"".join(plain.values())


@pytest.mark.parametrize(
    ("name", "kind", "cup", "found"),
    [
        ("Berries", "addons", "large", True),  # before its amount
        ("Mint", "addons", "large", True),  # a French colon stands apart
        ("Ber", "addons", "large", False),
        ("Dusk tea", "addons", "large", True),  # one of the drinks of a row
        ("Oat", "station", "large", True),
        ("Oat milk", "station", "large", False),  # what a step pours is not what is sold
    ],
)
def test_a_page_says_what_it_sells_and_is_sold_out(
    name: str, kind: str, cup: str, found: bool, ledger: Ledger
) -> None:
    (entry,) = (one for one in ledger.printed().values() if one.key.kind == "station")
    texts = {
        "tables": [{"rows": [["Berries: 2 spoons", "none", "Dawn · Dusk tea"],
                             ["Mint\u00a0: 4 leaves", "none", "Dawn"]]}],
        "rows": [{"drink": "Dawn", "swaps": [{"name": "Oat"}],
                  "adds": [{"what": "Oat milk", "amount": "2"}]}],
    }  # fmt: skip
    entry = replace(entry, key=replace(entry.key, kind=kind, cup=cup))
    assert SoldOut(name, "").is_on(entry, texts) == found
    assert SoldOut("Size", "", cup=cup).is_on(entry, texts)
    assert not SoldOut("Size", "", cup="other").is_on(entry, texts)


@pytest.mark.parametrize(("day", "state"), [(IN_WINTER, "current"), (AFTER, "over")])
def test_a_card_past_its_editions_end_does_not_pass_for_current(
    day: date, state: str, ledger: Ledger
) -> None:
    text = page(ledger, "Tea, Large", 1, day)
    assert f'<div class="state {state}" data-first="{day}" data-build="yes">' in text
    seen = shown(text)
    assert ("CURRENT" in seen) is (state == "current")
    after = "EDITION OVER: ASK BEFORE YOU USE THIS CARD This edition ended on Feb 28, 2027"
    assert (after in seen) is (state == "over")
    assert ("EDITION OVER" in shown(site(ledger, day)["index.html"])) is (state == "over")


def test_steps_have_their_number_and_station(ledger: Ledger) -> None:
    steps = re.findall(r"<li><span class=.k.>.*?</li>", page(ledger, "Old tea, Large", 1), re.S)
    assert [shown(step) for step in steps] == [
        "1 3 pumps Brown sugar syrup Tea",
        "2 120 ml Black tea to 250 ml jigger 2 × 60 ml Tea",
        "3 2 scoops Ice to 380 ml Tea",
        "4 50 ml Cream cap to 430 ml Top",
    ]


def test_the_list_is_by_drink_with_size_and_language(ledger: Ledger) -> None:
    """A drink's cards stand under its name once, and those of a station under its own."""
    text = site(ledger)["index.html"]
    groups = re.findall("<section>.*?</section>", text, flags=re.S)
    names = [shown(re.findall("<h2>.*?</h2>", group)[0]) for group in groups]
    assert names == ["Dusk & dawn <tea>", "Lantern milk tea", "Old tea", "Té", "Tea"]
    rows = [[shown(row) for row in re.findall("<li.*?</li>", g, flags=re.S)] for g in groups]
    assert rows[1][0].startswith("Large English NOT YET B-")
    assert rows[1][1].startswith("Large English B-")
    assert rows[3][0].startswith("Large Español B-")


def test_a_phone_can_keep_the_site_on_its_home_screen(ledger: Ledger) -> None:
    files = site_files(ledger, IN_AUTUMN, "Lantern Kiosk", "en", Layouts())
    told = json.loads(files["manifest.webmanifest"])
    assert (told["short_name"], told["display"]) == ("Lantern Kiosk", "standalone")
    assert told["start_url"] in files
    assert {icon["src"] for icon in told["icons"]} <= files.keys()
    with Image.open(io.BytesIO(files["icon.png"])) as icon:
        assert f"{icon.width}x{icon.height}" == told["icons"][-1]["sizes"] == "512x512"
    assert 'rel="manifest" href="../../manifest.webmanifest"' in page(ledger, "Tea, Large", 1)


def test_a_card_has_its_cup_where_the_menu_still_makes_it_so(ledger: Ledger) -> None:
    """The names in, beside, over and under the cup stand with it, as on the printed card."""
    entry = next(e for e in ledger.printed().values() if e.label == "Old tea, Large")
    drawing = CupDrawing(
        outline_mm=((0.0, 60.0), (120.0, 90.0)), floor_mm=1.0, rim_mm=120.0, working_mm=112.0,
        layers=(
            Layer("liquid", 0.0, 90.0, "drink", "plain"),
            Layer("bed", 0.0, 20.0, "Pearls & <beans>", "pearls"),
            Layer("ice", 50.0, 100.0, "ice cubes of the long name", "ice"),
        ),
        lines=(DrawnLine(90.0, "250 ml", "line"),), alt="A cup with pearls",
    )  # fmt: skip
    files = site_files(ledger, IN_AUTUMN, "K", "en", Layouts(), drawings={entry.digest: drawing})
    with_cup = [path for path, data in files.items() if b"<figure>" in data]
    assert with_cup == [f"C/{entry.code.replace('-', '')}-1/index.html"]
    text = files[with_cup[0]].decode()
    assert 'role="img" aria-label="A cup with pearls"' in text
    seen = shown(text[text.index("<figure>") : text.index("</figure>")])
    assert seen == "drink 250 ml ice cubes of the long name Pearls & <beans>"


def test_no_heading_is_empty_or_without_what_it_heads(demo_site: dict[str, str]) -> None:
    seen = 0
    for path, text in demo_site.items():
        if path.endswith(".html"):
            parts = re.split(r"<h([123])[^>]*>(.*?)</h\1>", text.split("</main>")[0], flags=re.S)
            for level, title, below, deeper in zip(
                parts[1::3], parts[2::3], parts[3::3], [*parts[4::3], "0"], strict=True
            ):
                seen += 1
                assert shown(title), path
                assert shown(below) or deeper > level, (path, title)
    assert seen > 1000


def test_an_unchanged_card_stays_current_over_editions(ledger: Ledger) -> None:
    entry = next(e for e in ledger.printed().values() if e.label == "Tea, Large")
    found = periods(entry, ledger, IN_AUTUMN, edition_words(Layouts(), "en"))
    assert [s.state for s in found] == [State.CURRENT] * 3
    assert found[-1].first == date(2027, 3, 1)


def test_pages_are_in_their_cards_language_and_texts_are_escaped(ledger: Ledger) -> None:
    spanish = page(ledger, "Té, Large", 1)
    assert '<html lang="es">' in spanish
    assert "VIGENTE" in spanish
    text = page(ledger, "Dusk & dawn <tea>, Large", 1)
    assert "Dusk &amp; dawn &lt;tea&gt;" in text
    assert "<tea>" not in text


DEMO_LEDGER = load(Path(__file__).parents[2] / "menu" / "editions")


@pytest.fixture(scope="module")
def demo_site() -> dict[str, str]:
    """The site of the demo's ledger, in its winter."""
    files = site_files(DEMO_LEDGER, IN_WINTER, "Quillmarsh Boathouse", "en", Layouts())
    return {path: data.decode() for path, data in files.items() if path != "icon.png"}


# The drawing's marks, words that no row has, letters of stations before and after, and the dates
# that the page's script reads: what they mean stands in words ("sold until January 6").
NOT_ON_PHONES = {"gauge", "levels", "stations", "station", "marks", "comes_from", "goes_to", "at",
                 "legend", "sold_days"}  # fmt: skip


def texts(told: Any, name: str = "") -> Iterator[str]:
    """Every text that a card says, by the way of all its fields."""
    if isinstance(told, str):
        if told:
            yield " ".join(told.split())
    elif isinstance(told, dict):
        for field, part in told.items():
            if field not in NOT_ON_PHONES or (name, field) == ("rows", "marks"):
                yield from texts(part, field)
    else:
        for part in told:
            yield from texts(part, name)


@pytest.mark.parametrize("kind", ["build", "station", "addons", "gauge", "batch", "allergens",
                                  "words"])  # fmt: skip
def test_a_page_says_all_that_its_card_says(kind: str, demo_site: dict[str, str]) -> None:
    """Whatever a card of the demo says, in both languages, stands on its page: no amount, choice
    or allergen is left to the wall."""
    entries = [e for e in DEMO_LEDGER.editions[-1].entries if e.key.kind == kind]
    assert {e.key.language for e in entries} == {"en", "es"}
    for entry in entries:
        path = f"C/{entry.code.replace('-', '')}-{entry.revision}/index.html"
        text = shown(demo_site[path])
        said = set(texts(DEMO_LEDGER.texts(entry)))
        assert len(said) > 5
        missing = [one for one in said if one not in text]
        assert not missing, (entry.label, missing)


def test_the_allergen_page_tells_each_mark_under_its_own_word(demo_site: dict[str, str]) -> None:
    entry = next(e for e in DEMO_LEDGER.editions[-1].entries
                 if (e.key.kind, e.key.language) == ("allergens", "en"))  # fmt: skip
    told = DEMO_LEDGER.texts(entry)
    text = shown(demo_site[f"C/{entry.code.replace('-', '')}-1/index.html"])
    legend, places = told["legend"], []
    for row in told["rows"]:
        groups = [
            f"{word}: {', '.join(allergens)}"
            for word in legend
            if (allergens := [a for a, mark in row["marks"].items() if mark == word])
        ]
        places.append(text.index(" ".join((row["name"], *groups))))
    assert places == sorted(places)


class Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.found.append((tag, dict(attrs)))


def test_policy_allows_the_pages_own_style_and_script_and_nothing_else(ledger: Ledger) -> None:
    files = site_files(ledger, IN_AUTUMN, "Lantern Kiosk", "en", Layouts())
    pages = {path: data.decode() for path, data in files.items() if path.endswith(".html")}
    assert len(pages) == 7
    for path, text in pages.items():
        tags = Tags()
        tags.feed(text)
        meta = next(a for t, a in tags.found if a.get("http-equiv") == "Content-Security-Policy")
        policy = dict(part.split(" ", 1) for part in str(meta["content"]).split("; "))
        assert policy.pop("default-src") == "'none'"
        for name in ("style", "script"):
            (inline,) = re.findall(rf"<{name}>(.*?)</{name}>", text, flags=re.S)
            digest = base64.b64encode(hashlib.sha256(inline.encode()).digest()).decode()
            assert policy.pop(f"{name}-src") == f"'sha256-{digest}'"
        assert policy.pop("img-src") == "'self' data:"  # the icon, and the drawn cup in the page
        assert set(policy.values()) == {"'self'", "'none'"}
        for tag, attributes in tags.found:
            assert "style" not in attributes, tag
            assert not [name for name in attributes if name.startswith("on")], tag
            assert tag not in ("iframe", "object", "form")
            link = str(attributes.get("href") or attributes.get("src") or "")
            assert not re.match("[a-z]+:|//", link), link
            if link:  # every link leads to a page, the manifest or an icon of the site
                target = (Path("/site") / path).parent / link
                held = files if tag == "link" else pages
                assert Path(*_plain(target).parts[2:]).as_posix() in held


def _plain(path: Path) -> Path:
    parts: list[str] = []
    for part in path.parts:
        parts = parts[:-1] if part == ".." else [*parts, part]
    return Path(*parts)


def test_the_same_ledger_and_day_give_the_same_bytes(ledger: Ledger) -> None:
    assert site(ledger) == site(load(ledger.folder))


def test_a_page_is_small(ledger: Ledger) -> None:
    assert max(len(text) for text in site(ledger).values()) < 14_000  # a first round trip's worth


# The browser's own tests ------------------------------------------------------------------

CHROME = ["/usr/bin/chromium", "--headless", "--no-sandbox", "--disable-gpu"]
PHONE = ["--window-size=390,844", "--hide-scrollbars"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A site whose cards change today, so that the browser's own date decides."""
    today = date.today()
    begun = edition("A", str(today - timedelta(days=9)), str(today + timedelta(days=40)))
    ahead = edition("B", str(today), str(today + timedelta(days=90)))
    published(tmp_path / "editions", [build(), build("old", "Old tea")], begun)
    published(tmp_path / "editions", [build(steps=FIX), build("nouveau", "Té ñandú")], ahead)
    ledger = load(tmp_path / "editions")
    files = site_files(ledger, today - timedelta(days=3), "Lantern Kiosk", "en", Layouts())
    for path, data in files.items():
        target = tmp_path / "site" / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
    return tmp_path / "site"


def find(folder: Path, label: str, revision: int) -> Path:
    return next(
        path
        for path in sorted(folder.glob(f"C/*-{revision}/index.html"))
        if f"<h1>{label}</h1>" in path.read_text("utf-8")
    )


@pytest.mark.browser
def test_opened_from_a_folder_a_page_moves_on_to_today(folder: Path, browser: Browser) -> None:
    before = find(folder, "Lantern milk tea, Large", 1)
    assert "CURRENT" in shown(before.read_text("utf-8"))  # as made three days ago
    browser.open(before.as_uri())
    seen = shown(browser.value("document.documentElement.outerHTML"))
    assert "SUPERSEDED: TAKE THIS CARD DOWN" in seen
    assert "120 ml" not in seen
    browser.open(find(folder, "Lantern milk tea, Large", 2).as_uri())
    seen = shown(browser.value("document.documentElement.outerHTML"))
    assert "CURRENT Current until" in seen


@pytest.mark.browser
def test_search_finds_drinks_whatever_their_accents(folder: Path, browser: Browser) -> None:
    browser.open((folder / "index.html").as_uri())
    code = re.search(r"[A-Z]-\w{5}-\w", find(folder, "Old tea, Large", 1).read_text("utf-8"))
    assert code is not None
    for asked, labels in (
        ("", ["Lantern milk tea: Large", "Té ñandú: Large"]),
        ("te nandu", ["Té ñandú: Large"]),
        ("old", []),
        ("nothing like it", []),
        (code[0].lower(), ["Old tea: Large"]),  # an old card is found by its code
    ):
        found = browser.value(
            f"box.value = {asked!r}; box.dispatchEvent(new Event('input'));"
            "[...document.querySelectorAll('.cards section:not([hidden]) li:not([hidden])')].map("
            "row => row.closest('section').querySelector('h2').textContent + ': ' +"
            "row.querySelector('b').textContent)"
        )
        heads = browser.value("[...document.querySelectorAll('.cards h2')]"
                              ".filter(head => head.offsetParent).length")  # fmt: skip
        assert heads == len(labels)  # no drink's name without a card under it
        assert found == labels, asked
        assert browser.value("none.hidden") is bool(labels)


@pytest.fixture
def served(folder: Path) -> Iterator[tuple[str, list[str], ThreadingHTTPServer]]:
    with serving(folder) as held:
        yield held


@pytest.mark.browser
def test_a_page_asks_its_own_server_only_and_breaks_no_policy(
    folder: Path, served: tuple[str, list[str], ThreadingHTTPServer], tmp_path: Path
) -> None:
    address, asked, _ = served
    path = find(folder, "Lantern milk tea, Large", 2).relative_to(folder).as_posix()
    run = subprocess.run(
        [*CHROME, *PHONE, f"--user-data-dir={tmp_path / 'profile'}", "--enable-logging=stderr",
         "--v=0", "--virtual-time-budget=4000", "--dump-dom", f"{address}/{path}"],
        capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    assert "Content Security Policy" not in run.stderr
    assert "Uncaught" not in run.stderr
    assert f"/{path}" in asked
    assert "CURRENT Current until" in shown(run.stdout)
    assert "No connection" not in shown(run.stdout)


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    opened = Browser(tmp_path_factory.mktemp("profile"))
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's site as the command writes it, with the cups of its menu."""
    out = tmp_path_factory.mktemp("demo")
    menu = Path(__file__).parents[2] / "menu"
    assert main(["site", str(menu), "--out", str(out), "--day", "2026-12-24"]) == 0
    return out / "site"


CUT_OFF = """[...document.querySelectorAll('main, main *')].filter(e => e.offsetParent
  && e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0
  && !e.querySelector('.state, .note') && getComputedStyle(e).display !== 'inline')
  .map(e => e.tagName + ' ' + e.textContent.trim().slice(0, 60))"""
"""What is wider than the place it has (boxes around a band to the phone's edges are left out)."""


@pytest.mark.browser
@pytest.mark.parametrize("width", [360, 1280])
def test_nothing_is_cut_off(width: int, demo_folder: Path, browser: Browser) -> None:
    """Every page of the demo in both languages: 360 px is a small phone's width."""
    browser.window(width)
    pages = [demo_folder / "index.html", *sorted(demo_folder.glob("C/*/index.html"))]
    assert len(pages) > 150
    for path in pages if width == 360 else pages[:10]:
        browser.open(path.as_uri())
        assert browser.value(CUT_OFF) == []
        wide = browser.value("document.documentElement.scrollWidth")
        assert width - 20 <= wide <= width, path  # less by a desktop's scroll bar


@pytest.mark.browser
def test_the_cups_names_stay_in_their_picture(demo_folder: Path, browser: Browser) -> None:
    browser.window(360)
    pages = [path for path in sorted(demo_folder.glob("C/*/index.html"))
             if "<figure>" in path.read_text("utf-8")]  # fmt: skip
    assert len(pages) > 50
    for path in pages[::6]:
        browser.open(path.as_uri())
        inside = browser.value(
            """(() => { const box = document.querySelector('figure').getBoundingClientRect();
            return [...document.querySelectorAll('figure text')].map(e => e.getBoundingClientRect())
            .map(r => r.width > 0 && r.left >= box.left && r.right <= box.right
                      && r.top >= box.top && r.bottom <= box.bottom) })()"""
        )
        assert inside
        assert all(inside), path
        assert browser.value("document.querySelector('figure image').getBBox().width") > 30


@pytest.mark.browser
def test_once_loaded_every_page_is_there_without_a_connection(
    folder: Path, served: tuple[str, list[str], ThreadingHTTPServer], browser: Browser
) -> None:
    address, asked, server = served
    browser.open(f"{address}/index.html")
    browser.value("navigator.serviceWorker.ready.then(() => true)")
    assert browser.value("document.getElementById('offline').hidden") is True
    server.shutdown()
    server.server_close()
    card = find(folder, "Lantern milk tea, Large", 2).parent.relative_to(folder).as_posix()
    assert f"/{card}/index.html" in asked  # kept, though nobody opened it
    browser.open(f"{address}/{card}/")
    assert browser.value("document.querySelector('.state:not([hidden])').className") == (
        "state current"
    )
    browser.wait("!document.getElementById('offline').hidden")
    browser.open(f"{address}/index.html")
    assert browser.value("document.querySelectorAll('.cards li:not([hidden])').length") == 2


@pytest.mark.browser
def test_with_a_connection_the_newest_page_is_shown(
    folder: Path, served: tuple[str, list[str], ThreadingHTTPServer], browser: Browser
) -> None:
    address, _, _ = served
    browser.open(f"{address}/index.html")
    browser.value("navigator.serviceWorker.ready.then(() => true)")
    path = find(folder, "Lantern milk tea, Large", 2)
    path.write_text(path.read_text("utf-8").replace("<h1>", "<h1>New: "), "utf-8")
    browser.open(f"{address}/{path.parent.relative_to(folder).as_posix()}/")
    assert browser.value("document.querySelector('h1').textContent").startswith("New: ")


@pytest.mark.browser
@pytest.mark.parametrize("dark", [False, True])
def test_touch_targets_contrast_and_names(dark: bool, folder: Path, browser: Browser) -> None:
    """WCAG 2.2: targets of 24 px at least (2.5.8), text contrast of 4.5 (1.4.3), names (4.1.2)."""
    browser.window(390, dark)
    for path in (folder / "index.html", find(folder, "Lantern milk tea, Large", 2)):
        browser.open(path.as_uri())
        heights = browser.value(
            "[...document.querySelectorAll('main a, input')].filter(e => e.offsetParent)"
            ".map(e => e.getBoundingClientRect().height)"
        )
        assert all(height >= 24 for height in heights)
        contrasts = browser.contrasts()
        assert len(contrasts) > 4
        assert min(contrasts)[0] >= 4.5, min(contrasts)
        paper = browser.value("getComputedStyle(document.body).backgroundColor")
        assert (paper == "rgb(255, 255, 255)") is not dark
        assert browser.value("document.documentElement.lang") == "en"
        assert browser.value("document.querySelectorAll('h1').length") == 1
