"""Towers on the service: voices kept and erased, where a contest is rung, all bands heard alike, two recorders."""

import json
import re
from dataclasses import dataclass

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from judging.jobs import jobs_of
from judging.jobs.listen_task import Listened
from judging.jobs.recordings_heard import keep_listened
from judging.sounding import Character, Lateness, human_log
from judging.store import (
    StoredAudit,
    StoredContest,
    StoredEntry,
    StoredHearing,
    StoredVoices,
    add_hearing,
    add_strike_log,
    contest_by_slug,
    entries_of,
    hearing_of,
    order_of,
    strike_log_of,
)
from judging.striking import write_log

from .conftest import ADDRESS, BANDS, SLUG, Service, rows_piece

WAV = b"RIFF\x24\x00\x00\x00WAVEfmt "
TOWER = {"name": "Wheatsheaf", "bells": "6", "recorder": "on the sound floor"}
#: The 4th answers the 3rd's blows more than half as strongly as its own.
CLARITY = ((1, 0.9, 4), (2, 0.9, 4), (3, 0.8, 4), (4, 0.45, 3), (5, 0.9, 4), (6, 0.9, 4))


@pytest.fixture
def organiser(service: Service) -> TestClient:
    service.set_phase("ringing")
    return service.visitor("organiser", anywhere=True)


@pytest.fixture
def tower(organiser: TestClient) -> str:
    answer = organiser.post("/towers", data=TOWER)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def rung(seed: int, *, tower_ms: float = 0.0) -> str:
    late = (Lateness(bell=5, stroke="back", late_ms=tower_ms),) if tower_ms else ()
    touch = human_log(rows_piece(), Character(spread_ms=25.0, late=late), seed=seed, peal_minutes=170.0)
    return write_log(touch.log)


def contest_in(session: Session) -> StoredContest:
    contest = contest_by_slug(session, SLUG)
    assert contest is not None
    return contest


def band_in(session: Session, number: int) -> StoredEntry:
    contest = contest_in(session)
    key = order_of(contest)[number - 1]
    return next(entry for entry in entries_of(session, contest.id) if entry.key == key)


def heard(service: Service, number: int, *, learnt: bytes = b"learnt", csv: str = "") -> None:
    """As the ear would, of the band that rang in that order."""
    with service.store.write() as session:
        entry = band_in(session, number)
        log = add_strike_log(session, entry, data=csv or rung(number), name="log", origin="heard", who="ear")
        hearing = StoredHearing(strike_log_id=log.id, clarity_json=json.dumps(CLARITY), learnt=learnt, blows=252)
        add_hearing(session, hearing)


def all_heard(service: Service, **without: str) -> None:
    """End every job that waits, as the ear would; of some bands without the voices, and why."""
    with service.store.write() as session:
        for entry in entries_of(session, contest_in(session).id):
            for job in jobs_of(session, entry.id):
                if job.kind == "listen" and job.state == "queued":
                    given = "voices" in json.loads(job.params_json)
                    why = without.get(entry.key, "")
                    answer = Listened(rung(1), (), True, given and not why, why, CLARITY, b"again", 252)
                    keep_listened(session, job, answer)
                    job.state = "done"
                    session.add(job)


def sent(organiser: TestClient, number: int, **fields: str) -> str:
    """Address of the job that hears a band's recording, which is another for every band and recorder."""
    content = WAV + bytes(100) + f"{number}{fields}".encode()
    answer = organiser.post(
        f"{ADDRESS}/bands/band-{number}/recording",
        files={"recording": ("touch.wav", content)},
        data={"agreed": "yes", **fields},
    )
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def test_a_tower_is_made_listed_changed_and_erased(organiser: TestClient, tower: str) -> None:
    assert "no voices kept yet" in organiser.get("/towers").text
    assert organiser.post(tower, data=TOWER | {"name": "The Wheatsheaf"}).status_code == 303
    assert "The Wheatsheaf" in organiser.get(tower).text
    assert organiser.post(f"{tower}/erase").headers["location"] == "/towers"
    assert organiser.get(tower).status_code == 404


@pytest.mark.parametrize(("field", "value"), [("name", ""), ("bells", "six"), ("bells", "2"), ("recorder", " ")])
def test_what_is_wrong_with_a_tower_stands_beside_its_field(organiser: TestClient, field: str, value: str) -> None:
    answer = organiser.post("/towers", data=TOWER | {field: value})

    assert answer.status_code == 422
    assert f'id="{field}-wrong"' in answer.text
    assert f'value="{TOWER["name"] if field != "name" else ""}"' in answer.text


def test_voices_are_kept_from_a_band_page_and_erased_on_the_towers(
    service: Service, organiser: TestClient, tower: str
) -> None:
    heard(service, 1)
    page = organiser.get(f"{ADDRESS}/bands/band-1/evidence").text
    assert "Keep the voices learnt from these 252 blows with" in page

    kept = organiser.post(f"{ADDRESS}/bands/band-1/voices", data={"tower": tower.rsplit("/", 1)[1]})

    assert kept.headers["location"] == tower
    page = organiser.get(tower).text
    assert "252 blows" in page
    assert "in force" in page
    assert organiser.post(re.findall(rf"{tower}/voices/\d+/erase", page)[0]).status_code == 303
    assert "252 blows" not in organiser.get(tower).text


def test_voices_cannot_be_kept_from_a_log_that_was_given(organiser: TestClient, tower: str) -> None:
    answer = organiser.post(f"{ADDRESS}/bands/band-1/voices", data={"tower": tower.rsplit("/", 1)[1]})

    assert answer.status_code == 409
    assert "it was not heard here" in answer.text


def test_only_the_organiser_of_the_service_keeps_voices(service: Service, organiser: TestClient, tower: str) -> None:
    heard(service, 1)
    own = service.visitor("organiser")

    assert own.post(f"{ADDRESS}/bands/band-1/voices", data={"tower": tower.rsplit("/", 1)[1]}).status_code == 403
    assert "Keep the voices" not in own.get(f"{ADDRESS}/bands/band-1/evidence").text
    assert organiser.get(tower).status_code == 200


@dataclass(frozen=True)
class AtTower:
    """A contest whose bands have each a recording, rung at a tower with voices."""

    organiser: TestClient
    tower: str
    data: dict[str, str]


@pytest.fixture
def at_tower(service: Service, organiser: TestClient, tower: str) -> AtTower:
    for number in range(1, 4):
        sent(organiser, number)
    all_heard(service)
    number = tower.rsplit("/", 1)[1]
    assert organiser.post(f"{ADDRESS}/bands/band-1/voices", data={"tower": number}).status_code == 303
    return AtTower(organiser, tower, {"bells": "6", "tower": number, "voices": "yes"})


def used(service: Service) -> list[str]:
    """Digest of the voices that each band's log in force was heard with."""
    with service.store.read() as session:
        digests = []
        for number in range(1, 4):
            log = strike_log_of(session, band_in(session, number).id)
            assert log is not None
            hearing = hearing_of(session, log)
            digests.append(hearing.voices_sha256 if hearing else "")
        return digests


def test_saying_where_it_is_rung_has_every_band_heard_again_with_the_same_voices(
    service: Service, at_tower: AtTower
) -> None:
    assert used(service) == ["", "", ""]

    assert at_tower.organiser.post(f"{ADDRESS}/tower", data=at_tower.data).headers["location"] == f"{ADDRESS}/tower"
    all_heard(service)

    with service.store.read() as session:
        kept = session.exec(select(StoredVoices)).one()
        said = session.exec(select(StoredAudit).where(StoredAudit.what == "tower of a contest said")).one()
    assert used(service) == [kept.sha256] * 3
    assert json.loads(said.after)["voices_id"] == kept.id
    page = at_tower.organiser.get(f"{ADDRESS}/tower").text
    assert page.count("Heard with the voices kept at Wheatsheaf on ") == 4
    assert "Not as the others" not in page
    evidence = at_tower.organiser.get(f"{ADDRESS}/bands/band-2/evidence").text
    assert "Heard with the voices kept at Wheatsheaf on " in evidence


def test_saying_the_same_again_hears_nothing_again(service: Service, at_tower: AtTower) -> None:
    for _ in range(2):
        at_tower.organiser.post(f"{ADDRESS}/tower", data=at_tower.data)
        with service.store.read() as session:
            waiting = [
                job
                for number in range(1, 4)
                for job in jobs_of(session, band_in(session, number).id)
                if (job.kind, job.state) == ("listen", "queued")
            ]
        all_heard(service)
    assert waiting == []


@pytest.mark.parametrize("part", ["cross-check", "voice"])
def test_a_band_whom_the_voices_do_not_fit_is_said_and_holds_the_result_up_where_the_machine_has_a_part(
    service: Service, at_tower: AtTower, part: str
) -> None:
    if part != "cross-check":
        service.change_rules("[draw]", f'[machine]\npart = "{part}"\n[draw]')
    with service.store.read() as session:
        second = band_in(session, 2).key
    at_tower.organiser.post(f"{ADDRESS}/tower", data=at_tower.data)
    all_heard(service, **{second: "they do not fit what this recording holds"})
    service.set_phase("sheets in")

    page = at_tower.organiser.get(f"{ADDRESS}/tower").text
    assert page.count("Not as the others") == 1
    assert ": they do not fit what this recording holds." in page
    desk = at_tower.organiser.get(f"{ADDRESS}/desk").text
    assert "Have every band of a section heard alike: band 2 was heard with other kept voices" in desk
    step = at_tower.organiser.post(f"{ADDRESS}/phase", data={"to": "provisional", "seen_at": "sheets in"})
    assert step.status_code == (303 if part == "cross-check" else 409)

    if part != "cross-check":
        at_tower.organiser.post(f"{ADDRESS}/tower", data=at_tower.data | {"voices": ""})
        all_heard(service)
        assert used(service) == ["", "", ""]
        step = at_tower.organiser.post(f"{ADDRESS}/phase", data={"to": "provisional", "seen_at": "sheets in"})
        assert step.status_code == 303


def test_where_a_shown_result_was_rung_is_not_said_otherwise(service: Service, at_tower: AtTower) -> None:
    service.set_phase("sheets in")
    at_tower.organiser.post(f"{ADDRESS}/phase", data={"to": "provisional", "seen_at": "sheets in"})

    assert at_tower.organiser.post(f"{ADDRESS}/tower", data=at_tower.data).status_code == 409


@pytest.mark.parametrize("wrong", [{"tower": "999"}, {"tower": "x"}, {"bells": "4"}, {"bells": "99"}])
def test_a_place_that_is_none_is_refused(at_tower: AtTower, wrong: dict[str, str]) -> None:
    assert at_tower.organiser.post(f"{ADDRESS}/tower", data=at_tower.data | wrong).status_code in {409, 422}


def test_the_towers_page_names_the_worst_pair_and_what_to_do_and_no_band(at_tower: AtTower) -> None:
    at_tower.organiser.post(f"{ADDRESS}/tower", data=at_tower.data)

    page = at_tower.organiser.get(at_tower.tower).text

    assert "3 and 4 are hardly told from each other" in page
    assert "Move the recorder to where 3 and 4 differ more" in page
    assert page.index("3 and 4</th>") < page.index("1 and 4</th>")
    assert "3 have been counted here in contests" in page
    assert not any(band.split()[0] in page for band in BANDS.values())


def test_a_practice_night_is_heard_with_the_newest_voices_and_what_was_not_heard_is_tried_again(
    service: Service, at_tower: AtTower
) -> None:
    begun = at_tower.organiser.post("/practice", data={"what": "Rounds", "bells": "6", "whole_pulls": "2"})
    night = begun.headers["location"]
    at_tower.organiser.post(night, files={"recording": ("touch.wav", WAV + bytes(50))})

    said = at_tower.organiser.post(f"{night.removesuffix('/practice')}/tower", data=at_tower.data)

    assert said.headers["location"] == night
    assert "Heard with the voices kept at Wheatsheaf on " in at_tower.organiser.get(night).text
    assert "It begins with the voices kept at Wheatsheaf on " in at_tower.organiser.get(f"{night}/pull-offs").text
    with service.store.read() as session:
        contest = contest_by_slug(session, night.split("/")[2])
        assert contest is not None
        jobs = jobs_of(session, entries_of(session, contest.id)[0].id)
        assert ["voices" in json.loads(job.params_json) for job in jobs] == [True, False]


def test_two_recorders_of_a_touch_are_told_and_change_no_count(service: Service, at_tower: AtTower) -> None:
    before = at_tower.organiser.get(f"/api{ADDRESS}/bands/band-1/count").json()
    job = sent(at_tower.organiser, 1, second="yes")
    all_heard(service)

    assert at_tower.organiser.get(f"/api{ADDRESS}/bands/band-1/count").json() == before
    assert "held against the first recorder" in at_tower.organiser.get(job).text
    told = (
        "Two recordings of the touch: 252 blows were heard in both, and the machine places a blow to 0.0 ms or better"
    )
    assert told in at_tower.organiser.get(f"{ADDRESS}/bands/band-1/evidence").text
    desk = at_tower.organiser.get(f"{ADDRESS}/desk").text
    assert told in desk
    assert "The first recording counts; the second changes nothing." in desk

    sent(at_tower.organiser, 2, second="yes")
    all_heard(service)
    assert "Two recorders heard 2 of the touches: 504 blows in both" in at_tower.organiser.get(f"{ADDRESS}/desk").text


def test_the_result_page_says_how_the_machine_repeats_itself(service: Service, at_tower: AtTower) -> None:
    sent(at_tower.organiser, 1, second="yes")
    all_heard(service)
    service.set_phase("final")

    page = service.visitor().get(ADDRESS).text

    assert "Two recorders</h3>" in page
    assert "Two recordings of the touch: 252 blows were heard in both" in page


def test_the_same_recording_given_as_a_second_recorders_is_refused(organiser: TestClient) -> None:
    first = organiser.post(
        f"{ADDRESS}/bands/band-1/recording",
        files={"recording": ("touch.wav", WAV + bytes(7))},
        data={"agreed": "yes"},
    )
    assert first.status_code == 303

    again = organiser.post(
        f"{ADDRESS}/bands/band-1/recording",
        files={"recording": ("touch.wav", WAV + bytes(7))},
        data={"agreed": "yes", "second": "yes"},
    )

    assert again.status_code == 409
    assert "the very recording that is there already" in again.text


def test_five_bands_alike_say_what_the_tower_does(service: Service, organiser: TestClient, tower: str) -> None:
    """A sixth bell's neighbour, the 5th, is 45 ms late at backstroke for five bands of two contests."""
    number = tower.rsplit("/", 1)[1]
    data = {"bells": "6", "tower": number}
    assert organiser.post(f"{ADDRESS}/tower", data=data).status_code == 303
    for band in range(1, 4):
        heard(service, band, csv=rung(band, tower_ms=45.0))
    assert "Only 5 bands and more can tell the tower from the people; 3 have" in organiser.get(tower).text

    rules = organiser.get(f"{ADDRESS}/rules.toml").text.replace("Dell Deanery six-bell", "Ford Deanery six-bell")
    files = {
        "rules": ("rules.toml", rules.encode()),
        "entries": (
            "entries.toml",
            b"".join(b'[[entry]]\nid = "%s"\nband = "%s"\n' % (k, k) for k in (b"oak", b"yew")),
        ),
        "pieces": (
            "bob.txt",
            "\n".join("".join("1234567890"[b - 1] for b in row) for row in rows_piece().rows).encode(),
        ),
    }
    made = organiser.post("/contests/new", files=files)
    assert made.status_code == 303, made.text
    slug = made.headers["location"].split("/")[2]
    assert organiser.post(f"/contests/{slug}/tower", data=data).status_code == 303
    with service.store.write() as session:
        contest = contest_by_slug(session, slug)
        assert contest is not None
        for seed, entry in enumerate(entries_of(session, contest.id), 11):
            csv = rung(seed, tower_ms=45.0)
            add_strike_log(session, entry, data=csv, name="log", origin="given", who="test")

    page = organiser.get(tower).text

    late = re.search(r"5 at backstroke is (\d+) ms late", page)
    assert late is not None, page
    assert 30 <= int(late[1]) <= 60
    assert "alike for all 5 bands" in page
    assert "the same for every band; nothing is taken out by this page" in page
