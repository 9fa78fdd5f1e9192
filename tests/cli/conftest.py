from pathlib import Path

import pytest

from tests.cli.wall import WALL


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("wall.toml").write_text(WALL, encoding="utf-8")
    return tmp_path
