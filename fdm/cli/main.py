"""The command line: parse words, call, print. Exit codes: 0 good, 1 the input is at fault, 2 wrong usage."""

import argparse
import os
import re
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

from fdm.errors import InputError

TOLD_EVERY = 10.0  # s between lines of progress where the output is no terminal
CAUTIONS = (
    "Cautions: heat sinks and lamps get hot enough to burn; low-voltage supplies deliver currents that heat thin "
    "wires; leave mains wiring to licensed people and local codes; keep condensation off electrics; sheet metal cuts. "
    "Never rely on a calculation alone where food or medicine must stay cold."
)


def main(words: Sequence[str] | None = None) -> int:
    """Run one command; the words default to sys.argv's."""
    parser = _parser()
    asked, more = parser.parse_known_args(words)
    if more:  # name=value may come after options too, which argparse does not take up again
        key = next((k for k in ("let", "varied") if hasattr(asked, k)), None)
        if key is None or any(word.startswith("-") for word in more):
            parser.error(f"unrecognized arguments: {' '.join(more)}")
        try:
            setattr(asked, key, [*getattr(asked, key), *map(_override, more)])
        except argparse.ArgumentTypeError as fault:
            parser.error(str(fault))
    if hasattr(asked, "varied") and (wrong := _ill_matched(asked)):
        parser.error(wrong)
    try:
        return int(asked.run(asked) or 0)
    except InputError as fault:
        print(f"fdm: {fault}", file=sys.stderr)
        return 1
    except SystemExit:  # rich's word for the same as below
        return 0
    except BrokenPipeError:  # the reader of a pipe has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as fault:
        print(f"fdm: {fault.filename or 'output'}: cannot be written: {fault.strerror or fault}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("fdm: stopped", file=sys.stderr)
        return 130


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="fdm",
        description="Heat conduction in drawn sections: fields, spreading, bridges, sensors.",
        epilog=CAUTIONS,
    )
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    solve = commands.add_parser(
        "solve", help="solve a section file and write its answers, pictures and mesh", epilog=CAUTIONS
    )
    _file_words(solve, "section file (TOML)")
    solve.add_argument("--json", metavar="PATH", help="also write the JSON result to PATH, or to the output with -")
    solve.add_argument("--no-files", action="store_true", help="print the answers only; write no folder")
    solve.add_argument(
        "--target", type=_share, default=0.005, metavar="SHARE", help="error to aim for, as 0.1%% or 0.001 (0.5%%)"
    )
    solve.add_argument("--max-cells", type=_count, default=300_000, metavar="N", help="refine up to N cells (300000)")
    solve.add_argument(
        "--cells", type=_count, metavar="N", help="force a grid of at least N cells instead of the target"
    )
    solve.add_argument("--format", default="vtu", metavar="NAME", help="mesh file format, any that meshio writes (vtu)")
    solve.add_argument(
        "--sensitivity", action="store_true", help="what 1 %% of each conductivity, film and joint, and 1 mm, change"
    )
    _uncertainty_words(solve)
    solve.set_defaults(run=_solve)

    check = commands.add_parser("check", help="read a section file, draw its parts, and say what would be solved")
    _file_words(check, "section file (TOML)")
    check.add_argument("--no-files", action="store_true", help="report only; draw nothing")
    check.set_defaults(run=_check)

    cabinet = commands.add_parser(
        "cabinet", help="solve a whole cabinet: how cold, how fast, on how many watts", epilog=CAUTIONS
    )
    _file_words(cabinet, "cabinet file (TOML)")
    cabinet.add_argument("--json", metavar="PATH", help="also write the JSON result to PATH, or to the output with -")
    cabinet.add_argument("--no-files", action="store_true", help="print the answers only; write no folder")
    cabinet.add_argument(
        "--target", type=_share, default=0.005, metavar="SHARE", help="error of the sections to aim for (0.5%%)"
    )
    _uncertainty_words(cabinet)
    cabinet.set_defaults(run=_cabinet)

    network = commands.add_parser("network", help="hand a section's or a cabinet's network to other lumped models")
    _file_words(network, "section or cabinet file (TOML)")
    network.add_argument(
        "--format", choices=("json", "csv", "spice"), default="json", help="json (default), csv matrices, spice netlist"
    )
    network.add_argument("--target", type=_share, default=0.005, metavar="SHARE", help="error to aim for (0.5%%)")
    network.set_defaults(run=_network)

    study = commands.add_parser("study", help="solve many designs of a section or cabinet file, or find the best")
    study.add_argument("file", metavar="FILE", help="section or cabinet file (TOML)")
    study.add_argument(
        "varied", nargs="+", type=_override, metavar="name=values", help="plate=3:12:1, wall=20,30,40, or a range 3:12"
    )
    sampling = study.add_mutually_exclusive_group()
    sampling.add_argument("--random", type=_number, metavar="N", help="N designs at random from the ranges")
    sampling.add_argument("--lhs", type=_number, metavar="N", help="N designs spread evenly (Latin hypercube)")
    study.add_argument(
        "--answer", action="append", metavar="PATH", help="an answer by its path in result.json; may be repeated"
    )
    study.add_argument("--best", metavar="PATH", help="find the design with the lowest answer PATH in the ranges")
    study.add_argument("--maximise", action="store_true", help="the highest, not the lowest")
    study.add_argument(
        "--subject", action="append", default=[], metavar="LIMIT", help="as 'bridge.bolt.chi < 0.02'; may be repeated"
    )
    study.add_argument("--tries", type=_number, metavar="N", help="about how many designs to try for the best")
    study.add_argument("--workers", type=_number, metavar="N", help="processes (one for each processor)")
    study.add_argument("--cluster", metavar="ADDRESS", help="solve on the Dask cluster at ADDRESS")
    study.add_argument(
        "--target", type=_share, default=0.005, metavar="SHARE", help="error of each design to aim for (0.5%%)"
    )
    study.add_argument("--out", metavar="FOLDER", help="where to keep it (FILE's name and -study)")
    study.add_argument("--quiet", action="store_true", help="no progress")
    study.set_defaults(run=_study)

    fit = commands.add_parser("fit", help="adjust uncertain numbers until a file agrees with measurements")
    fit.add_argument("file", metavar="FILE", help="section or cabinet file (TOML)")
    fit.add_argument("measured", metavar="MEASURED.csv", help="rows of quantity,value,uncertainty, or a log over time")
    fit.add_argument("let", nargs="*", type=_override, metavar="name=value", help="numbers of [let] to change")
    fit.add_argument(
        "--adjust", action="append", metavar="NAME", help="what to adjust (all uncertain numbers); may be repeated"
    )
    fit.add_argument("--json", metavar="PATH", help="also write the JSON result to PATH, or to the output with -")
    fit.add_argument("--quiet", action="store_true", help="no progress")
    fit.set_defaults(run=_fit)

    materials = commands.add_parser("materials", help="list the built-in materials")
    materials.add_argument("word", nargs="?", default="", metavar="WORD", help="only those with WORD in name or source")
    materials.set_defaults(run=_materials)
    return parser


def _file_words(parser: argparse.ArgumentParser, what: str) -> None:
    parser.add_argument("file", metavar="FILE", help=what)
    parser.add_argument("let", nargs="*", type=_override, metavar="name=value", help="numbers of [let] to change")
    parser.add_argument(
        "--out", metavar="FOLDER", help="where to write (a folder named like FILE, in the working directory)"
    )
    parser.add_argument("--quiet", action="store_true", help="no progress, and no tables where files are written")


def _uncertainty_words(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--uncertainty", action="store_true", help="what the uncertain inputs make of every answer")
    parser.add_argument("--sample", type=_number, metavar="N", help="the same by N samples of all inputs at once")
    parser.add_argument("--no-table-spread", action="store_true", help="leave out the spread of the material table")


def _override(word: str) -> tuple[str, str]:
    name, sign, value = word.partition("=")
    if not sign or not name.strip() or not value.strip():
        raise argparse.ArgumentTypeError(f"{word!r} is not name=value, such as plate=8")
    return name.strip(), value.strip()


def _share(word: str) -> float:
    try:
        share = float(word[:-1]) / 100 if word.endswith("%") else float(word)
    except ValueError:
        share = 0.0
    if not 0 < share < 1:
        raise argparse.ArgumentTypeError(f"{word!r} is not a share between 0 and 1, such as 0.1% or 0.001")
    return share


def _number(word: str) -> int:
    if not word.isdecimal() or int(word) < 1:
        raise argparse.ArgumentTypeError(f"{word!r} is not a whole number of 1 or more")
    return int(word)


def _count(word: str) -> int:
    try:
        count = int(float(word))
    except (ValueError, OverflowError):
        count = 0
    if count < 1:
        raise argparse.ArgumentTypeError(f"{word!r} is not a number of cells above 0")
    return count


def _solve(asked: argparse.Namespace) -> None:
    from rich.console import Console

    from fdm.inference.sensitivity import length_sensitivities, sensitivities
    from fdm.output.export.budget import budget_dict, sensitivity_dict
    from fdm.output.export.mesh import mesh_suffix, write_mesh
    from fdm.output.export.result import result_dict, write_json
    from fdm.output.tables.budget import print_budget, print_lengths, print_sensitivities
    from fdm.output.tables.section import print_solution
    from fdm.section.reader import read_section
    from fdm.solving.solution import solve

    section = read_section(asked.file, **dict(asked.let))
    suffix = mesh_suffix(asked.format)
    console, progress = Console(soft_wrap=False), Console(stderr=True, quiet=asked.quiet)
    with progress.status("reading") as status:
        with _named(asked.file):
            solution = solve(section, asked.target, asked.max_cells, asked.cells, progress=status.update)
        result = result_dict(solution)
        model = None
        if asked.uncertainty or asked.sample or asked.sensitivity:
            from fdm.inference.reanalysis import moved_section

            model = moved_section(asked.file, dict(asked.let), solution, asked.target)
        unsure = _unsure(asked, model, result, status.update)
        result["budget"] = budget_dict(solution)
        if asked.sensitivity and model is not None:
            status.update("sensitivities")
            slopes = sensitivities(solution, model.surroundings)
            read = partial(read_section, asked.file, **dict(asked.let))
            names = [name for name, _ in asked.let] or _lengths(section, read)
            lengths = length_sensitivities(read, names, solution, status.update)
            result["sensitivity"] = sensitivity_dict(slopes, lengths)
        if asked.json:
            write_json(result, asked.json)
        if not asked.no_files:
            from fdm.output.drawing.budget import draw_budget
            from fdm.output.drawing.section import draw_parts, draw_temperature

            folder = _folder(asked)
            status.update("drawing")
            draw_parts(section, folder / "parts.png")
            draw_temperature(solution, folder / "temperature.png")
            draw_budget(solution, folder / "budget.png")
            status.update("writing")
            write_json(result, folder / "result.json")
            write_mesh(solution, folder / f"field{suffix}", asked.format)  # last: a package may be wanting for it
    _warn(asked, solution.warnings)
    if asked.json != "-" and not (asked.quiet and not asked.no_files):
        print_solution(solution, console)
        print_budget(solution, console)
        if asked.sensitivity:
            print_sensitivities(slopes, console)
            print_lengths(lengths, console)
        _print_unsure(unsure, console)
        if not asked.no_files:
            console.print(
                f"Written to {folder}: parts.png temperature.png budget.png field{suffix} result.json", highlight=False
            )


def _lengths(section: Any, read: Callable[..., Any]) -> list[str]:
    """Names of [let] that move an edge of the drawing."""
    moving = []
    for name, value in section.let.items():
        try:
            if [p.shapes for p in read(**{name: 1.001 * value}).parts] != [p.shapes for p in section.parts]:
                moving.append(name)
        except InputError:  # a number that cannot be a little larger, such as a count
            continue
    return moving


def _check(asked: argparse.Namespace) -> None:
    from fdm.section.reader import read_section
    from fdm.solving.check import check_section

    section = read_section(asked.file, **dict(asked.let))
    with _named(asked.file):
        report = check_section(section)
    _warn(asked, report.warnings)
    if not asked.quiet:
        print(report.text, flush=True)
    if not asked.no_files:
        from fdm.output.drawing.section import draw_parts

        folder = _folder(asked)
        draw_parts(section, folder / "parts.png")
        if not asked.quiet:
            print(f"Drawn to {folder / 'parts.png'}")


def _cabinet(asked: argparse.Namespace) -> None:
    from rich.console import Console

    from fdm.cabinet.reader import read_cabinet
    from fdm.cabinet.solution import solve_cabinet
    from fdm.output.export.cabinet_result import cabinet_dict, write_curves
    from fdm.output.export.result import write_json
    from fdm.output.tables.cabinet import print_cabinet

    cabinet = read_cabinet(asked.file, **dict(asked.let))
    console, progress = Console(soft_wrap=False), Console(stderr=True, quiet=asked.quiet)
    written = ["budget.png", "pull_down.png", "supply.png", "pull_down.csv", "result.json"]
    with progress.status("reading") as status:
        with _named(asked.file):
            solved = solve_cabinet(cabinet, target=asked.target, progress=status.update)
        result = cabinet_dict(solved)
        model = None
        if asked.uncertainty or asked.sample:
            from fdm.inference.reanalysis import moved_cabinet

            model = moved_cabinet(asked.file, dict(asked.let), solved.sections, asked.target)
        unsure = _unsure(asked, model, result, status.update)
        if asked.json:
            write_json(result, asked.json)
        if not asked.no_files:
            from fdm.output.drawing.cabinet import draw_heat_budget, draw_pull_down, draw_supply
            from fdm.output.drawing.section import draw_temperature
            from fdm.output.export.mesh import write_mesh

            folder = _folder(asked)
            status.update("drawing")
            draw_heat_budget(solved, folder / "budget.png")
            draw_pull_down(solved, folder / "pull_down.png")
            draw_supply(solved, folder / "supply.png")
            if (at_work := solved.module_at_work()) is not None:
                draw_temperature(at_work, folder / "temperature.png")
                write_mesh(at_work, folder / "field.vtu")
                written += ["temperature.png", "field.vtu"]
            write_curves(solved, folder / "pull_down.csv")
            write_json(result, folder / "result.json")
    _warn(asked, solved.warnings)
    if asked.json != "-" and not (asked.quiet and not asked.no_files):
        print_cabinet(solved, console)
        _print_unsure(unsure, console)
        if not asked.no_files:
            console.print(f"Written to {folder}: {' '.join(written)}", highlight=False)


def _unsure(asked: argparse.Namespace, model: Any, result: dict[str, Any], say: Callable[[str], None]) -> list[Any]:
    """What uncertain inputs make of the answers, as asked; also put into the JSON result."""
    found: list[Any] = []
    if model is not None:
        from fdm.inference.uncertainty import sample, uncertainty
        from fdm.output.tables.inference import sample_dict, uncertainty_dict

        with _named(asked.file):
            if asked.uncertainty:
                found.append(uncertainty(model, not asked.no_table_spread, say))
                result["uncertainty"] = uncertainty_dict(found[-1])
            if asked.sample:
                found.append(sample(model, asked.sample, not asked.no_table_spread, progress=say))
                result["sample"] = sample_dict(found[-1])
    return found


def _print_unsure(found: list[Any], console: Any) -> None:
    if found:
        from fdm.inference.uncertainty import Uncertainty
        from fdm.output.tables.inference import print_sample, print_uncertainty

        for one in found:
            console.print()
            (print_uncertainty if isinstance(one, Uncertainty) else print_sample)(one, console)


@contextmanager
def _progress_bar(console: Any) -> Iterator[Callable[[str], None]]:
    """A function to be called with lines such as "3 of 10 designs, 8 s left": a bar on a terminal, else a line now and
    then."""
    from rich.progress import BarColumn, Progress, TextColumn

    if not console.is_terminal:
        told = time.monotonic()

        def tell(text: str) -> None:
            nonlocal told
            if time.monotonic() - told > TOLD_EVERY:
                told = time.monotonic()
                console.print(text, highlight=False, soft_wrap=True)

        yield tell
        return
    with Progress(BarColumn(24), TextColumn("{task.description}"), console=console, transient=True) as bar:
        task = bar.add_task("reading", total=None)

        def show(text: str) -> None:
            bar.update(task, description=text)
            if count := re.match(r"(\d+) of (\d+)", text):
                bar.update(task, completed=int(count[1]), total=int(count[2]))

        yield show


def _ill_matched(asked: argparse.Namespace) -> str:
    """What options of a study do not go together; argparse cannot tell."""
    if asked.best:
        given = next((name for name in ("random", "lhs") if getattr(asked, name)), None)
        return f"--{given} and --best do not go together: --best chooses its designs itself" if given else ""
    given = next((name for name in ("subject", "tries") if getattr(asked, name)), None)
    return f"--{given} goes with --best PATH" if given else ""


def _study(asked: argparse.Namespace) -> None:
    from rich.console import Console

    from fdm.output.drawing.study import draw_study
    from fdm.output.tables.study import print_study
    from fdm.studies import asked_answers, best, designs, findings, study, warned

    folder = Path(asked.out) if asked.out else Path(f"{Path(asked.file).stem}-study")
    console, progress = Console(soft_wrap=False), Console(stderr=True, quiet=asked.quiet)
    shared = {
        "workers": asked.workers, "cluster": asked.cluster, "out": folder, "target": asked.target,
    }  # fmt: skip
    with _progress_bar(progress) as update:
        if asked.best:
            tries = {"tries": asked.tries} if asked.tries else {}
            optimum = best(
                asked.file, asked.varied, asked.best, maximise=asked.maximise, subject=asked.subject,
                progress=update, **tries, **shared,
            )  # fmt: skip
            found, sentences, wanted = optimum.study, optimum.sentences, [asked.best]
            also = asked_answers(asked.answer or (), found.known)
            shown: list[str] | None = [asked.best, *(m.limit.path for m in optimum.limits), *also]
        else:
            chosen = designs(asked.varied, random=asked.random, lhs=asked.lhs)
            found = study(asked.file, chosen, answers=asked.answer, progress=update, **shared)
            wanted = asked_answers(asked.answer, found.known) if asked.answer else list(found.main)
            shown = wanted if asked.answer else None
            told = (findings(found, answer, maximise=asked.maximise) for answer in wanted if found.varied)
            sentences = tuple(dict.fromkeys(sentence for some in told for sentence in some))
        update("drawing")
        drawn, best_number = wanted if asked.answer else None, None
        if asked.best:  # the first; and no picture of a varied number against itself
            drawn, best_number = [path for path in shown or () if not path.startswith("let.")], 0
        pictures = draw_study(found, folder, drawn, asked.maximise, best_number) if drawn != [] else []
    print_study(found, console, shown)
    for sentence in sentences:
        console.print(sentence, highlight=False, markup=False)
    for warning in warned(found):
        console.print(warning, highlight=False, markup=False)
    if found.missed:
        console.print(
            f"{found.missed} of {len(found.designs)} designs miss the target of {100 * asked.target:g} % with some "
            "answer; what each may be off by is its ±.", highlight=False,
        )  # fmt: skip
    if len(found.varied) > 2:
        console.print("No pictures: they show one or two names that vary.", highlight=False)
    console.print(f"Kept in {folder}: study.jsonl study.csv {' '.join(pictures)}", highlight=False)


def _fit(asked: argparse.Namespace) -> None:
    from rich.console import Console

    from fdm.inference.fit import fit
    from fdm.output.export.result import write_json
    from fdm.output.tables.inference import fit_dict, print_fit

    progress = Console(stderr=True, quiet=asked.quiet)
    with progress.status("reading") as status:
        found = fit(asked.file, asked.measured, asked.adjust, dict(asked.let), progress=status.update)
    if asked.json:
        write_json(fit_dict(found), asked.json)
    if asked.json != "-":
        print_fit(found, Console(soft_wrap=False))


def _network(asked: argparse.Namespace) -> None:
    from fdm.cabinet.reader import is_cabinet, read_cabinet
    from fdm.cabinet.solution import solve_cabinet
    from fdm.output.export.networks import circuit_json, network_json, write_circuit_csv, write_network_csv
    from fdm.output.export.result import write_json
    from fdm.output.export.spice import cabinet_spice, network_spice
    from fdm.section.files import written_beside
    from fdm.section.reader import read_section
    from fdm.solving.solution import solve

    whole = is_cabinet(asked.file)
    with _named(asked.file if whole else ""):
        if whole:
            solved = solve_cabinet(read_cabinet(asked.file, **dict(asked.let)), target=asked.target)
            warnings = solved.warnings
        else:
            section = read_section(asked.file, **dict(asked.let))
    if not whole:
        with _named(asked.file):
            solution = solve(section, asked.target)
            warnings = solution.warnings
    _warn(asked, warnings)
    if asked.format == "csv":
        folder = _folder(asked)
        files = write_circuit_csv(solved, folder) if whole else write_network_csv(solution, folder)
        print("Written:", *files, sep="\n  ")
        return
    place = _folder(asked) / f"network.{'json' if asked.format == 'json' else 'cir'}" if asked.out else None
    if asked.format == "json":
        write_json(circuit_json(solved) if whole else network_json(solution), place or "-")
    else:
        text = cabinet_spice(solved) if whole else network_spice(solution)
        if place is None:
            print(text)
        else:
            with written_beside(place) as temporary:
                temporary.write_text(text + "\n", "utf-8")
    if place:
        print(f"Written to {place}")


@contextmanager
def _named(file: str) -> Iterator[None]:
    """Puts the file's name before what is wrong with its content."""
    try:
        yield
    except InputError as fault:
        raise InputError(f"{file}: {fault}" if file and not str(fault).startswith(file) else str(fault)) from None
    except ArithmeticError as fault:
        raise InputError(f"{file}: {fault}") from None


def _warn(asked: argparse.Namespace, warnings: Sequence[str]) -> None:
    for warning in warnings:
        print(f"fdm: {asked.file}: warning: {warning}", file=sys.stderr)


def _materials(asked: argparse.Namespace) -> None:
    from rich.console import Console

    from fdm.output.tables.section import print_materials
    from fdm.section.materials import search_materials

    found = search_materials(asked.word)
    if not found:
        raise InputError(
            f"materials: none has {asked.word!r} in its name or source; try a shorter word, or none to list all"
        )
    print_materials(found, Console(soft_wrap=False))


def _folder(asked: argparse.Namespace) -> Path:
    folder = Path(asked.out) if asked.out else Path(Path(asked.file).stem)
    if folder.exists() and not folder.is_dir():
        raise InputError(f"--out: {folder} is a file; name a folder")
    folder.mkdir(parents=True, exist_ok=True)
    return folder
