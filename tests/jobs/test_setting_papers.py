"""Long papers, set beside the service."""

from pathlib import Path

import pytest

from judging.jobs import enqueue, enqueue_paper, paper_asked_for, paper_job, paper_path
from judging.jobs.kinds import KINDS
from judging.jobs.queue import claim
from judging.jobs.setting_papers import paper_task
from judging.jobs.task_frame import Call, Refused, read_progress, run_task
from judging.papers import Heading, Slot
from judging.papers.typesetting import Setting, setting
from judging.store import Store

LINES = [Slot(1, "Wick")]


@pytest.fixture
def paper() -> Setting:
    data = {"heading": Heading("Spring"), "lines": LINES, "slots": LINES, "seed": "", "ends": ""}
    return setting("draw_list", data, name="Draw: Spring", expected_ms=900)


def test_a_paper_set_by_a_worker_is_the_same_bytes_as_one_set_at_once(store: Store, paper: Setting) -> None:
    with store.write() as session:
        job = enqueue_paper(session, store, paper)
        call = KINDS["paper"].call(session, store, job)
    progress = store.data / "progress"

    path = run_task(KINDS["paper"].task, call, progress_path=str(progress))

    assert paper.is_long
    assert Path(path) == paper_path(store, paper.sha256)
    assert Path(path).read_bytes() == paper.pdf()
    assert read_progress(progress) == (0.95, "keeping the file")
    assert paper_asked_for(store, paper.sha256) == paper
    with store.read() as session:
        assert paper_job(session, paper.sha256) is not None
        assert paper_job(session, "0" * 64) is None
    assert paper_asked_for(store, "0" * 64) is None


def test_values_that_are_gone_are_refused_in_words(tmp_path: Path) -> None:
    done = run_task(paper_task, Call((str(tmp_path / "none.json"), str(tmp_path / "draw.pdf"))))

    assert isinstance(done, Refused)
    assert "ask for it again" in done.message


def test_a_paper_that_is_waited_for_is_made_before_what_was_asked_for_earlier(store: Store, paper: Setting) -> None:
    with store.write() as session:
        enqueue(session, kind="sound", input_sha256="0" * 64, engine_version="1")
        asked = enqueue_paper(session, store, paper)
        first = claim(session, worker="w", lease_s=60, attempts=3, kinds=("sound", "paper"))

    assert first is not None
    assert first.id == asked.id
