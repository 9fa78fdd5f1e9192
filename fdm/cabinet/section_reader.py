"""Section files that a cabinet names: read, and kept, as a cabinet is read again and again with other numbers."""

import os
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from pathlib import Path

from fdm.cabinet.section_file import SectionFile
from fdm.errors import in_file, require_visible
from fdm.section.model import Section
from fdm.section.reader import section_in
from fdm.section.tables import Table, document_in, document_text
from fdm.section.uncertain import MATERIALS

SECTION = ("section", "let")


@dataclass(frozen=True)
class SectionFolder:
    """Where the section files of a cabinet lie, and the altitude (m) of those that give none."""

    path: Path
    altitude: float


def read_section_file(t: Table, folder: SectionFolder) -> SectionFile:
    """The section file at the key `section` of a table, with the numbers of its [let] that the table's `let` changes.
    The uncertain numbers of the section become the cabinet's."""
    given = t.optional(lambda key: t.value(key, dict, "a table of named numbers of the section"), "let") or {}
    named = replace(t, where=t.place("let"), values=given)
    let = {key: named.number(key) for key in given}
    path = folder.path / t.text("section")
    with t.at("section"):
        require_visible(repr(str(path)), str(path))
        with in_file(str(path)):
            text = document_text(str(path))
        stated = tuple(key for key in let if named.states(key))
        read = partial(_drawn, text, str(path), tuple(let.items()), stated, folder.altitude)
        section = read()
        shown, moved = Path(os.path.relpath(path.resolve(), folder.path.resolve())).as_posix(), {}
        for u in section.uncertain:
            place = u.place if u.table == MATERIALS else f"{shown}: {u.place}"
            t.uncertain.setdefault(place, replace(u, place=place))
            if place in t.moved:
                moved[u.place] = t.moved[place]
        if moved:
            section = read(tuple(moved.items()))
    texts = tuple(sorted((key, f"{value:.15g}") for key, value in let.items()))
    return SectionFile(shown, texts, section, tuple(sorted(moved.items())), altitude=folder.altitude)


@lru_cache(maxsize=64)  # few of a cabinet's sections have the numbers that change
def _drawn(
    text: str,
    path: str,
    let: tuple[tuple[str, float], ...],
    stated: tuple[str, ...],
    altitude: float,
    moved: tuple[tuple[str, float], ...] = (),
) -> Section:
    """The section in the text of a file."""
    with in_file(path):
        document = document_in(text)
    return section_in(document, path, dict(let), dict(moved), stated, altitude)
