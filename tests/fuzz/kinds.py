"""The kinds of input: where the documents of each come from, and the check that they go through."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from hypothesis import strategies as st

from tests.fuzz import properties
from tests.fuzz.grammar import bolts, cabinets, expressions, measured, rarely, sections, toml, varied, words
from tests.fuzz.mutations import DEMOS, PLATE, changed, torn


@dataclass(frozen=True)
class Kind:
    documents: st.SearchStrategy[str]
    check: Callable[[str], str]
    share: int  # of a batch, in documents: those that cost little are tried often


def _demos(cabinet: bool) -> st.SearchStrategy[str]:
    names = sorted(name for name, demo in DEMOS.items() if ("cabinet" in demo) == cabinet)
    demos = st.sampled_from(names).map(DEMOS.__getitem__)
    return rarely(demos.flatmap(torn), demos.flatmap(changed).map(toml), 8)


_shares = rarely(words, st.sampled_from(["0.3", "5%", "0.02"]), 20)
_counts = rarely(words, st.sampled_from(["1", "2", "1e3", "0"]), 20)
_paths = rarely(words, st.sampled_from(["probe", "module", "terminals", "let.base", "spreading.plate.module.mean"]), 20)
_limits = st.tuples(_paths, st.sampled_from([" < ", ">", "=", ""]), st.sampled_from(["60", "-1", "nan", ""])).map(
    "".join
)


def _option(name: str, values: st.SearchStrategy[str] | None = None) -> st.SearchStrategy[list[str]]:
    """Left out, or given."""
    given = st.just([name]) if values is None else values.map(lambda value: [name, value])
    return st.one_of(st.just([]), st.just([]), given)


def _words(*pieces: st.SearchStrategy[list[str]]) -> st.SearchStrategy[list[str]]:
    return st.tuples(*pieces).map(lambda lists: [word for some in lists for word in some])


_file = rarely(words.map(lambda w: [w]), st.just(["drawn.toml"]))
_let = varied.map("=".join)
_lets = rarely(_let.map(lambda w: [w]), st.sampled_from([[], [], ["base=3"], ["base=1e-3"]]), 6)
_out = st.sampled_from([["--no-files"], ["--no-files"], ["--out", "out"]])
_few = st.sampled_from(["base=2,3", "base=2:12", "base=3"]) | _let
_study = _words(st.just(["study", "--workers", "1", "--target", "0.3"]), _file, _few.map(lambda w: [w]))
_fitted = rarely(words, st.just("base"), 8)
_commands = st.one_of(
    _words(
        st.just(["solve", "--max-cells", "2000"]), _file, _lets, _out,
        _option("--json", st.sampled_from(["-", "a.json", "b/a"])), _option("--target", _shares),
        _option("--cells", _counts), _option("--sensitivity"), _option("--uncertainty"), _option("--sample", _counts),
        _option("--format", st.sampled_from(["vtu", "vtk", "stl", "x"])), _option("--quiet"),
    ),
    _words(st.just(["check"]), _file, _lets, _out),
    _words(
        st.just(["network", "--target", "0.2"]), _file, _lets,
        _option("--format", st.sampled_from(["json", "csv", "spice"])), _option("--out", st.just("out")),
    ),
    _words(
        _study, _option("--tries", _counts), _option("--best", _paths), _option("--maximise"),
        _option("--subject", _limits), _option("--answer", _paths),
    ),
    _words(
        _study,
        st.sampled_from(["--lhs", "--random"]).map(lambda w: [w, "2"]), _option("--answer", _paths),
    ),
    _words(st.just(["fit"]), _file, st.just(["log.csv"]), _lets, _option("--adjust", _fitted)),
    _words(st.just(["cabinet"]), _file, _lets, _out),
    _words(st.just(["materials"]), words.map(lambda w: [w])),
)  # fmt: skip


@st.composite
def commands(draw: st.DrawFn) -> str:
    """A command with its document and measurements, as `properties.command` takes them."""
    document: dict[str, Any] = draw(rarely(changed(PLATE, 2), st.just(PLATE), 2))
    return f"{json.dumps(draw(_commands))}\n{toml(document)}\n----\n{draw(measured)}"


KINDS: dict[str, Kind] = {
    "expression": Kind(expressions, properties.expression, 300),
    "measured": Kind(measured, properties.measured, 100),
    "varied": Kind(st.lists(varied, min_size=1, max_size=2).map(json.dumps), properties.varied, 100),
    "section": Kind(sections().map(toml), properties.section, 100),
    "bolt": Kind(bolts().map(toml), properties.section, 20),
    "demo section": Kind(_demos(cabinet=False), properties.section, 50),
    "cabinet": Kind(cabinets().map(toml), properties.cabinet, 20),
    "demo cabinet": Kind(_demos(cabinet=True), properties.cabinet, 10),
    "command": Kind(commands(), properties.command, 30),
}
