"""Whether a factorisation fits into the memory that is free."""

import numpy as np


def check_memory(cells: int) -> None:
    """Raise MemoryError where a factorisation of that many cells would not fit."""
    need, free = 60 * cells * np.log2(cells + 1), free_memory()  # measured from 300 x 300 to 2000 x 2000 cells
    if need > free:
        raise MemoryError(
            f"a grid of {cells} cells needs a direct factorisation of about {need / 1e9:.2g} GB, but only "
            f"{free / 1e9:.2g} GB of memory are free; give fewer cells"
        )


def free_memory() -> float:
    """Bytes of free memory as the operating system states them; infinite where it does not."""
    try:
        with open("/proc/meminfo") as lines:
            return next(1024.0 * int(line.split()[1]) for line in lines if line.startswith("MemAvailable"))
    except (OSError, StopIteration):
        return float("inf")
