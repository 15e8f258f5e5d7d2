"""A menu's path goes in; where its ledger and its own layouts are comes out."""

from __future__ import annotations

from dataclasses import dataclass
from os.path import isdir  # false of what may not be looked at, where Path.is_dir raises
from pathlib import Path
from typing import TYPE_CHECKING

from buildsheets.menu.files import own_layouts

if TYPE_CHECKING:
    from buildsheets.print.layouts import Layouts

EDITIONS = "editions"


@dataclass(frozen=True, slots=True)
class Place:
    """Where a menu's own folders are: beside the file, or in the folder, that holds the menu."""

    folder: Path

    @classmethod
    def of(cls, menu: Path) -> Place:
        """The place of a menu given as a folder or as one file."""
        return cls(menu if menu.is_dir() else menu.parent)

    @property
    def ledger(self) -> Path:
        """The folder of published editions, kept with the menu: out/ may be thrown away."""
        return self.folder / EDITIONS

    @property
    def own_layouts(self) -> Path | None:
        """The folder of the shop's own layouts, where it has one."""
        own = own_layouts(self.folder)
        return own if isdir(own) else None

    @property
    def layouts(self) -> Layouts:
        """Shipped layouts, with the shop's own over them where it has any."""
        from buildsheets.print.layouts import Layouts

        return Layouts(self.own_layouts)
