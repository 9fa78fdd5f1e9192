"""Parse words, run the command, and say what went wrong. Exit codes: 0 good, 1 the input is at fault, 2 wrong usage,
3 the answers failed their own checks."""

import argparse
import os
import sys
from collections.abc import Sequence

from fdm.cli import cabinet, check, fit, materials, network, solve, study
from fdm.cli.words import CAUTIONS, override
from fdm.errors import FailedChecks, InputError

UNSOUND = 3  # exit code of answers that failed their own checks


def main(words: Sequence[str] | None = None) -> int:
    """Run one command; the words default to sys.argv's."""
    asked = _parsed(words)
    try:
        failed = asked.run(asked)  # a sentence on the checks that the answers failed, from commands that have any
        return UNSOUND if failed else 0
    except InputError as fault:
        print(f"fdm: {fault}", file=sys.stderr)
        return UNSOUND if isinstance(fault, FailedChecks) else 1
    except SystemExit:  # rich raises it where the reader of a pipe has gone
        return 0
    except BrokenPipeError:  # the same without rich
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as fault:
        print(f"fdm: {fault.filename or 'output'}: cannot be written: {fault.strerror or fault}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("fdm: stopped", file=sys.stderr)
        return 130


def _parsed(words: Sequence[str] | None) -> argparse.Namespace:
    """The words by name, and the command's `run`; ends the program with code 2 where they are wrong."""
    parser = argparse.ArgumentParser(
        prog="fdm",
        description="Heat conduction in drawn sections: fields, spreading, bridges, sensors.",
        epilog=CAUTIONS,
    )
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for command in (solve, check, cabinet, network, study, fit, materials):
        command.add_to(commands)
    asked, more = parser.parse_known_args(words)
    if more:  # name=value may come after options too, which argparse does not take up again
        key = next((k for k in ("let", "varied") if hasattr(asked, k)), None)
        if key is None or any(word.startswith("-") for word in more):
            parser.error(f"unrecognized arguments: {' '.join(more)}")
        try:
            setattr(asked, key, [*getattr(asked, key), *map(override, more)])
        except argparse.ArgumentTypeError as fault:
            parser.error(str(fault))
    if hasattr(asked, "ill_matched") and (wrong := asked.ill_matched(asked)):
        parser.error(wrong)
    return asked
