"""Sensors that lie exactly on a joint, where there are two temperatures, one on each side."""

from collections.abc import Callable, Iterator

import numpy as np

from fdm.answers.quantity import Answers
from fdm.conduction.fields import Field
from fdm.conduction.layout import BESIDE
from fdm.conduction.places import temperatures_at
from fdm.grid.edges import AROUND, parts_at
from fdm.section.model import Section


def sensors_on_joints(section: Section, answers: Answers, least: float, field: Callable[[], Field]) -> Iterator[str]:
    """A sentence for each sensor on a joint across which the temperature jumps by more than its band, and more than
    `least` (K). `field` gives that of the finest grid; it is asked for only where a sensor lies on a joint."""
    if section.layered:
        return
    numbers = {p.name: k for k, p in enumerate(section.parts)}
    for sensor in section.sensors if section.joints else ():
        if sensor.at is None:
            continue
        x, y = (at + BESIDE * section.size * turn(AROUND) for at, turn in zip(sensor.at, (np.cos, np.sin)))
        own = parts_at(section, x, y)
        for joint in section.joints:
            sides = [np.nonzero(own == numbers[name])[0] for name in joint.between]
            if joint.resistance == 0 or not all(map(len, sides)):
                continue
            a, b = (float(temperatures_at(section, field(), x[side], y[side]).mean()) for side in sides)
            if abs(a - b) > max(answers.at(("sensors", sensor.name, "reading"))[1], least):
                yield (
                    f"sensor {sensor.name!r} lies on the joint of {joint.between[0]!r} and {joint.between[1]!r}, which "
                    f"are at about {a:.4g} and {b:.4g} degC there: it reads something between, and its ± does not "
                    "count that; move it a little into the part that it is fixed to"
                )
