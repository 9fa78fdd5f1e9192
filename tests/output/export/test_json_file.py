import json

import numpy as np
import pytest

from fdm.output.export.json_file import write_json


def test_file_and_standard_output(tmp_path, capsys):
    data = {"title": "Kühlschrank", "x": 1.5}
    write_json(data, tmp_path / "r.json")
    write_json(data, "-")
    text = (tmp_path / "r.json").read_text(encoding="utf-8")
    assert json.loads(text) == data and "Kühlschrank" in text
    assert capsys.readouterr().out == text


def test_nan_is_never_written(tmp_path):
    with pytest.raises(ValueError):
        write_json({"x": np.nan}, tmp_path / "r.json")
    assert not list(tmp_path.iterdir())
