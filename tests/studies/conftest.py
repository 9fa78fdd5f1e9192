from pathlib import Path

import pytest

from tests.studies.slab import write_slab


@pytest.fixture
def slab(tmp_path: Path) -> Path:
    return write_slab(tmp_path)
