"""Real worker processes: killed, stuck or greedy tasks cost their own job and nothing else."""

import logging
import socket
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path

import psutil
import pytest
from distributed import LocalCluster

from judging.jobs import JobKind, Runner
from judging.jobs.engine import worker_processes
from judging.store import Settings, Store, StoredJob


@pytest.mark.slow
def test_workers_listen_on_this_machine_only_and_take_no_port_that_others_use() -> None:
    """Port 8787 is where the engine would serve its own pages; two services on one machine would collide there."""
    with socket.socket() as taken:
        with suppress(OSError):  # where some other program has it already, so much the better
            taken.bind(("127.0.0.1", 8787))
            taken.listen()
        with worker_processes(Settings()) as executor:
            assert executor.submit(len, "treble").result(timeout=120) == 6
            here = psutil.Process()
            listening = [
                connection.laddr
                for process in (here, *here.children(recursive=True))
                for connection in process.net_connections("inet")
                if connection.status == psutil.CONN_LISTEN
            ]

    assert len(listening) >= 2
    assert {address.ip for address in listening} == {"127.0.0.1"}


@pytest.mark.slow
def test_a_scheduler_elsewhere_is_used_by_its_address(
    store: Store, kinds: Mapping[str, JobKind], ask: Callable[..., int], ended: Callable[..., StoredJob]
) -> None:
    """Started here, but known to the runner only by its address."""
    with LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        host="127.0.0.1",
        dashboard_address="127.0.0.1:0",
        silence_logs=logging.CRITICAL,
    ) as elsewhere:
        store.settings = store.settings.model_copy(update={"scheduler": elsewhere.scheduler_address})
        job_id = ask("answer", "far away")
        with Runner(store, kinds=kinds, poll_s=0.05):
            job = ended(job_id)
        workers_left = len(elsewhere.workers)

    assert (job.state, workers_left) == ("done", 1)  # the runner took nothing with it when it went


@pytest.mark.slow
def test_a_killed_worker_costs_its_own_job_one_try_and_the_others_nothing(
    store: Store,
    kinds: Mapping[str, JobKind],
    ask: Callable[..., int],
    ended: Callable[..., StoredJob],
    tmp_path: Path,
) -> None:
    """One cluster for all of it, since starting one takes a second."""
    once, always, stuck, greedy = ask("die_once", str(tmp_path / "died")), ask("die"), ask("never_end"), ask("devour")
    others = [ask("answer", f"bell {number}") for number in range(4)]
    store.settings = store.settings.model_copy(update={"job_attempts": 2})
    with Runner(store, kinds=kinds, poll_s=0.05):
        jobs = {job_id: ended(job_id) for job_id in (once, always, stuck, greedy, *others)}

    assert [(jobs[one].state, jobs[one].attempts) for one in others] == [("done", 1)] * 4
    assert (jobs[once].state, jobs[once].attempts) == ("done", 2)
    assert (jobs[always].state, jobs[always].attempts) == ("failed", 2)
    assert (jobs[stuck].state, jobs[stuck].attempts) == ("failed", 2)
    assert "gave up on this 2 times" in jobs[stuck].error
    assert (jobs[greedy].state, jobs[greedy].error, jobs[greedy].attempts) == ("failed", "too large", 1)
