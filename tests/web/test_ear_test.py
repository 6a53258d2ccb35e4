"""Ear tests in the service: asked for, rung by a worker, answered, told, and nothing of it kept."""

import re

import numpy as np
import pytest
import soundfile
from fastapi.testclient import TestClient
from sqlalchemy import func, select

from judging.jobs import ear_test_job, ear_test_named, ear_test_path
from judging.jobs.ear_testing import KEPT, EarTest, enqueue_test
from judging.jobs.kinds import KINDS
from judging.jobs.queue import finish
from judging.jobs.task_frame import run_task
from judging.store import add_shadow_judge, contest_by_slug, make_link
from judging.store.columns import Base

from .conftest import SLUG, Service

FORM = {"bells": "6", "rung": "rounds", "peal_minutes": "165", "rows": "120"}


@pytest.fixture
def judge(service: Service) -> TestClient:
    return service.visitor("judge", "ann")


def begun(service: Service, visitor: TestClient, **form: str) -> EarTest:
    """A test that was asked for, with some file for its sound."""
    answer = visitor.post("/ear-test", data=FORM | form)
    assert answer.status_code == 303, answer.text
    test = ear_test_named(str(answer.headers["location"]).removeprefix("/ear-test/"))
    assert test is not None
    path = ear_test_path(service.store, test)
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(b"fLaC" + bytes(100))
    return test


def fault_s(test: EarTest) -> np.ndarray:
    return np.array([test.log.times_s[fault.row * test.bells + fault.place - 1] for fault in test.planted])


def taps_of(test: EarTest, *, late_from_ms: float, early_from_ms: float) -> str:
    """Taps of somebody who hears every fault from some size on, 0.35 s after it."""
    heard = [fault.late_ms >= late_from_ms or -fault.late_ms >= early_from_ms for fault in test.planted]
    return " ".join(f"{at + 0.35:.3f}" for at in fault_s(test)[np.array(heard)])


def rows_of_all_tables(service: Service) -> dict[str, int]:
    with service.store.read() as session:
        return {
            name: session.scalar(select(func.count()).select_from(table)) or 0
            for name, table in Base.metadata.tables.items()
        }


def test_a_test_is_rung_by_a_worker_as_it_was_planned(service: Service, judge: TestClient) -> None:
    test = begun(service, judge)
    ear_test_path(service.store, test).unlink()
    waiting = judge.get(f"/ear-test/{test.name}").text
    assert "It is being rung" in waiting
    assert judge.get(f"/ear-test/{test.name}/sound").status_code == 404
    with service.store.read() as session:
        job = ear_test_job(session, test)
        assert job is not None
        call = KINDS["ear test"].call(session, service.store, job)
    run_task(KINDS["ear test"].task, call)

    sound, rate = soundfile.read(ear_test_path(service.store, test))

    assert len(sound) / rate > test.log.times_s[-1]
    assert np.abs(sound[: int(rate * (test.log.times_s[0] - 0.05))]).max() < 0.01 * np.abs(sound).max()
    assert "<audio" in judge.get(f"/ear-test/{test.name}").text
    answer = judge.get(f"/ear-test/{test.name}/sound", headers={"range": "bytes=0-99"})
    assert (answer.status_code, answer.headers["content-type"]) == (206, "audio/flac")


def test_the_result_tells_half_heard_early_and_late_apart(service: Service, judge: TestClient) -> None:
    test = begun(service, judge, rows="240")

    answer = judge.post(f"/ear-test/{test.name}", data={"taps": taps_of(test, late_from_ms=30, early_from_ms=60)})

    assert answer.status_code == 200
    told = {
        way: (int(half), int(low), int(high))
        for way, half, low, high in re.findall(
            r"You heard half of the (early|late) blows at (\d+) ms \((\d+) to (\d+) ms\)", answer.text
        )
    }
    assert told["late"][1] <= 30 <= told["late"][2]
    assert told["early"][1] <= 60 <= told["early"][2]
    assert told["late"][2] < told["early"][0]
    assert answer.text.count('class="drawing heard-') == 2
    assert "Friberg and Sundberg 1995" in answer.text
    assert answer.text.count("sound#t=") == len(test.planted)


def test_ticked_rows_do_without_a_script(service: Service, judge: TestClient) -> None:
    test = begun(service, judge)
    rows = [str(fault.row + 1) for fault in test.planted if abs(fault.late_ms) > 40]

    answer = judge.post(f"/ear-test/{test.name}", data={"ticked": rows})

    assert answer.status_code == 200
    assert answer.text.count("<td>yes</td>") == len(rows)
    assert "You heard half of the late blows at" in answer.text


def test_a_learner_who_judges_along_takes_it_too(service: Service) -> None:
    service.set_phase("ringing")
    with service.store.write() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        learner = add_shadow_judge(session, contest, "Learner", who="test")
        token = make_link(session, role="shadow judge", who="test", contest_id=contest.id, judge_id=learner.id)
    visitor = service.visitor()
    visitor.post(f"/links/{token}")
    assert 'href="/ear-test"' in visitor.get(f"/contests/{SLUG}/judging").text
    assert begun(service, visitor).bells == 6


def test_nothing_of_the_listener_is_kept(service: Service, judge: TestClient) -> None:
    test = begun(service, judge)
    before = rows_of_all_tables(service)
    assert before["job"] > 0

    answer = judge.post(f"/ear-test/{test.name}", data={"taps": taps_of(test, late_from_ms=30, early_from_ms=30)})

    assert answer.headers["cache-control"] == "no-store"
    assert rows_of_all_tables(service) == before
    with service.store.read() as session:
        job = ear_test_job(session, test)
        assert job is not None
        assert (job.entry_id, job.params_json) == (None, f'{{"test": "{test.name}"}}')


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({}, "nothing was noted"),
        ({"taps": "3.1 4.2"}, "2 taps, and fewer"),
        ({"taps": "3.1 soon"}, "&#34;soon&#34; is no time"),
        ({"taps": "nan"}, "is no time"),
        ({"taps": "-4"}, "is no time"),
        ({"taps": " ".join(["4.5"] * 1001)}, "more than 1000"),
        ({"taps": "3.1", "until": "x"}, "is no time"),
    ],
)
def test_what_tells_nothing_is_said_and_kept(
    service: Service, judge: TestClient, sent: dict[str, str], said: str
) -> None:
    test = begun(service, judge)

    answer = judge.post(f"/ear-test/{test.name}", data=sent)

    assert answer.status_code == 422
    assert said in answer.text
    assert f'value="{sent.get("taps", "")}"' in answer.text


def test_a_row_that_was_ticked_stays_ticked_when_it_is_refused(service: Service, judge: TestClient) -> None:
    test = begun(service, judge)

    answer = judge.post(f"/ear-test/{test.name}", data={"taps": "4 5", "ticked": ["12", "40"]})

    assert re.findall(r'value="(\d+)" id="row-\d+" checked', answer.text) == ["12", "40"]
    assert judge.post(f"/ear-test/{test.name}", data={"ticked": ["500"]}).status_code == 422


@pytest.mark.parametrize(
    ("field", "value"),
    [("bells", "7"), ("rung", "<b>"), ("peal_minutes", "60"), ("peal_minutes", "soon"), ("rows", "100")],
)
def test_what_is_not_offered_is_said_beside_its_field(judge: TestClient, field: str, value: str) -> None:
    answer = judge.post("/ear-test", data=FORM | {field: value})

    assert answer.status_code == 422
    assert f'id="{field}-wrong"' in answer.text
    assert "<b>" not in answer.text


def test_a_test_that_was_not_asked_for_is_not_there(judge: TestClient) -> None:
    for name in ("6-rounds-165-120-9", "6-rounds-165-120-100", "6-rounds-99-120-9", "x"):
        assert judge.get(f"/ear-test/{name}").status_code == 404
        assert judge.post(f"/ear-test/{name}", data={}).status_code in {404, 422}


def test_only_so_many_sounds_stay_on_the_disk(service: Service) -> None:
    def kept() -> int:
        return len(list((service.store.data / "sounds").glob("*.flac")))

    for number in range(1, KEPT + 4):
        test = EarTest(6, "rounds", 165, 120, number)
        with service.store.write() as session:
            job = enqueue_test(session, service.store, test)
            path = ear_test_path(service.store, test)
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(b"fLaC")
            finish(session, job)

    assert kept() <= KEPT + 1
    assert ear_test_path(service.store, test).is_file()
