"""Words that several commands take: arguments with their types and helps."""

import argparse
import math
import textwrap
from collections.abc import Mapping
from typing import TYPE_CHECKING

CAUTIONS = (
    "Cautions: heat sinks and lamps get hot enough to burn; low-voltage supplies deliver currents that heat thin "
    "wires; leave mains wiring to licensed people and local codes; keep condensation off electrics; sheet metal cuts. "
    "Never rely on a calculation alone where food or medicine must stay cold."
)

BEGIN = """begin with:
  fdm start wall_module          copies a commented demo; fdm start lists them
  fdm check wall_module.toml     draws it, and says what in it is doubtful
  fdm solve wall_module.toml     solves it; add hot_plate=12 for that change
  fdm COMMAND --help             says what a command takes, with examples"""

VIEWS = """Which view for which question (README.md has more; check warns of slips):
  section       what goes on alike along the depth: a wall, a corner, a seal, a
                rail, a profile with a strip of LEDs
  axisymmetric  what is round: a post, a tube, a bolt (fdm start bolt_in_wall:
                one through layers, without a drawing)
  plate         how a plate spreads the heat of small sources, seen face on,
                with fins on it, or a film in their place
  In a section all is as deep as the drawing: a module, the plate that it warms,
  and a bolt without a depth."""

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]


LARGE_SHARE = 0.2


def add_command(
    commands: "Commands", name: str, what: str, examples: Mapping[str, str], cautions: bool = False
) -> argparse.ArgumentParser:
    """The parser of a command: `what` it does, and examples of its use with what each does, at the end of its help."""
    lines = [f"  fdm {words}\n      {does}" for words, does in examples.items()]
    epilog = "\n".join(["examples:", *lines]) + (f"\n\n{textwrap.fill(CAUTIONS, 78)}" if cautions else "")
    return commands.add_parser(
        name,
        help=what,
        description=textwrap.fill(f"{what[0].upper()}{what[1:]}.", 78),
        epilog=epilog,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def add_file(parser: argparse.ArgumentParser, what: str) -> None:
    """FILE, NAME=NUMBER, --out and --quiet."""
    parser.add_argument("file", metavar="FILE.toml", help=what)
    add_let(parser)
    parser.add_argument(
        "--out",
        metavar="FOLDER",
        help="write to this folder (left out: one here, named like FILE.toml and the changed numbers)",
    )
    add_quiet(parser, "print no progress, and no answers where files are written")


def add_let(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "let",
        nargs="*",
        default=[],  # else argparse calls it required where FILE is missing
        type=override,
        metavar="NAME=NUMBER",
        help="change a number of the file's [let], as plate=8",
    )


def add_quiet(parser: argparse.ArgumentParser, what: str) -> None:
    parser.add_argument("--quiet", action="store_true", help=what)


def add_json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", metavar="FILE.json", help="write the JSON result there, too; - prints it instead")


def add_target(parser: argparse.ArgumentParser, of: str) -> None:
    parser.add_argument(
        "--target",
        type=share,
        default=0.005,
        metavar="ERROR",
        help=f"refine until each answer{of} is as near as that to the truth, as 0.1%% or 0.001 (left out: 0.5%%)",
    )


def override(word: str) -> tuple[str, str]:
    """name=value"""
    name, sign, value = word.partition("=")
    if not sign or not name.strip() or not value.strip():
        first = "; the file comes first, and there is one" if word.endswith((".toml", ".csv")) else ""
        raise argparse.ArgumentTypeError(f"{word!r} is not name=value, such as plate=8{first}")
    return name.strip(), value.strip()


def share(word: str) -> float:
    """A share between 0 and 1, also in percent; a large one in percent alone, as it is likely meant to be of these."""
    try:
        value = float(word[:-1]) / 100 if word.endswith("%") else float(word)
    except ValueError:
        value = 0.0
    if not 0 < value < 1:
        raise argparse.ArgumentTypeError(f"{word!r} is not a share between 0 and 1, such as 0.1% or 0.001")
    if value >= LARGE_SHARE and not word.endswith("%"):
        raise argparse.ArgumentTypeError(
            f"{word!r} is a share of {100 * value:g} %; write {word}%, or {100 * value:g}%"
        )
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


def kelvins(word: str) -> float:
    """A number above 0."""
    try:
        value = float(word)
    except ValueError:
        value = 0.0
    if not 0 < value < math.inf:
        raise argparse.ArgumentTypeError(f"{word!r} is not a number of kelvins above 0, such as 0.5")
    return value


def terminal_range(word: str) -> tuple[str, tuple[float, float]]:
    """NAME=LOW:HIGH"""
    name, _, ends = word.rpartition("=")
    low, _, high = ends.partition(":")
    try:
        out = name.strip(), (float(low), float(high))
    except ValueError:
        out = "", (0.0, 0.0)
    if not out[0]:
        raise argparse.ArgumentTypeError(f'{word!r} is not NAME=LOW:HIGH, such as "greenhouse air=15:35"')
    return out
