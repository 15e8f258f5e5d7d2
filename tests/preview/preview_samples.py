"""A watched menu and its preview, asked without a network, for the tests of its pages."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from menu_samples import SMALL
from werkzeug.test import Client, TestResponse

from buildsheets.menu.files import load_sources
from buildsheets.preview.pages import Preview
from buildsheets.preview.watch import Watch

PORT = 8642
HERE = {"Host": f"localhost:{PORT}"}


@dataclass(frozen=True)
class Asked:
    """A preview of a menu in a folder, and a client for it."""

    file: Path
    watch: Watch
    client: Client

    @classmethod
    def of(cls, folder: Path, text: str = SMALL) -> Asked:
        """A preview of a menu of one file."""
        folder.mkdir(parents=True, exist_ok=True)
        file = folder / "menu.yaml"
        watch = Watch(folder)
        preview = Preview(watch, PORT, lambda *order: f"explained {order[1].id}")
        asked = cls(file, watch, Client(preview))
        asked.save(text)
        return asked

    def save(self, text: str) -> None:
        """Write the menu, and have it noticed."""
        self.file.write_text(text, "utf-8")
        self.watch.take(*load_sources(self.file.parent))

    def get(self, path: str, **headers: str) -> TestResponse:
        """Ask for a page as a browser of this machine does."""
        return self.client.get(path, headers={**HERE, **headers})

    def words(self, path: str) -> str:
        """The words of a page's main part and findings, tags left out."""
        html = self.get(path).text
        return words_of(html[html.index("<aside") :])


def words_of(html: str) -> str:
    """The words of HTML, one space between them."""
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())
