"""Headless Chromium on a leash, for what takes longer than one page load: offline copies."""

from __future__ import annotations

import json
import os
import subprocess
import time
from pathlib import Path
from typing import Any

COMMAND = "exec /usr/bin/chromium --headless --no-sandbox --disable-gpu --window-size=390,844"


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

    def close(self) -> None:
        self._process.kill()
        self._process.wait()
        os.close(self._to)
        os.close(self._from)
