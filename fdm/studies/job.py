"""The file whose designs are solved, and what tells its study from others.

A study is known by a hash of all that its answers come from: the text of the file and of the section files it names,
the target, and the program itself with its table of materials. What is kept under another hash is another study's.
"""

import hashlib
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from fdm.answers.kinds import asked_of
from fdm.answers.quantity import Quantity, named_numbers
from fdm.conduction.plane import conduction_system
from fdm.errors import InputError, nearest
from fdm.grid.lines import first_lines
from fdm.section.files import LARGEST_FILE
from fdm.section.model import Section
from fdm.section.reader import section_in
from fdm.section.tables import read_document
from fdm.studies.design import Common, design_key
from fdm.studies.names import kinds_of_names

if TYPE_CHECKING:  # studies of sections start sooner without it
    from fdm.cabinet.model import Cabinet


class Job:
    """A file whose designs are solved to one target. Raises InputError where it cannot be read."""

    def __init__(self, path: str | os.PathLike[str], target: float) -> None:
        self.path, self.target = os.fspath(path), target
        if not 0 < target < 1:
            raise InputError(f"target: {target!r} is not a share between 0 and 1, such as 0.005 or 0.5%")
        try:
            document = self._document = read_document(self.path)
        except InputError as fault:
            raise InputError(f"{self.path}: {fault}") from None
        self.cabinet = "cabinet" in document
        let = document.get("let", {})
        self.let = tuple(let) if isinstance(let, dict) else ()
        self.study = self._hash(document)

    def _hash(self, document: Mapping[str, object]) -> str:
        folder = Path(self.path).parent
        digest = hashlib.sha256(repr(self.target).encode() + program_hash())
        files = sorted(set(_section_paths(document))) if self.cabinet else []
        for file in (Path(self.path), *(folder / name for name in files)):
            text = _beginning_of(file)
            digest.update(len(text).to_bytes(8, "big") + text)
        return digest.hexdigest()[:16]

    def checked(self, wanted: Iterable[Mapping[str, float]]) -> list[dict[str, float]]:
        """The designs, each once. Raises InputError for names that the file's [let] does not have, and for none."""
        out = list({design_key(d): dict(d) for d in wanted}.values())
        if not out or not out[0]:
            raise InputError(f"{self.path}: no designs to solve; give at least one value of a name in [let]")
        for name in out[0]:
            if name not in self.let:
                raise InputError(
                    f"{self.path}: let: there is no named number {name!r} to vary; {nearest(name, self.let)}"
                )
        if any(d.keys() != out[0].keys() for d in out):
            raise InputError(f"{self.path}: the designs set different names; give each of them all names that vary")
        return out

    @cached_property
    def kinds(self) -> dict[str, str]:
        """What its named numbers are, as `kinds_of_names` says."""
        return kinds_of_names(self.path)

    def common(self) -> Common:
        """What workers need beside the designs."""
        try:
            first = None if self.cabinet else section_in(self._document, self.path, {})
        except InputError:  # a file may make sense only with its numbers changed
            first = None
        return Common(self.study, self.target, first)

    def refuse_unknown(self, values: Mapping[str, float], understood: Callable[[Sequence[Quantity]], object]) -> None:
        """Let `understood` see what a section answers with these numbers, before anything is solved, so that it may
        raise InputError. What a cabinet answers shows when its first design is solved."""
        if self.cabinet:
            return
        try:
            section = section_in(self._document, self.path, values)
            asked = asked_of(conduction_system(section, *first_lines(section)))
        except InputError:  # of this design alone, perhaps
            return
        understood((*asked.quantities, *named_numbers(section.let).quantities))

    def refuse_changed(self) -> None:
        """Raise InputError where a file of the study, read again for each cabinet, is no longer what it was."""
        if self.cabinet and self._hash(self._document) != self.study:
            raise InputError(f"{self.path}: it, or a section file it names, was changed; start the study again")

    def read(self, values: Mapping[str, float]) -> "Section | Cabinet":
        """The section or cabinet with these numbers. Raises InputError where they make no sense."""
        if not self.cabinet:
            return section_in(self._document, self.path, values)
        from fdm.cabinet.reader import read_cabinet

        return read_cabinet(self.path, **values)


@cache
def program_hash(package: Path = Path(__file__).parents[1]) -> bytes:
    """Of all that answers come from beside the files: the program's own text and its table of materials."""
    # not of its version number, which stays while the program is worked on
    digest = hashlib.sha256()
    for file in sorted(f for f in package.rglob("*") if f.suffix in (".py", ".csv")):
        text = file.read_bytes()
        digest.update(f"{file.relative_to(package).as_posix()} {len(text)}\n".encode() + text)
    return digest.digest()


def _beginning_of(file: Path) -> bytes:
    """All that a file may hold; nothing where it cannot be read, which reading the section will say."""
    try:
        if not file.is_file():
            return b""
        with open(file, "rb") as content:
            return content.read(LARGEST_FILE + 1)
    except OSError:
        return b""


def _section_paths(table: object) -> Iterator[str]:
    """Every `section = "PATH"` in a cabinet file's tables."""
    if isinstance(table, list):
        for value in table:
            yield from _section_paths(value)
    elif isinstance(table, dict):
        if isinstance(path := table.get("section"), str):
            yield path
        for value in table.values():
            yield from _section_paths(value)
