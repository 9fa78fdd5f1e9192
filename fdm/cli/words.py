"""Words that several commands take: arguments with their types and helps."""

import argparse
from typing import TYPE_CHECKING

CAUTIONS = (
    "Cautions: heat sinks and lamps get hot enough to burn; low-voltage supplies deliver currents that heat thin "
    "wires; leave mains wiring to licensed people and local codes; keep condensation off electrics; sheet metal cuts. "
    "Never rely on a calculation alone where food or medicine must stay cold."
)

VIEWS = """Which view for which question (README.md has more; check warns of what is likely not meant):
  section       what goes on alike along the depth: walls, corners, seals, rails, profiles with strips of LEDs
  axisymmetric  what is round: a post, a tube, a bolt (fdm start bolt_in_wall: one through layers, without a drawing)
  plate         how a plate spreads the heat of small sources, seen face on, with fins as a film on it
  In a section all is as deep as the drawing: a module, the plate that it warms, and a bolt without a depth."""

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]


def add_file(parser: argparse.ArgumentParser, what: str) -> None:
    """FILE, name=value, --out and --quiet."""
    parser.add_argument("file", metavar="FILE", help=what)
    parser.add_argument("let", nargs="*", type=override, metavar="name=value", help="numbers of [let] to change")
    parser.add_argument(
        "--out", metavar="FOLDER", help="where to write (a folder named like FILE and the changed numbers, here)"
    )
    parser.add_argument("--quiet", action="store_true", help="no progress, and no tables where files are written")


def add_json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", metavar="PATH", help="also write the JSON result to PATH, or to the output with -")


def add_target(parser: argparse.ArgumentParser, what: str) -> None:
    parser.add_argument("--target", type=share, default=0.005, metavar="SHARE", help=what)


def override(word: str) -> tuple[str, str]:
    """name=value"""
    name, sign, value = word.partition("=")
    if not sign or not name.strip() or not value.strip():
        raise argparse.ArgumentTypeError(f"{word!r} is not name=value, such as plate=8")
    return name.strip(), value.strip()


def share(word: str) -> float:
    """A share between 0 and 1, also in percent."""
    try:
        value = float(word[:-1]) / 100 if word.endswith("%") else float(word)
    except ValueError:
        value = 0.0
    if not 0 < value < 1:
        raise argparse.ArgumentTypeError(f"{word!r} is not a share between 0 and 1, such as 0.1% or 0.001")
    return value


def whole_number(word: str) -> int:
    """1 or more."""
    if not word.isdecimal() or int(word) < 1:
        raise argparse.ArgumentTypeError(f"{word!r} is not a whole number of 1 or more")
    return int(word)


def cell_count(word: str) -> int:
    """1 or more, also as 4e4."""
    try:
        count = int(float(word))
    except (ValueError, OverflowError):
        count = 0
    if count < 1:
        raise argparse.ArgumentTypeError(f"{word!r} is not a number of cells above 0")
    return count
