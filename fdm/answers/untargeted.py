"""What kinds of answers have in common that have no target of their own: nothing is refined, or solved, for them."""

from collections.abc import Sequence

import numpy as np

from fdm.answers.grid import FurtherSystem, Goal
from fdm.answers.quantity import Array
from fdm.conduction.network import NetworkValues
from fdm.section.model import Section


def sizes(section: Section, network: NetworkValues, vector: Array) -> Array:
    """(q,) infinite, from any values (q,)."""
    return np.full(len(vector), np.inf)


def goals(section: Section, network: NetworkValues, vector: Array, lacking: Array) -> Sequence[Goal]:
    """None."""
    return ()


def further(section: Section) -> Sequence[FurtherSystem]:
    """None."""
    return ()
