"""The menus of one shop or of several in; each printed, in one run with one summary, and the exit
code of the worst out.

Several shops share the cache and, where a Dask scheduler is named, its workers. A shop that cannot
be printed does not keep the others from it.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from copy import copy
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildsheets.cli.commands import CLEAN, COULD_NOT, Ended, for_programs
from buildsheets.cli.parser import MENU_FOLDER
from buildsheets.cli.printing import print_cards
from buildsheets.findings.spelling import count_of, listed

if TYPE_CHECKING:
    from concurrent.futures import Executor

INSTALL = "pip install 'buildsheets[chain]'"
REACH_S = 10
"""How long a scheduler is waited for."""


def print_shops(options: argparse.Namespace) -> int:
    """Print one menu into ``--out``, or each of several into a folder of its own there."""
    with _scheduled(options.scheduler) as executor:
        if len(options.shops) < 2:
            return print_cards(options, executor)
        if for_programs(options):
            raise Ended(COULD_NOT, f"--format {options.format} tells of one menu; name one")
        return _print_each(_folders(options.shops), options, executor)


def _print_each(
    shops: dict[str, Path], options: argparse.Namespace, executor: Executor | None
) -> int:
    codes, said = [], []
    for name, menu in shops.items():
        print(f"== {name} ==")
        code, words = _print_one(menu, options.out / name, options, executor)
        codes.append(code)
        said.append(f"{name}: {words}")
    done = sum(code == CLEAN for code in codes)
    left = f", {len(codes) - done} not" if done < len(codes) else ""
    print(f"== {count_of(len(codes), 'shop')}, {done} done{left} ==")
    print("\n".join(said))
    return max(codes)


def _print_one(
    menu: Path, out: Path, options: argparse.Namespace, executor: Executor | None
) -> tuple[int, str]:
    """The exit code of a shop's print, and where it is or why there is none."""
    from buildsheets.cli.main import told  # which imports the commands

    own = copy(options)
    own.menu, own.out = menu, out
    try:
        code = print_cards(own, executor)
    except Ended as ended:
        return ended.code, ended.words or "could not be read"
    except Exception as error:
        return COULD_NOT, told(error)
    return code, str(out) if code == CLEAN else "see above"


def _folders(shops: Sequence[str]) -> dict[str, Path]:
    """Each shop's menu by the name of its folder under ``--out``: the menu's own name, or that of
    the folder it lies in where it is called ``menu`` as everywhere."""
    found: dict[str, Path] = {}
    for shop in shops:
        path = Path(shop)
        name = path.stem if path.suffix in (".yaml", ".yml") else path.resolve().name
        if name == MENU_FOLDER.name:
            name = path.resolve().parent.name
        other = next((one for one in found if one.casefold() == name.casefold()), None)
        if other is not None:
            both = listed(map(str, (found[other], path)), "and")
            words = f"{both} would both be printed into the folder {name}; rename one of the two"
            raise Ended(COULD_NOT, words)
        found[name] = path
    return found


@contextmanager
def _scheduled(address: str) -> Iterator[Executor | None]:
    """The workers of a Dask scheduler; ``None``, for this machine's, where no address is given."""
    if not address:
        yield None
        return
    try:
        dask: Any = import_module("distributed")
    except ModuleNotFoundError:
        raise Ended(COULD_NOT, f"--scheduler needs Dask: {INSTALL}") from None
    try:
        client = dask.Client(address, timeout=REACH_S)
    except (OSError, ValueError) as refused:
        raise Ended(COULD_NOT, f"no Dask scheduler answers at {address}: {refused}") from None
    with client:
        yield client.get_executor()
