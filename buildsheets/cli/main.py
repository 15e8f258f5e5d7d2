"""The command line: words in; results on standard output, progress on standard error, 0, 1 or 2."""

from __future__ import annotations

import argparse
import io
import os
import sys
from collections.abc import Sequence

from buildsheets import __version__

CLEAN, COULD_NOT = 0, 2
"""Exit codes; 1 is for findings at or above the bar."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command. Raises nothing but argparse's ``SystemExit``; a crash of our own is a
    finding of its own kind."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # an old terminal lacks letters: "?" is no crash
            stream.reconfigure(errors="replace")
    parsed = _parser().parse_args(arguments)
    try:
        code: int = parsed.run(parsed)
        sys.stdout.flush()
    except BrokenPipeError:
        # The reader of our output has gone, as with `| head`: that is no fault.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return CLEAN
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return COULD_NOT
    except Exception as error:
        from buildsheets.cli.faults import crash_words, refusal_words

        print(refusal_words(error) or crash_words(error), file=sys.stderr)
        return COULD_NOT
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="buildsheets",
        description="Turns a drinks shop's YAML menu into checked builds and laminated cards.",
    )
    parser.add_argument("--version", action="version", version=f"buildsheets {__version__}")
    verbs = parser.add_subparsers(dest="verb", metavar="COMMAND", required=True)
    from buildsheets.cli import commands, commands_editions, commands_prep, commands_print

    commands.add_commands(verbs)
    commands_print.add_commands(verbs)
    commands_prep.add_commands(verbs)
    commands_editions.add_commands(verbs)
    return parser
