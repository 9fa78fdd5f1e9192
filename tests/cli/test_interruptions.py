"""Whatever happens while files are written, by each command: afterwards each is whole, the old one or the new one."""

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from fdm.cli.main import main
from fdm.studies import study
from fdm.studies.store import LINES
from tests.disk import Disk, State, failing_at, files_in, full_from, read_only
from tests.studies.slab import CABINET, SILL, SLAB

MEASURED = "quantity,value,uncertainty\nbead,14.5,0.2\n"
COARSE = ("--target", "50%")
COMMANDS = {
    "solve": ["solve", "wall.toml", "--out", "out", "--json", "out/own.json", "--quiet", *COARSE],
    "check": ["check", "wall.toml", "--out", "out"],
    "cabinet": ["cabinet", "cabinet.toml", "--out", "out", "--quiet", *COARSE],
    "tables": ["network", "wall.toml", "--out", "out", "--format", "csv", *COARSE],
    "netlist": ["network", "wall.toml", "--out", "out", "--format", "spice", *COARSE],
    "fit": ["fit", "slab.toml", "measured.csv", "--adjust", "film", "--json", "out/fit.json"],
    "study": ["study", "slab.toml", "thick=20,50", "--out", "out", "--workers", "1", *COARSE],
}
TRIES = {"check": 1, "tables": 6, "netlist": 6, "study": 10}  # of steps that fail
WRITTEN = (
    *("result.json", "own.json", "fit.json", "parts.png", "temperature.png", "budget.png", "supply.png", "field.vtu"),
    *("pull_down.png", "pull_down.csv", "conductance.csv", "coupling.csv", "weight.csv", "resistance.csv"),
    *("network.cir", "study.csv"),
)


@pytest.fixture
def out(here: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder to write to, with an old file in each place; beside it the files of all commands. Studies draw no
    pictures."""
    for name, text in {"slab": SLAB, "sill": SILL, "cabinet": CABINET}.items():
        Path(f"{name}.toml").write_text(text, encoding="utf-8")
    Path("measured.csv").write_text(MEASURED, encoding="utf-8")
    monkeypatch.setattr("fdm.output.drawing.study.draw_study", lambda *asked: [])
    (here / "out").mkdir()
    for name in WRITTEN:
        (here / "out" / name).write_text("old")
    return here / "out"


def run(words: list[str], watched: Path, fault: Callable[[int, str], int] = lambda number, kind: 0) -> tuple[int, Disk]:
    with pytest.MonkeyPatch.context() as patch:
        disk = Disk(patch, watched, fault)
        code = main(words)
        disk.remember()
    return code, disk


def assert_whole(state: State, before: State, after: State) -> None:
    """Each file is the old one or the new one; of temporary files nothing is said."""
    for name, content in state.items():
        assert name.startswith(".") or name == LINES or content in (before.get(name), after[name]), name
    assert before.keys() <= state.keys()


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_that_is_killed_at_any_step_leaves_whole_files(out: Path, name: str) -> None:
    before = files_in(out)
    code, disk = run(COMMANDS[name], out)
    after = files_in(out)
    assert code == 0 and disk.steps.count("replace") == sum(after[n] != before[n] for n in before) > 0
    assert after.keys() - before.keys() == ({LINES} if name == "study" else set())  # and no temporary files
    for state in disk.states:
        assert_whole(state, before, after)


@pytest.mark.parametrize("name", TRIES)
def test_on_a_full_disk_the_old_files_stay(out: Path, capsys: pytest.CaptureFixture[str], name: str) -> None:
    words, old = COMMANDS[name], files_in(out)
    steps = run(words, out)[1].steps
    after = files_in(out)
    last = max(k for k, kind in enumerate(steps) if kind in ("open", "write"))
    for first in sorted({*range(0, last, max(1, last // TRIES[name])), last}):
        for file in out.iterdir():
            file.unlink()
        for file, content in old.items():
            (out / file).write_bytes(content)
        capsys.readouterr()
        code, _ = run(words, out, full_from(first))
        (said,), left = capsys.readouterr().err.splitlines()[-1:], files_in(out)
        # the wanted file is named, not the temporary one
        assert code == 1 and re.match(r"fdm: .*out/\w.*: No space left on device", said), said
        assert not any(file.startswith(".") for file in left)
        assert_whole(left, old, after)
    assert run(words, out)[0] == 0  # and what is left does no harm
    assert files_in(out) == after


@pytest.mark.parametrize("name", COMMANDS)
def test_a_folder_that_is_read_only_is_one_sentence(out: Path, capsys: pytest.CaptureFixture[str], name: str) -> None:
    before = files_in(out)
    code, _ = run(COMMANDS[name], out, read_only)
    (said,) = capsys.readouterr().err.splitlines()
    assert code == 1 and re.match("fdm: .*out.*: Read-only file system", said), said
    assert files_in(out) == before


@pytest.mark.parametrize("name", TRIES)
def test_a_file_that_cannot_take_its_place_leaves_the_old_one(
    out: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    assert main(COMMANDS[name]) == 0
    replacing = [k for k, kind in enumerate(run(COMMANDS[name], out)[1].steps) if kind == "replace"]
    before = files_in(out)
    assert replacing
    for number in replacing:
        capsys.readouterr()
        code, _ = run(COMMANDS[name], out, failing_at(number))
        (said,) = capsys.readouterr().err.splitlines()
        assert code == 1 and re.match(r"fdm: cannot write 'out/\w.*': Input/output error$", said), said
        assert files_in(out) == before


def test_a_study_that_is_killed_at_any_step_goes_on(out: Path, tmp_path: Path) -> None:
    whole = study("slab.toml", {"thick": "20,50"}, workers=1, target=0.5)
    _, disk = run(COMMANDS["study"], out)
    states = {state.get(LINES, b""): state for state in disk.states}
    assert len(states) >= 7  # three lines, each in the middle and at its end
    for number, state in enumerate(states.values()):
        folder = tmp_path / f"killed {number}"
        folder.mkdir()
        for name, content in state.items():
            (folder / name).write_bytes(content)
        again = study("slab.toml", {"thick": "20,50"}, workers=1, target=0.5, out=folder)
        assert again == whole and again.remarks == ()
        said: list[str] = []
        again = study("slab.toml", {"thick": "20,50"}, workers=1, target=0.5, out=folder, progress=said.append)
        assert again == whole and again.remarks == () and said == ["2 of 2 designs were done before"]
        shutil.rmtree(folder)


def test_signals_end_a_command_as_ctrl_c_does(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fdm.section.materials.search_materials", lambda word: signal.raise_signal(signal.SIGTERM))
    assert main(["materials"]) == 128 + signal.SIGTERM
    assert capsys.readouterr() == ("", "fdm: stopped\n")
    assert signal.getsignal(signal.SIGTERM) is signal.SIG_DFL


@pytest.mark.skipif(not hasattr(os, "killpg"), reason="this system has no groups of processes")
def test_a_signal_ends_a_study_with_its_workers_and_leaves_what_was_found(here: Path) -> None:
    Path("slab.toml").write_text(SLAB, encoding="utf-8")
    words = ["study", "slab.toml", "thick=20:60:0.01", "--out", "out", "--workers", "2", "--quiet", *COARSE]
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
    with subprocess.Popen(
        [sys.executable, "-m", "fdm", *words], stderr=subprocess.PIPE, start_new_session=True, env=environment
    ) as running:
        try:
            lines = here / "out" / LINES
            while running.poll() is None and not (lines.exists() and lines.read_bytes().count(b"\n") > 5):
                time.sleep(0.02)
            running.terminate()
            assert running.stderr is not None
            said = running.stderr.read().decode()
            assert re.fullmatch(r"fdm: stopped after \d+ of 4001 designs; run the same again to go on\n", said)
            assert running.wait() == 128 + signal.SIGTERM
            kept = lines.read_bytes()
            assert kept.endswith(b"\n")
            assert (here / "out" / "study.csv").read_bytes().count(b"\n") == kept.count(b"\n")  # a head; quantities
            with pytest.raises(ProcessLookupError):
                while True:  # until nobody of the group is left
                    os.killpg(running.pid, 0)
                    time.sleep(0.02)
        finally:
            if running.poll() is None:
                running.kill()


@pytest.mark.parametrize("words", [["network", "wall.toml"], ["solve", "wall.toml", "--no-files", "--json", "-"]])
def test_a_closed_output_is_no_fault(here: Path, monkeypatch: pytest.MonkeyPatch, words: list[str]) -> None:
    monkeypatch.setattr(sys, "stdout", None)  # as Python has it where the output was closed before
    assert main([*words, *COARSE]) == 0
    reader, writer = os.pipe()
    os.close(reader)
    with os.fdopen(writer, "w") as gone:
        monkeypatch.setattr(sys, "stdout", gone)
        assert main([*words, *COARSE]) == 0
        gone.flush()  # as Python does at its end


def test_a_full_disk_behind_the_output_is_one_sentence(
    here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("this system has no device that is always full")
    with open("/dev/full", "w") as full:
        monkeypatch.setattr(sys, "stdout", full)
        assert main(["network", "wall.toml", *COARSE]) == 1
        full.flush()
    assert capsys.readouterr().err == "fdm: output: cannot be written: No space left on device\n"
