"""Where to put a sensor, in words and as a table."""

from collections.abc import Iterator

from rich.console import Console

from fdm.answers.rounding import brief, rough, with_band
from fdm.output.breakdown import percent
from fdm.output.tables.console_table import new_table
from fdm.output.tables.ranges import point_in_words, ranges_in_words
from fdm.output.tables.section import own_pulls
from fdm.output.tables.sentences import Sentence, print_sentences
from fdm.solving.placement import Place, Placement

MOST_ROWS = 8  # of the table beside a summary
MOST_NAMED = 6  # parts and airs in a sentence
EXACT = 1e-5  # K
ALL = 0.9995  # of a part
UNFELT_KELVIN = 1e-4  # a misreading that is none
BARE = (
    "A bare bead: in an air it reads that air, on a surface what the surface has. Left out is what its leads carry to "
    "it, and what it sees of warm and cold surfaces."
)
PULLED = (
    "With its stem and watts as they would act there: within a part, half sunk into a surface, or in still air. Left "
    "out is what it sees of warm and cold surfaces."
)
KEPT = "Films and other numbers that follow the temperature keep what they are in the middle of the ranges."


def wanted_in_words(found: Placement) -> str:
    """What should be read."""
    goal = found.should_read
    return goal if isinstance(goal, str) else f"{goal:g} degC"


def place_in_words(p: Place) -> str:
    """What a bead is in or on.

    >>> from dataclasses import replace
    >>> one = Place("skin", "on", "room air", 3.0, 0.0, 0.1, 0.01, 0.0, 0.5, {})
    >>> place_in_words(one), place_in_words(replace(one, where="front", air=""))
    ('on skin in room air', 'on the front of skin')
    """
    if p.where == "air":
        return f"in {p.air}"
    if p.where == "on":
        return f"on {p.part} in {p.air}"
    return f"in {p.part}" if p.where == "in" else f"on the {p.where} of {p.part}"


def print_placement(found: Placement, console: Console, most: int | None = None) -> None:
    """Where a bead misreads no more than the limit, in sentences; and the best places as a table, no more than `most`
    of them."""
    print_sentences(placement_sentences(found), console)
    console.print()
    print_places(found, console, most)


def placement_sentences(found: Placement) -> Iterator[str]:
    """In and on what a bead would do, the best place in or on a solid, and what the sensor misreads where it is."""
    drawn = found.now is not None
    bead = f"a bare bead in place of {found.sensor}" if drawn else "a bare bead"
    if found.probe is not None:
        own = ["stem"] * (found.probe.stem is not None) + ["own watts"] * bool(found.probe.self_heating)
        bead = f"{found.sensor} with its {' and '.join(own)}"
    ranges = f", with {ranges_in_words(found.ranges)}" if found.ranges else ""
    wanted = f"{wanted_in_words(found)} to within {found.within:g} K{ranges}"
    good = [_share_in_words(p) for p in found.best if p.share > 0]
    if good:
        more = f", and {len(good) - MOST_NAMED} more" if len(good) > MOST_NAMED else ""
        yield f"{bead if found.probe else 'A' + bead[1:]} reads {wanted}: {', '.join(good[:MOST_NAMED])}{more}"
    else:
        yield f"Nowhere does {bead} read {wanted}"
    if found.solid:
        p = found.solid[0]
        yield (
            f"The best solid place, also a millimetre off, is {place_in_words(p)}, at {_coordinates(found, p)} "
            f"{found.unit}: there it misreads {brief(p.misreading, p.band, 'K')}{_where(p)}, by {rough(p.slope)} K/mm "
            "more or less beside it"
        )
    if found.now is not None:
        yield f"Where it is now, {found.sensor} misreads {brief(*found.now, 'K')}{_of_its_own(found)}"


def _of_its_own(found: Placement) -> str:
    """How much of what the sensor misreads is that of a sensor with leads, and not of a bare bead."""
    if found.now is None or found.reading_now is None or not (own := own_pulls(found.reading_now)):
        return ""
    bare = sum(found.reading_now.split.values())
    said = [f"{brief(bare, found.now[1], 'K')} as a bare bead would"] if abs(bare) >= UNFELT_KELVIN else []
    return ": " + ", ".join(said + [f"{brief(v, 0.0, 'K')} {how}" for how, v in own])


def _share_in_words(p: Place) -> str:
    """Of what, and on how much of it: "on 8 % of skin in room air"."""
    words = place_in_words(p)
    if p.where == "air" or p.share > ALL:
        return words
    preposition, what = words.split(" ", 1)
    return f"{preposition} {percent(p.share)} of {what}"


def _misread(p: Place) -> str:
    """K with its band; where that is next to nothing, four digits."""
    return with_band(p.misreading, p.band) if p.band > EXACT else f"{p.misreading:.4g}"


def _coordinates(found: Placement, p: Place) -> str:
    across, up = ("radius", "height") if found.section.view == "axisymmetric" else ("x", "y")
    return f"{across} = {p.x:.4g}, {up} = {p.y:.4g}"


def _where(p: Place) -> str:
    return f" (at {point_in_words(p.at)})" if p.at else ""


def print_places(found: Placement, console: Console, most: int | None = None) -> None:
    """The best place in and on each solid, and each air, no more than `most` of them."""
    axes = "radius, height" if found.section.view == "axisymmetric" else "x, y"
    columns = ["", "best place", f"{axes} {found.unit}", "misreads K", "K/mm", f"within {found.within:g} K"]
    title = f"Places {'for' if found.now else 'to read'} {found.sensor}"
    table = new_table(title, columns + ["at"] * bool(found.ranges), right=(0, 3, 4, 5))
    number = {id(p): str(k) for k, p in enumerate(found.solid, 1)}
    for p in found.best[:most]:
        solid = p.where != "air"
        place, slope = (f"{p.x:.4g}, {p.y:.4g}", rough(p.slope)) if solid else ("", "")
        share = (percent(p.share) if p.share else "-") if solid else ""
        cells = [number.get(id(p), ""), place_in_words(p), place, _misread(p), slope, share]
        table.add_row(*cells, *([point_in_words(p.at, found.ranges)] if found.ranges else []))
    console.print(table, highlight=False)
    if most is not None and len(found.best) > most:
        console.print(Sentence(f"({len(found.best) - most} more: --tables)"), highlight=False)
    console.print(Sentence((PULLED if found.probe else BARE) + f" {KEPT}" * found.kept), highlight=False)
