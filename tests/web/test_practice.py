"""Practice nights: private, begun with what is rung, touch after touch."""

import re

import pytest
from fastapi.testclient import TestClient

from judging.piece import METHODS
from judging.sounding import Character, human_log
from judging.store import StoredJob, add_strike_log, contest_by_slug, entries_of, load_day
from judging.striking import CountingRules, count_striking, write_log
from judging.web.peal_speed_meant import beside_meant

from .conftest import ROWS, Service, rows_piece
from .test_printing import words_of

WAV = b"RIFF\x24\x00\x00\x00WAVEfmt " + bytes(4000)


@pytest.fixture
def captain(service: Service) -> TestClient:
    return service.visitor("organiser", anywhere=True)


def begin(captain: TestClient, **form: str) -> str:
    """Address of a practice night that was begun."""
    answer = captain.post("/practice", data=form)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def test_every_method_that_is_offered_can_be_begun(service: Service, captain: TestClient) -> None:
    for method in METHODS:
        night = begin(captain, what=method.title)

        with service.store.read() as session:
            contest = contest_by_slug(session, night.split("/")[2])
            assert contest is not None
            piece = load_day(session, contest.id or 0).pieces["piece"]
        assert method.title in piece.title
        assert piece.bells == method.stage + method.stage % 2


@pytest.mark.parametrize(
    ("form", "title"),
    [
        ({"what": "Rounds", "bells": "6", "whole_pulls": "30"}, "Rounds on 6"),
        ({"what": "Plain Bob Minor"}, "Plain Bob Minor"),
        ({"what": "Rows of my own", "rows": "123456\n214365\n123456"}, "rows of our own"),
    ],
)
def test_a_night_is_headed_by_what_is_rung(captain: TestClient, form: dict[str, str], title: str) -> None:
    shown = captain.get(begin(captain, **form)).text

    assert re.search(rf"<h1>Practice, [^<]*: {title}</h1>", shown)


def test_rows_typed_beside_another_choice_are_not_passed_over(captain: TestClient) -> None:
    refused = captain.post("/practice", data={"what": "Rounds", "bells": "6", "whole_pulls": "9", "rows": "123456"})
    assert refused.status_code == 422
    assert "rows are typed below" in refused.text
    assert "123456" in refused.text


@pytest.mark.parametrize(
    ("form", "field"),
    [
        ({"what": "Nothing"}, "what"),
        ({"what": "Rounds", "bells": "2", "whole_pulls": "30"}, "bells"),
        ({"what": "Rounds", "bells": "17", "whole_pulls": "30"}, "bells"),
        ({"what": "Rounds", "bells": "six", "whole_pulls": "30"}, "bells"),
        ({"what": "Rounds", "bells": "6", "whole_pulls": "0"}, "whole_pulls"),
        ({"what": "Rounds", "bells": "6", "whole_pulls": "30", "speed": "fast"}, "speed"),
        ({"what": "Rounds", "bells": "6", "whole_pulls": "30", "speed": "0h50"}, "speed"),
        ({"what": "Rows of my own", "rows": ""}, "rows"),
        ({"what": "Rows of my own", "rows": "12345\n1234"}, "rows"),
    ],
)
def test_what_cannot_be_rung_is_said_beside_its_field(captain: TestClient, form: dict[str, str], field: str) -> None:
    answer = captain.post("/practice", data=form)

    assert answer.status_code == 422
    assert f'id="{field}-wrong"' in answer.text
    assert captain.get("/practice").text.count("Practice,") == 0


def test_a_touch_is_sent_heard_and_read(service: Service, captain: TestClient) -> None:
    night = begin(captain, what="Rows of my own", rows=ROWS)

    sent = captain.post(night, files={"recording": ("touch.webm", WAV)})
    assert sent.status_code == 303
    assert "being heard, 0 %" in captain.get(night).text
    with service.store.write() as session:  # as the ear would
        contest = contest_by_slug(session, night.split("/")[2])
        assert contest is not None
        touch = entries_of(session, contest.id or 0)[0]
        log = human_log(rows_piece(), Character(spread_ms=30.0), seed=1, peal_minutes=165.0, handstroke_gap=1.0).log
        add_strike_log(session, touch, data=write_log(log), name="log", origin="heard", who="ear")
        session.get_one(StoredJob, int(sent.headers["location"].rsplit("/", 1)[1])).state = "done"

    page = captain.get(night).text
    address = re.search(r'href="(/contests/[^"]+/bands/touch-1)">Touch 1</a>', page)
    assert address is not None
    assert "pull-off" in page
    sheet = captain.get(address[1])
    assert sheet.status_code == 200
    assert f'<a href="{night}">Practice, ' in sheet.text
    assert "How the mark was reached" not in sheet.text  # nobody gives one
    assert captain.get(sent.headers["location"]).headers["location"] == address[1]


def test_touches_are_numbered_and_the_newest_stands_first(captain: TestClient) -> None:
    night = begin(captain, what="Rounds", bells="6", whole_pulls="20")
    for _ in range(3):
        captain.post(night, files={"recording": ("touch.wav", WAV)})

    assert re.findall(r'<th scope="row">Touch (\d)', captain.get(night).text) == ["3", "2", "1"]


def test_what_is_no_recording_is_refused_and_makes_no_touch(captain: TestClient) -> None:
    night = begin(captain, what="Rounds", bells="6", whole_pulls="20")

    answer = captain.post(night, files={"recording": ("notes.txt", b"hello")})

    assert answer.status_code == 422
    assert "does not begin like any recording" in answer.text.lower()
    assert "Nothing has been rung yet" in captain.get(night).text


def test_nobody_else_sees_a_practice_night(service: Service, captain: TestClient) -> None:
    night = begin(captain, what="Rounds", bells="6", whole_pulls="20")
    captain.post(night, files={"recording": ("touch.wav", WAV)})

    for visitor in (service.visitor(), service.visitor("judge", "ann"), service.visitor("organiser")):
        assert visitor.get(night).status_code in {403, 404}
        assert visitor.get(night.removesuffix("/practice")).status_code == 404
        assert visitor.get(f"{night.removesuffix('/practice')}/bands/touch-1").status_code == 404
        assert "Practice" not in visitor.get("/").text
    assert captain.get(night.removesuffix("/practice")).headers["location"] == night


@pytest.mark.parametrize(
    ("meant", "words"),
    [
        ("3h00", "3h00 was meant and 2h45 rung, quicker than meant: blows came"),
        ("2:30", "2h30 was meant and 2h45 rung, slower than meant: blows came"),
        ("165", "2h45 was meant, and rung."),
    ],
)
def test_the_speed_that_was_meant_stands_beside_what_was_rung(
    service: Service, captain: TestClient, meant: str, words: str
) -> None:
    night = begin(captain, what="Rows of my own", rows=ROWS, speed=meant)
    captain.post(night, files={"recording": ("touch.webm", WAV)})
    with service.store.write() as session:
        contest = contest_by_slug(session, night.split("/")[2])
        assert contest is not None
        touch = entries_of(session, contest.id or 0)[0]
        log = human_log(
            rows_piece(), Character(spread_ms=5.0, pace_drift=0.0), seed=1, peal_minutes=165.0, handstroke_gap=1.0
        ).log
        add_strike_log(session, touch, data=write_log(log), name="log", origin="heard", who="ear")

    assert words in captain.get(night).text
    assert "is meant. Ring" in captain.get(night).text
    touch_1 = f"{night.removesuffix('/practice')}/bands/touch-1"
    assert words in captain.get(touch_1).text
    assert words in words_of(captain.get(f"{touch_1}/fault-sheet.pdf").content)


def test_how_much_the_gaps_differ_is_what_the_two_speeds_say() -> None:
    """A peal is 5,040 rows: on six bells with open leads 3h00 is a gap of 2 × 10,800 s / 5,040 / 13 = 330 ms."""
    log = human_log(
        rows_piece(), Character(spread_ms=1.0, pace_drift=0.0), seed=1, peal_minutes=165.0, handstroke_gap=1.0
    ).log
    count = count_striking(log, rows_piece(), CountingRules())

    told = beside_meant(count, 180)

    instead = re.search(r"(\d+) ms closer together, every (\d+) ms instead of (\d+)", told)
    assert instead is not None
    assert [int(figure) for figure in instead.groups()] == pytest.approx([27, 302, 330], abs=2)
