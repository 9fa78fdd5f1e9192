"""fdm network."""

import json
import re

from fdm.cli.main import main


def test_network_hands_over_in_three_formats(here, capsys):
    assert main(["network", "wall.toml"]) == 0
    assert "cabinet air" in json.dumps(json.loads(capsys.readouterr().out))
    assert main(["network", "wall.toml", "--format", "spice"]) == 0
    assert re.search(r"(?im)^\.subckt\b", capsys.readouterr().out)
    assert [p.name for p in here.iterdir()] == ["wall.toml"]
    assert main(["network", "wall.toml", "--format", "csv", "--out", "tables"]) == 0
    written = list((here / "tables").iterdir())
    assert written and all(p.suffix == ".csv" and p.stat().st_size for p in written)
