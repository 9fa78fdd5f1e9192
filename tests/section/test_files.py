import pytest

from fdm.errors import InputError
from fdm.section.files import written_beside


def test_takes_the_place_of_the_old_file_when_done(tmp_path):
    path = tmp_path / "result.json"
    path.write_text("old")
    with written_beside(path) as temporary:
        temporary.write_text("new")
        assert path.read_text() == "old"
    assert path.read_text() == "new"
    assert list(tmp_path.iterdir()) == [path]


def test_failure_leaves_the_old_file_and_nothing_else(tmp_path):
    path = tmp_path / "result.json"
    path.write_text("old")
    with pytest.raises(RuntimeError), written_beside(path) as temporary:
        temporary.write_text("half")
        raise RuntimeError
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_temporary_has_the_suffix(tmp_path):
    with written_beside(tmp_path / "field.vtu") as temporary:
        assert temporary.suffix == ".vtu"
        temporary.write_text("")


def test_missing_folder_is_named(tmp_path):
    with (
        pytest.raises(InputError, match="there is no folder .*missing"),
        written_beside(tmp_path / "missing" / "x.png"),
    ):
        pass


def test_folder_is_no_file(tmp_path):
    with pytest.raises(InputError, match="is a folder"), written_beside(tmp_path):
        pass
