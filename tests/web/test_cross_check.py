"""The cross-check: for the judge who has signed, and then only what that judge may see and hear."""

import io
import re
from pathlib import Path

import pytest
import soundfile
from fastapi.testclient import TestClient
from sqlmodel import select

from judging.jobs import KINDS, jobs_of
from judging.jobs.task_frame import run_task
from judging.store import StoredAudit, StoredEntry, StoredSheet, contest_by_slug

from .conftest import ADDRESS, BANDS, SLUG, Service

CHECK = f"{ADDRESS}/bands/band-1/cross-check"
OVERVIEW = f"{ADDRESS}/judging/cross-check"


@pytest.fixture
def ben(service: Service) -> TestClient:
    """A judge whose sheets say where their faults were, while bands are numbers."""
    service.set_phase("sheets in")
    return service.visitor("judge", "ben")


def revisions(service: Service, judge: int = 2) -> list[tuple[int, int, str]]:
    with service.store.read() as session:
        found = session.exec(select(StoredSheet).where(StoredSheet.judge_id == judge)).all()
        return [(sheet.entry_id, sheet.revision, str(sheet.total)) for sheet in found]


def take(client: TestClient, *taken: str, revision: int = 1, **more: str) -> int:
    answer = client.post(CHECK, data={"revision": str(revision), "taken": list(taken)} | more)
    return int(answer.status_code)


def test_it_opens_with_the_judges_own_signature_and_not_before(service: Service) -> None:
    service.set_phase("ringing")
    with service.store.write() as session:
        for deed in (
            "DROP TRIGGER tap_no_delete",
            "DROP TRIGGER sheet_no_delete",
            "DELETE FROM tap",
            "DELETE FROM sheet",
        ):
            session.connection().exec_driver_sql(deed)
    ben = service.visitor("judge", "ben")
    before = ben.get(CHECK)
    signed = ben.post(f"{ADDRESS}/bands/band-1/sheets/ben", data={"taps": "3 ½"})

    assert (before.status_code, signed.status_code) == (403, 303)
    assert "once you have signed" in before.text
    assert ben.get(CHECK).status_code == 200
    assert ben.get(f"{ADDRESS}/bands/band-2/cross-check").status_code == 403
    assert service.visitor("judge", "ann").get(CHECK).status_code == 403


def test_no_band_is_named_and_no_colleague_told(ben: TestClient) -> None:
    for address in (CHECK, OVERVIEW, f"{ADDRESS}/bands/band-2/cross-check", f"{ADDRESS}/bands/band-3/cross-check"):
        page = ben.get(address).text
        assert all(name not in page for name in (*BANDS, "Saltmarsh", "Pinfold", "Broom", "First judge"))


def test_every_difference_is_on_the_page_once_and_can_be_taken_over(ben: TestClient) -> None:
    page = ben.get(CHECK).text
    keys = re.findall(r'name="taken" value="([jm][\d-]+)"', page)

    assert len(keys) == len(set(keys)) > 0
    told = [int(number) for number in re.findall(r'<span class="soft">\((\d+)\)</span>', page)]
    assert told[0] + told[1] == len(keys)


def test_the_few_that_could_move_a_place_stand_first_and_once(ben: TestClient) -> None:
    """Two bands are signed again half a fault apart, which any one of the machine's own faults could turn."""
    for number, taps in ((1, "3 4"), (2, "3 4\n5 ½"), (3, "3 9\n4 9\n5 9")):
        sheet = f"{ADDRESS}/bands/band-{number}/sheets/ben"
        assert ben.post(sheet, data={"taps": taps, "reason": "made nearly level"}).status_code == 303
    overview = ben.get(OVERVIEW).text
    assert "takes about 1 minute." in overview
    first = re.search(r'href="([^"]+/cross-check)#first"', overview)
    assert first is not None

    shown = ben.get(first[1]).text
    keys = re.findall(r'name="taken" value="([jm][\d-]+)"', shown)
    assert len(keys) == len(set(keys))
    assert shown.index('id="first"') < shown.index(f'value="{keys[0]}"') < shown.index('id="machine-only"')
    assert "1 of them above." in shown


def test_a_difference_taken_over_is_a_revision_and_both_versions_are_kept(ben: TestClient, service: Service) -> None:
    key = re.findall(r'name="taken" value="(m[\d-]+)"', ben.get(CHECK).text)[0]
    before = revisions(service)

    assert take(ben, key, reason="heard it again") == 303
    after = revisions(service)
    assert set(before) < set(after)
    [new] = set(after) - set(before)
    assert new[1] == 2


def test_without_a_reason_or_a_tick_nothing_is_signed_and_what_was_ticked_stays(
    ben: TestClient, service: Service
) -> None:
    key = re.findall(r'name="taken" value="(m[\d-]+)"', ben.get(CHECK).text)[0]
    before = revisions(service)
    answer = ben.post(CHECK, data={"revision": "1", "taken": [key], "reason": " "})

    assert answer.status_code == 422
    assert re.search(f'value="{key}" checked', answer.text)
    assert 'id="reason-wrong"' in answer.text
    assert take(ben, reason="x") == 422
    assert take(ben, "m999-9", reason="x") == 422
    assert take(ben, key, reason="x", revision=2) == 409
    assert revisions(service) == before


def test_keeping_the_sheet_is_noted_in_the_trail(ben: TestClient, service: Service) -> None:
    before = revisions(service)

    assert take(ben, keep="yes") == 303
    assert revisions(service) == before
    with service.store.read() as session:
        last = session.exec(select(StoredAudit).order_by("seq")).all()[-1]
    assert (last.who, last.what) == ("judge ben", "sheet kept after the cross-check")


def test_a_final_result_takes_no_revision(service: Service) -> None:
    ben = service.visitor("judge", "ben")
    key = re.findall(r'name="taken" value="(m[\d-]+)"', ben.get(CHECK).text)[0]

    assert take(ben, key, reason="too late") == 409


def test_a_judge_hears_the_judged_span_and_no_tags(ben: TestClient, service: Service) -> None:
    assert ben.get(f"{CHECK}/recording").status_code == 404
    assert "Make the recording ready" in ben.get(CHECK).text
    assert ben.post(f"{CHECK}/recording").status_code == 303
    assert "is being made ready" in ben.get(CHECK).text
    cut(service)

    page = ben.get(CHECK).text
    assert f'src="{CHECK}/recording"' in page
    assert "Listen<span" in page
    answer = ben.get(f"{CHECK}/recording")
    assert answer.headers["content-type"] == "audio/flac"
    with soundfile.SoundFile(io.BytesIO(answer.content)) as sound:
        seconds = sound.frames / sound.samplerate
        assert sound.copy_metadata() == {}
    assert 60 < seconds < 100 - 1  # 40 changes of the recording's 100 s, not the opening rows
    assert service.visitor("judge", "ann").get(f"{CHECK}/recording").status_code == 200
    assert service.visitor().get(f"{CHECK}/recording").status_code == 404


def cut(service: Service) -> None:
    """Do what a worker does with the job that waits."""
    with service.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        entries = session.exec(select(StoredEntry).where(StoredEntry.contest_id == contest.id)).all()
        [job] = [job for entry in entries for job in jobs_of(session, entry.id) if job.kind == "excerpt"]
        call = KINDS["excerpt"].call(session, service.store, job)
    done = run_task(KINDS["excerpt"].task, call)
    assert isinstance(done, str)
    assert Path(done).is_file()


def test_the_overview_says_what_to_hear_first_and_how_long_it_takes(ben: TestClient) -> None:
    page = ben.get(OVERVIEW).text

    assert re.search(r"about \d+ minutes?\.|Nothing that differs could change", page)
    assert "Band 1" in page
