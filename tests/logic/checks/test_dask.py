"""A campaign on somebody else's executor: a cluster started on this machine, its workers processes of its own."""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterator
from concurrent.futures import Executor
from pathlib import Path
from typing import Any

import pytest
from rungproof.logic.checks import hours
from rungproof.logic.checks.check import check_program
from rungproof.logic.checks.plan import plan_of
from rungproof.logic.checks.profile import profile_of
from rungproof.logic.checks.search import pickled
from rungproof.logic.meaning.program import Program

distributed = pytest.importorskip("distributed")


@pytest.fixture(scope="module")
def cluster() -> Iterator[Executor]:
    """The executor of a cluster of two processes that listens on the loopback alone."""
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None
        ) as here,
        here.get_client() as client,
    ):
        yield client.get_executor()


def told(program: Program, record: Path, executor: Executor | None, seed: int = 3) -> dict[str, Any]:
    """All that a check with a campaign says, but how long it took."""
    result = check_program(program, runs=70, hours=0.2, record=record, seed=seed, executor=executor).to_json()
    del result["searched"]["elapsed_s"]
    return result


def test_a_cluster_gives_the_result_of_the_default_pool(barrel: Program, tmp_path: Path, cluster: Executor) -> None:
    """Search, lanes and campaign alike: verdicts, counts and stories are the same to the last number."""
    there = told(barrel, tmp_path / "cluster.jsonl", cluster)
    assert there == told(barrel, tmp_path / "pool.jsonl", None)
    assert there["searched"]["runs"] > 200


def test_a_cluster_gives_the_result_of_this_process(
    barrel: Program, tmp_path: Path, cluster: Executor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With nothing but this process, too."""
    there = told(barrel, tmp_path / "cluster.jsonl", cluster)
    monkeypatch.setitem(multiprocessing.current_process()._config, "daemon", True)  # type: ignore[attr-defined]
    assert there == told(barrel, tmp_path / "here.jsonl", None)


def test_chunks_go_through_the_cluster(barrel: Program, tmp_path: Path, cluster: Executor) -> None:
    """A chunk worked off by a worker of the cluster is the chunk worked off here."""
    profile = profile_of(barrel)
    chunk = hours.chunks_of(plan_of(barrel, profile, time_s=1, engine="compiled", runs=2), 0.1)[0]
    task = hours.ChunkTask(pickled(barrel) or b"", chunk.group.watches(barrel), (), 3, chunk)
    assert cluster.submit(hours.run_chunk, task).result(timeout=600) == hours.work_off(barrel, profile, task)
