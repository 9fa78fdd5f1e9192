"""What every answer gains or loses by every conductivity, film and joint, and by every length.

To first order, and exact for the discretisation: an answer read from a field with fixed weights changes by the sum over
all conductances of - dg times the field's drop times the drop of the answer's adjoint, the field of one watt spread by
those weights. For network entries the adjoint is a unit field; a sensor and a highest temperature need one of their own,
one more right-hand side. The temperature of a point on an edge is read with weights that depend on conductances too;
their own change comes from the same code, by central differences.

Lengths move the grid lines: an answer is solved anew on grids of one topology, stretched with the drawing, so that their
grid error cancels.
"""

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fdm.conduction.conductances import Array, Integers
from fdm.conduction.solver import Solver, System, assemble, heat_loads, prepared
from fdm.errors import InputError
from fdm.grid.lines import SAME, section_edges
from fdm.network.answers import NetworkValues
from fdm.network.points import at_points, extended, face_temperatures, part_number, point_weights, sensor_load, sensor_point
from fdm.network.shares import STEP, Input, Tangent, Variant, inputs_of, rows_of, tangent, varied
from fdm.network.solution import Solution
from fdm.network.values import GridValues, arrays_of, bridge_ends, grid_values, spread_direction, spread_lines
from fdm.section.model import Section
from fdm.section.rules import UNITS
