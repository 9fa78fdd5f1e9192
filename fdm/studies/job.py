"""The file, or the function, whose designs are solved, and what tells its study from others.

A study is known by a hash of all that its answers come from: the text of the file and of the section files it names,
the target, and the program itself with its table of materials. What is kept under another hash is another study's.
"""

import hashlib
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache, cached_property
from inspect import signature
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

from fdm.answers import moisture, surfaces
from fdm.answers.kinds import asked_of
from fdm.answers.quantity import Quantity, named_numbers
from fdm.conduction.systems import conduction_system
from fdm.errors import InputError, in_file, nearest, require_share, what_is
from fdm.grid.lines import first_lines
from fdm.section.files import LARGEST_FILE
from fdm.section.model import Section
from fdm.section.reader import read_section, section_in
from fdm.section.tables import read_document
from fdm.studies.design import Common, design_key
from fdm.studies.names import COUNT, kinds_of_names

if TYPE_CHECKING:  # studies of sections start sooner without it
    from fdm.cabinet.model import Cabinet


class Job:
    """A file whose designs are solved to one target, with some of its named numbers changed in all of them. Raises
    InputError where it cannot be read."""

    def __init__(self, path: str, target: float, changed: Mapping[str, float | str] | None = None) -> None:
        self.path, self.target, self._changed = path, target, changed or {}
        with in_file(self.path):
            document = self._document = read_document(self.path)
        self.cabinet = "cabinet" in document
        let = document.get("let", {})
        self.let = tuple(let) if isinstance(let, dict) else ()
        self.study = self._hash(document)

    def _hash(self, document: Mapping[str, object]) -> str:
        folder = Path(self.path).parent
        digest = hashlib.sha256(repr(self.target).encode() + program_hash())
        if self._changed:
            digest.update(repr(sorted(self._changed.items())).encode())
        files = sorted(set(_section_paths(document))) if self.cabinet else []
        for file in (Path(self.path), *(folder / name for name in files)):
            text = _beginning_of(file)
            digest.update(len(text).to_bytes(8, "big") + text)
        return digest.hexdigest()[:16]

    def checked(self, wanted: Iterable[Mapping[str, float]]) -> list[dict[str, float]]:
        """The designs, each once. Raises InputError for names that the file's [let] does not have, and for none."""
        out = _each_once(wanted)
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

    @property
    def counted(self) -> tuple[str, ...]:
        """Its named numbers that are counted, such as modules or fins."""
        return tuple(name for name, kind in self.kinds.items() if kind == COUNT)

    def common(self) -> Common:
        """What workers need beside the designs."""
        try:
            first = None if self.cabinet else section_in(self._document, self.path, self._changed)
        except InputError:  # a file may make sense only with its numbers changed
            first = None
        return Common(self.study, self.target, first)

    def refuse_unknown(self, values: Mapping[str, float], understood: Callable[[Sequence[Quantity]], object]) -> None:
        """Let `understood` see what a section answers with these numbers, before anything is solved, so that it may
        raise InputError. What a cabinet answers shows when its first design is solved."""
        if self.cabinet:
            return
        try:
            section = section_in(self._document, self.path, {**self._changed, **values})
        except InputError:  # of this design alone, perhaps
            return
        _show_answers(section, understood)

    def refuse_changed(self) -> None:
        """Raise InputError where a file of the study, read again for each cabinet, is no longer what it was."""
        if self.cabinet and self._hash(self._document) != self.study:
            raise InputError(f"{self.path}: it, or a section file it names, was changed; start the study again")

    def read(self, values: Mapping[str, float]) -> "Section | Cabinet":
        """The section or cabinet with these numbers. Raises InputError where they make no sense."""
        if not self.cabinet:
            return section_in(self._document, self.path, {**self._changed, **values})
        from fdm.cabinet.reader import read_cabinet

        return read_cabinet(self.path, **values)


class FunctionJob:
    """The sections or cabinets that a function makes from the numbers that vary, by their names."""

    def __init__(self, function: Callable[..., "Section | Cabinet"], target: float) -> None:
        self._function, self.target = function, target
        self.path = getattr(function, "__name__", type(function).__name__).replace("<lambda>", "the function")
        self.study, self.kinds = uuid4().hex[:16], dict[str, str]()  # kept nowhere
        self.counted: tuple[str, ...] = ()

    def checked(self, wanted: Iterable[Mapping[str, float]]) -> list[dict[str, float]]:
        """As `Job.checked`, for the arguments of the function."""
        out = _each_once(wanted)
        if not out or not out[0]:
            raise InputError(f"{self.path}: no designs to solve; give at least one value of an argument")
        takes = signature(self._function)
        for name in (name for design in out for name in design if name not in takes.parameters):
            if all(argument.kind != argument.VAR_KEYWORD for argument in takes.parameters.values()):
                raise InputError(f"{self.path}: takes no argument {name!r}; {nearest(name, takes.parameters)}")
        for design in out:
            try:
                takes.bind(**design)
            except TypeError as fault:
                raise InputError(f"{self.path}: {fault}; give values of it, too, or give it a default") from None
        return out

    def common(self) -> Common:
        """As `Job.common`; the section as it stands is that of the function's own defaults, where it has them all."""
        try:
            signature(self._function).bind()
            first = self.read({})
        except (TypeError, InputError):
            first = None
        return Common(self.study, self.target, first if isinstance(first, Section) else None)

    def refuse_unknown(self, values: Mapping[str, float], understood: Callable[[Sequence[Quantity]], object]) -> None:
        """As `Job.refuse_unknown`."""
        try:
            made = self.read(values)
        except InputError:  # of this design alone, perhaps
            return
        if isinstance(made, Section):
            _show_answers(made, understood)

    def refuse_changed(self) -> None:
        """A function stays as it is."""

    def read(self, values: Mapping[str, float]) -> "Section | Cabinet":
        """What the function makes of these numbers, which become its named numbers. Raises InputError where it makes
        something else, or fails."""
        from fdm.cabinet.model import Cabinet

        try:
            made = self._function(**values)
        except InputError:
            raise
        except Exception as fault:
            raise InputError(f"{self.path}: {type(fault).__name__}: {fault}") from fault
        if not isinstance(made, (Section, Cabinet)):
            raise InputError(f"{self.path}: returned {what_is(made)}; let it return a Section or a Cabinet")
        return replace(made, let={**made.let, **values})


Given = str | os.PathLike[str] | Section | Callable[..., "Section | Cabinet"]


def job_of(given: Given, target: float, out: object = None) -> Job | FunctionJob:
    """The job of a file, by its path, or by a section read from it; or of a function. Raises InputError for anything
    else, for a section that is no longer what its file says, and where the designs of a function are to be kept `out`.
    """
    require_share("target", target)
    if isinstance(given, (str, os.PathLike)):
        return Job(os.fsdecode(given), target)
    if isinstance(given, Section):
        try:
            same = bool(given.file) and read_section(given.file, **given.overrides) == given
        except InputError:
            same = False
        if not same:
            raise InputError(
                "study: this Section has no named numbers to vary, as it was built or changed in Python, or its file "
                "has changed; give the path of a file, or a function that makes a Section from the numbers"
            )
        return Job(given.file, target, given.overrides)
    if not callable(given):
        raise InputError(
            f"study: got {what_is(given)}; give the path of a file, a Section read from one, or a function that makes "
            "a Section from the numbers that vary"
        )
    if out is not None:
        raise InputError(
            "out: designs of a function cannot be kept, as nothing tells whether it is still the same; leave out away, "
            "or study a file"
        )
    return FunctionJob(given, target)


def _each_once(wanted: Iterable[Mapping[str, float]]) -> list[dict[str, float]]:
    try:
        return list({design_key(d): dict(d) for d in wanted}.values())
    except (TypeError, ValueError, AttributeError):
        raise InputError(
            'varied: give names with their values, such as {"base": [4, 6, 8]} or {"base": "4:8:2"}, or a list of '
            'designs, such as [{"base": 4}, {"base": 6}]'
        ) from None


def _show_answers(section: Section, understood: Callable[[Sequence[Quantity]], object]) -> None:
    """Let `understood` see what the section may answer; nothing where that cannot be told yet."""
    try:
        asked = asked_of(conduction_system(section, *first_lines(section)))
    except InputError:  # of this design alone, perhaps
        return
    elsewhere = (*surfaces.thinkable(section), *moisture.thinkable(section))
    known = (*asked.quantities, *elsewhere, *named_numbers(section.let).quantities)
    understood(tuple({q.path: q for q in known}.values()))


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
