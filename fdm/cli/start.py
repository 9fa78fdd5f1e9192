"""fdm start: copy a commented demo file to begin with, and the files that it names."""

import argparse
import re
import shutil
import sysconfig
from pathlib import Path
from typing import TYPE_CHECKING

from fdm.cli.words import add_command
from fdm.errors import InputError, nearest, visible

if TYPE_CHECKING:
    from fdm.cli.words import Commands


def add_to(commands: "Commands") -> None:
    examples = {
        "start": "says what demos there are",
        "start light_bar": "copies light_bar.toml, and what belongs to it, to where you stand",
    }
    start = add_command(
        commands, "start", "copy a commented demo file to begin with; without a name, list them", examples
    )
    start.add_argument("name", nargs="?", metavar="DEMO", help="a demo, such as light_bar (left out: list them)")
    start.add_argument("--out", metavar="FOLDER", default=".", help="copy to this folder (left out: where you stand)")
    start.set_defaults(run=run)


def run(asked: argparse.Namespace) -> None:
    from fdm.cabinet.reader import is_cabinet
    from fdm.section.files import written_beside

    demos = {file.stem: file for file in sorted(_folder().glob("*.toml"))}
    if asked.name is None:
        width = max(map(len, demos))
        print("Begin with one of these: fdm start NAME")
        for name, file in demos.items():
            print(f"  {name:{width}}  {_title(file)}")
        return
    if asked.name not in demos:
        raise InputError(f"start: there is no demo {asked.name!r}; {nearest(asked.name, demos)}")
    files, folder = _needed(demos[asked.name]), Path(asked.out)
    folder.mkdir(parents=True, exist_ok=True)
    missing = [file for file in files if not _is_there(file, folder / file.name)]
    for file in missing:
        with written_beside(folder / file.name) as temporary:
            shutil.copyfile(file, temporary)
    command = "cabinet" if is_cabinet(files[0]) else "solve"
    if missing:
        print(visible(f"Copied to {folder}: {' '.join(file.name for file in missing)}"))
    if len(missing) < len(files):
        there = " ".join(file.name for file in files if file not in missing)
        print(visible(f"In {folder} already, as in the demo: {there}"))
    print(visible(f"Now change its numbers, and run: fdm {command} {folder / files[0].name}"))


def _is_there(file: Path, copy: Path) -> bool:
    """Whether the copy of a file is there already. Raises InputError where it is another file, or a changed copy."""
    if not copy.exists():
        return False
    if copy.is_file() and copy.read_bytes() == file.read_bytes():
        return True
    raise InputError(f"start: {str(copy)!r} exists already, and is not the demo's; name another folder with --out")


def _folder() -> Path:
    """The demos: beside the package in a checkout, else where they are installed."""
    beside = Path(__file__).parents[2] / "geometries"
    return beside if beside.is_dir() else Path(sysconfig.get_path("data")) / "share" / "fdm"


def _needed(file: Path) -> list[Path]:
    """The file, the sections that it names, and its measured log and its notebook where there are any."""
    sections = [file.parent / name for name in re.findall(r'^section = "(.+?)"', file.read_text("utf-8"), re.MULTILINE)]
    beside = (file.with_name(name) for name in (f"{file.stem}_log.csv", f"{file.stem}.ipynb"))
    return list(dict.fromkeys([file, *sections, *(other for other in beside if other.is_file())]))


def _title(file: Path) -> str:
    from fdm.section.tables import read_document

    return str(read_document(str(file)).get("title", ""))
