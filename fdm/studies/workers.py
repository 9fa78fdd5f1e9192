"""The workers that solve designs: this process, processes of our own, an executor, or a Dask cluster.

Designs are handed over in chunks of a few, some chunks ahead of the workers; each is kept as it comes back. Files are
read here, so that workers need none.
"""

import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from fdm.errors import InputError, require_count
from fdm.studies.design import Design, design_key, solved
from fdm.studies.job import FunctionJob, Job
from fdm.studies.store import Kept

CHUNK = 4  # designs handed over at once, at most: few enough that a stop comes soon
AHEAD = 3  # chunks for each worker that are handed over in advance
KEPT_MEMORY = 64_000_000  # bytes that a worker keeps for the next design


Workers = int | Executor | str | None  # so many processes, an executor, the address of a cluster, all processors


@dataclass(frozen=True)
class Workbench:
    """Where designs are solved; without an executor, in this process."""

    executor: Executor | None
    workers: int


@contextmanager
def workbench(workers: Workers, most: int) -> Iterator[Workbench]:
    """The given executor, that of the cluster at the given address, or so many processes of our own, no more than
    `most` designs can use. Raises InputError for anything else."""
    processors = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if isinstance(workers, Executor):
        yield Workbench(workers, getattr(workers, "_max_workers", processors))
        return
    if isinstance(workers, str):
        with _cluster(workers) as bench:
            yield bench
        return
    if workers is not None:
        require_count("workers", workers, "processes, no executor, and no address of a cluster")
    own = processors if workers is None else int(workers)
    if min(own, most) <= 1:
        yield Workbench(None, 1)
    else:
        with _processes(min(own, most)) as processes:
            yield Workbench(processes, min(own, most))


@contextmanager
def _processes(workers: int) -> Iterator[Executor]:
    """Worker processes with one thread each: the designs already keep every processor busy."""
    if getattr(multiprocessing.current_process(), "_inheriting", False):
        sys.exit(1)  # a worker that reads a script anew; the script itself is told why its workers ended
    # spawned, as a fork would inherit threads; they take the environment of the moment they start, before numpy is read
    threads = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
    # memory stays with the process from array to array: a tenth of a small design is the system clearing it (glibc)
    memory = ("MALLOC_MMAP_THRESHOLD_", "MALLOC_TRIM_THRESHOLD_")
    settings = dict.fromkeys(threads, "1") | dict.fromkeys(memory, str(KEPT_MEMORY))
    before = {name: os.environ.get(name) for name in settings}
    os.environ.update(settings)
    context, ignored = multiprocessing.get_context("spawn"), signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    on_stop = (signal.SIGINT, signal.SIG_IGN if ignored else signal.SIG_DFL)  # ^C ends them without a word
    pool = ProcessPoolExecutor(workers, context, initializer=_begin_worker, initargs=on_stop)
    try:
        yield pool
    except BaseException:  # ^C as well; what they are at is not waited for
        for worker in list((pool._processes or {}).values()):
            worker.terminate()
        raise
    finally:
        pool.shutdown(cancel_futures=True)
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _begin_worker(number: signal.Signals, handler: signal.Handlers) -> None:
    """Sets what a signal does, and ends the worker with the process that began it, however that one ends."""
    signal.signal(number, handler)
    parent = multiprocessing.parent_process()

    def end_with_it() -> None:
        assert parent is not None
        parent.join()
        os._exit(1)

    threading.Thread(target=end_with_it, daemon=True).start()


@contextmanager
def _cluster(address: str) -> Iterator[Workbench]:
    try:
        from distributed import Client
    except ImportError:
        raise InputError(
            "cluster: the package distributed is not installed; install it with pip install distributed"
        ) from None
    connect: Any = Client  # the package states no types
    try:
        client = connect(address, timeout=10)
    except (OSError, ValueError, TimeoutError) as fault:
        raise InputError(
            f"cluster: no Dask scheduler answers at {address!r}; give its address, such as tcp://HOST:8786"
        ) from fault
    with client:
        yield Workbench(client.get_executor(), max(sum(client.ncores().values()), 1))


def solved_designs(
    job: Job | FunctionJob, wanted: Iterable[Mapping[str, float]], kept: Kept, bench: Workbench
) -> Iterator[Design]:
    """Solve each wanted design that is not kept yet; each is kept and then returned when it is done. Raises InputError
    where the workers are lost, and where the files of a cabinet change meanwhile."""
    missing = list({design_key(d): d for d in wanted if d not in kept}.values())
    common = job.common()
    size = 1 if bench.executor is None else min(max(len(missing) // (8 * bench.workers), 1), CHUNK)
    waiting: set[Future[list[Design]]] = set()
    try:
        for begin in range(0, len(missing), size):
            chunk = []
            for values in missing[begin : begin + size]:
                try:
                    chunk.append((values, job.read(values)))
                except InputError as fault:
                    yield _keep(kept, Design(dict(values), message=str(fault)))
            job.refuse_changed()
            if not chunk:
                continue
            if bench.executor is None:
                for design in solved(common, chunk):
                    yield _keep(kept, design)
                continue
            waiting.add(bench.executor.submit(solved, common, chunk))
            if len(waiting) >= AHEAD * bench.workers:
                yield from _returned(waiting, kept)
        while waiting:
            yield from _returned(waiting, kept)
    except CancelledError:
        raise InputError(f"the workers went away after {len(kept)} designs; start again to go on") from None
    except BrokenExecutor:
        raise InputError(
            f"the workers ended unexpectedly after {len(kept)} designs; "
            + ("" if len(kept) else 'in a script, call this below if __name__ == "__main__": or else ')
            + "they may want memory: try 1 worker"
        ) from None
    finally:
        for future in waiting:
            future.cancel()


def _returned(waiting: set[Future[list[Design]]], kept: Kept) -> Iterator[Design]:
    """The designs of every chunk that is done, at least one, which is then waited for no more."""
    for future in wait(waiting, return_when=FIRST_COMPLETED).done:
        waiting.remove(future)
        for design in future.result():
            yield _keep(kept, design)


def _keep(kept: Kept, design: Design) -> Design:
    kept.add(design)
    return design
