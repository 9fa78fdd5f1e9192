"""fdm materials."""

import re

from fdm.cli.main import main


def test_materials_are_listed_and_searched(here, capsys):
    assert main(["materials", "copper"]) == 0
    few = capsys.readouterr().out
    assert "copper" in few and "380" in few and "XPS" not in few
    assert "EN 12524" not in few
    assert main(["materials", "copper", "--sources"]) == 0
    assert "EN 12524" in " ".join(capsys.readouterr().out.split())
    for word, found, other in (("FR4", "glass-epoxy board", "copper"), ("PE", "PE foam", "glass")):  # no "from memory"
        assert main(["materials", word]) == 0
        told = capsys.readouterr().out
        assert found in told and other not in told
    assert main(["materials"]) == 0
    assert "XPS foam" in capsys.readouterr().out
    assert main(["materials", "unobtainium"]) == 1
    assert re.fullmatch(r"fdm: .*'unobtainium'.*\n", capsys.readouterr().err)
