"""fdm fit: adjust uncertain numbers until a file agrees with measurements."""

import argparse
from typing import TYPE_CHECKING

from fdm.cli.console import consoles, saying, warn
from fdm.cli.words import add_json, override

if TYPE_CHECKING:
    from fdm.cli.words import Commands


def add_to(commands: "Commands") -> None:
    fit = commands.add_parser("fit", help="adjust uncertain numbers until a file agrees with measurements")
    fit.add_argument("file", metavar="FILE", help="section or cabinet file (TOML)")
    fit.add_argument("measured", metavar="MEASURED.csv", help="rows of quantity,value,uncertainty, or a log over time")
    fit.add_argument("let", nargs="*", type=override, metavar="name=value", help="numbers of [let] to change")
    fit.add_argument(
        "--adjust", action="append", metavar="NAME", help="what to adjust (all uncertain numbers); may be repeated"
    )
    add_json(fit)
    fit.add_argument("--quiet", action="store_true", help="no progress")
    fit.set_defaults(run=run)


def run(asked: argparse.Namespace) -> None:
    from fdm.inference.fit import fit
    from fdm.output.export.json_file import write_json
    from fdm.output.tables.inference import fit_dict, print_fit

    console, progress = consoles(asked)
    with saying(progress) as say:
        found = fit(asked.file, asked.measured, asked.adjust, dict(asked.let), progress=say)
    warn(asked, found.warnings)
    if asked.json:
        write_json(fit_dict(found), asked.json)
    if asked.json != "-":
        print_fit(found, console)
