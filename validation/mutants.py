"""Whether tests notice faults: `python -m validation.mutants --count 400 --seed 1`, after `pip install coverage`.

A mutant is the package with one small change to one expression or statement. It is caught where a test that runs its
line fails, or takes far too long. Those not caught are printed, to be read: some change nothing that matters. A first
run measures which test runs which line, and keeps that in the file of `--map`; remove it where tests have changed.
"""

import argparse
import ast
import compileall
import json
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
from bisect import bisect
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path
from py_compile import PycInvalidationMode
from typing import Any

import hypothesis
import matplotlib.pyplot  # noqa: F401  imported before processes fork, as each would take a second for it
import pytest
import scipy.integrate
import scipy.optimize
import scipy.sparse.linalg  # noqa: F401

ROOT = Path(__file__).parents[1]
FOLDERS = [f"fdm/{name}" for name in ("conduction", "answers", "accuracy", "cabinet")]
TESTS = [f"tests/{name}" for name in ("conduction", "answers", "accuracy", "cabinet")]
TESTS += [f"tests/{name}" for name in ("solving", "inference", "validation")]
QUIET = ["-q", "-p", "no:cacheprovider"]
PAIRS = [(ast.Add, ast.Sub), (ast.Mult, ast.Div), (ast.BitAnd, ast.BitOr), (ast.And, ast.Or), (ast.Lt, ast.LtE)]
PAIRS += [(ast.Gt, ast.GtE), (ast.Eq, ast.NotEq), (ast.In, ast.NotIn), (ast.Is, ast.IsNot)]
OPERATORS = dict[type, type](PAIRS) | {b: a for a, b in PAIRS} | {ast.Pow: ast.Mult, ast.FloorDiv: ast.Mult}
OPPOSITES = {ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt}
FUNCTIONS = {"min": "max", "minimum": "maximum", "any": "all", "argmin": "argmax", "floor": "ceil", "zeros": "ones"}
FUNCTIONS |= {other: name for name, other in FUNCTIONS.items()}
LEFT_ALONE = {"annotation", "returns", "decorator_list"}
ANYWHERE = range(10**6)


def alternatives(node: ast.AST) -> Iterator[ast.AST]:
    """What is put in a node's place."""
    match node:
        case ast.Compare(left, [op], right):
            yield from (ast.Compare(left, [t[type(op)]()], right) for t in (OPERATORS, OPPOSITES) if type(op) in t)
        case ast.BinOp(left, op, right) if type(op) in OPERATORS:
            yield ast.BinOp(left, OPERATORS[type(op)](), right)
        case ast.BoolOp(op, values):
            yield ast.BoolOp(OPERATORS[type(op)](), values)
        case ast.UnaryOp(_, operand) | ast.Call(ast.Name("abs") | ast.Attribute(_, "abs"), [operand]):
            yield operand
        case ast.If(ast.Name() | ast.Attribute() | ast.Call() as test, body, other):
            yield ast.If(ast.UnaryOp(ast.Not(), test), body, other)
        case ast.Constant(bool(value)):
            yield ast.Constant(not value)
        case ast.Constant(int(value) | float(value)):
            yield from (ast.Constant(value + 1), ast.Constant(value - 1))
        case ast.Call(ast.Name(name), args, keywords) if name in FUNCTIONS:
            yield ast.Call(ast.Name(FUNCTIONS[name], ast.Load()), args, keywords)
        case ast.Call(ast.Attribute(owner, name), args, keywords) if name in FUNCTIONS:
            yield ast.Call(ast.Attribute(owner, FUNCTIONS[name], ast.Load()), args, keywords)
        case ast.Assign([ast.Subscript() | ast.Attribute()]) | ast.AugAssign() | ast.Expr(ast.Call()):
            yield ast.Pass()
        case ast.Raise() | ast.Continue() | ast.Break():
            yield ast.Pass()


def spots(node: ast.AST, scope: ast.AST, statement: ast.AST) -> Iterator[tuple[ast.AST, range]]:
    """Each node below a node, with lines of which one runs where it does: those of its statement in a function, else of
    all that a definition or file holds."""
    for field, value in ast.iter_fields(node):
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or field in LEFT_ALONE or isinstance(child, ast.JoinedStr | ast.Import):
                continue
            inside = child if isinstance(child, ast.stmt) else statement
            place = inside if isinstance(scope, ast.FunctionDef) and not isinstance(node, ast.arguments) else scope
            last = getattr(place, "end_lineno", 0)
            if isinstance(place, ast.If | ast.For | ast.While | ast.With | ast.Try):
                last = max(place.lineno, place.body[0].lineno - 1)
            yield child, range(place.lineno, last + 1) if isinstance(place, ast.stmt) else ANYWHERE
            yield from spots(child, child if isinstance(child, ast.FunctionDef | ast.ClassDef) else scope, inside)


class Swap(ast.NodeTransformer):
    """Puts one node in another's place."""

    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> Any:
        return self.new if node is self.old else self.generic_visit(node)


@dataclass(frozen=True)
class Mutant:
    """A file with one node in another's place."""

    file: str
    words: str  # where and what
    lines: range  # it is run where one of these is
    tree: ast.Module
    old: ast.AST
    new: ast.AST

    def text(self) -> str:
        """The whole file."""
        try:
            return ast.unparse(ast.fix_missing_locations(Swap(self.old, self.new).visit(self.tree)))
        finally:
            Swap(self.new, self.old).visit(self.tree)

    def tests(self, ran: dict[str, Any], seconds: float) -> list[list[str]]:
        """The tests that run it, in three turns: those of its own folder and then all others, of either the ones of its
        own file and then the fastest, until they take so many seconds; at last all that are left."""
        names = {name for line, ns in ran["lines"].get(self.file, {}).items() if int(line) in self.lines for name in ns}
        found = [test for test in ran["times"] if test in names or test.split("::")[0] in names]
        path = Path(self.file.replace("fdm", "tests", 1))
        own_file, own_folder = str(path.with_name(f"test_{path.name}")), "/".join(path.parts[:2])
        found.sort(key=lambda test: (not test.startswith(own_file), ran["times"][test]))
        turns, left = [], []
        for own in (True, False):
            some = [test for test in found if test.startswith((own_folder, self.file)) == own]
            quick = max(1, bisect(list(accumulate(ran["times"][test] for test in some)), seconds))
            turns.append(some[:quick])
            left += some[quick:]
        return [some for some in (*turns, left) if some]


def mutants(file: str) -> list[Mutant]:
    """All mutants of a file."""
    text = (ROOT / file).read_text(encoding="utf-8")
    tree, lines = ast.parse(text), text.splitlines()
    out = []
    for node, ran_by in spots(tree, tree, tree):
        for other in alternatives(node):
            before, after = (ast.unparse(n.test if isinstance(n, ast.If) else n) for n in (node, other))
            words = f"{file}:{node.lineno}: {before} -> {after}  | {lines[node.lineno - 1].strip()}"
            out.append(Mutant(file, words, ran_by, tree, node, other))
    return out


class Chosen:
    """For pytest: these tests alone, in this order."""

    def __init__(self, tests: list[str]) -> None:
        self.place = {test: k for k, test in enumerate(tests)}

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted((i for i in items if i.nodeid in self.place), key=lambda item: self.place[item.nodeid])


def survives(copy: Path, tests: list[str], limit: float) -> bool:
    """Whether these tests all pass within `limit` seconds of the processor, in a process of their own in a copy of the
    repository."""
    if not (child := os.fork()):
        os.setsid()
        os.chdir(copy)
        resource.setrlimit(resource.RLIMIT_CPU, (int(limit), int(limit)))
        for stream in (1, 2):
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream)
        sys.path.insert(0, str(copy))
        os.environ["PYTHONPATH"] = str(copy)
        sys.dont_write_bytecode = False  # pytest would have to rewrite all tests each time
        phases = [p for p in hypothesis.Phase if p.name not in ("shrink", "explain")]
        hypothesis.settings.register_profile("mutants", phases=phases, database=None)
        hypothesis.settings.load_profile("mutants")
        files = list(dict.fromkeys(test.split("::")[0] for test in tests))
        os._exit(pytest.main(["-x", *QUIET, *files], plugins=[Chosen(tests)]))
    end = time.monotonic() + 20 * limit  # of the clock, for what waits for ever
    while not (found := os.waitpid(child, os.WNOHANG))[0]:
        if time.monotonic() > end:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return False
        time.sleep(0.02)
    return found[1] == 0


class Timed:
    """For pytest: which test runs which lines, and how long each takes that passes."""

    def __init__(self, coverage: Any) -> None:
        self.coverage, self.times = coverage, dict[str, float]()

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        for value in vars(getattr(item, "module", object)).values():
            if hasattr(value, "cache_clear"):
                value.cache_clear()  # each test shall be seen to run what another has kept for it
        self.coverage.switch_context(item.nodeid.split("::")[0])  # fixtures count for all tests of their file

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_call(self, item: pytest.Item) -> Iterator[None]:
        self.coverage.switch_context(item.nodeid)
        start = time.process_time()
        yield
        self.times[item.nodeid] = time.process_time() - start


def measured() -> dict[str, Any]:
    """Lines of each file with the tests that run them, and how long each test takes."""
    from coverage import Coverage

    coverage = Coverage(data_file=None, config_file=False, include=[f"{ROOT}/{folder}/*" for folder in FOLDERS])
    plugin = Timed(coverage)
    coverage.start()
    pytest.main([*QUIET, *TESTS, *FOLDERS], plugins=[plugin])
    coverage.stop()
    data = coverage.get_data()
    files = {os.path.relpath(file, ROOT): data.contexts_by_lineno(file) for file in data.measured_files()}
    return {"lines": files, "times": plugin.times}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=30, help="of tests for a mutant, before slower ones")
    parser.add_argument("--map", type=Path, default=Path(tempfile.gettempdir()) / "fdm_tests_by_line.json")
    args = parser.parse_args()
    if not args.map.exists():
        if not (child := os.fork()):  # as this process must not have imported what is to be changed
            args.map.write_text(json.dumps(measured()))
            os._exit(0)
        os.waitpid(child, 0)
    ran = json.loads(args.map.read_text())
    files = sorted(p.relative_to(ROOT).as_posix() for folder in FOLDERS for p in (ROOT / folder).rglob("*.py"))
    every = [mutant for file in files for mutant in mutants(file)]
    sample = random.Random(args.seed).sample(every, min(args.count, len(every)))
    print(f"{len(sample)} of {len(every)} mutants; not caught:", flush=True)
    caught = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".*", "__pycache__"))
        compileall.compile_dir(copy, quiet=2, invalidation_mode=PycInvalidationMode.CHECKED_HASH)
        for mutant in sample:
            file = copy / mutant.file
            whole = file.read_text(encoding="utf-8")
            file.write_text(mutant.text(), encoding="utf-8")
            limits = [(some, 20 + 5 * sum(ran["times"][t] for t in some)) for some in mutant.tests(ran, args.seconds)]
            if all(survives(copy, some, limit) for some, limit in limits):
                print(mutant.words, flush=True)
            else:
                caught += 1
            file.write_text(whole, encoding="utf-8")
    print(f"{caught} of {len(sample)} caught")
    return 0


if __name__ == "__main__":
    sys.exit(main())
