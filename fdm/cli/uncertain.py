"""The options --uncertainty and --sample of `solve` and `cabinet`: uncertainties of answers by uncertain inputs."""

import argparse
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from fdm.cli.console import named
from fdm.cli.words import whole_number

if TYPE_CHECKING:  # slow to import
    from rich.console import Console


def add_uncertainty(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--uncertainty", action="store_true", help="what the uncertain inputs make of every answer")
    parser.add_argument("--sample", type=whole_number, metavar="N", help="the same by N samples of all inputs at once")
    parser.add_argument(
        "--no-table-spread", action="store_true", help="leave out what the program's tables say: usual uncertainties"
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
