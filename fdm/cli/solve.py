"""fdm solve: solve a section file, print its answers, and write its pictures, mesh and JSON."""

import argparse
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fdm.cli.console import consoles, folder_of, named, prints_tables, saying, warn
from fdm.cli.places import add_places, ill_matched, places_of, refuse_places
from fdm.cli.uncertain import add_uncertainty, print_uncertain, uncertain_answers
from fdm.cli.words import add_command, add_file, add_json, add_target, cell_count
from fdm.errors import InputError, visible

if TYPE_CHECKING:  # slow to import
    from fdm.cli.places import Places
    from fdm.cli.words import Commands
    from fdm.inference.budget import Budgets
    from fdm.inference.lengths import LengthSensitivities
    from fdm.inference.sensitivity import Sensitivities
    from fdm.inference.uncertainty import Sample, Uncertainty
    from fdm.section.model import Section
    from fdm.solving.solution import Solution


MESH = "vtu"


def add_to(commands: "Commands") -> None:
    examples = {
        "solve wall_module.toml": "prints a summary, and writes pictures, mesh and all numbers to wall_module",
        "solve wall_module.toml hot_plate=4": "the same with a thinner plate, to wall_module-hot_plate=4",
        "solve light_bar.toml --no-files --uncertainty": "how sure the answers are; writes nothing",
        "solve wall_module.toml --no-files --json -": "prints all numbers as JSON",
        "solve wall_module.toml --place thermostat --within 0.3": "also what that sensor would misread anywhere",
        'solve wall_module.toml --between "greenhouse air=15:35"': "also the least and the most of each answer then",
    }
    solve = add_command(
        commands, "solve", "solve a section file and write its answers, pictures and mesh", examples, cautions=True
    )
    add_file(solve, "section file")
    add_json(solve)
    solve.add_argument(
        "--tables",
        "--network",
        action="store_true",
        help="print all tables in place of the summary: the network of couplings, resistances and weights, surfaces",
    )
    solve.add_argument("--no-files", action="store_true", help="print the answers, and write nothing")
    add_target(solve, "")
    solve.add_argument(
        "--max-cells",
        type=cell_count,
        metavar="CELLS",
        help="refine up to so many cells (left out: 300000)",
    )
    solve.add_argument(
        "--cells", type=cell_count, metavar="CELLS", help="take a grid of at least so many cells, whatever the error"
    )
    solve.add_argument(
        "--format", default=MESH, metavar="FORMAT", help="of the mesh file: vtu (left out: this), vtk, xdmf, gmsh, .."
    )
    solve.add_argument(
        "--sensitivity",
        action="store_true",
        help="say what 1 %% of each conductivity, film and joint, and 1 mm, change",
    )
    add_uncertainty(solve)
    add_places(solve)
    solve.set_defaults(run=run, ill_matched=_ill_matched)


def _ill_matched(asked: argparse.Namespace) -> str:
    """What in the words does not go together; empty where all does."""
    if asked.cells and asked.max_cells:
        return "--cells takes a grid of so many cells or more, whatever --max-cells says; give one of them"
    if asked.no_files and asked.format != MESH:
        return f"--format {asked.format} is that of a file, and --no-files writes none; leave one of them out"
    return ill_matched(asked)


def run(asked: argparse.Namespace) -> str:
    from fdm.inference.budget import budgets
    from fdm.output.export.budget import budget_dict, sensitivity_dict
    from fdm.output.export.json_file import write_json
    from fdm.output.export.mesh import require_writable
    from fdm.output.tables.budget import print_budget, print_lengths, print_sensitivities
    from fdm.output.tables.section import print_solution
    from fdm.output.tables.summary import print_summary
    from fdm.section.reader import read_section
    from fdm.solving.check import MOST_CELLS
    from fdm.solving.result import result_dict
    from fdm.solving.steady import solve

    section = read_section(asked.file, **dict(asked.let))
    require_writable(asked.format)  # before the solve
    console, progress = consoles(asked)
    unsure: list[Uncertainty | Sample] = []
    effects: tuple[Sensitivities, LengthSensitivities] | None = None
    with saying(progress) as say:
        with named(asked.file):
            refuse_places(asked, section)
            solution = solve(section, asked.target, asked.max_cells or MOST_CELLS, asked.cells, progress=say)
            places = places_of(asked, solution, say)
        result = result_dict(solution) | places.as_dict()
        if asked.uncertainty or asked.sample or asked.sensitivity:
            from fdm.inference.section_reanalysis import section_reanalysis

            model = section_reanalysis(asked.file, dict(asked.let), solution, asked.target)
            unsure = uncertain_answers(asked, model, result, say)
        shares = budgets(solution)
        result["budget"] = budget_dict(shares)
        if asked.sensitivity:
            from fdm.inference.sensitivity import sensitivities

            say("sensitivities")
            effects = sensitivities(solution, model.adjoint), _length_sensitivities(asked, solution, say)
            result["sensitivity"] = sensitivity_dict(*effects)
        if asked.json:
            write_json(result, asked.json)
        if not asked.no_files:
            folder = folder_of(asked)
            written = _write(asked, shares, places, result, folder, say)
    warn(asked, (*solution.warnings, *places.warnings))
    if prints_tables(asked):
        if asked.tables:
            print_solution(solution, console)
            print_budget(shares, console)
        else:
            print_summary(shares, console)
        if effects is not None:
            print_sensitivities(effects[0], console)
            print_lengths(effects[1], console)
        places.show(console, asked.tables)
        print_uncertain(unsure, console)
        if not asked.no_files:
            console.print(visible(f"Written to {folder}: {' '.join(written)}"))
    return solution.failed


def _write(
    asked: argparse.Namespace,
    shares: "Budgets",
    places: "Places",
    result: dict[str, Any],
    folder: Path,
    say: Callable[[str], None],
) -> list[str]:
    """Every file of the folder; their names."""
    from fdm.output.breakdown import breakdowns
    from fdm.output.drawing.budget import draw_budget
    from fdm.output.drawing.plate_cut import draw_cut
    from fdm.output.drawing.section import draw_parts, draw_temperature
    from fdm.output.export.json_file import write_json
    from fdm.output.export.mesh import mesh_suffix, write_mesh

    solution, mesh = shares.solution, f"field{mesh_suffix(asked.format)}"
    written = ["parts.png", "temperature.png"]
    say("drawing")
    draw_parts(solution.section, folder / "parts.png")
    draw_temperature(solution, folder / "temperature.png")
    if solution.section.layered:
        draw_temperature(solution, folder / "temperature_back.png", face="back")
        draw_cut(solution, folder / "temperature_cut.png")
        written += ["temperature_back.png", "temperature_cut.png"]
    if breakdowns(shares):
        draw_budget(shares, folder / "budget.png")
        written.append("budget.png")
    written += [*places.draw(folder, say), mesh, "result.json"]
    say("writing")
    write_json(result, folder / "result.json")
    write_mesh(solution, folder / mesh, asked.format)  # last: a package may be wanting for it
    return written


def _length_sensitivities(
    asked: argparse.Namespace, solution: "Solution", say: Callable[[str], None]
) -> "LengthSensitivities":
    """For the names of [let] that are given on the command line; else for all that are sizes of what is drawn."""
    from fdm.inference.lengths import length_sensitivities
    from fdm.section.reader import read_section

    read = partial(read_section, asked.file, **dict(asked.let))
    names = [name for name, _ in asked.let] or _lengths(solution.section, read)
    return length_sensitivities(read, names, solution, say)


def _lengths(section: "Section", read: "Callable[..., Section]") -> list[str]:
    """Names of [let] that move an edge of the drawing, or are sizes of stems and beads."""
    moving = []
    for name, value in section.let.items():
        try:
            if _sizes(read(**{name: 1.001 * value})) != _sizes(section):
                moving.append(name)
        except InputError:  # a number that cannot be a little larger, such as a count
            continue
    return moving


def _sizes(section: "Section") -> list[object]:
    """What of a drawing has lengths: edges, stems and beads; in a plate that is resolved through its thickness also
    that, and fins."""
    stems = [
        (s.stem.length, s.stem.diameter, s.stem.wall, s.stem.insulation, s.stem.through)
        for s in section.sensors
        if s.stem
    ]
    shapes: list[object] = [stems, [s.bead.diameter for s in section.sensors if s.bead]]
    shapes += [p.shapes for p in section.parts]
    if not section.layered:
        return shapes
    fins = [(f.thickness, f.height, f.pitch, f.rectangle) for f in section.fins]
    return [*shapes, [p.thickness for p in section.parts], fins, [s.rectangle for s in section.sources]]
