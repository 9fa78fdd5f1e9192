"""The options --uncertainty and --sample of `solve` and `cabinet`: uncertainties of answers by uncertain inputs."""

import argparse
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from fdm.cli.console import named
from fdm.cli.words import whole_number

if TYPE_CHECKING:  # slow to import
    from rich.console import Console


def add_uncertainty(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--uncertainty", action="store_true", help="say how unsure the file's uncertain numbers make each answer"
    )
    parser.add_argument(
        "--sample", type=whole_number, metavar="COUNT", help="the same from so many samples of all of them at once"
    )
    parser.add_argument(
        "--no-table-spread", action="store_true", help="leave out the usual uncertainties of the program's tables"
    )


def uncertain_answers(
    asked: argparse.Namespace, model: Any, result: dict[str, Any], say: Callable[[str], None]
) -> list[Any]:
    """The uncertainties and samples that were asked for, to print; they are also put into the JSON `result`. `model` is
    the file as a `fdm.inference.reanalysis.Model`."""
    from fdm.inference.uncertainty import sample, uncertainty
    from fdm.output.tables.inference import sample_dict, uncertainty_dict

    found: list[Any] = []
    with named(asked.file):
        if asked.uncertainty:
            found.append(uncertainty(model, not asked.no_table_spread, say))
            result["uncertainty"] = uncertainty_dict(found[-1])
        if asked.sample:
            found.append(sample(model, asked.sample, not asked.no_table_spread, progress=say))
            result["sample"] = sample_dict(found[-1])
    return found


def print_uncertain(found: list[Any], console: "Console") -> None:
    if found:
        from fdm.inference.uncertainty import Uncertainty
        from fdm.output.tables.inference import print_sample, print_uncertainty

        for one in found:
            console.print()
            (print_uncertainty if isinstance(one, Uncertainty) else print_sample)(one, console)
