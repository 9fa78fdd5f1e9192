"""Sections whose answers are published, with a reader for each answer.

A case passes when every true value lies inside the stated band, and no band is wider than the target (0.5 % of the
value, 0.02 K of a temperature). Where a standard gives rounded figures, its own tolerance is checked as well.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from fdm import Solution
from fdm.answers.network import Network
from fdm.section.model import (
    Border,
    Bridge,
    Disc,
    Environment,
    Fins,
    Joint,
    Material,
    Part,
    Polygon,
    Rectangle,
    Section,
    Segment,
    Sensor,
    Shape,
    Source,
    Spreading,
)
from validation import formulas

Read = Callable[[Solution], tuple[float, float]]  # the value and its band

HELD = math.inf  # a film that holds the surface at the environment's temperature
RELATIVE, KELVIN = 0.005, 0.02  # the widest band


@dataclass(frozen=True)
class Quantity:
    """One answer. `known_to` is the half-width of the true value's own digits; `published` a standard's figure and
    its tolerance; `scale` what its error is relative to, where not the value itself: a weight is a share of 1."""

    name: str
    read: Read
    true: float | None
    unit: str
    known_to: float = 0.0
    published: tuple[float, float] | None = None
    scale: float = 0.0

    @property
    def widest(self) -> float:
        if self.unit == "degC":
            return KELVIN
        value = self.true if self.true is not None else self.published[0] if self.published else 0.0
        return RELATIVE * max(abs(value), self.scale)


@dataclass(frozen=True)
class Case:
    """A section with what is known of its answers."""

    name: str
    source: str
    section: Section
    quantities: tuple[Quantity, ...]


@dataclass(frozen=True)
class Outcome:
    """A quantity as computed."""

    quantity: Quantity
    value: float
    band: float

    @property
    def error(self) -> float | None:
        return None if self.quantity.true is None else self.value - self.quantity.true

    @property
    def inside(self) -> bool:
        """The true value lies inside the band, give or take its own digits and rounding."""
        q = self.quantity
        rounding = 1e-9 * abs(self.value)
        true = q.true is None or abs(self.value - q.true) <= self.band + q.known_to + rounding
        return true and (q.published is None or abs(self.value - q.published[0]) <= q.published[1])

    @property
    def narrow(self) -> bool:
        """The band is no wider than the target."""
        return self.band <= self.quantity.widest * (1 + 1e-9)


def outcomes(case: Case, solution: Solution) -> list[Outcome]:
    """What a solution answers to the questions of a case."""
    return [Outcome(q, *q.read(solution)) for q in case.quantities]


# ---- readers --------------------------------------------------------------------------------------------------------


def coupling(a: str, b: str, scale: float = 1.0) -> Read:
    """Reads the coupling of two fixed terminals, times `scale`."""

    def read(solution: Solution) -> tuple[float, float]:
        net = solution.network
        at = net.fixed.index(a), net.fixed.index(b)
        return scale * float(net.values.coupling[at]), scale * float(net.band.coupling[at])

    return read


def _in_network(array: str, row: Callable[[Network], int], heat: str, scale: float) -> Read:
    def read(solution: Solution) -> tuple[float, float]:
        net = solution.network
        at = row(net), net.heat.index(heat)
        return scale * float(getattr(net.values, array)[at]), scale * float(getattr(net.band, array)[at])

    return read


def resistance(observed: str, heat: str, scale: float = 1.0) -> Read:
    """Reads the mean resistance of a terminal or sensor to watts at `heat`, times `scale`."""
    return _in_network("resistance", lambda net: net.observed.index(observed), heat, scale)


def resistance_max(heat: str, scale: float = 1.0) -> Read:
    """Reads the highest resistance of a heat terminal to its own watts, times `scale`."""
    return _in_network("resistance_max", lambda net: net.heat.index(heat), heat, scale)


def spreading(part: str, heat: str, which: str, scale: float = 1.0) -> Read:
    """Reads a spreading resistance, `which` being "mean" or "max", times `scale`."""

    def read(solution: Solution) -> tuple[float, float]:
        found = solution.spreading[part][heat]
        return scale * getattr(found, which), scale * getattr(found, which + "_band")

    return read


def reading(sensor: str) -> Read:
    """Reads what a sensor reads, degC."""
    return lambda solution: (solution.sensors[sensor].reading, solution.sensors[sensor].band)


def answer(path: str) -> Read:
    """Reads an answer by its path."""
    return lambda solution: solution.answers.at(path)


def bridge(name: str) -> Read:
    """Reads the psi or chi of a bridge."""
    return lambda solution: (solution.bridges[name].value, solution.bridges[name].band)


# ---- drawing --------------------------------------------------------------------------------------------------------


def box(x0: float, x1: float, y0: float, y1: float) -> Rectangle:
    """The rectangle from (x0, y0) to (x1, y1), m."""
    return Rectangle((x0, x1), (y0, y1))


def solid(name: str, k: float | tuple[float, float], *shapes: Shape, **plate: float | str) -> Part:
    """A part of conductivity `k`, W/(m K), along x and y; `plate` are its keys in the plate view."""
    both = k if isinstance(k, tuple) else (k, k)
    return Part(name, shapes, material=Material(f"material of {name}", both), **plate)  # type: ignore[arg-type]


def air(name: str, *shapes: Shape) -> Part:
    """A part that is air of the environment `name`."""
    return Part(f"side of {name}", shapes, environment=name)


def held(*names: str) -> tuple[Environment, ...]:
    """Environments that hold the surfaces they touch, at 1, 0, 0 .. degC."""
    return tuple(Environment(name, 0.0 if i else 1.0, HELD) for i, name in enumerate(names))


# ---- ISO 10211 ------------------------------------------------------------------------------------------------------


def iso_10211() -> Iterable[Case]:
    """The two plane test cases of ISO 10211."""
    at = {(i, j): (i / 8, j / 8) for j in range(7, 0, -1) for i in range(1, 5)}
    yield Case(
        "half of a square column",
        "ISO 10211:2017 case 1 (figures from memory); series",
        Section(
            "half of a square column",
            (solid("column", 1.0, box(0, 0.5, 0, 1)),),
            (Environment("hot", 20, HELD), Environment("cold", 0, HELD)),
            border=Border(left="cold", bottom="cold", top="hot"),
            sensors=tuple(Sensor(f"{i}/8, {j}/8", at=xy) for (i, j), xy in at.items()),
        ),
        tuple(
            Quantity(
                f"T at {i}/8, {j}/8", reading(f"{i}/8, {j}/8"), formulas.half_square_column(*xy), "degC",
                published=(formulas.ISO_CASE_1[7 - j][i - 1], 0.1),
            )
            for (i, j), xy in at.items()
        ),
    )  # fmt: skip

    mm = 1e-3
    concrete, wood, insulation, aluminium = 1.15, 0.12, 0.029, 230.0
    yield Case(
        "sheet, web and wood in insulation",
        "ISO 10211:2017 case 2 (figures from memory)",
        Section(
            "sheet, web and wood in insulation",
            (
                solid("insulation", insulation, box(0, 500 * mm, 1.5 * mm, 41.5 * mm)),
                solid("concrete", concrete, box(0, 500 * mm, 41.5 * mm, 47.5 * mm)),
                solid("wood", wood, box(0, 15 * mm, 36.5 * mm, 41.5 * mm)),
                solid(
                    "aluminium", aluminium, box(0, 15 * mm, 35 * mm, 36.5 * mm), box(0, 1.5 * mm, 1.5 * mm, 35 * mm),
                    box(0, 500 * mm, 0, 1.5 * mm),
                ),
            ),
            (Environment("inside", 20, 1 / 0.11), Environment("outside", 0, 1 / 0.06)),
            unit="mm",
            border=Border(bottom="inside", top="outside"),
            sensors=tuple(Sensor(name, at=(x * mm, y * mm)) for name, ((x, y), _) in formulas.ISO_CASE_2.items()),
        ),
        (
            Quantity("heat flow", coupling("inside", "outside", 20), None, "W/m", published=(9.5, 0.1)),
            *(
                Quantity(f"T at {name}", reading(name), None, "degC", published=(figure, 0.1))
                for name, (_, figure) in formulas.ISO_CASE_2.items()
            ),
        ),
    )  # fmt: skip


# ---- spreading resistance -------------------------------------------------------------------------------------------


def disc_on_disc() -> Iterable[Case]:
    """A heated disc in the middle of a larger one, cooled on the other side."""
    k, b = 200.0, 0.025
    for eps, tau, bi in (
        (0.1, 0.1, 1), (0.2, 0.2, 0.0125), (0.3, 0.05, 0.01), (0.5, 0.5, 10), (0.5, 0.1, math.inf), (0.8, 0.1, 1),
    ):  # fmt: skip
        a, t, h = eps * b, tau * b, bi * k / b
        scale = k * a * math.sqrt(math.pi)
        mean, peak = formulas.disc_on_disc(eps, tau, bi)
        whole = mean / scale + (t / k + 1 / h) / (math.pi * b**2)
        yield Case(
            f"disc on disc {eps:g}, {tau:g}, {bi:g}",
            "Kennedy 1960; Yovanovich and others 1998",
            Section(
                "disc on disc",
                (solid("plate", k, box(0, b, 0, t)),),
                (Environment("air", 0, h),),
                view="axisymmetric",
                border=Border(bottom="air"),
                sources=(Source("source", segment=Segment((0, a), (t, t)), heat=1),),
                spreading=(Spreading(("plate",), "x"),),
            ),
            (
                Quantity("psi mean", spreading("plate", "source", "mean", scale), mean, "-"),
                Quantity("psi max", spreading("plate", "source", "max", scale), peak, "-"),
                Quantity("whole resistance", resistance("source", "source"), whole, "K/W"),
            ),
        )


def strip_on_channel() -> Iterable[Case]:
    """A heated strip on a wider plate, cooled on the other side."""
    c = 0.05
    for (kx, ky), eps, tau, bi in (
        ((160.0, 160.0), 0.1, 0.1, 1), ((160.0, 160.0), 0.2, 0.2, 1), ((160.0, 160.0), 0.3, 0.05, 0.01),
        ((160.0, 160.0), 0.5, 0.1, math.inf), ((160.0, 160.0), 0.8, 0.1, 1),
        ((40.0, 2.5), 0.2, 0.1, 2), ((0.5, 8.0), 0.2, 0.4, 0.5),
    ):  # fmt: skip
        k, stretch = math.sqrt(kx * ky), math.sqrt(kx / ky)
        a, t, h = eps * c, tau * c, bi * k / c
        mean, peak = formulas.strip_on_channel(eps, tau * stretch, bi)
        whole = peak / k + (t / ky + 1 / h) / (2 * c)
        yield Case(
            f"strip on channel {eps:g}, {tau:g}, {bi:g}" + (f", kx/ky = {kx / ky:g}" if kx != ky else ""),
            "Yovanovich and others 1999" + ("; y stretched by sqrt(kx/ky)" if kx != ky else ""),
            Section(
                "right half of a strip on a channel",
                (solid("plate", (kx, ky), box(0, c, 0, t)),),
                (Environment("air", 0, h),),
                border=Border(bottom="air"),
                sources=(Source("source", segment=Segment((0, a), (t, t)), heat=1),),
                spreading=(Spreading(("plate",), "x"),),
            ),
            (
                Quantity("k R' mean", spreading("plate", "source", "mean", k / 2), mean, "-"),
                Quantity("k R' max", spreading("plate", "source", "max", k / 2), peak, "-"),
                Quantity("whole resistance, max", resistance_max("source", 1 / 2), whole, "K m/W"),
            ),
        )


PATCH, BOARD, BOARD_K, BOARD_FILM = (0.014, 0.014), (0.04, 0.04), 25.0, 1000.0


def patch_on_plate(thickness: float) -> Section:
    """A quarter of a heated patch on a plate, seen face on."""
    a, b, c, d = (v / 2 for v in PATCH + BOARD)
    plate: dict[str, float | str] = {"thickness": thickness, "back": "air"}
    return Section(
        "a quarter of a heated patch on a plate",
        (solid("plate", BOARD_K, box(0, c, 0, d), **plate), solid("patch", BOARD_K, box(0, a, 0, b), **plate)),
        (Environment("air", 0, BOARD_FILM),),
        view="plate",
        sources=(Source("source", part="patch", heat=0.25),),
    )


def rectangle_on_plate() -> Iterable[Case]:
    """A heated rectangle on a thin plate, in the plate view."""
    t = 1e-3
    mean, peak = formulas.rectangle_on_thin_plate(PATCH, BOARD, t, BOARD_K, BOARD_FILM)
    one_dimensional = 1 / (BOARD_FILM * BOARD[0] * BOARD[1])
    yield Case(
        "heated patch on a thin plate",
        "Yovanovich and others 1999, limit h t << k",
        patch_on_plate(t),
        (
            Quantity("resistance, mean", resistance("source", "source", 1 / 4), mean + one_dimensional, "K/W"),
            Quantity("resistance, max", resistance_max("source", 1 / 4), peak + one_dimensional, "K/W"),
        ),
    )


def plates_in_layers() -> Iterable[Case]:
    """Heated rectangles on faces of plates of finite thickness, and a finned plate, resolved through their
    thickness."""
    for source, plate, t, k, h in (
        ((0.01, 0.01), (0.04, 0.04), 0.002, 200.0, 100.0),
        ((0.02, 0.01), (0.06, 0.04), 0.003, 160.0, 50.0),
        ((0.004, 0.004), (0.05, 0.05), 0.0016, 0.3, 10.0),
        ((0.014, 0.014), (0.04, 0.04), 0.001, 25.0, 1000.0),
    ):
        mean, peak = formulas.rectangle_on_plate(source, plate, t, k, h)
        past = (t / k + 1 / h) / (plate[0] * plate[1])
        place = [((whole - part) / 2, (whole + part) / 2) for whole, part in zip(plate, source)]
        name = f"{_mm(source)} on {_mm(plate)} x {1000 * t:g} mm, film {h:g}"
        short = formulas.rectangle_on_plate_in_short(source, plate, t, k, h)[0]
        roughly = (short, 0.08 * short) if k > 1 else None  # there the closed form is no longer good
        yield Case(
            name,
            "Yovanovich and others 1999 (mean), Ellison 2003 (max); Lee and others 1995, closed form",
            _on_face(name, place[0], place[1], plate, t, k, h, spreading=(Spreading(("plate",)),)),
            (
                Quantity("resistance, mean", resistance("source", "source"), mean + past, "K/W"),
                Quantity("resistance, max", resistance_max("source"), peak + past, "K/W"),
                Quantity(
                    "spreading, mean", spreading("plate", "source", "mean"), mean, "K/W", 0.0, roughly, 0.04 * past
                ),
            ),
        )
    for x, y, plate, t, k, h in (
        ((0.0, 0.02), (0.0, 0.01), (0.06, 0.04), 0.003, 160.0, 50.0),
        ((0.06, 0.1), (0.0, 0.03), (0.1, 0.08), 0.005, 200.0, 500.0),
        ((0.01, 0.03), (0.03, 0.08), (0.15, 0.1), 0.012, 209.0, 300.0),
    ):
        name = f"{_mm((x[1] - x[0], y[1] - y[0]))} off the middle of {_mm(plate)} x {1000 * t:g} mm, film {h:g}"
        true = formulas.rectangle_anywhere_on_plate(x, y, plate, t, k, h)
        yield Case(
            name,
            "Muzychka and others 2003, series",
            _on_face(name, x, y, plate, t, k, h),
            (Quantity("resistance, mean", resistance("source", "source"), true, "K/W"),),
        )


def _mm(size: tuple[float, float]) -> str:
    return f"{1000 * size[0]:g} x {1000 * size[1]:g}"


def _on_face(
    title: str,
    x: tuple[float, float],
    y: tuple[float, float],
    plate: tuple[float, float],
    thickness: float,
    k: float,
    film: float,
    **asked: tuple[Spreading, ...],
) -> Section:
    """A rectangle that is heated on the back of a plate, with a film on its front."""
    whole = solid("plate", k, box(0, plate[0], 0, plate[1]), thickness=thickness, front="air")
    source = Source("source", part="plate", heat=1, face="back", rectangle=box(*x, *y))
    return Section(title, (whole,), (Environment("air", 0, film),), view="plate", sources=(source,), **asked)


def finned_plates() -> Iterable[Case]:
    """A plate with fins, heated all over its other face: fins whose air cools their sides, tips and, far away, their
    ends."""
    k, film, thickness, height, pitch, length = 200.0, 35.0, 1.5e-3, 0.04, 6.25e-3, 100.0
    of_fin = formulas.fin_conductance(film, k, thickness, height, film)
    fins = Fins("fins", ("plate",), "front", "y", thickness, height, "air", Material("metal", (k, k)), pitch=pitch)
    share, base, area = thickness / pitch, 0.006, 0.1 * length
    constricted = pitch / (math.pi * k) * math.log(1 / math.sin(math.pi * share / 2))
    to_air = 1 / (constricted + pitch / of_fin) + (1 - share) * film
    yield Case(
        "finned plate heated all over",
        "Incropera and others, ch. 3; Carslaw and Jaeger 1959, flow to strips",
        Section(
            "finned plate heated all over",
            (solid("plate", k, box(0, 0.1, 0, length), thickness=base),),
            (Environment("air", 0, film),),
            view="plate",
            fins=(fins,),
            sources=(Source("source", part="plate", heat=1, face="back"),),
        ),
        (
            Quantity("resistance", resistance("source", "source", area), base / k + 1 / to_air, "m2 K/W"),
            Quantity("efficiency", answer("fins.fins.efficiency"), of_fin / (film * (2 * height + thickness)), "-"),
            Quantity("effectiveness", answer("fins.fins.effectiveness"), of_fin / (film * thickness), "-"),
        ),
    )


def volume_sources() -> Iterable[Case]:
    """A slab and a rod that are heated throughout."""
    k, size, h = 12.0, 0.02, 80.0
    yield Case(
        "slab heated throughout",
        "Incropera and others, ch. 3.5",
        Section(
            "slab heated throughout",
            (solid("slab", k, box(0, 1, 0, size)),),
            held("base"),
            border=Border(bottom="base"),
            sources=(Source("heat", part="slab", heat=1),),
        ),
        (
            Quantity("mean", resistance("heat", "heat"), size / (3 * k), "K/W"),
            Quantity("max", resistance_max("heat"), size / (2 * k), "K/W"),
        ),
    )
    rod, film = 1 / (4 * math.pi * k), 1 / (2 * math.pi * size * h)
    quantities = (
        Quantity("mean", resistance("heat", "heat"), rod / 2 + film, "K m/W"),
        Quantity("max", resistance_max("heat"), rod + film, "K m/W"),
    )
    yield Case(
        "rod heated throughout, about its axis",
        "Incropera and others, ch. 3.5",
        Section(
            "rod heated throughout",
            (solid("rod", k, box(0, size, 0, 1)),),
            (Environment("air", 0, h),),
            view="axisymmetric",
            border=Border(right="air"),
            sources=(Source("heat", part="rod", heat=1),),
        ),
        quantities,
    )
    yield Case(
        "rod heated throughout, cut across",
        "Incropera and others, ch. 3.5",
        Section(
            "rod heated throughout",
            (air("air", box(-0.03, 0.03, -0.03, 0.03)), solid("rod", k, Disc((0, 0), size))),
            (Environment("air", 0, h),),
            sources=(Source("heat", part="rod", heat=1),),
        ),
        quantities,
    )


# ---- conduction shape factors ---------------------------------------------------------------------------------------


def edges() -> Iterable[Case]:
    """Edges of two walls: what they leak beyond the walls themselves."""
    for a, b in ((1.0, 1.0), (1.0, 2.0), (3.0, 1.0)):
        up, along = 2 * a, 2 * b  # legs: what is cut off costs exp(-4 pi)
        true = up / a + along / b + formulas.edge_shape_factor(a, b)
        yield Case(
            f"edge of two walls, {a:g} and {b:g} thick",
            "Hall 1968",
            Section(
                "edge of two walls",
                (solid("walls", 1.0, box(0, a + along, 0, b + up)), air("inside", box(a, a + along, b, b + up))),
                held("inside", "outside"),
                border=Border(left="outside", bottom="outside"),
            ),
            (Quantity("shape factor", coupling("inside", "outside"), true, "-", 1e-5),),
        )


def square_channels() -> Iterable[Case]:
    """Square channels in square blocks."""
    for ratio in (1.2, 1.5, 2.0, 4.0):
        yield Case(
            f"square channel, W/w = {ratio:g}",
            "quadratic finite elements; at 2 the square coaxial line",
            Section(
                "a quarter of a square channel",
                (solid("wall", 1.0, box(0, ratio, 0, ratio)), air("inside", box(0, 1, 0, 1))),
                held("inside", "outside"),
                border=Border(right="outside", top="outside"),
            ),
            (Quantity("shape factor", coupling("inside", "outside", 4), formulas.SQUARE_CHANNEL[ratio], "-", 3e-4),),
        )


def round_holes() -> Iterable[Case]:
    """Round holes in square blocks."""
    for ratio in (1.5, 2.0, 4.0):
        w = ratio / 2
        yield Case(
            f"round hole in a square block, w/D = {ratio:g}",
            "collocation",
            Section(
                "round hole in a square block",
                (solid("block", 1.0, box(-w, w, -w, w)), air("inside", Disc((0, 0), 0.5))),
                held("inside", "outside"),
                border=Border("outside", "outside", "outside", "outside"),
            ),
            (Quantity("shape factor", coupling("inside", "outside"), formulas.HOLE_IN_SQUARE[ratio], "-", 1e-4),),
        )


def cylinders() -> Iterable[Case]:
    """Cylinders in cylinders, and between planes."""
    around = box(-1.1, 1.1, -1.1, 1.1)
    for d, z in ((1.0, 0.0), (1.0, 0.25), (0.4, 0.5)):
        yield Case(
            f"eccentric cylinders 2, {d:g}, {z:g} apart",
            "Incropera and others, Table 4.1 (exact)",
            Section(
                "eccentric cylinders",
                (air("outside", around), solid("filling", 1.0, Disc((0, 0), 1)), air("inside", Disc((z, 0), d / 2))),
                held("inside", "outside"),
            ),
            (Quantity("shape factor", coupling("inside", "outside"), formulas.eccentric_cylinders(2, d, z), "-"),),
        )
    yield Case(
        "cylinder midway between planes",
        "Incropera and others, Table 4.1 (thin cylinder)",
        Section(
            "cylinder midway between planes",
            (solid("slab", 1.0, box(-4, 4, -1, 1)), air("inside", Disc((0, 0), 0.1))),
            held("inside", "outside"),
            border=Border(bottom="outside", top="outside"),
        ),
        (Quantity("shape factor", coupling("inside", "outside"), formulas.cylinder_between_planes(0.2, 1), "-", 1e-5),),
    )


def disc_in_spheroid() -> Iterable[Case]:
    """A held disc in a held spheroid."""
    flatness, corners = 3.0, 20
    u = np.linspace(0, math.pi / 2, corners + 1)
    size = 1 + (u[1] - u[0]) ** 2 / 12  # chords run as far outside the ellipse as inside it, on average
    x, y = size * math.hypot(1, flatness) * np.sin(u), size * flatness * np.cos(u)
    yield Case(
        "held disc on a half space that ends on a spheroid",
        "Carslaw and Jaeger 1959; S = 2 D in the limit",
        Section(
            "held disc on a half space",
            (
                air("outside", box(0, 1.05 * float(x[-1]), 0, 1.05 * float(y[0]))),
                solid("ground", 1.0, Polygon(((0.0, 0.0), *((float(p), float(q)) for p, q in zip(x[::-1], y[::-1]))))),
            ),
            (Environment("outside", 0, HELD),),
            view="axisymmetric",
            sources=(Source("disc", segment=Segment((0, 1), (0, 0)), temperature=1),),
        ),
        (Quantity("shape factor", coupling("disc", "outside"), formulas.disc_in_spheroid(1, flatness), "m", 1e-4),),
    )


# ---- fins -----------------------------------------------------------------------------------------------------------


def fins() -> Iterable[Case]:
    """Straight, pin and annular fins."""
    for h, k, t, length, tip in (
        (100.0, 160.0, 2e-3, 40e-3, True), (500.0, 25.0, 3e-3, 10e-3, True), (1000.0, 17.0, 4e-3, 10e-3, False),
        (10.0, 0.2, 6e-3, 30e-3, True), (2000.0, 0.3, 5e-3, 20e-3, True),
    ):  # fmt: skip
        area = 2 * length + (t if tip else 0)
        yield Case(
            f"straight fin, h t/(2 k) = {h * t / 2 / k:.3g}",
            "Kraus and others 2001, two-dimensional series",
            Section(
                "upper half of a straight fin",
                (solid("fin", k, box(0, length, 0, t / 2)),),
                (Environment("air", 0, h),),
                border=Border(top="air", right="air" if tip else None),
                sources=(Source("base", segment=Segment((0, 0), (0, t / 2)), temperature=1),),
            ),
            (
                Quantity("efficiency", coupling("base", "air", 2 / (h * area)),
                         formulas.fin_conductance_2d(h, k, t, length, h if tip else 0) / (h * area), "-"),
            ),
        )  # fmt: skip
    for h, k, a, length in ((20.0, 1.0, 0.05, 0.3), (100.0, 200.0, 0.002, 0.03)):
        true = formulas.pin_fin_conductance_2d(h, k, a, length, h)
        yield Case(
            f"pin fin, h a/k = {h * a / k:g}",
            "Carslaw and Jaeger 1959, finite cylinder",
            Section(
                "pin fin",
                (solid("pin", k, box(0, a, 0, length)),),
                (Environment("air", 0, h),),
                view="axisymmetric",
                border=Border(right="air", top="air"),
                sources=(Source("base", segment=Segment((0, a), (0, 0)), temperature=1),),
            ),
            (Quantity("heat per kelvin", coupling("base", "air"), true, "W/K"),),
        )
    h, k, t, length, width = 25.0, 160.0, 1.5e-3, 0.12, 0.02
    m = math.sqrt(2 * h / (k * t))
    for tip in (False, True):
        q = width * formulas.fin_conductance(h, k, t, length, h if tip else 0)
        yield Case(
            "straight fin seen face on" + (", open tip" if tip else ""),
            "Incropera and others, ch. 3",
            Section(
                "straight fin seen face on",
                (solid("fin", k, box(0, length, 0, width), thickness=t, front="air", back="air"),),
                (Environment("air", 0, h),),
                view="plate",
                border=Border(right="air" if tip else None),
                sources=(Source("base", segment=Segment((0, 0), (0, width)), heat=1),),
                sensors=(Sensor("tip", at=(length, width / 2)),),
            ),
            (
                Quantity("base, mean", resistance("base", "base"), 1 / q, "K/W"),
                *(() if tip else (Quantity("tip", resistance("tip", "base"), 1 / (q * math.cosh(m * length)), "K/W"),)),
            ),
        )
    for h, k, t, r1, r2 in ((50.0, 200.0, 1e-3, 10e-3, 30e-3), (1000.0, 20.0, 0.5e-3, 10e-3, 40e-3)):
        name = f"annular fin seen face on, film {h:g}"
        yield Case(
            name,
            "Kern and Kraus 1972",
            Section(
                name,
                (
                    solid("fin", k, Disc((0, 0), r2), thickness=t, front="air", back="air"),
                    air("tube", Disc((0, 0), r1)),
                ),
                (Environment("tube", 1, HELD), Environment("air", 0, h)),
                view="plate",
            ),
            (
                Quantity("efficiency", coupling("tube", "air", 1 / (h * 2 * math.pi * (r2**2 - r1**2))),
                         formulas.annular_fin_efficiency(h, k, t, r1, r2), "-"),
            ),
        )  # fmt: skip


# ---- walls and tubes ------------------------------------------------------------------------------------------------


def walls() -> Iterable[Case]:
    """Walls: layers in series and side by side, with films and a joint."""
    foam, sheet, joint = 0.031, 160.0, 2e-4
    inside, outside = Environment("inside", 7, 8), Environment("outside", 28, 25)
    layers = (solid("foam", foam, box(0, 0.4, 0, 0.03)), solid("sheet", sheet, box(0, 0.4, 0.03, 0.032)))
    u = formulas.series(1 / 8, 0.03 / foam, joint, 0.002 / sheet, 1 / 25)
    rise = 21 * u
    yield Case(
        "films, layers and a joint in series",
        "Incropera and others, ch. 3.1",
        Section(
            "films, layers and a joint in series",
            layers,
            (inside, outside),
            border=Border(bottom="inside", top="outside"),
            joints=(Joint(("foam", "sheet"), joint),),
            sensors=(
                Sensor("in the foam", at=(0.1, 0.01)),
                Sensor("inner face", at=(0.1, 0)),
                Sensor("outer face", at=(0.1, 0.032)),
            ),
        ),
        (
            Quantity("heat per kelvin", coupling("inside", "outside"), 0.4 * u, "W/(m K)"),
            Quantity("T in the foam", reading("in the foam"), 7 + rise * (1 / 8 + 0.01 / foam), "degC"),
            Quantity("T of the inner face", reading("inner face"), 7 + rise / 8, "degC"),
            Quantity("T of the outer face", reading("outer face"), 28 - rise / 25, "degC"),
        ),
    )
    yield Case(
        "a strong joint along a film",
        "Incropera and others, ch. 3.1",
        Section(
            "a strong joint, axis upright",
            (solid("pad", 2.0, box(0, 0.02, 0, 0.01)), solid("cup", 50.0, box(0.02, 0.03, 0, 0.01))),
            (Environment("air", 0, 40),),
            view="axisymmetric",
            border=Border(right="air"),
            joints=(Joint(("pad", "cup"), 5e-3),),
            sources=(Source("heater", part="pad", heat=1),),
        ),
        (
            Quantity(
                "mean of the heater", resistance("heater", "heater"),
                100 / (8 * math.pi * 2.0) + 5e-3 / (2 * math.pi * 0.02 * 0.01)
                + 100 * formulas.tube_resistance(0.02, 0.03, 50) + 1 / (40 * 2 * math.pi * 0.03 * 0.01), "K/W",
            ),
        ),
    )  # fmt: skip
    column, k = 0.02, 0.5
    yield Case(
        "column through a wall",
        "layers side by side",
        Section(
            "column through a wall",
            (solid("foam", foam, box(0, 0.4, 0, 0.03)), solid("column", k, box(0.1, 0.1 + column, 0, 0.03))),
            held("inside", "outside"),
            border=Border(bottom="inside", top="outside"),
            bridges=(Bridge(("column",)),),
        ),
        (
            Quantity("heat per kelvin", coupling("inside", "outside"), (foam * 0.38 + k * column) / 0.03, "W/(m K)"),
            Quantity("psi", bridge("column"), (k - foam) * column / 0.03, "W/(m K)"),
        ),
    )
    bolt, steel = 0.003, 17.0
    yield Case(
        "bolt through a wall, about its axis",
        "layers side by side",
        Section(
            "bolt through a wall",
            (solid("foam", foam, box(0, 0.1, 0, 0.03)), solid("bolt", steel, box(0, bolt, 0, 0.03))),
            held("inside", "outside"),
            view="axisymmetric",
            border=Border(bottom="inside", top="outside"),
            bridges=(Bridge(("bolt",)),),
        ),
        (Quantity("chi", bridge("bolt"), (steel - foam) * math.pi * bolt**2 / 0.03, "W/K"),),
    )
    parts = (solid("slab", (5.0, 40.0), box(0, 0.4, 0, 0.03)),)
    for name, border, true in (
        ("across", Border(left="inside", right="outside"), 5.0 * 0.03 / 0.4),
        ("through", Border(bottom="inside", top="outside"), 40.0 * 0.4 / 0.03),
    ):
        yield Case(
            f"wood {name} the grain",
            "Incropera and others, ch. 3.1",
            Section("anisotropic slab", parts, held("inside", "outside"), border=border),
            (Quantity("heat per kelvin", coupling("inside", "outside"), true, "W/(m K)"),),
        )


def tubes() -> Iterable[Case]:
    """Tubes of layers, with films."""
    r1, r2, r3, k1, k2, h1, h2 = 0.01, 0.015, 0.03, 15.0, 0.04, 400.0, 10.0
    whole = (1 / (h1 * 2 * math.pi * r1) + formulas.tube_resistance(r1, r2, k1)
             + formulas.tube_resistance(r2, r3, k2) + 1 / (h2 * 2 * math.pi * r3))  # fmt: skip
    water, room = Environment("water", 7, h1), Environment("room", 28, h2)
    depth = 0.02  # of the place where the temperature is read, from the axis
    here = 28 - 21 / whole * (1 / (h2 * 2 * math.pi * r3) + formulas.tube_resistance(depth, r3, k2))
    quantities = (
        Quantity("heat per kelvin", coupling("water", "room"), 1 / whole, "W/(m K)"),
        Quantity("T in the insulation", reading("in the insulation"), here, "degC"),
    )
    yield Case(
        "insulated tube, about its axis",
        "Incropera and others, ch. 3.3",
        Section(
            "insulated tube",
            (solid("tube", k1, box(r1, r2, 0, 1)), solid("insulation", k2, box(r2, r3, 0, 1))),
            (water, room),
            view="axisymmetric",
            border=Border(left="water", right="room"),
            sensors=(Sensor("in the insulation", at=(depth, 0.5)),),
        ),
        quantities,
    )
    yield Case(
        "insulated tube, cut across",
        "Incropera and others, ch. 3.3",
        Section(
            "insulated tube",
            (
                air("room", box(-0.035, 0.035, -0.035, 0.035)),
                solid("insulation", k2, Disc((0, 0), r3)),
                solid("tube", k1, Disc((0, 0), r2)),
                air("water", Disc((0, 0), r1)),
            ),
            (water, room),
            sensors=(Sensor("in the insulation", at=(depth * math.cos(0.5), depth * math.sin(0.5))),),
        ),
        quantities,
    )


CASES: tuple[Case, ...] = tuple(
    case
    for group in (
        iso_10211, disc_on_disc, strip_on_channel, rectangle_on_plate, plates_in_layers,
        finned_plates, volume_sources, edges, square_channels,
        round_holes, cylinders, disc_in_spheroid, fins, walls, tubes,
    )
    for case in group()
)  # fmt: skip
