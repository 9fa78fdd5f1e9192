"""The options --uncertainty and --sample of `solve` and `cabinet`: uncertainties of answers by uncertain inputs."""

import argparse
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from fdm.cli.console import named
from fdm.cli.words import whole_number

if TYPE_CHECKING:  # slow to import
    from rich.console import Console

    from fdm.inference.reanalysis import Model
    from fdm.inference.uncertainty import Sample, Uncertainty


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
    asked: argparse.Namespace, model: "Model", result: dict[str, Any], say: Callable[[str], None]
) -> "list[Uncertainty | Sample]":
    """The uncertainties and samples that were asked for, to print; they are also put into the JSON `result`. `model` is
    the file with its uncertain inputs."""
    from fdm.inference.uncertainty import sample, uncertainty
    from fdm.output.export.inference import sample_dict, uncertainty_dict

    found: list[Uncertainty | Sample] = []
    with named(asked.file):
        if asked.uncertainty:
            to_first_order = uncertainty(model, not asked.no_table_spread, say)
            result["uncertainty"] = uncertainty_dict(to_first_order)
            found.append(to_first_order)
        if asked.sample:
            sampled = sample(model, asked.sample, not asked.no_table_spread, progress=say)
            result["sample"] = sample_dict(sampled)
            found.append(sampled)
    return found


def print_uncertain(found: "Sequence[Uncertainty | Sample]", console: "Console") -> None:
    if found:
        from fdm.inference.uncertainty import Uncertainty
        from fdm.output.tables.uncertainty import print_sample, print_uncertainty

        for one in found:
            console.print()
            if isinstance(one, Uncertainty):
                print_uncertainty(one, console)
            else:
                print_sample(one, console)
