"""Files are read within limits, and written whole or not at all."""

import os
import secrets
import threading

import pytest

from fdm.errors import InputError
from fdm.section.files import LARGEST_FILE, read_text, write_csv, written_beside

needs_pipes = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")


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


@needs_pipes
def test_what_is_no_regular_file_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "link").symlink_to(tmp_path / "pipe")
    for path in (tmp_path / "pipe", tmp_path / "link", "/dev/zero"):
        with pytest.raises(
            InputError, match="^is a pipe or a device, which cannot be read twice; save it as a CSV file"
        ):
            read_text(str(path), "CSV file", "thin it out")
    with pytest.raises(InputError, match="^cannot be read: Is a directory; give the path of a CSV file"):
        read_text(str(tmp_path), "CSV file", "thin it out")


@needs_pipes
@pytest.mark.parametrize("by_link", [False, True])
def test_a_pipe_is_written_to_and_stays_one(tmp_path, by_link):
    pipe, path = tmp_path / "pipe", tmp_path / ("link" if by_link else "pipe")
    os.mkfifo(pipe)
    if by_link:
        path.symlink_to(pipe)
    read = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_text()))
    reader.start()
    with written_beside(path) as temporary:
        temporary.write_text("half")
        temporary.write_text("whole")
    reader.join()
    assert read == ["whole"] and pipe.is_fifo() and path.is_symlink() == by_link
    assert set(tmp_path.iterdir()) == {pipe, path}


@pytest.mark.skipif(not os.path.exists("/dev/fd/1"), reason="this system has no paths of open files")
def test_output_that_goes_to_a_file_goes_on_in_it(capfd):
    print("before")
    with written_beside("/dev/fd/1") as temporary:
        temporary.write_text("result\n")
    print("after")
    assert capfd.readouterr().out == "before\nresult\nafter\n"


def test_a_link_stays_and_its_file_is_replaced(tmp_path):
    (tmp_path / "results").mkdir()
    link, target = tmp_path / "result.json", tmp_path / "results" / "real.json"
    link.symlink_to("results/real.json")
    for content in ("first", "second"):  # at first the link leads to nothing
        with written_beside(link) as temporary:
            assert temporary.parent == target.parent
            temporary.write_text(content)
        assert link.is_symlink() and target.read_text() == content
    link.unlink()
    link.symlink_to(link)
    with pytest.raises(InputError, match="cannot write '.*result.json': Too many levels"), written_beside(link):
        pass


def test_the_temporary_file_is_new_and_keeps_the_rights_of_the_old_one(tmp_path, monkeypatch):
    path, victim = tmp_path / "result.json", tmp_path / "victim"
    path.write_text("old")
    path.chmod(0o640)
    names = set()
    for _ in range(2):
        with written_beside(path) as temporary:
            names.add(temporary)
    assert len(names) == 2 and path.stat().st_mode & 0o777 == 0o640
    victim.write_text("precious")
    monkeypatch.setattr(secrets, "token_hex", lambda size: "guessed")
    (tmp_path / ".guessed.json").symlink_to(victim)
    with pytest.raises(InputError, match="cannot write '.*/result.json': File exists"), written_beside(path):
        pass
    assert victim.read_text() == "precious"


def test_texts_are_no_formulas_and_numbers_stay_numbers(tmp_path):
    write_csv(tmp_path / "a.csv", [["=1+1", "-2 K", "+air", "@home", "＝1"], ["-1.5", "+2", -3.0, "air = 7", ""]])
    assert (tmp_path / "a.csv").read_text(encoding="utf-8") == "'=1+1,'-2 K,'+air,'@home,'＝1\n-1.5,+2,-3.0,air = 7,\n"
