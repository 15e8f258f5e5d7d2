"""The preview in headless Chromium: what a save changes, the keyboard, and what is read out."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
import wcag_contrast_ratio
from edition_browser import Browser
from menu_samples import SMALL, swapped

from buildsheets.preview.server import server
from buildsheets.preview.watch import Watch

pytestmark = pytest.mark.browser

CLOUD = "/en/card/build/cloud/medium"
ORDER = "/en/order?drink=cloud&size=medium"
PAGES = ("/en/", ORDER, CLOUD)
TOO_MUCH = swapped(SMALL, "amount: 200 ml", "amount: 600 ml")
SECONDS = 60.0


@dataclass(frozen=True)
class Open:
    """A menu file, the address of its preview, and a browser that looks at it."""

    file: Path
    watch: Watch
    address: str
    browser: Browser

    def open(self, path: str) -> None:
        """Go to a page, and wait for its pictures."""
        self.browser.open(self.address + path)
        pictures = "Promise.all([...document.images].map(i => i.decode())).then(() => true)"
        assert self.browser.value(pictures)

    def save(self, text: str, then: str) -> None:
        """Save the menu, and wait until the page shows it."""
        self.file.write_text(text, "utf-8")
        self.browser.wait(then, SECONDS)


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Open]:
    folder = tmp_path_factory.mktemp("menu")
    file = folder / "menu.yaml"
    file.write_text(SMALL, "utf-8")
    watch = Watch(folder)
    serving = server(watch, 0, lambda *_: "")
    Thread(target=serving.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()
    browser = Browser(tmp_path_factory.mktemp("profile"))
    look_through(browser, 1280)
    yield Open(file, watch, f"http://127.0.0.1:{serving.port}", browser)
    browser.close()
    serving.shutdown()
    watch.end()


def look_through(browser: Browser, width: int) -> None:
    """Look through a window of a width."""
    browser._ask(
        "Emulation.setDeviceMetricsOverride", width=width, height=900, deviceScaleFactor=1,
        mobile=False,
    )  # fmt: skip


@pytest.fixture
def preview(shared: Open) -> Open:
    """The small menu, as it was."""
    shared.file.write_text(SMALL, "utf-8")
    give_up = time.monotonic() + SECONDS
    while not (
        (known := shared.watch.known).whole
        and [one.text for one in known.now.checked.sources.values()] == [SMALL]
    ):
        assert time.monotonic() < give_up
        time.sleep(0.05)
    return shared


def test_a_saved_drink_is_shown_without_a_reload(preview: Open) -> None:
    preview.open(CLOUD)
    browser = preview.browser
    browser.value("window.stays = 1; document.querySelector('.ways a').focus()")
    picture = browser.value("document.querySelector('img.print').src")
    text = SMALL.replace("    name: Cloud\n", "    name: Cloudburst\n")
    preview.save(text, "document.querySelector('h1').textContent === 'Cloudburst, Medium'")
    assert browser.value("document.title").startswith("Cloudburst, Medium")
    assert browser.value("document.querySelector('img.print').src") != picture
    assert browser.value("document.querySelector('img.print').naturalWidth") > 600
    assert browser.value("window.stays") == 1
    assert browser.value("document.activeElement.getAttribute('href')") == CLOUD


def test_an_error_is_read_out_and_the_last_good_card_stays(preview: Open) -> None:
    preview.open(CLOUD)
    browser = preview.browser
    picture = browser.value("document.querySelector('img.print').src")
    assert browser.value("document.getElementById('said').getAttribute('role')") == "status"
    browser.value("window.region = document.getElementById('said')")
    preview.save(TOO_MUCH, "document.body.textContent.includes('cup-overfull')")
    # The same element speaks: a new one would not be read out.
    assert browser.value("window.region === document.getElementById('said')")
    assert browser.value("window.region.textContent").endswith(" 1 error.")
    assert browser.value("document.querySelector('img.print').src") == picture
    assert browser.value("document.querySelector('.older').textContent").startswith("Older: as of")
    preview.save(SMALL, "!document.querySelector('.older')")


def test_an_order_is_shown_as_it_is_chosen(preview: Open) -> None:
    preview.open(ORDER)
    browser = preview.browser
    cup = browser.value("document.querySelector('img.cup').src")
    assert browser.value("document.querySelector('img.cup').naturalWidth") > 0
    browser.value("document.getElementById('add-add-pearls').focus()")
    press(browser, " ")
    browser.wait(f"document.querySelector('img.cup').src !== {cup!r}", SECONDS)
    assert "add=add-pearls" in browser.value("location.search")
    assert browser.value("document.activeElement.id") == "add-add-pearls"
    assert browser.value("document.querySelector('.allergens').textContent") == "Contains milk"
    assert "Pearls" in browser.value("document.querySelector('main ol').textContent")


def test_what_is_open_stays_open_and_the_text_of_the_card_is_in_it(preview: Open) -> None:
    preview.open(CLOUD)
    browser = preview.browser
    browser.value("document.querySelector('#as-text summary').focus()")
    press(browser, "Enter")
    assert browser.value("document.getElementById('as-text').open") is True
    frame = "document.querySelector('iframe').contentDocument"
    browser.value("document.querySelector('iframe').scrollIntoView()")  # it loads when seen
    browser.wait(f"!!({frame} && {frame}.querySelector('h1'))", SECONDS)
    assert browser.value(f"{frame}.documentElement.lang") == "en"
    assert browser.value(f"{frame}.querySelector('h1').textContent").startswith("Cloud")
    text = SMALL.replace("    name: Cloud\n", "    name: Cloudlet\n")
    preview.save(text, "document.querySelector('h1').textContent === 'Cloudlet, Medium'")
    assert browser.value("document.getElementById('as-text').open") is True
    assert browser.value("document.activeElement.parentElement.id") == "as-text"


def test_the_end_of_the_preview_is_told(preview: Open) -> None:
    preview.open("/en/")
    preview.browser.value("window.fetch = () => Promise.reject(new TypeError('gone'))")
    said = "document.getElementById('said').textContent.includes('The preview has ended')"
    preview.browser.wait(said, SECONDS)


def press(browser: Browser, key: str) -> None:
    """A key pressed and let go."""
    code = {"Tab": 9, "Enter": 13, " ": 32}[key]
    text = {"Enter": "\r", " ": " "}.get(key, "")
    for kind in ("keyDown", "keyUp"):
        browser._ask(
            "Input.dispatchKeyEvent", type=kind, key=key, windowsVirtualKeyCode=code,
            **({"text": text} if kind == "keyDown" and text else {}),
        )  # fmt: skip


@pytest.mark.parametrize("path", PAGES)
def test_everything_is_reached_by_the_keyboard_and_seen_there(preview: Open, path: str) -> None:
    """WCAG 2.2, 2.1.1 keyboard, 2.4.7 focus visible, 2.4.1 bypass blocks."""
    preview.open(path)
    browser = preview.browser
    wanted = browser.value(
        "[...document.querySelectorAll('a[href], select, button, summary, input, "
        '[tabindex="0"]\')]'
        ".filter(e => e.checkVisibility() && (e.type !== 'radio' || e.checked)).length"
    )
    browser.value("document.activeElement.blur()")
    reached: dict[str, str] = {}
    for _ in range(wanted + 5):
        press(browser, "Tab")
        place, outline = browser.value(
            "(() => { const e = document.activeElement; "
            "const all = [...document.querySelectorAll('*')];"
            "return [e === document.body ? '' : String(all.indexOf(e)), "
            "getComputedStyle(e).outlineStyle + getComputedStyle(e).outlineWidth]; })()"
        )
        if place in reached:
            break
        if place:
            reached[place] = outline
    frame = browser.value(
        "[...document.querySelectorAll('iframe')].filter(e => e.checkVisibility()).length"
    )
    assert len(reached) >= wanted - frame > 10
    assert set(reached.values()) <= {"solid3px", "auto3px"}
    first = browser.value("document.querySelector('a').getAttribute('href')")
    assert first == "#main"


def tree(browser: Browser) -> list[dict[str, Any]]:
    """What a screen reader is given: each node's role and name."""
    browser._ask("Accessibility.enable")
    nodes = browser._ask("Accessibility.getFullAXTree")["nodes"]
    return [
        {
            "role": node.get("role", {}).get("value"),
            "name": node.get("name", {}).get("value", ""),
            **{one["name"]: one["value"].get("value") for one in node.get("properties", ())},
        }
        for node in nodes
        if not node.get("ignored")
    ]


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("text", [SMALL, TOO_MUCH], ids=["sound", "error"])
def test_what_a_screen_reader_is_given(preview: Open, path: str, text: str) -> None:
    """WCAG 2.2, 1.1.1, 1.3.1, 2.4.6, 4.1.2, 4.1.3: names, headings, landmarks, what speaks."""
    preview.open(path)
    kind = "stopped" if text is TOO_MUCH else "sound"
    preview.save(text, f"document.getElementById('said').className === '{kind}'")
    found = tree(preview.browser)
    roles = [one["role"] for one in found]
    assert {"banner", "navigation", "main", "status", "heading"} <= set(roles)
    named = ("link", "button", "image", "combobox", "radio", "checkbox", "navigation", "meter",
             "Iframe", "DisclosureTriangle")  # fmt: skip
    for one in found:
        if one["role"] in named:
            assert one["name"].strip(), one
    links = [one["name"] for one in found if one["role"] == "link"]
    assert "Cloud, Medium" in links
    (status,) = [one for one in found if one["role"] == "status"]
    assert status["live"] == "polite"
    levels = [one["level"] for one in found if one["role"] == "heading"]
    assert levels.count(1) == 1
    if path == ORDER:
        assert "With" not in status["name"]
        images = [one["name"] for one in found if one["role"] == "image"]
        assert any("Cup" in name or "cup" in name for name in images), images
    if path == CLOUD:
        (picture,) = [one for one in found if one["role"] == "image"]
        assert picture["name"] == "Cloud, Medium"


COLOURS = """[...document.querySelectorAll('body *')].filter(e => e.checkVisibility() &&
  [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())).map(e => {
    let under = e;
    while (under && getComputedStyle(under).backgroundColor === 'rgba(0, 0, 0, 0)')
      under = under.parentElement;
    return [getComputedStyle(e).color, getComputedStyle(under || document.body).backgroundColor,
            e.tagName];
  })"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_is_told_from_its_ground_by_day_and_by_night(preview: Open, scheme: str) -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1."""
    browser = preview.browser
    browser._ask(
        "Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}]
    )
    try:
        grounds = set()
        for path in PAGES:
            preview.open(path)
            if path == PAGES[0]:
                preview.save(TOO_MUCH, "document.getElementById('said').className === 'stopped'")
            colours = browser.value(COLOURS)
            assert len(colours) > 20
            for text, ground, tag in colours:
                if tag in ("OPTION", "METER"):
                    continue  # drawn by the system
                pair = [[int(n) / 255 for n in re.findall(r"\d+", c)[:3]] for c in (text, ground)]
                assert wcag_contrast_ratio.rgb(*map(tuple, pair)) >= 4.5, (path, text, ground, tag)
                grounds.add(ground)
        assert len(grounds) > 3
    finally:
        browser._ask("Emulation.setEmulatedMedia", features=[])


@pytest.mark.parametrize("width", [360, 768, 1280])
def test_a_page_is_no_wider_than_its_window(preview: Open, width: int) -> None:
    browser = preview.browser
    look_through(browser, width)
    try:
        for path in PAGES:
            preview.open(path)
            wide, window = browser.value("[document.documentElement.scrollWidth, innerWidth]")
            assert wide <= window, path
            small = browser.value(
                "[...document.querySelectorAll('header a, .ways a, fieldset label, button, select, "
                "summary')]"
                ".filter(e => e.checkVisibility()).map(e => e.getBoundingClientRect().height)"
                ".filter(h => h < 24)"
            )
            assert small == [], path  # WCAG 2.2, 2.5.8
    finally:
        look_through(browser, 1280)


def test_no_page_asks_for_what_its_policy_forbids(preview: Open) -> None:
    browser = preview.browser
    browser._ask("Page.enable")
    browser._ask(
        "Page.addScriptToEvaluateOnNewDocument",
        source="window.refused = []; addEventListener('securitypolicyviolation', "
        "e => window.refused.push(e.violatedDirective + ' ' + e.blockedURI));",
    )
    for path in PAGES:
        preview.open(path)
        assert browser.value("window.refused") == [], path
