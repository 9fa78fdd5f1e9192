"""Whoever solves the designs, the study is the same."""

import multiprocessing
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from fdm.errors import InputError
from fdm.studies import study


@pytest.mark.parametrize("how", ["processes", "threads"])
def test_many_workers_give_the_same_study(slab: Path, how: str) -> None:
    varied = {"thick": "20,50", "film": "-1,6,10,60"}  # 50 is the file's own, whose grids are used again
    alone = study(slab, varied, workers=1)
    if how == "processes":
        together = study(slab, varied, workers=2)
    else:
        with ThreadPoolExecutor(2) as executor:
            together = study(slab, varied, workers=executor)
    assert together == alone and len(alone.failed) == 2


def test_a_dask_cluster_gives_the_same_study(slab: Path) -> None:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None, host="127.0.0.1", protocol="tcp"
    ) as cluster:
        assert study(slab, {"thick": "20,50"}, workers=cluster.scheduler_address) == study(
            slab, {"thick": "20,50"}, workers=1
        )


def test_without_dask_a_cluster_is_refused_clearly(slab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with pytest.raises(InputError, match="cluster: the package distributed is not installed; install it"):
        study(slab, {"thick": "20,50"}, workers="tcp://127.0.0.1:1")


def test_a_worker_that_reads_an_unguarded_script_ends_without_a_word(
    slab: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its study would begin workers of its own; the script's own study says what is wrong."""
    monkeypatch.setattr(multiprocessing.current_process(), "_inheriting", True, raising=False)
    with pytest.raises(SystemExit):
        study(slab, {"thick": "20,50"}, workers=2)
