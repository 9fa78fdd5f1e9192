"""fdm cabinet: solve a whole cabinet, print its answers, and write its pictures, curves and JSON."""

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fdm.cli.console import consoles, folder_of, named, prints_tables, saying, warn
from fdm.cli.uncertain import add_uncertainty, print_uncertain, uncertain_answers
from fdm.cli.words import add_command, add_file, add_json, add_target
from fdm.errors import visible

if TYPE_CHECKING:  # slow to import
    from fdm.cabinet.solution import SolvedCabinet
    from fdm.cli.words import Commands
    from fdm.inference.uncertainty import Sample, Uncertainty


def add_to(commands: "Commands") -> None:
    examples = {
        "cabinet bulb_cabinet.toml": "prints the answers, and writes pictures, curves and JSON to bulb_cabinet",
        "cabinet bulb_cabinet.toml wall=80": "the same with 80 mm of foam, to bulb_cabinet-wall=80",
        "cabinet bulb_cabinet.toml --uncertainty --no-files": "how sure the answers are; writes nothing",
    }
    cabinet = add_command(
        commands, "cabinet", "solve a whole cabinet: how cold, how fast, on how many watts", examples, cautions=True
    )
    add_file(cabinet, "cabinet file (TOML)")
    add_json(cabinet)
    cabinet.add_argument("--tables", action="store_true", help="print all tables in place of the summary")
    cabinet.add_argument("--no-files", action="store_true", help="print the answers, and write nothing")
    add_target(cabinet, " of its sections")
    add_uncertainty(cabinet)
    cabinet.set_defaults(run=run)


def run(asked: argparse.Namespace) -> str:
    from fdm.cabinet.reader import read_cabinet
    from fdm.cabinet.result import cabinet_dict
    from fdm.cabinet.solution import solve_cabinet
    from fdm.output.export.json_file import write_json
    from fdm.output.tables.cabinet import print_cabinet
    from fdm.output.tables.cabinet_summary import print_cabinet_summary

    cabinet = read_cabinet(asked.file, **dict(asked.let))
    console, progress = consoles(asked)
    unsure: list[Uncertainty | Sample] = []
    with saying(progress) as say:
        with named(asked.file):
            solved = solve_cabinet(cabinet, target=asked.target, progress=say)
        result = cabinet_dict(solved)
        if asked.uncertainty or asked.sample:
            from fdm.inference.cabinet_reanalysis import cabinet_reanalysis

            model = cabinet_reanalysis(asked.file, dict(asked.let), solved)
            unsure = uncertain_answers(asked, model, result, say)
        if asked.json:
            write_json(result, asked.json)
        if not asked.no_files:
            folder = folder_of(asked)
            written = _write(solved, result, folder, say)
    warn(asked, solved.warnings)
    if prints_tables(asked):
        (print_cabinet if asked.tables else print_cabinet_summary)(solved, console)
        print_uncertain(unsure, console)
        if not asked.no_files:
            console.print(visible(f"Written to {folder}: {' '.join(written)}"))
    return solved.failed


def _write(solved: "SolvedCabinet", result: dict[str, Any], folder: Path, say: Callable[[str], None]) -> list[str]:
    """Every file of the folder; their names."""
    from fdm.output.drawing.cabinet import draw_heat_budget, draw_pull_down, draw_supply
    from fdm.output.drawing.section import draw_temperature
    from fdm.output.export.cabinet_result import write_curves
    from fdm.output.export.json_file import write_json
    from fdm.output.export.mesh import write_mesh

    written = ["budget.png", "pull_down.png", "supply.png", "pull_down.csv", "result.json"]
    say("drawing")
    draw_heat_budget(solved, folder / "budget.png")
    draw_pull_down(solved, folder / "pull_down.png")
    draw_supply(solved, folder / "supply.png")
    if (at_work := solved.module_at_work()) is not None:
        draw_temperature(at_work, folder / "temperature.png")
        write_mesh(at_work, folder / "field.vtu")
        written += ["temperature.png", "field.vtu"]
    for key in solved.cabinet.bank.plates:
        written.append(f"temperature_{key}.png")
        draw_temperature(solved.plate_at_work(key), folder / written[-1])
    write_curves(solved, folder / "pull_down.csv")
    write_json(result, folder / "result.json")
    return written
