"""Words of a command go in; they come out parsed, or the likely ones for a slip are named."""

from __future__ import annotations

import argparse
import os
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Any, NoReturn

from buildsheets.cli.commands import COULD_NOT, Ended
from buildsheets.findings.spelling import listed, nearest

MENU_FOLDER = Path("menu")
"""Where the menu is when nobody says."""


class Parser(argparse.ArgumentParser):
    """A command's parser: nothing is abbreviated, and an unknown word gets the likely one."""

    def __init__(self, **settings: Any) -> None:
        settings.setdefault("formatter_class", argparse.RawDescriptionHelpFormatter)
        super().__init__(allow_abbrev=False, **settings)
        self._only_with: list[tuple[str, str]] = []
        self._not_with: list[tuple[str, str]] = []

    @property
    def commands(self) -> Mapping[str, Parser]:
        """The commands below this one, by name."""
        below = (a for a in self._actions if isinstance(a, argparse._SubParsersAction))
        return {name: one for action in below for name, one in action.choices.items()}

    def only_with(self, other: str, *options: str) -> None:
        """Options that do something beside another one alone: ``--sheet``, ``--format pdf``."""
        self._only_with += [(option, other) for option in options]

    def not_with(self, other: str, *options: str) -> None:
        """Options that do nothing beside another one."""
        self._not_with += [(option, other) for option in options]

    def finish(self, options: argparse.Namespace) -> None:
        """Put the menu in its place, and refuse what would do nothing."""
        for option, other in self._only_with:
            if self._given(options, option) and not self._given(options, other):
                self.error(f"{option} does nothing without {other}")
        for option, other in self._not_with:
            if self._given(options, option) and self._given(options, other):
                self.error(f"{option} does nothing with {other}")
        if "menu" in options:
            self._settle_menu(options)

    def _given(self, options: argparse.Namespace, option: str) -> bool:
        flag, _, value = option.partition(" ")
        dest = next((a.dest for a in self._actions if flag in a.option_strings), flag)
        found = getattr(options, dest)
        return bool(found == value) if value else bool(found != self.get_default(dest))

    def _settle_menu(self, options: argparse.Namespace) -> None:
        """The menu is ``--menu``, the word MENU, or a path at the end of a command's words; several
        are ``shops``."""
        shops = getattr(options, "shops", [])
        if len(shops) > 1:
            if options.menu is not None:
                self.error(f"menus are named twice: --menu {options.menu}, {listed(shops, 'and')}")
            return
        words = [getattr(options, "menu_word", None), *shops]
        for action in self._actions:
            if not action.option_strings and action.dest not in ("menu_word", "shops", "help"):
                words.append(_path_at_the_end(options, action))
        said = [Path(word) for word in (options.menu, *words) if word is not None]
        if len(set(said)) > 1:
            self.error(f"two menus are named: {listed(map(str, said), 'and')}")
        options.menu = said[0] if said else MENU_FOLDER

    def error(self, message: str) -> NoReturn:
        raise Ended(COULD_NOT, message, f"{self.format_usage()}{self.prog}: error: ")

    # What argparse calls itself.

    def parse_known_args(  # type: ignore[override]
        self, args: Sequence[str] | None = None, namespace: argparse.Namespace | None = None
    ) -> tuple[argparse.Namespace, list[str]]:
        """Parse all there is: what nobody knows is refused by the command it stands in."""
        known, left = super().parse_known_args(args, namespace)
        if len(left) == 1 and is_path(left[0]) and getattr(known, "menu", "") is None:
            known.menu = left.pop()  # a path behind options, where no list of words goes on
        if left:
            self._refuse(left)
        return known, left

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        if action.choices is None or value in action.choices:
            return
        if action.nargs == "?" and is_path(value):
            return  # a menu, which is taken out of its place later
        words = [str(one) for one in action.choices]
        near = likely(str(value), words)
        hint = f"did you mean {listed(near)}?" if near else f"there is {listed(words, 'and')}"
        raise argparse.ArgumentError(action, f"there is no '{value}'; {hint}")

    def _refuse(self, left: Sequence[str]) -> NoReturn:
        first = left[0]
        if first[:1] != "-" or first == "-":
            self.error(f"'{first}' is a word too many; {self.prog} --help says what it takes")
        flag = first.partition("=")[0]
        near = likely(flag, self._option_string_actions)
        hint = f"did you mean {listed(near)}?" if near else f"{self.prog} --help lists all"
        self.error(f"there is no option {flag}; {hint}")


def likely(word: str, known: Collection[str]) -> list[str]:
    """Known words that a word begins, else up to three that it may be a slip for."""
    begun = [one for one in known if len(word.strip("-")) > 1 and one.startswith(word)]
    return begun or nearest(word, known, 3)


def _path_at_the_end(options: argparse.Namespace, action: argparse.Action) -> str | None:
    """The last word of a command's words where it is the path of a menu; it is taken out."""
    found = getattr(options, action.dest, None)
    if isinstance(found, list) and len(found) > (action.nargs == "+") and is_path(found[-1]):
        setattr(options, action.dest, found[:-1])
        return str(found[-1])
    if action.nargs == "?" and isinstance(found, str) and is_path(found):
        setattr(options, action.dest, action.default)
        return found
    return None


def is_path(word: object) -> bool:
    """Whether a word is a path that is there, and cannot be the name of something in a menu; "-" is
    standard input."""
    if not isinstance(word, str):
        return False
    looks_like_one = "/" in word or os.sep in word or word.endswith((".yaml", ".yml"))
    return word == "-" or (looks_like_one and Path(word).exists())
