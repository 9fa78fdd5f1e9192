"""fdm fit: adjust uncertain numbers until a file agrees with measurements."""

import argparse
from typing import TYPE_CHECKING

from fdm.cli.console import consoles, saying, warn
from fdm.cli.words import add_command, add_json, add_let, add_quiet

if TYPE_CHECKING:
    from fdm.cli.words import Commands


def add_to(commands: "Commands") -> None:
    examples = {
        "fit light_bar.toml light_bar_log.csv": "adjusts all that has an uncertainty in the file",
        "fit light_bar.toml light_bar_log.csv --adjust film --adjust pad": "adjusts these two numbers of [let] alone",
    }
    fit = add_command(commands, "fit", "adjust uncertain numbers until a file agrees with measurements", examples)
    fit.add_argument("file", metavar="FILE.toml", help="section or cabinet file")
    fit.add_argument("measured", metavar="MEASURED.csv", help="rows of quantity,value,uncertainty, or a log over time")
    add_let(fit)
    fit.add_argument(
        "--adjust",
        action="append",
        metavar="NAME",
        help="adjust this number, or material; may be repeated (left out: all that the file states an uncertainty of, "
        "and its materials)",
    )
    add_json(fit)
    add_quiet(fit, "print no progress")
    fit.set_defaults(run=run)


def run(asked: argparse.Namespace) -> None:
    from fdm.inference.fit import fit
    from fdm.output.export.inference import fit_dict
    from fdm.output.export.json_file import write_json
    from fdm.output.tables.fit import print_fit

    console, progress = consoles(asked)
    with saying(progress) as say:
        found = fit(asked.file, asked.measured, asked.adjust, dict(asked.let), progress=say)
    warn(asked, found.warnings)
    if asked.json:
        write_json(fit_dict(found), asked.json)
    if asked.json != "-":
        print_fit(found, console)
