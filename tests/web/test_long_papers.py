"""A paper that takes long is set by a worker: asked for, waited for, and then given."""

import pytest
from sqlmodel import select

from judging.jobs import KINDS
from judging.jobs.task_frame import Refused, run_task
from judging.papers import typesetting
from judging.store import StoredJob
from judging.store.audit import audit

from .conftest import ADDRESS, SLUG, Service

PAPER = f"{ADDRESS}/bands/band-1/fault-sheet.pdf"
JUDGES = f"{ADDRESS}/printing/judges-papers-by-number.pdf"


@pytest.fixture(autouse=True)
def all_are_long(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(typesetting, "LONG_MS", 1.0)


def jobs(service: Service) -> list[StoredJob]:
    with service.store.read() as session:
        return list(session.exec(select(StoredJob).where(StoredJob.kind == "paper")))


def work(service: Service, state: str = "done") -> None:
    """Do what is queued as the runner does, in this process."""
    for job in jobs(service):
        with service.store.read() as session:
            call = KINDS["paper"].call(session, service.store, job)
        made = run_task(KINDS["paper"].task, call)
        assert not isinstance(made, Refused)
        with service.store.write() as session:
            session.get_one(StoredJob, job.id).state = state


@pytest.mark.parametrize("address", [PAPER, JUDGES, f"{ADDRESS}/sections/1/certificates.pdf"])
def test_it_is_asked_for_waited_for_and_given(service: Service, address: str) -> None:
    organiser = service.visitor("organiser")
    before = organiser.get(address).text
    assert "Make the paper" in before
    assert jobs(service) == []  # looking asks for nothing

    asked = organiser.post(address)
    assert asked.status_code == 303
    waiting = organiser.get(asked.headers["location"]).text
    assert 'http-equiv="refresh"' in waiting
    assert "<progress" in waiting

    work(service)

    made = organiser.get(asked.headers["location"])
    assert made.headers["content-type"] == "application/pdf"
    assert made.content.startswith(b"%PDF")
    assert organiser.get(address).content == made.content


def test_asked_for_twice_it_is_made_once_and_thrown_away_it_is_made_again(service: Service) -> None:
    client = service.visitor()
    address = client.post(PAPER).headers["location"]
    assert client.post(PAPER).headers["location"] == address
    assert len(jobs(service)) == 1
    work(service)
    for path in (service.store.data / "papers").glob("*.pdf"):
        path.unlink()

    assert "Make the paper" in client.get(address).text
    client.post(PAPER)
    assert [job.state for job in jobs(service)] == ["queued"]


def test_what_was_asked_for_is_given_though_the_contest_goes_on(service: Service) -> None:
    client = service.visitor()
    address = client.post(PAPER).headers["location"]
    work(service)
    with service.store.write() as session:
        audit(session, who="test", what="something else", contest=SLUG)

    assert client.get(address).content.startswith(b"%PDF")
    assert "Make the paper" in client.get(PAPER).text  # as it is now, with another audit head


def test_digits_of_another_paper_give_nothing_of_it(service: Service) -> None:
    organiser = service.visitor("organiser")
    asked = organiser.post(JUDGES).headers["location"].rsplit("asked=", 1)[1]
    work(service)

    assert "Make the paper" in service.visitor().get(f"{PAPER}?asked={asked}").text
    assert service.visitor().get(f"{PAPER}?asked=../../x").status_code == 422


def test_what_went_wrong_is_said_and_it_can_be_asked_for_again(service: Service) -> None:
    client = service.visitor()
    address = client.post(PAPER).headers["location"]
    with service.store.write() as session:
        job = session.get_one(StoredJob, jobs(service)[0].id)
        job.state, job.error = "failed", "The disk is full."

    page = client.get(address).text
    assert "The disk is full." in page
    assert "Make the paper" in page
    client.post(PAPER)
    assert [job.state for job in jobs(service)] == ["queued"]


def test_everything_in_one_file_takes_what_is_made_already(service: Service) -> None:
    organiser = service.visitor("organiser")
    organiser.post(JUDGES)
    work(service)

    assert b"judges-papers-by-number.pdf" in organiser.get(f"{ADDRESS}/printing/everything.zip").content
