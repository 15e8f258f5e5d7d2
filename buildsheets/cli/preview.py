"""The command that shows a menu in a browser while it is written: a local page, until Ctrl-C."""

from __future__ import annotations

import argparse
import errno

from buildsheets.cli.commands import (
    CLEAN,
    COULD_NOT,
    Ended,
    checked_menu,
    open_address,
    refuse_stdin,
    report,
)
from buildsheets.cli.explain import explain_text
from buildsheets.cli.told import Wall
from buildsheets.cup.serving import Choice
from buildsheets.menu.model import CupSize, Drink
from buildsheets.preview.server import server
from buildsheets.preview.watch import Dated, Watch


def preview(options: argparse.Namespace) -> int:
    """Serve the pages until Ctrl-C."""
    refuse_stdin(options)
    if not options.menu.exists():
        checked = checked_menu(options)
        report(
            checked.findings,
            checked.sources,
            argparse.Namespace(format="short", strict=False, outcome=None),
        )
        raise Ended(COULD_NOT)

    def explained(menu: Dated, drink: Drink, size: CupSize, choice: Choice, language: str) -> str:
        assert menu.checked.menu is not None
        wall = Wall.of(menu.checked.menu, menu.checked.servings, options.menu, language)
        return explain_text(drink, size, choice, wall)

    try:
        serving = server(Watch(options.menu), options.port, explained)
    except OSError as error:
        raise Ended(COULD_NOT, _refused(error, options.port)) from None
    address = f"http://{serving.host}:{serving.port}/"
    print(f"{address} shows {options.menu} while you write it; Ctrl-C ends it", flush=True)
    if options.open:
        open_address(address, f"go to {address} in a browser")
    serving.serve_forever()  # Ctrl-C ends it, and closes the port
    return CLEAN


def _refused(error: OSError, port: int) -> str:
    if error.errno == errno.EADDRINUSE:
        return (
            f"port {port} is taken, perhaps by another preview; end that one, or take any other: "
            f"--port 0"
        )
    if error.errno == errno.EACCES:
        return f"port {port} is not yours to use; take one above 1023, or any: --port 0"
    return f"port {port} cannot be used: {error.strerror}"
