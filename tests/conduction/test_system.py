"""The system as a whole: what conduction guarantees, whatever is drawn."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fdm.conduction.layout import Variant
from fdm.conduction.network import checks, network_values
from fdm.conduction.solver import unit_fields
from fdm.conduction.soundness import refuse_loose_parts
from fdm.conduction.system import assemble
from fdm.errors import InputError
from fdm.grid.lines import first_lines, halved
from fdm.section.model import Border, Disc, Environment, Joint, Part, Polygon, Section, Segment, Sensor, Source
from validation.cases import air, box, solid

HELD = math.inf
VIEWS = ("section", "axisymmetric", "plate")


def messy(view):
    """Every feature at once: airs, a held surface, held face and part, heated faces and part, joints, a void, round and
    slanted edges, anisotropy, conductivities from 0.03 to 200, films from 8 to 200."""
    plate = {"thickness": 0.004, "front": "room"} if view == "plate" else {}
    parts = (
        air("room", box(0, 0.1, 0.05, 0.08)),
        solid("foam", 0.03, box(0, 0.1, 0, 0.05), **plate),
        solid("board", (0.4, 0.2), box(0, 0.1, 0.045, 0.05), **plate),
        solid("block", 200.0, box(0.03, 0.06, 0, 0.04), **(plate and {"thickness": 0.01, "back": "cabinet"})),
        solid("pad", 2.0, box(0.03, 0.06, 0.04, 0.045), **plate),
        solid("fin", 180.0, box(0.04, 0.044, 0.05, 0.07), **plate),
        solid("cord", 0.3, Disc((0.08, 0.05), 0.012), **plate),
        air("water", Disc((0.015, 0.025), 0.008)),
        Part("hole", (Disc((0.047, 0.02), 0.006),), void=True),
        air("cabinet", Polygon(((0.07, 0), (0.09, 0), (0.083, 0.021)))),
        solid("core", 50.0, box(0.09, 0.1, 0.02, 0.035), **plate),
    )
    return Section(
        "everything at once",
        parts,
        (
            Environment("cabinet", 7, 8),
            Environment("room", 28, 25),
            Environment("water", 12, HELD),
            Environment("floor", 3, 200),
        ),
        view=view,
        depth=0.3 if view == "section" else 1.0,
        border=Border(bottom="cabinet", top="room", right="floor"),
        joints=(Joint(("block", "pad"), 2e-4), Joint(("cord", "board"), 1e-3)),
        sources=(
            Source("hot face", segment=Segment((0.032, 0.058), (0.045, 0.045)), heat=12),
            Source("coil", segment=Segment((0.1, 0.1), (0.04, 0.048)), temperature=-4),
            Source("warm cord", part="cord", heat=1.5),
            Source("pipe", part="core", temperature=40),
            Source("sun", segment=Segment((0.0, 0.02), (0.05, 0.05)), heat=2),
        ),
        sensors=(Sensor("bead", at=(0.06, 0.02), should_read="cabinet"), Sensor("skin", at=(0.01, 0.05))),
    )


def solved(section, halvings=0, lines=None, **variant):
    x, y = lines or first_lines(section)
    for _ in range(halvings):
        x, y = halved(x), halved(y)
    system = assemble(section, x, y, Variant(**variant))
    units = unit_fields(system)
    values = network_values(system, units)
    return values, checks(system, units, values)


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("halvings", [0, 1])
def test_symmetry_balance_and_weights_close_to_rounding(view, halvings):
    values, found = solved(messy(view), halvings)
    assert found.asymmetry < 1e-10
    assert found.imbalance < 1e-10
    assert found.weight_error < 1e-10
    assert values.weight.sum(1) == pytest.approx(np.ones(len(values.weight)), abs=1e-10)
    assert values.coupling == pytest.approx(values.coupling.T, abs=0)
    assert (values.coupling >= 0).all()
    resistance = values.resistance[:3]
    assert resistance == pytest.approx(resistance.T, rel=1e-9)
    assert (np.linalg.eigvalsh((resistance + resistance.T) / 2) > 0).all()
    assert (np.diag(values.resistance_max) >= np.diag(resistance)).all()


@pytest.mark.parametrize("view", VIEWS)
def test_every_field_lies_between_the_temperatures_that_cause_it(view):
    section = messy(view)
    system = assemble(section, *first_lines(section))
    fields, fixed = unit_fields(system), len(section.fixed_names)
    inside = fields[:, system.solid]
    assert inside.min() >= -1e-12
    assert inside[:fixed].max() <= 1 + 1e-12
    assert inside[:fixed].sum(0) == pytest.approx(np.ones(inside.shape[1]), abs=1e-11)
    assert not fields[:, ~system.solid].any()


@pytest.mark.parametrize("view", VIEWS)
def test_terminals_in_another_order_give_the_same_network(view):
    section = messy(view)
    turned = replace(
        section, environments=section.environments[::-1], sources=section.sources[::-1], joints=section.joints[::-1]
    )
    one, other = solved(section)[0], solved(turned)[0]
    f = [turned.fixed_names.index(n) for n in section.fixed_names]
    h = [turned.heat_names.index(n) for n in section.heat_names]
    observed = [*h, *range(len(h), len(one.weight))]
    assert other.coupling[np.ix_(f, f)] == pytest.approx(one.coupling, rel=1e-9, abs=1e-14)
    assert other.weight[np.ix_(observed, f)] == pytest.approx(one.weight, rel=1e-9, abs=1e-13)
    assert other.resistance[np.ix_(observed, h)] == pytest.approx(one.resistance, rel=1e-9, abs=1e-13)
    assert other.resistance_max[np.ix_(h, h)] == pytest.approx(one.resistance_max, rel=1e-9, abs=1e-13)


def test_parts_that_do_not_overlap_may_come_in_any_order():
    section = messy("section")
    parts = {p.name: p for p in section.parts}
    first = ["foam", "room", "block", "board", "pad", "fin", "cord"]
    last = ["core", "cabinet", "hole", "water"]
    names = {p: (p if p in parts else f"side of {p}") for p in first + last}
    turned = replace(section, parts=tuple(parts[names[p]] for p in first + last))
    assert {p.name for p in turned.parts} == set(parts)
    one, other = solved(section)[0], solved(turned)[0]
    assert other.coupling == pytest.approx(one.coupling, rel=1e-9, abs=1e-14)
    assert other.resistance == pytest.approx(one.resistance, rel=1e-9, abs=1e-14)


def alike(one, other):
    """But for sub-cells whose middle lies on a round edge, which rounding may give to either side."""
    assert other.coupling == pytest.approx(one.coupling, abs=1e-6 * one.coupling.max())
    assert other.weight == pytest.approx(one.weight, abs=1e-6)
    assert other.resistance == pytest.approx(one.resistance, abs=1e-6 * one.resistance.max())
    assert other.resistance_max == pytest.approx(one.resistance_max, abs=1e-6 * one.resistance_max.max())


def mirrored_x(shape, width):
    match shape:
        case Disc():
            return Disc((width - shape.centre[0], shape.centre[1]), shape.radius)
        case Polygon():
            return Polygon(tuple((width - x, y) for x, y in shape.points))
        case _:
            return box(width - shape.x[1], width - shape.x[0], *shape.y)


@pytest.mark.parametrize("view", ["section", "plate"])
def test_a_mirrored_section_has_the_same_network(view):
    section = messy(view)
    width, b = 0.1, section.border
    turned = replace(
        section,
        parts=tuple(replace(p, shapes=tuple(mirrored_x(s, width) for s in p.shapes)) for p in section.parts),
        border=Border(left=b.right, right=b.left, bottom=b.bottom, top=b.top),
        sources=tuple(
            replace(s, segment=Segment((width - s.segment.x[1], width - s.segment.x[0]), s.segment.y))
            if s.segment
            else s
            for s in section.sources
        ),
        sensors=tuple(replace(s, at=(width - s.at[0], s.at[1])) for s in section.sensors),
    )
    x, y = first_lines(section)
    one, other = solved(section, lines=(x, y))[0], solved(turned, lines=(width - x[::-1], y))[0]
    alike(one, other)


@pytest.mark.parametrize("view", ["section", "plate"])
def test_x_and_y_are_alike(view):
    """A section with x and y changed over; anisotropy, borders and segments with them."""

    def turned_shape(shape):
        match shape:
            case Disc():
                return Disc(shape.centre[::-1], shape.radius)
            case Polygon():
                return Polygon(tuple(p[::-1] for p in shape.points))
            case _:
                return box(*shape.y, *shape.x)

    section = messy(view)
    b = section.border
    turned = replace(
        section,
        parts=tuple(
            replace(
                p,
                shapes=tuple(map(turned_shape, p.shapes)),
                material=p.material and replace(p.material, conductivity=p.material.conductivity[::-1]),
            )
            for p in section.parts
        ),
        border=Border(left=b.bottom, right=b.top, bottom=b.left, top=b.right),
        sources=tuple(
            replace(s, segment=Segment(s.segment.y, s.segment.x)) if s.segment else s for s in section.sources
        ),
        sensors=tuple(replace(s, at=s.at[::-1]) for s in section.sensors),
    )
    x, y = first_lines(section)
    one, other = solved(section, lines=(x, y))[0], solved(turned, lines=(y, x))[0]
    alike(one, other)


@pytest.mark.parametrize("view", VIEWS)
def test_more_grid_lines_change_little(view):
    """A line more through the middle of every second cell moves no answer by more than the grid error itself."""
    section = messy(view)
    x, y = (halved(v) for v in first_lines(section))
    coarse, fine = solved(section, lines=(x, y))[0], solved(section, 1, lines=(x, y))[0]
    more = np.sort(np.append(x, (x[1:] + x[:-1])[::2] / 2)), np.sort(np.append(y, (y[1:] + y[:-1])[1::2] / 2))
    found = solved(section, lines=more)[0]
    largest = fine.coupling.max()
    assert abs(found.coupling - coarse.coupling).max() < 0.03 * largest
    assert abs(found.coupling - fine.coupling).max() < 0.03 * largest
    assert found.resistance == pytest.approx(coarse.resistance, rel=0.1, abs=0.03 * coarse.resistance.max())


# ---- scaling --------------------------------------------------------------------------------------------------------


def conducting_better(section, c):
    """Conductivities and films times c, joints over c."""
    return replace(
        section,
        parts=tuple(
            replace(p, material=replace(p.material, conductivity=tuple(c * k for k in p.material.conductivity)))
            if p.material
            else p
            for p in section.parts
        ),
        environments=tuple(replace(e, film=c * e.film) for e in section.environments),
        joints=tuple(replace(j, resistance=j.resistance / c) for j in section.joints),
    )


@pytest.mark.parametrize("view", VIEWS)
def test_a_section_that_conducts_better_by_a_factor(view):
    section, c = messy(view), 7.0
    one, other = solved(section)[0], solved(conducting_better(section, c))[0]
    assert other.coupling == pytest.approx(c * one.coupling, rel=1e-9, abs=1e-12)
    assert other.resistance == pytest.approx(one.resistance / c, rel=1e-9, abs=1e-13)
    assert other.weight == pytest.approx(one.weight, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("view", VIEWS)
def test_a_larger_drawing_with_films_and_joints_to_match(view):
    """All lengths times s, films over s, joints times s: Biot numbers stay, and so does a coupling per metre of depth;
    about the axis, and in a plate with its thickness, it grows by s."""
    section, s = messy(view), 10.0

    def larger(shape):
        match shape:
            case Disc():
                return Disc((s * shape.centre[0], s * shape.centre[1]), s * shape.radius)
            case Polygon():
                return Polygon(tuple((s * x, s * y) for x, y in shape.points))
            case _:
                return box(s * shape.x[0], s * shape.x[1], s * shape.y[0], s * shape.y[1])

    scaled = replace(
        section,
        parts=tuple(
            replace(p, shapes=tuple(map(larger, p.shapes)), thickness=p.thickness and s * p.thickness)
            for p in section.parts
        ),
        environments=tuple(replace(e, film=e.film / s) for e in section.environments),
        joints=tuple(replace(j, resistance=j.resistance * s) for j in section.joints),
        sources=tuple(
            replace(q, segment=Segment(tuple(s * v for v in q.segment.x), tuple(s * v for v in q.segment.y)))
            if q.segment
            else q
            for q in section.sources
        ),
        sensors=tuple(replace(q, at=(s * q.at[0], s * q.at[1])) for q in section.sensors),
    )
    x, y = first_lines(section)
    one, other = solved(section, lines=(x, y))[0], solved(scaled, lines=(s * x, s * y))[0]
    factor = 1.0 if view == "section" else s
    assert other.coupling == pytest.approx(factor * one.coupling, rel=1e-6, abs=1e-9)
    assert other.resistance == pytest.approx(one.resistance / factor, rel=1e-6, abs=1e-9)
    assert other.weight == pytest.approx(one.weight, rel=1e-6, abs=1e-9)


def test_a_deeper_section_couples_in_proportion():
    section = messy("section")
    one, other = solved(section)[0], solved(replace(section, depth=2 * section.depth))[0]
    assert other.coupling == pytest.approx(2 * one.coupling, rel=1e-10, abs=1e-14)
    assert other.resistance == pytest.approx(one.resistance / 2, rel=1e-10, abs=1e-14)


# ---- perfect spreading ----------------------------------------------------------------------------------------------


def plate_on_film(view="section", t=0.01, c=0.05, k=40.0, h=60.0):
    source = Source("q", segment=Segment((0, 0.01), (t, t)), heat=1)
    return Section(
        "plate",
        (solid("plate", k, box(0, c, 0, t)),),
        (Environment("air", 0, h),),
        view=view,
        border=Border(bottom="air"),
        sources=(source,),
    )


@pytest.mark.parametrize("view", ["section", "axisymmetric"])
def test_a_plate_that_spreads_perfectly_is_its_thickness_and_its_film_in_series(view):
    """t / (k A) + 1 / (h A): the textbook definition of spreading resistance takes this off the whole."""
    section = plate_on_film(view)
    area = 0.05 if view == "section" else math.pi * 0.05**2
    x, y = first_lines(section)
    y = np.unique(np.concatenate([y, [1e-9, 0.01 - 1e-9]]))  # a thin skin, so that the surface is one temperature too
    values, found = solved(section, lines=(x, y), spread=["plate"], along="x")
    assert values.resistance[0, 0] == pytest.approx((0.01 / 40 + 1 / 60) / area, rel=1e-6)
    assert values.resistance_max[0, 0] == pytest.approx(values.resistance[0, 0], rel=1e-5)
    assert found.weight_error < 1e-10


def test_a_perfectly_spreading_plate_seen_face_on_has_one_temperature():
    plate = {"thickness": 0.002, "back": "air"}
    section = Section(
        "plate",
        (solid("plate", 40.0, box(0, 0.05, 0, 0.03), **plate), solid("chip", 40.0, box(0, 0.01, 0, 0.01), **plate)),
        (Environment("air", 0, 60.0),),
        view="plate",
        sources=(Source("q", part="chip", heat=1),),
    )
    values, _ = solved(section, spread=["plate", "chip"], along="both")
    assert values.resistance[0, 0] == pytest.approx(1 / (60 * 0.05 * 0.03), rel=1e-10)


def test_raising_the_conductivity_goes_to_the_limit():
    """In-plane conductivity times 1e6 comes within 1 % of the limit of the spreading part (its square root counts)."""
    section = plate_on_film()
    limit = solved(section, 1, spread=["plate"], along="x")[0].resistance[0, 0]
    raised = replace(section, parts=(solid("plate", (40e6, 40.0), box(0, 0.05, 0, 0.01)),))
    assert solved(raised, 1)[0].resistance[0, 0] == pytest.approx(limit, rel=0.01)


# ---- nothing to solve ------------------------------------------------------------------------------------------------


def test_a_section_with_no_solid_cell_between_two_terminals_solves():
    """Everything is held or air: there is nothing to find but the films."""
    section = Section(
        "held block",
        (
            air("room", box(0, 0.1, 0.02, 0.05)),
            solid("block", 5.0, box(0, 0.1, 0, 0.02)),
            solid("foot", 5.0, box(0, 0.1, -0.001, 0)),
        ),
        (Environment("room", 20, 10),),
        sources=(Source("block", part="block", temperature=5),),
    )
    values, _ = solved(section)
    assert values.coupling[0, 1] == pytest.approx(0.1 * 10, rel=1e-12)


# ---- refused --------------------------------------------------------------------------------------------------------


def loose(*parts, **more):
    section = Section(
        "drawing",
        (solid("wall", 1, box(0, 0.1, 0, 0.02)), *parts),
        (Environment("air", 20, 10),),
        border=Border(bottom="air"),
        **more,
    )
    refuse_loose_parts(assemble(section, *first_lines(section)))


def test_a_part_that_nothing_ties_to_a_temperature_is_refused():
    with pytest.raises(InputError, match="part 'island': nothing ties it to any temperature"):
        loose(solid("island", 1, box(0.04, 0.06, 0.03, 0.05)))


def test_parts_that_float_together_are_named_together():
    with pytest.raises(InputError, match="part 'two', 'one': nothing ties it"):
        loose(solid("two", 1, box(0.04, 0.06, 0.03, 0.05)), solid("one", 1, box(0.04, 0.06, 0.05, 0.06)))


def test_a_part_that_touches_at_a_corner_only_is_loose():
    with pytest.raises(InputError, match="part 'corner'"):
        loose(solid("corner", 1, box(0.1, 0.12, 0.02, 0.04)))


def test_a_part_cut_off_by_a_void_is_loose():
    with pytest.raises(InputError, match="part 'top'"):
        loose(solid("top", 1, box(0, 0.1, 0.02, 0.04)), Part("gap", (box(0, 0.1, 0.02, 0.03),), void=True))


def test_a_part_on_a_held_face_is_not_loose():
    loose(
        solid("island", 1, box(0.04, 0.06, 0.03, 0.05)),
        sources=(Source("coil", segment=Segment((0.04, 0.05), (0.05, 0.05)), temperature=3),),
    )
