"""What must hold of every document, however odd: it is refused in one sentence, or answered soundly, and in time.

Each check takes a document and says what became of it, in one word to be counted. It raises `Broken` where a property
does not hold; any other exception is a fault of its own.
"""

import io
import json
import math
import os
import re
import shutil
import signal
import tempfile
import warnings
from collections.abc import Callable, Iterator
from contextlib import chdir, contextmanager, redirect_stderr, redirect_stdout
from pathlib import Path

import numpy as np
from rich.console import Console

from fdm import InputError, Solution, placement, read_cabinet, read_section, solve, solve_cabinet
from fdm.cabinet.result import cabinet_dict
from fdm.cabinet.solution import SolvedCabinet
from fdm.cli.main import main
from fdm.inference.measured import read_measured
from fdm.output.export.placement import placement_dict
from fdm.output.tables.cabinet import print_cabinet
from fdm.output.tables.cabinet_summary import print_cabinet_summary
from fdm.section.expressions import evaluate
from fdm.section.model import UNITS
from fdm.solving.result import result_dict
from fdm.studies import designs
from tests.fuzz.mutations import GEOMETRIES

SECONDS = 10  # of the processor, for one document
MOST_CELLS = 30_000
LONGEST = 1500  # characters of a message
ROUNDING = 1e-6  # of sums and balances that hold exactly
NAMES = {"size": 4.0, "wall": 30.0}


class Broken(AssertionError):
    """A property does not hold."""


def require(holds: object, what: str) -> None:
    if not holds:
        raise Broken(what)


@contextmanager
def in_time() -> Iterator[None]:
    """Raises Broken when the time is over."""

    def over(*_: object) -> None:
        raise Broken(f"takes more than {SECONDS} s")

    before = signal.signal(signal.SIGPROF, over)
    signal.setitimer(signal.ITIMER_PROF, SECONDS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


@contextmanager
def strictly() -> Iterator[None]:
    """Within the time, and every warning of Python or numpy is an error."""
    with in_time(), warnings.catch_warnings():
        warnings.simplefilter("error")
        warnings.simplefilter("ignore", DeprecationWarning)  # of libraries, to each other
        yield


def is_short(message: str) -> None:
    require(0 < len(message) <= LONGEST, f"a message of {len(message)} characters: {message[:200]!r}")


def refused(act: Callable[[], object]) -> bool:
    """Whether it is refused, in one sentence."""
    try:
        act()
    except InputError as fault:
        is_short(str(fault))
        return True
    except ArithmeticError as fault:  # no steady state; its kin, such as OverflowError, are faults
        if type(fault) is not ArithmeticError:
            raise
        is_short(str(fault))
        return True
    return False


def expression(text: str) -> str:
    with strictly():
        return "refused" if refused(lambda: require(math.isfinite(evaluate(text, NAMES)), "not finite")) else "read"


def measured(text: str) -> str:
    with folder() as path:
        (path / "log.csv").write_text(text, "utf-8", newline="")
        with strictly():
            return "refused" if refused(lambda: read_measured("log.csv")) else "read"


def varied(words: str) -> str:
    """Of a study: a list of [name, values] in JSON."""
    asked = [(name, values) for name, values in json.loads(words)]
    with strictly():
        return "refused" if refused(lambda: designs(asked)) and refused(lambda: designs(asked, lhs=5)) else "read"


def section(text: str) -> str:
    """Read, solved on a few cells, and printed."""
    with folder() as path:
        (path / "drawn.toml").write_text(text, "utf-8")
        drawn, solution = [], []
        with strictly():
            if refused(lambda: drawn.append(read_section("drawn.toml"))):
                return "refused"
            if refused(lambda: solution.append(solve(drawn[0], target=0.02, max_cells=MOST_CELLS))):
                return "read, refused"
            return _sound(solution[0])


def _sound(s: Solution) -> str:
    met = s.grid.target_met
    for warning in s.warnings:
        is_short(warning)
    values, bands = s.answers.value, s.answers.band
    endless = [q.family == "coupling" and any("has no limit" in w for w in s.warnings) for q in s.answers.quantities]
    known = np.isfinite(values) & (np.isfinite(bands) | np.array(endless, bool))
    known |= np.array([q.family == "fins" for q in s.answers.quantities], bool)  # no efficiency without a difference
    require(not met or known.all(), "target met, but not all is finite")
    error = max(s.balance.imbalance, s.balance.weight_error, s.balance.asymmetry)
    require(error < ROUNDING or not met, f"target met, but balances are off by {error:.1e}")
    require((bands[~np.isnan(bands)] >= 0).all(), "a band below 0")
    _between_its_surroundings(s)
    json.dumps(result_dict(s), allow_nan=False)
    repr(s)
    if not s.failed:
        _has_places(s)
    return "target met" if met else "solved, target not met"


def _has_places(s: Solution) -> None:
    """A sensor, its own or one of any terminal, has its places, each in the drawing and with a value."""
    sensors = [sensor.name for sensor in s.section.sensors if sensor.should_read is not None]
    found = placement(s, [*sensors, s.section.fixed_names[-1]][0])
    x0, x1, y0, y1 = (v / UNITS[found.unit] for v in s.section.extent)
    off = 1e-5 * max(x1 - x0, y1 - y0)
    for p in found.solid:
        require(math.isfinite(p.misreading) and 0 <= p.share <= 1, f"no value at the best place {p}")
        require(x0 - off <= p.x <= x1 + off and y0 - off <= p.y <= y1 + off, f"beyond the drawing: {p}")
    json.dumps(placement_dict(found), allow_nan=False)
    repr(found)


def _between_its_surroundings(s: Solution) -> None:
    """No place is warmer or colder than what surrounds it, and watts warm, within bands."""
    value, band = s.network.values, s.network.band
    for key, high in (("weight", 1.0), ("coupling", math.inf), ("resistance", math.inf)):
        numbers, slack = getattr(value, key), getattr(band, key)
        wrong = (numbers < -slack - ROUNDING * abs(numbers).max(initial=0)) | (numbers > high + slack + ROUNDING)
        require(not wrong.any(), f"impossible: a {key} of {numbers[wrong].tolist()} +- {slack[wrong].tolist()}")


def cabinet(text: str) -> str:
    with folder() as path:
        for file in GEOMETRIES.glob("*.toml"):
            shutil.copy(file, path)
        (path / "drawn.toml").write_text(text, "utf-8")
        drawn, solved = [], []
        with strictly():
            if refused(lambda: drawn.append(read_cabinet("drawn.toml"))):
                return "refused"
            if refused(lambda: solved.append(solve_cabinet(drawn[0], target=0.2))):
                return "read, refused"
            _sound_cabinet(solved[0])
            return "solved with warnings" if solved[0].warnings else "solved"


def _sound_cabinet(s: SolvedCabinet) -> None:
    for warning in s.warnings:
        is_short(warning)
    temperatures = list(s.point.temperature.values())
    require(np.isfinite([*temperatures, s.point.current, s.point.power]).all(), "an operating point that is not finite")
    require(min(temperatures) >= -273.15, f"{min(temperatures):g} degC")
    if (m := s.circuit.moisture) is not None:
        air = m.always_on
        lost = air.exchanged + air.evaporated - air.water
        most = max(abs(air.exchanged), abs(air.evaporated), air.water)
        require(abs(lost) <= ROUNDING * most + 1e-15, f"{lost:g} kg/s of water are lost of {most:g}")
        require(air.humidity <= 100 * (1 + ROUNDING), f"a humidity of {air.humidity:g} % inside")
    json.dumps(cabinet_dict(s), allow_nan=False)
    print_cabinet_summary(s, Console(file=io.StringIO()))
    print_cabinet(s, Console(file=io.StringIO()))


def command(text: str) -> str:
    """The words of the first line, with a document in drawn.toml, or what is measured in log.csv, below them."""
    words, _, document = text.partition("\n")
    document, _, log = document.partition("\n----\n")
    with folder() as path:
        (path / "drawn.toml").write_text(document, "utf-8")
        (path / "log.csv").write_text(log, "utf-8", newline="")
        out, err = io.StringIO(), io.StringIO()
        with strictly(), redirect_stdout(out), redirect_stderr(err):
            try:
                code: object = main(json.loads(words))
            except SystemExit as end:  # wrong usage
                code = end.code
        require(code in (0, 1, 2, 3), f"exit code {code}")
        require("Traceback" not in err.getvalue(), "a traceback")
        faults = [line for line in err.getvalue().splitlines() if not re.search("warning:", line)]
        require(code != 1 or len(faults) == 1, f"a fault in {len(faults)} lines: {err.getvalue()[:300]!r}")
        left = [p.name for p in path.rglob(".*")]
        require(not left, f"leaves {left} behind")
        return f"exit code {code}"


@contextmanager
def folder() -> Iterator[Path]:
    """A new folder to stand in."""
    with tempfile.TemporaryDirectory() as name, chdir(name):
        yield Path(os.curdir)


CHECKS: dict[str, Callable[[str], str]] = {
    check.__name__: check for check in (expression, measured, varied, section, cabinet, command)
}
