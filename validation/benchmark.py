"""What the solver costs beside well-kept others, measured side by side in one run.

`python -m validation.benchmark [--quick] [--out FILE.md]` writes tables in Markdown:

- Answers: the time to a network with a stated error, against finite elements (scikit-fem) with quadratic quads on a
  graded mesh and with linear triangles on an evenly refined one. Those solve two meshes, as their error statement.
- Large grids: time and memory of multigrid, SuperLU and algebraic multigrid (pyamg, where installed) to one error in
  kelvin.
- Robustness: iterations of multigrid where others falter.
- Bandwidth: the share of the memory's speed that a multigrid cycle reaches.
- Studies: designs per second, against calling `solve` in a loop.

Every measurement runs in a process of its own with one thread. Times are of the processor, for other jobs may run
beside; rivals take turns, and the best of several runs counts. "~" marks what is extrapolated.
"""

import argparse
import importlib.util
import inspect
import math
import multiprocessing
import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import redirect_stderr
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import cg, splu
from skfem import Basis, ElementDG, ElementTriP1, MeshTri

from fdm import read_section, solve
from fdm.answers.network import CROSS, SMALL
from fdm.conduction.arrays import Array, Bools
from fdm.conduction.linear import multigrid
from fdm.conduction.network import NetworkValues
from fdm.conduction.solver import heat_loads
from fdm.conduction.system import assemble
from fdm.grid.lines import halved
from fdm.section.model import Border, Environment, Part, Polygon, Rectangle, Section, Segment, Source, repeated
from validation.cases import air, box, solid
from validation.finite_elements import Model, network, owner_of
from validation.refinement import uniform

GEOMETRIES = Path(__file__).parent.parent / "geometries"
MM = 1e-3
GIGA = 1e9


@dataclass(frozen=True)
class Size:
    """How much is measured; times in seconds of the processor."""

    targets: tuple[float, ...] = (0.005, 0.001, 0.0002)
    runs: int = 3
    quads: float = 12.0  # no mesh of quads that is likely to take longer
    triangles: float = 15.0
    cells: tuple[float, ...] = (1e5, 1e6, 4e6, 16e6)
    alone: float = 16e6  # cells from which this solver runs alone
    limit: float = 120.0  # for a rival
    memory: float = 8.0  # GB for a rival
    shapes: tuple[int, ...] = (256, 1024)
    cycle: float = 4e6
    designs: int = 600
    reference: float = 0.1  # target of the reference values, over the smallest target


FULL = Size()
QUICK = Size(
    targets=(0.005, 0.001), runs=2, quads=2.0, triangles=1.0, cells=(1e5, 3e5, 1e6), alone=1e6, limit=6, shapes=(256,),
    cycle=1e6, designs=16, reference=0.2,
)  # fmt: skip


@dataclass(frozen=True)
class Seconds:
    """Time of the processor and of the wall clock."""

    processor: float
    wall: float

    def __add__(self, other: "Seconds") -> "Seconds":
        return Seconds(self.processor + other.processor, self.wall + other.wall)


def timed(job: Callable[[], Any]) -> tuple[Seconds, Any]:
    """How long a job takes, and its result."""
    wall, processor = time.perf_counter(), time.process_time()
    result = job()
    return Seconds(time.process_time() - processor, time.perf_counter() - wall), result


def in_turns(jobs: Mapping[str, Callable[[], Any]], runs: int, enough: float = 6.0) -> dict[str, Seconds]:
    """Least time of each job, all of them run once before any of them runs again; those that have taken `enough`
    seconds by then do not."""
    found: dict[str, list[Seconds]] = {name: [] for name in jobs}
    for _ in range(runs):
        for name, job in jobs.items():
            if sum(s.processor for s in found[name]) < enough:
                found[name].append(timed(job)[0])
    return {n: Seconds(min(s.processor for s in v), min(s.wall for s in v)) for n, v in found.items()}


# ---- a process for each measurement ---------------------------------------------------------------------------------


def alone(job: Callable[..., Any], *given: Any, limit: float = math.inf, memory: float = math.inf) -> Any:
    """job(*given), of this module, in a fresh process with one thread; None where it ends early: it takes more than
    `limit` seconds of the processor, or more than `memory` GB."""
    threads = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
    os.environ.update(dict.fromkeys(threads, "1"))
    context = multiprocessing.get_context("forkserver")  # forked off one that has nothing but the modules in memory
    context.set_forkserver_preload(["fdm.solving.steady", "validation.refinement", "validation.finite_elements"])
    receiver, sender = context.Pipe(duplex=False)
    process = context.Process(target=_send, args=(sender, job, given, limit, memory))
    process.start()
    sender.close()
    try:
        fine, result = receiver.recv()
    except EOFError:
        if math.isinf(limit) and math.isinf(memory):
            raise RuntimeError(f"{job.__name__} ended unexpectedly, perhaps for want of memory") from None
        return None
    finally:
        process.join()
    if not fine:
        raise RuntimeError(f"{job.__name__} failed: {result}")
    return result


def _send(sender: Connection, job: Callable[..., Any], given: tuple[Any, ...], limit: float, memory: float) -> None:
    if math.isfinite(limit):
        seconds = math.ceil(limit + time.process_time())
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if math.isfinite(memory):
        resource.setrlimit(resource.RLIMIT_AS, (int(memory * GIGA),) * 2)
    with open(os.devnull, "w") as nothing, redirect_stderr(nothing):  # libraries' warnings
        try:
            sender.send((True, job(*given)))
        except MemoryError:
            pass
        except Exception as fault:  # noqa: BLE001  told to the caller
            sender.send((False, repr(fault)))


def peak() -> float:
    """GB of memory that this process has used at most."""
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / GIGA


# ---- answers --------------------------------------------------------------------------------------------------------


def finned_strip() -> Section:
    """A strip of lamps under a finned plate; behind the strip foam, and the cold air of the cabinet."""
    fins = repeated(box(0, 1.5 * MM, 6 * MM, 36 * MM), 13, (9.875 * MM, 0))
    return Section(
        "finned strip",
        (
            air("room", box(0, 120 * MM, 6 * MM, 36 * MM)),
            solid("foam", 0.034, box(0, 120 * MM, -30 * MM, 0)),
            solid("plate", 201.0, box(0, 120 * MM, 0, 6 * MM)),
            solid("fins", 201.0, *fins),
        ),
        (Environment("room", 28, 12), Environment("cabinet", 7, 8)),
        border=Border(bottom="cabinet", top="room"),
        sources=(Source("lamps", segment=Segment((30 * MM, 55 * MM), (0, 0)), heat=25),),
    )


def sections() -> dict[str, Section]:
    """Those to be answered, without what finite elements do not give: sensors, spreading, bridges."""
    bare = {}
    for name in ("wall_module", "bolt", "corner_lid", "light_bar"):
        section = read_section(GEOMETRIES / f"{name}.toml")
        parts = tuple(map(boxed, section.parts))
        bare[name] = replace(section, parts=parts, sensors=(), spreading=(), bridges=())
    return bare | {"finned_strip": finned_strip()}


def boxed(part: Part) -> Part:
    """The part with its polygons, whose edges must be axis-aligned, as rectangles."""
    shapes: list[Any] = []
    for shape in part.shapes:
        if not isinstance(shape, Polygon):
            shapes.append(shape)
            continue
        x, y = (np.unique(v).tolist() for v in shape.outline().T)
        for box_x in pairwise(x):
            for box_y in pairwise(y):
                if shape.contains(np.mean(box_x, keepdims=True), np.mean(box_y, keepdims=True))[0]:
                    shapes.append(Rectangle(box_x, box_y))
    return replace(part, shapes=tuple(shapes))


class _Triangles(Model):
    """Linear triangles between given lines."""

    def __init__(self, section: Section, x: Array, y: Array) -> None:
        self.section = section
        mesh = MeshTri.init_tensor(x, y)
        conducts = np.array([p.material is not None for p in section.parts] + [False])
        self.mesh = mesh.restrict(np.nonzero(conducts[owner_of(section, mesh.p[:, mesh.t].mean(1))])[0])
        self.centre = self.mesh.p[:, self.mesh.t].mean(1)
        self.middle = self.mesh.p[:, self.mesh.facets].mean(1)
        self.owner = owner_of(section, self.centre)
        self.joints = self._joint_facets()
        self.element = ElementDG(ElementTriP1()) if self.joints else ElementTriP1()
        self.mapping = None  # type: ignore[assignment]
        self.basis = Basis(self.mesh, self.element)
        self.fixed = np.full(self.basis.N, -1)
        self.film = np.zeros((self.basis.N, len(section.fixed_names)))
        self.film_area = np.zeros(len(section.fixed_names))


def triangles(section: Section, halvings: int) -> NetworkValues:
    """The section's network by linear triangles, on an even mesh that is halved so many times."""
    x, y = next(iter(uniform(section)))
    for _ in range(halvings):
        x, y = halved(x), halved(y)
    return _Triangles(section, x, y).answers()


def compared(values: NetworkValues) -> Array:
    """Couplings and mean resistances, one after the other."""
    return np.concatenate([values.coupling[np.tril_indices(len(values.coupling), -1)], values.resistance.ravel()])


def scales(values: NetworkValues) -> Array:
    """What an error of each is relative to, as `fdm.solve` has it."""
    n = values.coupling
    coupling = np.maximum(n, SMALL * n.max(initial=0.0))[np.tril_indices(len(n), -1)]
    resistance = np.maximum(abs(values.resistance), CROSS * abs(np.diag(values.resistance)))
    return np.concatenate([coupling, resistance.ravel()])


@dataclass(frozen=True)
class Mesh:
    """One mesh of a peer: its time, and its answers."""

    number: int
    time: Seconds
    values: Array


def meshes(job: Callable[[int], NetworkValues], numbers: Iterable[int], longest: float, growth: float) -> list[Mesh]:
    """Finer and finer meshes, three at least, until the next would take longer. The first is run twice: imports."""
    job(1)
    found: list[Mesh] = []
    for k in numbers:
        spent, values = timed(partial(job, k))
        found.append(Mesh(k, spent, compared(values)))
        if len(found) >= 3 and spent.processor * growth > longest:
            break
    return found


def cheapest(found: Sequence[Mesh], true: Array, scale: Array, target: float) -> tuple[Mesh, Mesh] | None:
    """The pair of meshes, coarse and fine, that takes the least time, of those whose difference and whose error are
    both below the target. (A user would have to try several to find it.)"""
    pairs = [
        (a, b)
        for k, b in enumerate(found)
        for a in found[:k]
        if max(np.max(abs(b.values - a.values) / scale), np.max(abs(b.values - true) / scale)) <= target
    ]
    return min(pairs, key=lambda p: p[0].time.processor + p[1].time.processor, default=None)


def foretold(found: Sequence[Mesh], true: Array, scale: Array, target: float) -> Seconds:
    """Time of the pair of meshes that would reach the target, from the slopes of time and error over the last two."""
    a, b, c = found[-3:]
    before, last = (
        max(np.max(abs(fine.values - coarse.values) / scale), np.max(abs(fine.values - true) / scale))
        for coarse, fine in ((a, b), (b, c))
    )
    halvings = max(math.log(last / target) / math.log(max(before / last, 1.1)), 0.0)
    pair, growth = b.time + c.time, c.time.processor / b.time.processor
    return Seconds(pair.processor * growth**halvings, pair.wall * growth**halvings)


@dataclass(frozen=True)
class Answer:
    """What one solver needs for one target; errors over their scales."""

    time: Seconds
    how: str
    stated: float
    true: float
    extrapolated: bool = False


@dataclass(frozen=True)
class Contest:
    """What all three solvers need for one section and one target."""

    section: str
    target: float
    agreement: float  # of the reference values with the finest quads
    ours: Answer
    quads: Answer
    triangles: Answer


def contest(name: str, size: Size) -> list[Contest]:
    """All targets of one section."""
    section = sections()[name]
    quadratic, linear = partial(network, section), partial(triangles, section)
    reference = solve(section, size.reference * min(size.targets), max_cells=3_000_000).network.values
    true, scale = compared(reference), scales(reference)
    quads = meshes(quadratic, (1, 2, 3, 4, 5, 6, 8, 10, 12, 16), size.quads, 1.7)
    tri = meshes(linear, range(14), size.triangles, 4.5)
    agreement = float(np.max(abs(quads[-1].values - true) / scale))

    def peer(found: Sequence[Mesh], pair: tuple[Mesh, Mesh] | None, best: Seconds | None, target: float) -> Answer:
        if pair is None or best is None:
            return Answer(foretold(found, true, scale, target), "", target, math.nan, True)
        stated = np.max(abs(pair[1].values - pair[0].values) / scale)
        error = np.max(abs(pair[1].values - true) / scale)
        return Answer(best, f"{pair[0].number}, {pair[1].number}", float(stated), float(error))

    out = []
    for target in size.targets:
        ours = partial(solve, section, target, max_cells=3_000_000)
        pairs = {"quads": cheapest(quads, true, scale, target), "triangles": cheapest(tri, true, scale, target)}
        jobs: dict[str, Callable[[], Any]] = {"ours": ours}
        for peer_name, job in (("quads", quadratic), ("triangles", linear)):
            if (pair := pairs[peer_name]) is not None:
                jobs[peer_name] = partial(lambda job, pair: [job(mesh.number) for mesh in pair], job, pair)
        best = in_turns(jobs, size.runs)
        solution = ours()
        n, m = solution.grid.shape
        stated = float(np.max(compared(solution.network.band) / scale))
        error = float(np.max(abs(compared(solution.network.values) - true) / scale))
        out.append(
            Contest(
                name, target, agreement, Answer(best["ours"], f"{n} x {m}", stated, error),
                peer(quads, pairs["quads"], best.get("quads"), target),
                peer(tri, pairs["triangles"], best.get("triangles"), target),
            )
        )  # fmt: skip
    return out


# ---- large grids ----------------------------------------------------------------------------------------------------

ACCURACY = 1e-8  # largest error, over the highest temperature
ARRAYS = "s", "gx", "gy", "rhs", "solid"


def frame() -> Section:
    """A slotted aluminium frame in a foam wall, conductivities 1 : 6000, with voids and sheets of 1 mm."""
    return Section(
        "frame",
        (
            solid("foam", 0.033, box(0, 0.3, 0, 0.08)),
            solid("inner sheet", 0.16, box(0, 0.3, 0, 0.002)),
            solid("outer sheet", 198.0, box(0, 0.3, 0.079, 0.08)),
            solid("foot", 198.0, box(0.1, 0.16, 0.002, 0.008)),
            solid("web", 198.0, box(0.12, 0.124, 0.002, 0.07), box(0.09, 0.17, 0.068, 0.07)),
            Part("slots", (box(0.13, 0.15, 0.004, 0.007), box(0.121, 0.123, 0.02, 0.05)), void=True),
            Part("duct", (box(0.2, 0.25, 0.03, 0.05),), void=True),
        ),
        (Environment("cabinet", 7, 8), Environment("greenhouse", 30, 25)),
        border=Border(bottom="cabinet", top="greenhouse"),
        sources=(Source("heater", segment=Segment((0.1, 0.16), (0.002, 0.002)), heat=10),),
    )


def crowded(edges: Array | Sequence[float], count: int) -> Array:
    """Lines through all edges, `count` cells in each gap, some forty times smaller at its ends than in its middle."""
    at = np.unique(edges)
    unit = (1 + np.tanh(2.5 * np.linspace(-1, 1, count + 1)) / math.tanh(2.5)) / 2
    return np.append((at[:-1, None] + np.diff(at)[:, None] * unit[:-1]).ravel(), at[-1])


def write_problem(folder: str, cells: float) -> int:
    """The frame on about so many cells, as arrays of conductances in the folder. Returns the number of cells."""
    section = frame()
    corners = np.concatenate([shape.outline() for part in section.parts for shape in part.shapes])
    x, y = (np.unique(v) for v in corners.T)
    count = round(math.sqrt(cells / (len(x) - 1) / (len(y) - 1)))
    system = assemble(section, crowded(x, count), crowded(y, count))
    rhs = np.zeros(system.solid.size)
    np.add.at(rhs, *heat_loads(system)[0])
    for name, array in zip(
        ARRAYS, (system.to_fixed, system.gx, system.gy, rhs.reshape(system.solid.shape), system.solid)
    ):
        np.save(f"{folder}/{name}.npy", array)
    return int(system.solid.size)


def write_matrix(folder: str) -> None:
    """The same as a sparse matrix of the solid cells, and its right-hand side."""
    s, gx, gy, rhs, solid = problem(folder)
    matrix = multigrid.Stencil(s, gx, gy).matrix()[solid.ravel()][:, solid.ravel()].tocsr()
    sp.save_npz(f"{folder}/matrix.npz", matrix, compressed=False)
    np.save(f"{folder}/vector.npy", rhs[solid])


def write_reference(folder: str) -> float:
    """Temperatures far more accurate than asked for. Returns the highest."""
    s, gx, gy, rhs, solid = problem(folder)
    equations = multigrid.Equations(s, gx, gy)
    double = multigrid.Multigrid(equations, solid, np.float64)
    found = multigrid.solve(equations, rhs, solid, accuracy=1e-12, multigrid=double)
    np.save(f"{folder}/true.npy", found.x)
    return float(found.x.max())


def problem(folder: str) -> tuple[Array, Array, Array, Array, Bools]:
    """The arrays that `write_problem` has written: s, gx, gy, rhs, solid."""
    s, gx, gy, rhs, solid = (np.load(f"{folder}/{name}.npy") for name in ARRAYS)
    return s, gx, gy, rhs, solid


@dataclass(frozen=True)
class Run:
    """What one solver takes on one large grid."""

    setup: float  # seconds of the processor
    solving: float
    memory: float  # GB above the assembled problem
    iterations: int
    error: float  # over the highest temperature
    extrapolated: bool = False
    stalled: bool = False

    @property
    def total(self) -> float:
        return self.setup + self.solving


def run_multigrid(folder: str) -> Run:
    """By the program's own multigrid."""
    s, gx, gy, rhs, solid = problem(folder)
    equations, before = multigrid.Equations(s, gx, gy), peak()
    setup, prepared = timed(lambda: multigrid.Multigrid(equations, solid))
    solving, found = timed(lambda: multigrid.solve(equations, rhs, solid, accuracy=ACCURACY, multigrid=prepared))
    memory = peak() - before
    true = np.load(f"{folder}/true.npy")
    error = float(abs(found.x - true).max() / true.max())
    return Run(setup.processor, solving.processor, memory, found.iterations[0], error)


def _matrix_problem(folder: str) -> tuple[sp.csr_matrix, Array, Array]:
    true, solid = np.load(f"{folder}/true.npy"), np.load(f"{folder}/solid.npy")
    return sp.load_npz(f"{folder}/matrix.npz"), np.load(f"{folder}/vector.npy"), true[solid]


def run_superlu(folder: str, symmetric: bool) -> Run:
    """As scipy ships it: by column minimum degree; or by minimum degree of the symmetric pattern, without pivoting."""
    matrix, b, true = _matrix_problem(folder)
    matrix = sp.csc_matrix((matrix.data, matrix.indices, matrix.indptr), matrix.shape)  # it is symmetric
    before = peak()
    how = {"permc_spec": "MMD_AT_PLUS_A", "diag_pivot_thresh": 0.0, "options": {"SymmetricMode": True}}
    try:
        setup, lu = timed(lambda: splu(matrix, **how) if symmetric else splu(matrix))
    except RuntimeError as fault:  # one way it has to say that memory is short
        raise MemoryError(str(fault)) from fault
    solving, x = timed(lambda: lu.solve(b))
    return Run(setup.processor, solving.processor, peak() - before, 0, float(abs(x - true).max() / true.max()))


def run_pyamg(folder: str, kind: str, limit: float) -> Run:
    """Conjugate gradients, told by the true temperatures when to end, or ended at the limit."""
    import pyamg

    matrix, b, true = _matrix_problem(folder)
    highest = true.max()
    before, begin, count, error = peak(), time.process_time(), 0, math.inf

    class Done(Exception):
        pass

    def look(x: Array) -> None:
        nonlocal count, error
        count, error = count + 1, float(abs(x - true).max() / highest)
        if error <= ACCURACY or time.process_time() - begin > limit:
            raise Done

    make = pyamg.ruge_stuben_solver if kind == "Ruge-Stuben" else pyamg.smoothed_aggregation_solver
    setup, levels = timed(lambda: make(matrix))

    def iterate() -> None:
        try:
            cg(matrix, b, rtol=1e-16, maxiter=2000, M=levels.aspreconditioner(), callback=look)
        except Done:
            pass

    solving = timed(iterate)[0]
    return Run(setup.processor, solving.processor, peak() - before, count, error, stalled=not error <= ACCURACY)


def _amg(kind: str, limit: float, folder: str) -> Run | None:
    run: Run | None = alone(run_pyamg, folder, kind, limit, limit=3 * limit)
    return run


OURS, COLUMNS, SYMMETRIC = "this solver", "SuperLU, default", "SuperLU, symmetric"
AMG = "Ruge-Stuben", "smoothed aggregation"


def large_grids(size: Size) -> dict[int, dict[str, Run | None]]:
    """Cells -> solver -> what it took; None where it was ended at the limit, and on all larger grids."""
    rivals: dict[str, Callable[[str], Run | None]] = {
        COLUMNS: lambda f: alone(run_superlu, f, False, limit=size.limit, memory=size.memory),
        SYMMETRIC: lambda f: alone(run_superlu, f, True, limit=size.limit, memory=size.memory),
    }
    if importlib.util.find_spec("pyamg"):
        for kind in AMG:
            rivals[kind] = partial(_amg, kind, size.limit)
    found: dict[int, dict[str, Run | None]] = {}
    for wanted in size.cells:
        with tempfile.TemporaryDirectory() as folder:
            cells = alone(write_problem, folder, wanted)
            alone(write_reference, folder)
            ours = min((alone(run_multigrid, folder) for _ in range(2)), key=lambda r: r.total)
            runs: dict[str, Run | None] = {OURS: ours}
            if wanted < size.alone:
                alone(write_matrix, folder)
            for name, job in rivals.items():
                smaller = [(c, r[name]) for c, r in found.items()]
                foreseen = extrapolated_run(cells, smaller) if name in (COLUMNS, SYMMETRIC) else None
                too_much = foreseen is not None and (foreseen.total > size.limit or foreseen.memory > size.memory)
                stalled = any(r is None or r.stalled for _, r in smaller)
                runs[name] = foreseen if too_much or stalled or wanted >= size.alone else job(folder) or foreseen
            found[cells] = runs
    return found


def extrapolated_run(cells: int, smaller: Sequence[tuple[int, Run | None]]) -> Run | None:
    """A run as it would be, from the slopes over the last two that were measured."""
    measured = [(c, r) for c, r in smaller if r is not None and not r.extrapolated][-2:]
    if len(measured) < 2:
        return None
    (c0, a), (c1, b) = measured
    more = math.log(cells / c1) / math.log(c1 / c0)

    def onwards(first: float, last: float) -> float:
        return last * (last / first) ** more if first > 0 else last

    setup, solving = onwards(a.setup, b.setup), onwards(a.solving, b.solving)
    return Run(setup, solving, onwards(a.memory, b.memory), 0, math.nan, True)


def slope(found: Mapping[int, Mapping[str, Run | None]]) -> float:
    """Exponent with which this solver's time grows with the number of cells."""
    time_of = {cells: run.total for cells, runs in found.items() if (run := runs[OURS]) is not None}
    return float(np.polyfit(np.log(list(time_of)), np.log(list(time_of.values())), 1)[0])


# ---- robustness -----------------------------------------------------------------------------------------------------

Grid = tuple[Array, Array, Array, Bools | None]  # s, gx, gy, solid


def conductances(kx: Array, ky: Array, dx: Array, dy: Array, films: tuple[float, float] = (8.0, 25.0)) -> Grid:
    """Conductances of cells with conductivities (n, m) and widths (n,), (m,), with a film on both ends of axis 1; void
    where the conductivity is 0."""
    solid = kx > 0
    kx, ky = np.where(solid, kx, 1.0), np.where(solid, ky, 1.0)
    rx, ry = dx[:, None] / (2 * kx) / dy, dy / (2 * ky) / dx[:, None]
    gx, gy = 1 / (rx[1:] + rx[:-1]), 1 / (ry[:, 1:] + ry[:, :-1])
    s = np.zeros(kx.shape)
    s[:, 0] += 1 / (1 / (films[0] * dx) + ry[:, 0])
    s[:, -1] += 1 / (1 / (films[1] * dx) + ry[:, -1])
    if solid.all():
        return s, gx, gy, None
    return s * solid, gx * (solid[1:] & solid[:-1]), gy * (solid[:, 1:] & solid[:, :-1]), solid


def hard_grids(n: int) -> dict[str, Grid]:
    """Grids of about n x n cells that are hard for multigrid, by name."""
    even = np.full(n, 0.2 / n)
    graded = np.diff(crowded((0, 0.05, 0.11, 0.2), n // 3)[: n + 1])
    x, y = np.meshgrid(np.cumsum(even) - even / 2, np.cumsum(even) - even / 2, indexing="ij")
    one = np.ones((n, n))
    holes = np.where((x % 0.05 - 0.025) ** 2 + (y % 0.05 - 0.025) ** 2 < 0.015**2, 0.0, 1.0)
    walls = np.where((abs(x - 0.05) < 0.2 / n) | (abs(y - 0.12) < 0.2 / n), 200.0, 0.03)
    gaps = np.where((abs(x - 0.07) < 0.2 / n) & (y < 0.19), 0.0, 1.0)
    inclusions = np.where((x % 0.04 > 0.02) & (y % 0.04 > 0.02), 1000.0, 0.01)
    k = len(graded)
    chequered = np.where(np.add.outer(np.arange(k) * 7 // k, np.arange(k) * 5 // k) % 2, 198.0, 0.033)
    narrow, poor = np.ones((4 * n, n // 4)), (8e-6, 25e-6)
    isotropic = {
        "uniform": (one, even, even),
        "graded, each gap 1 : 40": (np.ones((k, k)), graded, graded),
        "graded, conductivities 1 : 6000": (chequered, graded, graded),
        "round holes": (holes, even, even),
        "thin walls of metal in foam": (walls, even, even),
        "a slit, one or two cells wide": (gaps, even, even),
        "inclusions, 1 : 100 000": (inclusions, even, even),
        "inclusions, 100 000 : 1": (10 / inclusions, even, even),
        "strip, 16 times as long as wide": (narrow, np.full(4 * n, 0.2 / n), np.full(n // 4, 0.2 / n)),
        "strip of cells 1 : 50": (one, even, even / 50),
    }
    return {name: conductances(c, c, dx, dy) for name, (c, dx, dy) in isotropic.items()} | {
        "anisotropic, 100 : 1 along axis 0": conductances(100 * one, one, even, even),
        "anisotropic, 100 : 1 along axis 1": conductances(one, 100 * one, even, even),
        "poor films, a millionth": conductances(one, one, even, even, poor),
        "poor films on metal in foam": conductances(walls, walls, even, even, poor),
    }


def iterations(grid: Grid, check: bool) -> tuple[int, float]:
    """Iterations for a heated spot; and, where `check`, the error over the highest temperature, by SuperLU."""
    s, gx, gy, solid = grid
    rhs = np.zeros(s.shape)
    there = np.argwhere(np.ones(s.shape, bool) if solid is None else solid)
    rhs[tuple(there[len(there) // 3])] = 1.0
    equations = multigrid.Equations(s, gx, gy)
    found = multigrid.solve(equations, rhs, solid, accuracy=ACCURACY)
    if not check:
        return found.iterations[0], math.nan
    direct = multigrid.Stencil(s if solid is None else s + ~solid, gx, gy).factorised()
    x = direct(rhs)
    for _ in range(3):
        x += direct(rhs - equations.outflow(x))
    return found.iterations[0], float(abs(found.x - x).max() / x.max())


def robustness(n: int, check: bool) -> dict[str, tuple[int, float]]:
    """The iterations that multigrid takes on each hard grid, and its errors where `check`."""
    return {name: iterations(grid, check) for name, grid in hard_grids(n).items()}


# ---- bandwidth ------------------------------------------------------------------------------------------------------


def lines_cells(lines: multigrid.Lines) -> int:
    """Numbers that the factors of all lines hold."""
    return sum(inverse.size for _, _, inverse in lines.steps) + int(lines.last.size)


def touched(cycle: multigrid.Multigrid) -> int:
    """Bytes that one cycle must move where no array outlives its operation in the cache: every operand of every array
    operation, read or written, on all levels but the coarsest."""
    total, item = 0, cycle.dtype.itemsize
    for level in cycle.levels:
        cells = sum(b.size for b in level.columns.b)
        operands = 0
        for zebra, loads in ((level.rows, (1, 2)), (level.columns, (3, 2))):
            for lines, terms, times in zip(zebra.lines, zebra.terms, loads):
                odd = sum(inverse.size for _, _, inverse in lines.steps)
                operands += 2 * (4 * 6 + 3) * odd  # lines solved twice a cycle: four products and sums, and a product
                operands += times * (6 * sum(g.size for g, _, _ in terms) + 2 * lines_cells(lines))
        operands += 12 * cells  # right-hand sides and results turned and parted, the residual, transfers between grids
        total += operands * item
    return total


def copying(size: int = 2**25) -> float:
    """Bytes per second of numpy's copy, read and written."""
    a, b = np.ones(size), np.empty(size)
    return 2 * a.nbytes / min(timed(lambda: np.copyto(b, a))[0].wall for _ in range(7))


@dataclass(frozen=True)
class Bandwidth:
    """How much memory one cycle moves, beside what the machine can copy."""

    cells: int
    touched: int  # bytes
    stored: int  # bytes of the coefficients alone, each once
    seconds: float
    copying: float  # bytes per second

    @property
    def share(self) -> float:
        return self.touched / self.seconds / self.copying


def bandwidth(folder: str) -> Bandwidth:
    """Measured on the problem in the folder."""
    s, gx, gy, rhs, solid = problem(folder)
    cycle = multigrid.Multigrid(multigrid.Equations(s, gx, gy), solid)
    r = (rhs / rhs.max()).astype(cycle.dtype)
    seconds, fastest = math.inf, 0.0
    for _ in range(5):  # in turns
        seconds = min(seconds, timed(lambda: cycle(r))[0].processor)
        fastest = max(fastest, copying())
    coefficients = 0
    for zebra in (z for level in cycle.levels for z in (level.rows, level.columns)):
        coefficients += sum(a.nbytes for lines in zebra.lines for step in lines.steps for a in step)
        coefficients += sum(g.nbytes for terms in zebra.terms for g, _, _ in terms)
    return Bandwidth(s.size, touched(cycle), coefficients, seconds, fastest)


# ---- studies --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Pace:
    """Designs per second of the wall clock."""

    designs: int
    loop: float
    studies: dict[int, float]  # workers ->
    difference: float  # relative, between the answers of both


def pace(count: int, workers: Sequence[int]) -> Pace:
    """A study of `count` designs by so many workers, beside a plain loop of solves."""
    from fdm.studies import designs, study

    path = GEOMETRIES / "light_bar.toml"
    wanted = list(designs({"film": list(np.linspace(5, 25, count))}))
    solve(read_section(path))  # imports
    spent, looped = timed(lambda: [solve(read_section(path, **d)).network.values.resistance[0, 0] for d in wanted])
    studies, difference = {}, 0.0
    for n in workers:
        wall, result = timed(partial(study, path, wanted, workers=n))
        studies[n] = count / wall.wall
        answer = result.values("network.resistance.LEDs.LEDs")
        difference = max(difference, float(np.max(abs(answer / np.array(looped) - 1))))
    return Pace(count, count / spent.wall, studies, difference)


# ---- the report -----------------------------------------------------------------------------------------------------


def table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """In Markdown.

    >>> print(table(["a", "b"], [["1", "2"]]))
    | a | b |
    | --- | --- |
    | 1 | 2 |
    """
    return "\n".join("| " + " | ".join(cells) + " |" for cells in (headings, ["---"] * len(headings), *rows))


def _number(value: float, digits: int = 3) -> str:
    if not math.isfinite(value):
        return "-"
    return f"{value:.{digits}g}" if value < 10**digits else f"{value:.0f}"


def _answer(a: Answer) -> list[str]:
    mark = "~" if a.extrapolated else ""
    time = f"{mark}{_number(a.time.processor)} ({mark}{_number(a.time.wall)})"
    return [time, a.how or "-", f"{a.stated:.1e}", "-" if math.isnan(a.true) else f"{a.true:.1e}"]


def _ratio(peer: Answer, ours: Answer) -> str:
    return ("~" if peer.extrapolated else "") + _number(peer.time.processor / ours.time.processor)


def answers_table(found: Sequence[Contest]) -> str:
    """Time to a network with a stated error, in Markdown."""
    heads = ["section", "target"]
    for name, how in (("ours", "grid"), ("quads", "meshes"), ("triangles", "meshes")):
        heads += [f"{name}: s (wall)", how, "stated error", "true error"]
    rows = []
    for c in found:
        numbers = [n for answer in (c.ours, c.quads, c.triangles) for n in _answer(answer)]
        rows.append([c.section, f"{c.target:.2%}", *numbers, _ratio(c.quads, c.ours), _ratio(c.triangles, c.ours)])
    return table([*heads, "quads / ours", "triangles / ours"], rows)


def grids_table(found: Mapping[int, Mapping[str, Run | None]], limit: float) -> str:
    """Time and memory on large grids, in Markdown."""
    times = ("set-up, s", "solve, s", "total, s", "memory, GB")
    heads = ("cells", "solver", *times, "iterations", "error", "time / ours", "memory / ours")
    rows = []
    for cells, runs in found.items():
        ours = runs[OURS]
        assert ours is not None
        for name, run in runs.items():
            if run is None:
                rows.append([f"{cells:.3g}", name, "not tried, or ended at the limit", *["-"] * (len(heads) - 3)])
                continue
            mark = "~" if run.extrapolated else ""
            error = "-" if math.isnan(run.error) else f"{run.error:.0e}"
            if run.stalled:
                error += f", stalled: ended after {limit:g} s"
            numbers = [mark + _number(v) for v in (run.setup, run.solving, run.total, run.memory)]
            ratios = [mark + _number(v) for v in (run.total / ours.total, run.memory / ours.memory)]
            rows.append([f"{cells:.3g}", name, *numbers, str(run.iterations or "-"), error, *ratios])
    return table(heads, rows)


def goals_table(contests: Sequence[Contest], found: Mapping[int, Mapping[str, Run | None]], rate: Pace) -> str:
    """What is wanted, and what is reached."""
    rows = []

    def row(wanted: str, reached: str, met: bool) -> None:
        rows.append([wanted, reached, "yes" if met else "no"])

    at_target = [c for c in contests if c.target == 0.001]
    for peer, least in (("quads", 2.0), ("triangles", 20.0)):
        ratios = {c.section: getattr(c, peer).time.processor / c.ours.time.processor for c in at_target}
        said = ", ".join(f"{name} {_number(ratio, 2)}" for name, ratio in ratios.items())
        row(f"0.1 %: {least:g} times as fast as {peer}", said, min(ratios.values()) >= least)
    for wanted, least in ((1e6, 6.0), (4e6, 10.0)):
        cells = min(found, key=lambda c: abs(c - wanted))
        done = {name: r for name, r in found[cells].items() if r is not None and not r.stalled}
        ours = done.pop(OURS)
        if abs(cells / wanted - 1) > 0.3 or not done:
            continue
        best = min(done, key=lambda name: done[name].total)
        ratio = done[best].total / ours.total
        mark = "~" if done[best].extrapolated else ""
        row(
            f"{wanted:.0e} cells: {least:g} times as fast as the best other",
            f"{mark}{_number(ratio, 2)} ({best})",
            ratio >= least,
        )
        parts = {name: ours.memory / r.memory for name, r in done.items() if name in (COLUMNS, SYMMETRIC)}
        said = ", ".join(f"1/{_number(1 / part, 2)} ({name})" for name, part in parts.items())
        row(f"{wanted:.0e} cells: less than a quarter of SuperLU's memory", said, max(parts.values()) < 0.25)
    largest = found[max(found)][OURS]
    assert largest is not None
    solved = largest.error < ACCURACY and max(found) > 15e6
    row("16e6 cells solved", f"{max(found):.3g} cells, error {largest.error:.0e}", solved)
    row("slope of log time over log cells below 1.15", f"{slope(found):.2f}", slope(found) < 1.15)
    workers = max(rate.studies)
    row("60 designs a second", f"{rate.studies[workers]:.0f}, workers: {workers}", rate.studies[workers] > 60)
    return table(("wanted", "reached", "met"), rows)


def report(size: Size, say: Callable[[str], None]) -> str:
    """All tables, in Markdown."""
    contests: list[Contest] = []
    for name in sections():
        say(f"answers: {name}")
        contests += alone(contest, name, size)
    say("large grids")
    grids = large_grids(size)
    say("robustness")
    hard: dict[int, dict[str, tuple[int, float]]] = {n: alone(robustness, n, n == size.shapes[0]) for n in size.shapes}
    say("bandwidth")
    with tempfile.TemporaryDirectory() as folder:
        alone(write_problem, folder, size.cycle)
        speed: Bandwidth = alone(bandwidth, folder)
    say("studies")
    workers = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    rate: Pace = alone(pace, size.designs, sorted({1, workers}))

    agreement = ", ".join(f"{v:.0e} ({name})" for name, v in {c.section: c.agreement for c in contests}.items())
    first = hard[size.shapes[0]]
    moved, reached = _number(speed.touched / GIGA), _number(speed.touched / speed.seconds / GIGA)
    paragraphs = (
        "# Benchmark",
        f"""One thread; {os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}. Times are seconds of the processor,
        unless they are called wall; ~ marks what is extrapolated.""",
        goals_table(contests, grids, rate),
        "## Time to an answer with a stated error",
        f"""Couplings and mean resistances; errors relative, as `fdm.solve` counts them. This solver also gives the
        highest temperatures within the target. Finite elements state the difference of two meshes; of all pairs whose
        difference and true error are below the target, the cheapest is timed, as if known beforehand. Meshes of quads:
        cells per half gap; of triangles: halvings. Reference values differ from the finest quads by {agreement}.""",
        answers_table(contests),
        "## Large grids",
        f"""One right-hand side, to {ACCURACY:.0e} of the highest temperature. This solver ends by its own estimate, the
        algebraic multigrids are told by the true temperatures when to end. Memory above the assembled problem.""",
        grids_table(grids, size.limit),
        "## Robustness",
        f"Iterations for a heated spot, to {ACCURACY:.0e} of the highest temperature; the error by SuperLU.",
        table(
            ("grid", *(f"{n} x {n}" for n in hard), "error"),
            [[name, *(str(of[name][0]) for of in hard.values()), f"{first[name][1]:.0e}"] for name in first],
        ),
        "## Bandwidth",
        f"""One cycle in single precision on {speed.cells:.3g} cells takes {_number(speed.seconds)} s and touches
        {moved} GB (every operand of every array operation; the coefficients alone are {_number(speed.stored / GIGA)}
        GB), {reached} GB/s. Copying an array that fits no cache runs at {_number(speed.copying / GIGA)} GB/s. Share:
        {speed.share:.0%}.""",
        "## Studies",
        table(
            ("way", "designs per second", "over the loop"),
            [
                ["`solve` in a loop", _number(rate.loop), "1"],
                *([f"study, workers: {n}", _number(v), _number(v / rate.loop)] for n, v in rate.studies.items()),
            ],
        ),
        f"""{rate.designs} films of light_bar.toml, by the wall clock, the workers' start included; answers differ by
        at most {rate.difference:.0e}.""",
    )
    return "\n\n".join(inspect.cleandoc(p).replace("\n        ", "\n") for p in paragraphs) + "\n"


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        prog="python -m validation.benchmark", description="Time the solver beside others, in a quarter of an hour."
    )
    parser.add_argument("--quick", action="store_true", help="smaller sizes and fewer runs, in two minutes")
    parser.add_argument("--out", type=Path, help="Markdown file to write instead of printing")
    given = parser.parse_args(arguments)
    begin = time.monotonic()
    text = report(
        QUICK if given.quick else FULL,
        lambda line: print(f"{time.monotonic() - begin:4.0f} s  {line}", file=sys.stderr, flush=True),
    )
    if given.out is None:
        print(text)
    else:
        given.out.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
