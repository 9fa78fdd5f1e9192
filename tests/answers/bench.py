"""A section with every kind of answer, and its answers on one grid."""

from fdm.answers.kinds import asked_of, solved
from fdm.conduction.systems import conduction_system
from fdm.grid.lines import first_lines, halved
from fdm.section.model import Border, Disc, Environment, Joint, Section, Segment, Sensor, Source
from validation.cases import box, solid

VIEWS = ("section", "axisymmetric", "plate")


def bench(view="section", **more):
    """A wall between cabinet and room with a block through it, a cord in it, a held coil and two heaters."""
    plate = {"thickness": 0.004, "front": "room"} if view == "plate" else {}
    return Section(
        **{
            "title": "bench",
            "parts": (
                solid("foam", 0.03, box(0, 0.1, 0, 0.04), **plate),
                solid("block", 200.0, box(0.03, 0.05, 0, 0.03), **plate),
                solid("lid", 0.25, box(0, 0.1, 0.03, 0.04), **plate),
                solid("cord", 0.3, Disc((0.08, 0.02), 0.008), **plate),
            ),
            "environments": (Environment("cabinet", 7, 8), Environment("room", 28, 25)),
            "view": view,
            "depth": 0.4 if view == "section" else 1.0,
            "border": Border(bottom="cabinet", top="room"),
            "joints": (Joint(("block", "lid"), 1e-3),),
            "sources": (
                Source("foil", segment=Segment((0.032, 0.048), (0.03, 0.03)), heat=3),
                Source("coil", segment=Segment((0.1, 0.1), (0.01, 0.025)), temperature=-4),
                Source("warm cord", part="cord", heat=0.5),
            ),
            "sensors": (Sensor("bead", at=(0.02, 0), should_read="cabinet"), Sensor("core", part="block")),
            **more,
        }
    )


def lines(section, halvings=0):
    x, y = first_lines(section)
    for _ in range(halvings):
        x, y = halved(x), halved(y)
    return x, y


def on_grid(section, halvings=0, at=None):
    """The section solved on one grid: its first one, with all cells halved some times, or one of given lines."""
    return solved(conduction_system(section, *(at or lines(section, halvings))))


def answered(section, halvings=0, at=None):
    """Every answer on one grid, by its dotted path."""
    grid = on_grid(section, halvings, at)
    asked = asked_of(grid.system)
    values = asked.values(grid.answers)
    return {q.name: v for q, v in zip(asked.quantities, values.tolist())}
