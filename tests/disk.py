"""A disk that can be full or read-only, and that remembers what was on it after each step of a program."""

import builtins
import errno
import io
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

State = dict[str, bytes]  # the regular files of a folder, by their place in it


def files_in(folder: Path) -> State:
    return {str(f.relative_to(folder)): f.read_bytes() for f in sorted(folder.rglob("*")) if f.is_file()}


class Disk:
    """Stands between the program and all that is written below one folder.

    `states` holds what is there after each step and in the middle of each write: what a killed process would leave.
    `fault` is asked before each step, with the step's number and kind (open, write, replace, remove, truncate), for the
    number of the error that it shall end with (0: none).
    """

    def __init__(
        self, patch: pytest.MonkeyPatch, folder: Path, fault: Callable[[int, str], int] = lambda number, kind: 0
    ) -> None:
        self.folder, self._fault = folder, fault
        self.steps: list[str] = []
        self.states: list[State] = []
        self._watching = True
        real_open, real_os_open = builtins.open, os.open

        def opened(file: Any, mode: str = "r", buffering: int = -1, *more: Any, **how: Any) -> Any:
            if not (set("wax+") & set(mode) and self._is_here(file)) or how.get("opener"):
                return real_open(file, mode, buffering, *more, **how)
            self.step("open", file)
            raw = _Watched(self, file, mode.replace("b", "").replace("t", ""))
            buffer = io.BufferedRandom(raw) if "+" in mode else io.BufferedWriter(raw)  # type: ignore[type-var]
            return buffer if "b" in mode else io.TextIOWrapper(buffer, *more, **how)

        def os_opened(path: Any, flags: int, *more: Any, **how: Any) -> int:
            if flags & (os.O_WRONLY | os.O_RDWR) and self._is_here(path):
                self.step("open", path)
            return real_os_open(path, flags, *more, **how)

        patch.setattr(builtins, "open", opened)
        patch.setattr(io, "open", opened)
        patch.setattr(os, "open", os_opened)
        for name, kind in {
            "replace": "replace",
            "rename": "replace",
            "unlink": "remove",
            "truncate": "truncate",
        }.items():
            patch.setattr(os, name, self._stepping(getattr(os, name), kind))

    def step(self, kind: str, path: Any) -> None:
        if self._watching:
            self.remember()
            self.steps.append(kind)
            if number := self._fault(len(self.steps) - 1, kind):
                raise OSError(number, os.strerror(number), os.fspath(path))

    def remember(self) -> None:
        self._watching = False
        try:
            self.states.append(files_in(self.folder))
        finally:
            self._watching = True

    def _stepping(self, real: Callable[..., None], kind: str) -> Callable[..., None]:
        def stepping(path: Any, *more: Any, **how: Any) -> None:
            if self._is_here(path):
                self.step(kind, path)
            real(path, *more, **how)

        return stepping

    def _is_here(self, path: Any) -> bool:
        return isinstance(path, (str, os.PathLike)) and self.folder in Path(os.path.abspath(path)).parents


class _Watched(io.FileIO):
    def __init__(self, disk: Disk, file: Any, mode: str) -> None:
        super().__init__(file, mode)
        self._disk, self._path = disk, file

    def write(self, data: Any) -> int:
        content, half = bytes(data), len(data) // 2
        super().write(content[:half])
        self._disk.step("write", self._path)
        super().write(content[half:])
        return len(content)


def full_from(first: int) -> Callable[[int, str], int]:
    """From this step on nothing more fits on the disk; files can still be removed and renamed."""
    return lambda number, kind: errno.ENOSPC if number >= first and kind in ("open", "write") else 0


def read_only(number: int, kind: str) -> int:
    """Nothing can be changed."""
    return errno.EROFS


def failing_at(failing: int) -> Callable[[int, str], int]:
    """One step fails."""
    return lambda number, kind: errno.EIO if number == failing else 0
