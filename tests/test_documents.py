"""README and DEVELOPERS name all that there is: keys of the files, commands, files of the package."""

import re
from importlib import import_module
from pathlib import Path

import pytest

from fdm.section.films import FAN, FLOWS, SURFACE

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
READERS = (
    *("section.reader", "section.part_reader", "section.fin_reader", "section.sensors", "section.bolts"),
    *("cabinet.reader", "cabinet.bank_reader", "cabinet.sink_reader", "cabinet.zone_reader"),
)


def tables(text: str) -> str:
    return "\n".join(line for line in text.splitlines() if line.startswith("|"))


def test_readme_has_every_key_in_a_table() -> None:
    """Readers have the keys of each table in a tuple."""
    keys = {*SURFACE, *FAN, *(key for flow in FLOWS.values() for key in flow)}
    for reader in READERS:
        for name, value in vars(import_module(f"fdm.{reader}")).items():
            if name.isupper() and isinstance(value, tuple):
                keys.update(v for v in value if isinstance(v, str))
    assert {"film", "stem", "hysteresis", "volume_flow"} <= keys  # keys, found where they are expected
    known = set(re.findall(r"\w+", tables(README)))
    assert sorted(keys - known) == []


def test_readme_has_every_command() -> None:
    commands = {f.stem for f in (ROOT / "fdm" / "cli").glob("*.py") if "def add_to(" in f.read_text(encoding="utf-8")}
    assert len(commands) == 9 and all(f"| `{command} " in README for command in commands)


def test_links_lead_somewhere() -> None:
    links = re.findall(r"\]\(([^)]+)\)", README + DEVELOPERS)
    assert links and [link for link in links if not (ROOT / link).exists()] == []


@pytest.mark.parametrize("package", ["fdm", "validation"])
def test_developers_has_every_file_below_the_heading_of_its_folder(package: str) -> None:
    below = {part.split()[0].rstrip(","): part for part in DEVELOPERS.split("\n### ")[1:]}
    for file in (ROOT / package).rglob("*.py"):
        folder, *rest = file.relative_to(ROOT / package if package == "fdm" else ROOT).with_suffix("").parts
        if rest and rest[-1] != "__init__":
            assert re.search(rf"[`/]{rest[-1]}`", below[folder]), file
