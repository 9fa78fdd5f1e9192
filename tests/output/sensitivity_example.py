"""Invented sensitivities that the tests of their outputs share."""

import numpy as np

from fdm.conduction.inputs import Input
from fdm.inference.lengths import LengthSensitivities
from fdm.inference.sensitivity import Answer, Sensitivities

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
    (Answer("coupling of a and b", "coupling", "W/K", 2.0), Answer("reading of s", "reading", "degC", 7.0),
     Answer("weight of a in s", "weight", "1", 0.5), Answer("coupling of a and c", "coupling", "W/K", 1e-4)),
    np.array([[0.8, 0.4, 0.1, 0.3, -0.2, 1.2, 0.1], [0.0, 0.0, 0.0, -2.5, 0.0, 0.0, 0.0], [0.1] * 7, [0.1] * 7]),
)  # fmt: skip
LENGTHS = LengthSensitivities(
    ("paste", "wall"), (0.05, 50.0), TABLE.answers[:1], np.array([[1.5, -0.02]]), {"fins": "count: not whole"}
)
