"""Files are read within limits, and written whole or not at all."""

import pytest

from fdm.errors import InputError
from fdm.section.files import LARGEST_FILE, read_text, written_beside


def test_reads_text_with_or_without_a_byte_order_mark(tmp_path):
    for start in (b"", b"\xef\xbb\xbf"):
        (tmp_path / "a.csv").write_bytes(start + "7 °C\r\n".encode())
        assert read_text(str(tmp_path / "a.csv"), "CSV file", "thin it out") == "7 °C\r\n"


def test_what_cannot_be_read_is_refused_with_advice(tmp_path):
    path = tmp_path / "a.csv"

    def message():
        with pytest.raises(InputError) as error:
            read_text(str(path), "CSV file", "thin it out", "CSV in UTF-8")
        return str(error.value)

    assert message() == "cannot be read: No such file or directory; give the path of a CSV file"
    path.write_bytes(b"7 \xb0C")
    assert message() == "is not UTF-8 text (byte 2); save it as CSV in UTF-8"
    path.write_bytes(b" " * (LARGEST_FILE + 1))
    assert message() == f"is larger than {LARGEST_FILE} bytes; thin it out"
    path.write_bytes(b" " * LARGEST_FILE)
    assert read_text(str(path), "CSV file", "thin it out").isspace()


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
