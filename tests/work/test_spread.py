"""A real cluster of worker processes: same bits as here, with a worker killed in the middle as well."""

from __future__ import annotations

import importlib
import operator
import os
import signal
import threading
import time

import numpy as np
import pytest

from lodestarch.common.errors import LodestarchError
from lodestarch.season.effects import fit_effects
from lodestarch.season.table import Factor, table_of
from lodestarch.tube.inputs import TubeArrays
from lodestarch.tube.parameters import shipped_set
from lodestarch.work.spread.long_work import back_test, share_ensemble, tube_ensemble
from lodestarch.work.spread.places import Here, local_cluster

pytest.importorskip("distributed")
pytestmark = [
    # Sockets and loops of a cluster that closes are collected whenever Python likes.
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
]


def season(n=600):
    rng = np.random.default_rng(1)
    v, o = rng.integers(0, 8, n), rng.integers(0, 30, n)
    y = 290.0 + rng.normal(0, 40, 8)[v] + rng.normal(0, 20, 30)[o] + rng.normal(0, 20, n)
    names = [tuple(f"{i:02d}" for i in range(q)) for q in (8, 30)]
    return table_of(
        y, [Factor("v", v, names[0]), Factor("o", o, names[1])], day=np.sort(rng.integers(0, 60, n))
    )


HELPER = """
import os, time

def slow_square(shared, x, pause_s, folder):
    # Leaves a mark that it has begun: the test knows when to kill, and how often it ran.
    (folder / f"{x}-{os.getpid()}").touch()
    time.sleep(pause_s)
    return shared + x * x
"""


@pytest.fixture(scope="module", autouse=True)
def importable(tmp_path_factory):
    # Workers are new interpreters: they find the helper where this process does.
    folder = tmp_path_factory.mktemp("helper")
    (folder / "spread_helper.py").write_text(HELPER, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", str(folder))
        patch.syspath_prepend(str(folder))
        yield


@pytest.fixture(scope="module")
def pair(importable):
    with local_cluster(2) as cluster:
        yield cluster


def test_back_tests_and_ensembles_give_the_same_bits_as_here(pair):
    table = season()
    assert back_test(table, pair) == back_test(table, Here())
    fitted = fit_effects(table, intervals=False)
    here = share_ensemble(fitted, Here(), chunks=4, seed=7)
    there = share_ensemble(fitted, pair, chunks=4, seed=7)
    assert [a.tobytes() for a in here] == [a.tobytes() for a in there]
    assert np.concatenate(here)[:, 0].std() > 0.0
    # The first chunks do not depend on how many there are.
    assert share_ensemble(fitted, Here(), chunks=2, seed=7)[1].tobytes() == here[1].tobytes()


def test_tubes_give_the_same_bits_as_here(pair):
    batches = [TubeArrays(activity=np.linspace(0.0, 40.0, 200) + i) for i in range(3)]
    here = tube_ensemble(batches, shipped_set(), Here())
    there = tube_ensemble(batches, shipped_set(), pair)
    assert [a.tobytes() for a in here] == [a.tobytes() for a in there]


def test_a_fault_of_a_part_is_raised_here(pair):
    with pytest.raises(ZeroDivisionError):
        pair.each(operator.truediv, (1.0,), [(1.0,), (0.0,)])


def test_a_worker_killed_in_the_middle_changes_no_bit(tmp_path):
    table = season()
    with local_cluster(3) as cluster:
        killed = []

        def kill():
            while not killed:
                begun = list(tmp_path.iterdir())
                if len(begun) >= 4:
                    pid = int(begun[-1].name.split("-")[1])
                    os.kill(pid, signal.SIGKILL)
                    killed.append(pid)
                time.sleep(0.02)

        thread = threading.Thread(target=kill)
        thread.start()
        parts = [(x, 0.25, tmp_path) for x in range(18)]
        got = cluster.each(importlib.import_module("spread_helper").slow_square, (0.5,), parts)
        thread.join()
        assert got == [0.5 + x * x for x in range(18)]
        runs = [int(p.name.split("-")[0]) for p in tmp_path.iterdir()]
        assert len(runs) > len(set(runs)) == 18  # what the dead one had begun was done again
        # The cluster that lost a worker goes on, and its answer is still that of one process.
        assert back_test(table, cluster) == back_test(table, Here())


def test_no_worker_and_no_scheduler_are_told():
    with pytest.raises(LodestarchError), local_cluster(0):
        pass
