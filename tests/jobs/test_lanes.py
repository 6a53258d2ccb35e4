"""Two lanes: a band that waits for its touch does not wait for what another has asked to be rung."""

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

from judging.jobs import KINDS, JobKind, Lanes
from judging.jobs.lanes import RUNG
from judging.store import Store, StoredJob


@contextmanager
def one_worker() -> Iterator[Executor]:
    with ThreadPoolExecutor(1) as pool:
        yield pool


def test_a_touch_is_heard_while_a_sound_is_being_rung_which_is_then_finished(
    store: Store,
    kinds: Mapping[str, JobKind],
    ask: Callable[..., int],
    ended: Callable[..., StoredJob],
    tmp_path: Path,
) -> None:
    lanes = {"sound": kinds["wait_for"], "listen": kinds["answer"]}
    rung = ask("sound", str(tmp_path / "done"))
    with Lanes(store, kinds=lanes, executor=one_worker):
        touches = [ended(ask("listen", f"touch {number}")) for number in range(3)]
        with store.read() as session:
            waits = session.get_one(StoredJob, rung).state
        (tmp_path / "done").touch()

        assert [touch.state for touch in touches] == ["done"] * 3
        assert waits in {"queued", "running"}
        assert ended(rung).state == "done"


def test_every_kind_of_job_has_a_lane() -> None:
    assert set(KINDS) >= RUNG
    assert "listen" not in RUNG
