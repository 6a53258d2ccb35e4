"""Recordings and strike logs taken in: block by block, checked, never half kept."""

import io
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlmodel import select

from judging.jobs.listen_task import Listened
from judging.jobs.recordings_heard import keep_listened
from judging.store import StoredJob, StoredRecording
from judging.store.columns import utc_now

from .conftest import ADDRESS, Service

RECORDING = f"{ADDRESS}/bands/band-1/recording"
LOG = f"{ADDRESS}/bands/band-1/strike-log"
WAV = b"RIFF\x24\x00\x00\x00WAVEfmt " + bytes(4000)


def kept(service: Service) -> set[str]:
    return {path.name for path in service.store.recordings.folder.iterdir()}


@pytest.fixture
def ringing(service: Service) -> Service:
    service.set_phase("ringing")
    return service


def test_a_recording_is_kept_and_its_job_waits(ringing: Service) -> None:
    organiser = ringing.visitor("organiser")
    before = kept(ringing)

    answer = organiser.post(RECORDING, files={"recording": ("evening.wav", WAV)}, data={"agreed": "yes"})

    assert answer.status_code == 303
    assert len(kept(ringing) - before) == 1
    job_page = organiser.get(answer.headers["location"])
    assert "The recording is kept, and waits to be heard" in job_page.text
    assert '<meta http-equiv="refresh" content="2">' in job_page.text
    assert "evening.wav" in organiser.get(f"{ADDRESS}/bands/band-1/evidence").text


@pytest.mark.parametrize(
    ("state", "words", "asks_again"),
    [
        ("running", "The recording is being heard", True),
        ("done", "The recording has been heard", False),
        ("failed", "the file ends early", False),
    ],
)
def test_a_jobs_page_says_how_far_it_is_and_asks_again_until_it_is_over(
    ringing: Service, state: str, words: str, *, asks_again: bool
) -> None:
    organiser = ringing.visitor("organiser")
    address = organiser.post(RECORDING, files={"recording": ("e.wav", WAV)}, data={"agreed": "yes"}).headers["location"]
    with ringing.store.write() as session:
        job = session.get_one(StoredJob, int(address.rsplit("/", 1)[1]))
        job.state, job.progress, job.message = state, 0.4, "learning the bells’ voices"
        job.lease_until = utc_now() if state == "running" else None
        job.error = "the file ends early" if state == "failed" else ""

    page = organiser.get(address).text

    assert words in page
    assert ("http-equiv" in page) == asks_again
    assert ("40 % done" in page) == (state == "running")


@pytest.mark.parametrize(
    ("file", "words"),
    [
        (("rules.toml", b"rules = 1\n"), "does not begin like any recording"),
        (("evening.wav", b""), "does not begin like any recording"),
        (("", b""), "no file is chosen"),
        (("page.wav", b"<html><script>alert(1)</script>"), "does not begin like any recording"),
    ],
)
def test_what_is_no_recording_is_refused_beside_its_field_and_not_kept(
    ringing: Service, file: tuple[str, bytes], words: str
) -> None:
    before = kept(ringing)

    answer = ringing.visitor("organiser").post(
        RECORDING, files={"recording": file}, data={"agreed": "yes", "first_blow_s": "3.2"}
    )

    assert answer.status_code == 422
    assert words in answer.text.lower()
    assert 'id="recording-wrong"' in answer.text
    assert 'value="3.2"' in answer.text
    assert kept(ringing) == before


def test_a_recording_over_the_limit_is_refused_beside_its_field_and_not_kept(ringing: Service) -> None:
    before = kept(ringing)

    answer = ringing.visitor("organiser").post(
        RECORDING, files={"recording": ("long.wav", WAV + bytes(4_000_000))}, data={"agreed": "yes"}
    )

    assert answer.status_code == 422
    assert "larger than 4 MB" in answer.text
    assert 'id="recording-wrong"' in answer.text
    assert kept(ringing) == before


def test_without_consent_no_recording_is_joined_to_a_band(ringing: Service) -> None:
    organiser = ringing.visitor("organiser")
    organiser.post(f"{ADDRESS}/bands/band-1/consent", data={"consent": "refused"})

    answer = organiser.post(RECORDING, files={"recording": ("evening.wav", WAV)})

    assert answer.status_code == 409
    assert "does not agree" in answer.text


@pytest.mark.parametrize("time", ["soon", "-1", "nan", "1e99"])
def test_a_first_blow_that_is_no_time_is_refused_beside_its_field(ringing: Service, time: str) -> None:
    answer = ringing.visitor("organiser").post(
        RECORDING, files={"recording": ("e.wav", WAV)}, data={"agreed": "yes", "first_blow_s": time}
    )

    assert answer.status_code == 422
    assert 'id="first_blow_s-wrong"' in answer.text


def test_a_sending_that_is_cut_short_leaves_nothing(ringing: Service) -> None:
    before = kept(ringing)
    organiser = ringing.visitor("organiser")

    def half() -> Iterator[bytes]:
        yield b'--cut\r\nContent-Disposition: form-data; name="recording"; filename="e.wav"\r\n\r\n'
        yield WAV

    answer = organiser.post(RECORDING, content=half(), headers={"content-type": "multipart/form-data; boundary=cut"})

    assert answer.status_code == 422
    assert kept(ringing) == before


@pytest.mark.parametrize("kind", ["application/json", "multipart/form-data", "text/plain; boundary=x", ""])
def test_a_form_that_is_none_is_refused_in_words(ringing: Service, kind: str) -> None:
    answer = ringing.visitor("organiser").post(RECORDING, content=b"x", headers={"content-type": kind})

    assert answer.status_code == 422
    assert "holds no file" in answer.text


def test_a_strike_log_takes_effect_at_once(ringing: Service, contest_folder: Path) -> None:
    organiser = ringing.visitor("organiser")
    text = (contest_folder / "logs" / "saltmarsh.csv").read_bytes()

    answer = organiser.post(LOG, files={"log": ("log.csv", text)})

    assert answer.status_code == 303
    assert organiser.get(f"{ADDRESS}/bands/band-1/strike-log.csv").content == text


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"time_s,bell\n1,x\n", "line 2"),
        (b"time_s,bell\n1,99\n", "99"),
        (b"\x00\x01\x02", "log"),
        (b"x" * 9_000_000, "larger than"),
    ],
)
def test_a_log_that_is_none_is_refused_beside_its_field(ringing: Service, data: bytes, words: str) -> None:
    organiser = ringing.visitor("organiser")
    before = organiser.get(f"{ADDRESS}/bands/band-1/strike-log.csv").content

    answer = organiser.post(LOG, files={"log": ("log.csv", io.BytesIO(data))})

    assert answer.status_code == 422
    assert 'id="log-wrong"' in answer.text
    assert words in answer.text
    assert organiser.get(f"{ADDRESS}/bands/band-1/strike-log.csv").content == before


def test_a_final_contest_takes_nothing_more(service: Service, contest_folder: Path) -> None:
    organiser = service.visitor("organiser")
    text = (contest_folder / "logs" / "gorse.csv").read_bytes()

    assert organiser.post(LOG, files={"log": ("log.csv", text)}).status_code == 409
    assert organiser.post(RECORDING, files={"recording": ("e.wav", WAV)}, data={"agreed": "yes"}).status_code == 409


def test_a_recording_is_given_in_parts_and_never_as_a_page(finished: Service) -> None:
    address = f"{ADDRESS}/bands/band-1/recording"

    whole = finished.visitor().get(address)
    part = finished.visitor().get(address, headers={"range": "bytes=100-199"})

    assert whole.headers["content-type"] == "audio/wav"
    assert whole.headers["accept-ranges"] == "bytes"
    assert part.status_code == 206
    assert part.content == whole.content[100:200]
    assert finished.visitor().get(address, headers={"range": "bytes=999999999-"}).status_code == 416


@pytest.fixture
def heard_twice(ringing: Service) -> Service:
    """Bells rang twice in the first band's recording, and it is not sure which ringing is meant."""
    ringing.visitor("organiser").post(RECORDING, files={"recording": ("e.wav", WAV)}, data={"agreed": "yes"})
    segments = ((3.0, 70.0, 1.0, False), (80.0, 150.4, 0.9, True))
    with ringing.store.write() as session:
        [job] = [job for job in session.exec(select(StoredJob)).all() if job.kind == "listen"]
        log = "time_s,bell\n1.0,1\n1.3,2\n"
        keep_listened(session, job, Listened(log, (), True, segments=segments, segment_is_sure=False))
    return ringing


def test_where_bells_rang_twice_both_are_offered_and_one_can_be_heard_instead(heard_twice: Service) -> None:
    organiser = heard_twice.visitor("organiser")

    page = organiser.get(f"{ADDRESS}/bands/band-1/evidence").text

    assert "Bells ring 2 times in the recording" in page
    assert "It is not sure which of them is this band’s touch" in page
    assert "hear the ringing from 0:03" in page
    assert "hear the ringing from 1:20" not in page
    answer = organiser.post(f"{ADDRESS}/bands/band-1/hear-part", data={"from_s": "1.0", "to_s": "72.0"})
    assert answer.status_code == 303
    with heard_twice.store.read() as session:
        job = session.get_one(StoredJob, int(answer.headers["location"].rsplit("/", 1)[1]))
    assert json.loads(job.params_json)["between_s"] == [1.0, 72.0]


@pytest.mark.parametrize(
    ("begin_s", "end_s", "wrong", "words"),
    [
        ("", "70", "from_s", "is empty"),
        ("3", "", "to_s", "is empty"),
        ("70", "3", "to_s", "is not after 70 s"),
        ("soon", "70", "from_s", "is no number of seconds"),
        ("3", "1e99", "to_s", "is no time within a recording"),
    ],
)
def test_a_part_that_is_none_is_refused_beside_its_field(
    heard_twice: Service, begin_s: str, end_s: str, wrong: str, words: str
) -> None:
    answer = heard_twice.visitor("organiser").post(
        f"{ADDRESS}/bands/band-1/hear-part", data={"from_s": begin_s, "to_s": end_s}
    )

    assert answer.status_code == 422
    assert f'id="{wrong}-wrong"' in answer.text
    assert words in answer.text.lower()


def test_without_a_recording_no_part_can_be_heard(heard_twice: Service) -> None:
    organiser = heard_twice.visitor("organiser")
    with heard_twice.store.write() as session:
        for recording in session.exec(select(StoredRecording)).all():
            recording.erased_at = utc_now()

    answer = organiser.post(f"{ADDRESS}/bands/band-1/hear-part", data={"from_s": "3", "to_s": "70"})

    assert answer.status_code == 409
    assert "No recording of this band is kept" in answer.text
