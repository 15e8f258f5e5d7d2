"""Headless Chromium on a leash, for what takes longer than one page load: offline copies."""

from __future__ import annotations

import json
import os
import re
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any

import wcag_contrast_ratio

COMMAND = "exec /usr/bin/chromium --headless --no-sandbox --disable-gpu --window-size=390,844"


@contextmanager
def serving(folder: Path) -> Iterator[tuple[str, list[str], ThreadingHTTPServer]]:
    """A site on a loopback server: its address, and every path it was asked for."""
    asked: list[str] = []

    class Handler(SimpleHTTPRequestHandler):
        timeout = 0.5  # of what the browser connected in advance, which would outlive the server

        def log_message(self, *args: Any) -> None:
            asked.append(self.path)

    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Handler, directory=str(folder)))
    Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}", asked, server
    server.shutdown()
    server.server_close()


class Browser:
    """One page in a phone-sized window, driven by the DevTools protocol over a pipe."""

    def __init__(self, profile: Path) -> None:
        to_read, self._to = os.pipe()
        self._from, to_write = os.pipe()
        pipes = f"--remote-debugging-pipe 3<&{to_read} 4>&{to_write}"
        self._process = subprocess.Popen(
            ["bash", "-c", f"{COMMAND} --user-data-dir={profile} {pipes}"],
            pass_fds=(to_read, to_write), stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(to_read)
        os.close(to_write)
        self._held, self._number, self._session = b"", 0, ""
        target = self._ask("Target.createTarget", url="about:blank")
        attached = self._ask("Target.attachToTarget", targetId=target["targetId"], flatten=True)
        self._session = attached["sessionId"]

    def _ask(self, method: str, **params: Any) -> Any:
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        while True:
            while b"\0" not in self._held:
                self._held += os.read(self._from, 65536)
            part, _, self._held = self._held.partition(b"\0")
            answer = json.loads(part)
            if answer.get("id") == self._number:
                assert "error" not in answer, answer
                return answer["result"]

    def window(self, width: int, dark: bool = False) -> None:
        """The window so wide, and the light or dark colours that a phone is set to."""
        size = {"width": width, "height": 800, "deviceScaleFactor": 1, "mobile": width < 700}
        self._ask("Emulation.setDeviceMetricsOverride", **size)
        colours = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self._ask("Emulation.setEmulatedMedia", features=[colours])

    def open(self, address: str) -> None:
        """Go to a page and wait until it is loaded."""
        self._ask("Page.navigate", url=address)
        self.wait("document.readyState === 'complete' && location.href !== 'about:blank'")

    def value(self, expression: str) -> Any:
        """The value of an expression (or of its promise) in the page."""
        done = self._ask(
            "Runtime.evaluate", expression=expression, awaitPromise=True, returnByValue=True
        )
        return done["result"].get("value")

    def wait(self, condition: str, seconds: float = 15.0) -> None:
        """Wait until a condition holds in the page."""
        give_up = time.monotonic() + seconds
        while not self.value(condition):
            assert time.monotonic() < give_up, condition
            time.sleep(0.05)

    def before_pages(self, script: str) -> str:
        """Run a script in every page before its own; the number to end that by."""
        self._ask("Page.enable")
        done = self._ask("Page.addScriptToEvaluateOnNewDocument", source=script)
        return str(done["identifier"])

    def no_more(self, number: str) -> None:
        self._ask("Page.removeScriptToEvaluateOnNewDocument", identifier=number)

    def press(self, key: str, text: str = "") -> None:
        """A key, as a person presses it."""
        code = {"Tab": 9, "Enter": 13, " ": 32, "ArrowDown": 40}[key]
        for what in ("keyDown", "keyUp"):
            down = {"text": text} if text and what == "keyDown" else {}
            self._ask(
                "Input.dispatchKeyEvent", type=what, key=key, windowsVirtualKeyCode=code, **down
            )

    def types(self, text: str) -> None:
        self._ask("Input.insertText", text=text)

    def told(self) -> list[tuple[str, str]]:
        """What a screen reader is told of the page: the role and the name of each of its parts."""
        self._ask("Accessibility.enable")
        nodes = self._ask("Accessibility.getFullAXTree")["nodes"]
        return [
            (node["role"]["value"], node.get("name", {}).get("value", ""))
            for node in nodes
            if not node["ignored"]
        ]

    def contrasts(self) -> list[tuple[float, str]]:
        """Each text that is shown, after its contrast against what it stands on (WCAG)."""
        shown = self.value(
            """[...document.querySelectorAll('main *')].filter(e => e.offsetParent &&
            [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())).map(e => {
              let under = e;
              while (under && getComputedStyle(under).backgroundColor === 'rgba(0, 0, 0, 0)')
                under = under.parentElement;
              return [e.textContent, getComputedStyle(e).color,
                      getComputedStyle(under || document.body).backgroundColor];
            })"""
        )
        found = []
        for text, *colours in shown:
            pair = [[int(n) / 255 for n in re.findall(r"\d+", c)[:3]] for c in colours]
            found.append((wcag_contrast_ratio.rgb(*map(tuple, pair)), text))
        return found

    def close(self) -> None:
        self._process.kill()
        self._process.wait()
        os.close(self._to)
        os.close(self._from)
