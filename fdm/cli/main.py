"""Parse words, run the command, and say what went wrong. Exit codes: 0 good, 1 the input is at fault, 2 wrong usage,
3 the answers failed their own checks, or no design of a study is what was asked for."""

import argparse
import os
import re
import signal
import sys
import textwrap
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import partial
from types import FrameType

from fdm import __version__
from fdm.cli import cabinet, check, film, fit, materials, network, solve, start, study
from fdm.cli.words import BEGIN, CAUTIONS, VIEWS, override
from fdm.errors import FailedChecks, InputError, nearest, visible

UNSOUND = 3  # exit code of answers that failed their own checks, and of studies without a feasible design


def main(words: Sequence[str] | None = None) -> int:
    """Run one command; the words default to sys.argv's."""
    _prepare_outputs()
    asked = _parsed(words)
    try:
        with _signals_that_stop():
            failed = asked.run(asked)  # a sentence on failed checks or infeasible designs, from commands that have any
            sys.stdout.flush()
        return UNSOUND if failed else 0
    except InputError as fault:
        print(visible(f"fdm: {fault}"), file=sys.stderr)
        return UNSOUND if isinstance(fault, FailedChecks) else 1
    except SystemExit:  # rich raises it where the reader of a pipe has gone
        return 0
    except BrokenPipeError:  # the same without rich
        _drop_output()
        return 0
    except OSError as fault:
        if fault.filename is None:
            _drop_output()
        what = visible(f"{fault.filename or 'output'}: cannot be written: {fault.strerror or fault}")
        print(f"fdm: {what}", file=sys.stderr)
        return 1
    except KeyboardInterrupt as stop:
        print(f"fdm: {stop.args[1] if stop.args[1:] else 'stopped'}", file=sys.stderr)
        return 128 + (stop.args[0] if stop.args else signal.SIGINT)


def _prepare_outputs() -> None:
    """Gives what is printed a place to go where the outputs are closed, and an escape for each character that they
    cannot hold."""
    for name in ("stdout", "stderr"):
        if (output := getattr(sys, name)) is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_WRONLY), "w"))
        elif hasattr(output, "reconfigure"):
            output.reconfigure(errors="backslashreplace")


def _drop_output() -> None:
    """What is still to be printed goes nowhere, so that Python does not complain of it at its end."""
    with suppress(OSError):  # it is no file
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


@contextmanager
def _signals_that_stop() -> Iterator[None]:
    """The signals to end, and that the terminal is closed, end the command as ^C does: what was found is written, and
    workers end. Those that are ignored, as under nohup, stay so."""

    def stop(number: int, frame: FrameType | None) -> None:
        raise KeyboardInterrupt(number)

    in_main = threading.current_thread() is threading.main_thread()
    numbers = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if in_main and hasattr(signal, name)]
    numbers = [number for number in numbers if signal.getsignal(number) is signal.SIG_DFL]
    try:
        for number in numbers:
            signal.signal(number, stop)
        yield
    finally:
        for number in numbers:
            signal.signal(number, signal.SIG_DFL)


def _parsed(words: Sequence[str] | None) -> argparse.Namespace:
    """The words by name, and the command's `run`; ends the program with code 2 where they are wrong."""
    parser = argparse.ArgumentParser(
        prog="fdm",
        description="Heat conduction in drawn sections: fields, spreading, bridges, sensors.",
        epilog=f"{BEGIN}\n\n{VIEWS}\n\n{textwrap.fill(CAUTIONS, 78)}",
        formatter_class=partial(argparse.RawDescriptionHelpFormatter, max_help_position=16),
    )
    parser.add_argument("--version", action="store_true", help="print the version and end")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    for command in (start, solve, check, cabinet, network, study, fit, film, materials):
        command.add_to(commands)
    words = sys.argv[1:] if words is None else words
    if words and not words[0].startswith("-") and words[0] not in commands.choices:
        parser.error(visible(f"there is no command {words[0]!r}; {nearest(words[0], commands.choices)}"))
    asked, more = parser.parse_known_args(words)
    if asked.version:
        print(f"fdm {__version__}")
        parser.exit()
    if not hasattr(asked, "run"):
        parser.error(f"give a command; {nearest('', commands.choices)}")
    if more:  # name=value may come after options too, which argparse does not take up again
        key = next((k for k in ("let", "varied") if hasattr(asked, k)), None)
        if option := next((word for word in more if word.startswith("--")), None):
            name = next(word for word in words if word in commands.choices)
            known = re.findall(r"--[\w-]+", commands.choices[name].format_usage())
            if option in known:
                parser.error(f"{option} belongs to a command; write it after {name}")
            parser.error(visible(f"{name} has no option {option!r}; {nearest(option, known)}"))
        if key is None or any(word.startswith("-") for word in more):
            parser.error(visible(f"unrecognized arguments: {' '.join(more)}"))
        try:
            setattr(asked, key, [*getattr(asked, key), *map(override, more)])
        except argparse.ArgumentTypeError as fault:
            parser.error(str(fault))
    wrong = _slip_in(asked) or (asked.ill_matched(asked) if hasattr(asked, "ill_matched") else "")
    if wrong:
        parser.error(visible(wrong))
    return asked


def _slip_in(asked: argparse.Namespace) -> str:
    """What in the words of any command is surely not meant; empty where nothing is."""
    given = vars(asked)
    names = [name for name, _ in given["let"]] if "file" in given and "let" in given else []
    if twice := next((name for name in names if names.count(name) > 1), None):
        return f"{twice!r} is given twice; give it one number"
    if given.get("no_table_spread") and not (asked.uncertainty or asked.sample):
        return "--no-table-spread belongs to --uncertainty or --sample COUNT"
    if given.get("no_files") and given.get("out"):
        return "--out names a folder to write to, and --no-files writes nothing; leave one of them out"
    if given.get("tables") and given.get("json") == "-":
        return "--json - prints JSON in place of --tables; leave one of them out, or name a file for --json"
    read = [str(given[key]) for key in ("file", "measured") if key in given]
    if len(read) == 2 and read[0].endswith(".csv") and read[1].endswith(".toml"):
        return f"the section or cabinet file comes first, then what was measured: {read[1]} {read[0]}"
    for option in ("json", "section"):
        path = given.get(option)
        if path and (any(_same_file(path, one) for one in read) or (option == "json" and path.endswith(".toml"))):
            return f"--{option}: {path} would be written over; name another file"
    return ""


def _same_file(one: str, other: str) -> bool:
    try:
        return os.path.samefile(one, other)
    except (OSError, ValueError):  # there is no such file, or no such path
        return False
