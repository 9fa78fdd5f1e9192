"""Colours as they look to people whose eyes tell fewer of them apart, and how far apart they look.

The matrices are those of Machado, Oliveira and Fernandes, "A Physiologically-based Model for Simulation of Color Vision
Deficiency", IEEE Transactions on Visualization and Computer Graphics 15 (2009), for a severity of 1, as printed on the
authors' page and in colorspacious 1.1.2 (seen). They are for linear RGB. CIELAB (1976) is for the white of D65.
"""

from itertools import combinations

import numpy as np
from matplotlib.colors import to_rgb

EYES = {
    "usual": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
XYZ_OF_RGB = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])  # IEC 61966-2-1


def lab(colours, eyes="usual"):
    """(K, 3) CIELAB of colours as `eyes` see them."""
    rgb = np.array([to_rgb(c) for c in colours])
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    seen = np.clip(linear @ EYES[eyes].T, 0, 1)
    xyz = seen @ XYZ_OF_RGB.T / XYZ_OF_RGB.sum(1)
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.column_stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])])


def nearest(colours):
    """The least distance in CIELAB between two of the colours, to whichever eyes it is least."""
    return min(np.hypot.reduce(a - b) for eyes in EYES for a, b in combinations(lab(colours, eyes), 2))
