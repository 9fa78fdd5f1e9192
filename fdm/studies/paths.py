"""The numbers of one design by their path in its JSON result, such as `spreading.base plate.LEDs.mean`.

Dots separate; a name that has dots itself stands in double quotes, which may be left out when asking.
"""

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fdm.errors import InputError, nearest
from fdm.solving.result import result_dict
from fdm.solving.solution import Solution

if TYPE_CHECKING:
    from fdm.cabinet.solution import SolvedCabinet

Array = NDArray[np.float64]
Answers = dict[str, float | None]  # None: not finite, or never reached

OWN_BAND = ("reading", "temperature", "psi", "chi", "watts")  # whose band beside them is called just "band"
UNITS = (  # of paths, the first that fits
    (r"\.(misreading|split\..*|weight_error|misreading_band)$", "K"),
    (r"^(sections\.[^.]*\.)?network\.(band\.)?coupling", "W/K"),
    (r"^(sections\.[^.]*\.)?(network\.(band\.)?resistance|spreading\.)", "K/W"),
    (r"\.chi$", "W/K"),
    (r"\.psi$", "W/(m K)"),
    (r"\.(watts|heat|power|pumped|rejected|lead_loss|mean_power)$|balance\.flow", "W"),
    (r"\.(temperature(\..*)?|reading|should_read|thermostat_reading|load_settles|air_settles)$|\.lowest\.air$", "degC"),
    (r"^(setpoint|room)$", "degC"),
    (r"\.(time_to_setpoint|load_time|period)$", "s"),
    (r"\.energy_a_day$", "J"),
    (r"\.current$", "A"),
    (r"\.voltage$", "V"),
)
MAIN = (  # what a builder looks at first
    r"spreading\..*\.mean",
    r"bridge\..*\.(psi|chi)",
    r"sensors\..*\.misreading",
    r"terminals\..*\.temperature",
    r"sensors\..*\.reading",
    r"operating_point\.(temperature\.(air|load)|power)",
    r"pull_down\.(time_to_setpoint|energy_a_day)",
)


def section_answers(solution: Solution) -> Answers:
    """Every number that a solved section answers."""
    return _flat(result_dict(solution))


def cabinet_answers(solved: "SolvedCabinet") -> Answers:
    """Every number that a solved cabinet answers; of its sections under `sections`, by the stem of their file."""
    from fdm.cabinet.result import cabinet_dict

    data = cabinet_dict(solved)
    stems = [file.path.rpartition("/")[2].removesuffix(".toml") for file in solved.sections]
    answered = [{k: v for k, v in section.items() if k != "let"} for section in data["sections"].values()]
    data["sections"] = dict(zip(_numbered(stems), answered))
    del data["circuit"]
    return _flat(data)


def _flat(data: Mapping[str, Any]) -> Answers:
    return {".".join(parts): value for parts, value in _walk(data)}


def _walk(data: Mapping[str, Any], above: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], float | None]]:
    for name, value in data.items():
        here = (*above, _quoted(name))
        if isinstance(value, list) and value and all(isinstance(v, dict) and "name" in v for v in value):
            value = dict(zip(_numbered([v["name"] for v in value]), value))
        if isinstance(value, dict):
            yield from _walk(value, here)
        elif value is None or isinstance(value, (int, float)):
            yield here, None if value is None else float(value)


def _quoted(name: str) -> str:
    return '"' + name.replace('"', "'") + '"' if "." in name or '"' in name else name


def _numbered(names: Collection[str]) -> list[str]:
    """The names, a second one of the same as `name 2`."""
    seen: dict[str, int] = {}
    out = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        out.append(name if seen[name] == 1 else f"{name} {seen[name]}")
    return out


def found(asked: str, known: Collection[str], what: str = "answer") -> str:
    """The path in `known` that is asked for; InputError with the nearest where there is none."""
    paths = found_all(asked, known, what)
    if len(paths) > 1 or _bare(paths[0]) != _bare(asked):
        raise InputError(f"{what}: {asked!r} holds {len(paths)} numbers; give one, such as {paths[0]!r}")
    return paths[0]


def found_all(asked: str, known: Collection[str], what: str = "answer") -> list[str]:
    """The path in `known` that is asked for, or all those below it; InputError with the nearest where there is none."""
    if asked in known:
        return [asked]
    bare = _bare(asked)
    out = [p for p in known if _bare(p) == bare] or [p for p in known if bare and _bare(p).startswith(bare + ".")]
    if not out:
        raise InputError(f"{what}: the result has no {asked!r}; {nearest(asked, known)}")
    return out


def asked_answers(asked: Iterable[str], known: Collection[str]) -> list[str]:
    """The paths in `known` that are asked for, or below what is asked for: of these, no bands of other answers.

    >>> asked_answers(["spreading"], ["spreading.base.LEDs.mean", "spreading.base.LEDs.mean_band"])
    ['spreading.base.LEDs.mean']
    """
    bands = {band_path(path, known) for path in known}
    found = ((a, p) for a in asked for p in found_all(a, known))
    return list(dict.fromkeys(p for a, p in found if p not in bands or _bare(p) == _bare(a)))


def _bare(path: str) -> str:
    return path.strip().replace('"', "")


def main_answers(known: Collection[str]) -> list[str]:
    """Those of `known` that a builder looks at first, in that order."""
    return [p for pattern in MAIN for p in known if re.fullmatch(pattern, p) and not _of_fixed(p, known)]


def _of_fixed(path: str, known: Collection[str]) -> bool:
    """Temperatures that are given, and readings beside their misreading, are nobody's question."""
    parent = path.rpartition(".")[0]
    if path.startswith("terminals."):
        return f"{parent}.band" not in known
    return path.endswith(".reading") and f"{parent}.misreading" in known and f"{parent}.misreading_band" in known


def parts_of(path: str) -> list[str]:
    """The names between the dots, in quotes where they have dots themselves."""
    return re.findall(r'"[^"]*"|[^."]+', path)


def band_path(path: str, known: Collection[str]) -> str | None:
    """Where the half-width of the error of `path` stands; None where the result states none."""
    parts = parts_of(path)
    if f"{path}_band" in known:
        return f"{path}_band"
    for k in range(len(parts) - 1, 0, -1):
        inserted = ".".join([*parts[:k], "band", *parts[k:]])
        if inserted in known:
            return inserted
    beside = ".".join([*parts[:-1], "band"])
    return beside if parts[-1] in OWN_BAND and beside in known else None


def unit(path: str) -> str:
    """The unit of an answer, or nothing.

    >>> unit("spreading.base plate.LEDs.mean"), unit("let.weight")
    ('K/W', '')
    """
    return next((u for pattern, u in UNITS if not path.startswith("let.") and re.search(pattern, path)), "")


def merit(path: str, values: Array) -> Array:
    """What is compared: the value; of a misreading, its size, as too cold is no better than too warm."""
    return np.abs(values) if of_size(path) else values


def of_size(path: str) -> bool:
    return path.endswith(".misreading")
