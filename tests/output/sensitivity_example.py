"""Invented sensitivities that the tests of their outputs share."""

import numpy as np

from fdm.answers.quantity import Answers, Quantity
from fdm.conduction.inputs import Input
from fdm.inference.lengths import LengthSensitivities
from fdm.inference.sensitivity import Sensitivities

ANSWERS = Answers(
    (
        Quantity(("network", "coupling", "a", "b"), "coupling of a and b", "W/K", "coupling"),
        Quantity(("sensors", "s", "reading"), "reading of s", "degC", "reading"),
        Quantity(("network", "weight", "s", "a"), "weight of a in s", "", "weight"),
        Quantity(("network", "coupling", "a", "c"), "coupling of a and c", "W/K", "coupling"),
    ),
    np.array([2.0, 7.0, 0.5, 1e-4]),
    np.zeros(4),
)
TABLE = Sensitivities(
    (
        Input("foam", "part", 0.03, "W/(m K)"),
        Input("lid", "part", 0.03, "W/(m K)"),
        Input("tape", "part", 0.2, "W/(m K)"),
        Input("air", "film", 8.0, "W/(m2 K)"),
        Input("lid | rim", "joint", 1e-3, "m2 K/W"),
        Input("foam of mine", "material", 0.03, "W/(m K)"),
        Input("tape of mine", "material", 0.2, "W/(m K)"),
    ),
    ANSWERS,
    np.array([[0.8, 0.4, 0.1, 0.3, -0.2, 1.2, 0.1], [0.0, 0.0, 0.0, -2.5, 0.0, 0.0, 0.0], [0.1] * 7, [0.1] * 7]),
)  # fmt: skip
LENGTHS = LengthSensitivities(
    ("paste", "wall"),
    (0.05, 50.0),
    ANSWERS.chosen(np.arange(4) == 0),
    np.array([[1.5, -0.02]]),
    {"fins": "count: not whole"},
)
