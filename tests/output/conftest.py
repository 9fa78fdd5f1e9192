from collections.abc import Callable
from pathlib import Path

import pytest

from fdm.section.model import Section
from fdm.solving.solution import Solution
from fdm.solving.steady import solve
from tests.sections import slab_section, wall_section


@pytest.fixture(scope="session")
def slab() -> Solution:
    return solve(slab_section())


@pytest.fixture(scope="session")
def wall() -> Solution:
    return solve(wall_section(), max_cells=6000)


@pytest.fixture(scope="session")
def solved() -> Callable[[Section], Solution]:
    return lambda section: solve(section, max_cells=5000)


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path
