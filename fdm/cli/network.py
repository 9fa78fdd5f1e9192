"""fdm network: hand a section's or a cabinet's network to other lumped models."""

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fdm.cli.console import folder_of, named, warn
from fdm.cli.words import add_command, add_file, add_target
from fdm.errors import visible

if TYPE_CHECKING:
    from fdm.cli.words import Commands


def add_to(commands: "Commands") -> None:
    examples = {
        "network wall_module.toml": "prints the section's network as JSON",
        "network wall_module.toml --format csv": "writes its matrices to the folder wall_module",
        "network bulb_cabinet.toml --format spice --out nets": "writes a netlist that runs as it stands",
    }
    network = add_command(
        commands, "network", "hand a section's or a cabinet's network to other lumped models", examples
    )
    add_file(network, "section or cabinet file")
    network.add_argument(
        "--format",
        choices=("json", "csv", "spice"),
        default="json",
        help="json (left out: this), csv matrices, or a spice netlist",
    )
    add_target(network, "")
    network.set_defaults(run=run)


def run(asked: argparse.Namespace) -> str:
    from fdm.cabinet.reader import is_cabinet
    from fdm.output.export.json_file import write_json
    from fdm.section.files import written_beside

    network = _cabinet_network(asked) if is_cabinet(asked.file) else _section_network(asked)
    warn(asked, network.warnings)
    if asked.format == "csv":
        print("Written:", *(visible(str(path)) for path in network.write_csv(folder_of(asked))), sep="\n  ")
        for words in network.holds_for:
            print(visible(f"It holds for {words}"))
        return network.failed
    place = folder_of(asked) / f"network.{'json' if asked.format == 'json' else 'cir'}" if asked.out else None
    if asked.format == "json":
        write_json(network.json(), place or "-")
    else:
        text = network.spice()
        if place is None:
            print(text)
        else:
            with written_beside(place) as temporary:
                temporary.write_text(text + "\n", "utf-8")
    if place:
        print(visible(f"Written to {place}"))
    return network.failed


@dataclass(frozen=True)
class _Network:
    """A solved network in each format, made when it is asked for."""

    warnings: Sequence[str]
    failed: str  # which checks the answers failed, in a sentence
    json: Callable[[], dict[str, Any]]
    spice: Callable[[], str]
    write_csv: Callable[[Path], Sequence[object]]  # into a folder; the files written
    holds_for: Sequence[str] = ()  # in words: numbers of a section that follow its temperatures


def _section_network(asked: argparse.Namespace) -> _Network:
    from fdm.output.export.networks import network_json, write_network_csv
    from fdm.output.export.spice import network_spice
    from fdm.section.reader import read_section
    from fdm.solving.steady import solve

    section = read_section(asked.file, **dict(asked.let))
    with named(asked.file):
        s = solve(section, asked.target)
    return _Network(
        s.warnings,
        s.failed,
        partial(network_json, s),
        partial(network_spice, s),
        partial(write_network_csv, s),
        [f.words for f in s.frozen.values] if s.frozen else [],
    )


def _cabinet_network(asked: argparse.Namespace) -> _Network:
    from fdm.cabinet.reader import read_cabinet
    from fdm.cabinet.solution import solve_cabinet
    from fdm.output.export.networks import circuit_json, write_circuit_csv
    from fdm.output.export.spice import cabinet_spice

    with named(asked.file):
        s = solve_cabinet(read_cabinet(asked.file, **dict(asked.let)), target=asked.target)
    return _Network(
        s.warnings, s.failed, partial(circuit_json, s), partial(cabinet_spice, s), partial(write_circuit_csv, s)
    )
