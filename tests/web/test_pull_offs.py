"""An evening of pull-offs on the service: set, fed, told, private, kept through a reload, erased when asked."""

import re
import time
from dataclasses import dataclass

import numpy as np
import pytest
from fastapi.testclient import TestClient

from judging.jobs.ideal_pull_off import gap_ms
from judging.piece import Piece, rounds
from judging.sounding import Character, Lateness, human_log, ring, ring_of_bells
from judging.sounding.steady import gap_s
from judging.store import add_stand, contest_by_slug, stands_of
from judging.striking import write_log

from .conftest import Service

RATE = 16_000


@pytest.fixture
def captain(service: Service) -> TestClient:
    return service.visitor("organiser", anywhere=True)


@dataclass(frozen=True)
class Night:
    """A practice night's evening of pull-offs."""

    address: str
    number: int


@pytest.fixture
def night(service: Service, captain: TestClient) -> Night:
    begun = captain.post("/practice", data={"what": "Rounds", "bells": "6", "whole_pulls": "20"}).headers["location"]
    with service.store.read() as session:
        contest = contest_by_slug(session, begun.split("/")[2])
        assert contest is not None
        return Night(f"{begun}/pull-offs", contest.id or 0)


def pulled_off(seed: int, fifth_ms: float = 80.0) -> str:
    piece = Piece("rounds", np.tile(rounds(6), (4, 1)))
    band = Character(spread_ms=12.0, pull_off_ms=8.0, late=(Lateness(bell=5, stroke="both", late_ms=fifth_ms),))
    return write_log(human_log(piece, band, peal_minutes=170.0, seed=seed).log)


def heard(service: Service, night: Night, csv: str = "", problem: str = "") -> None:
    with service.store.write() as session:
        add_stand(session, night.number, row="123456", csv=csv, problem=problem, who="ear")


def test_the_page_says_what_to_do_before_anything_was_heard(captain: TestClient, night: Night) -> None:
    page = captain.get(night.address).text
    assert "Pull-offs in Rounds on 6" in page
    assert "Nothing has been pulled off yet" in page


def test_the_sixth_page_says_whether_the_fifth_bell_is_still_late(
    service: Service, captain: TestClient, night: Night
) -> None:
    for seed in range(6):
        heard(service, night, pulled_off(seed))

    page = captain.get(night.address).text

    assert ">Pull-off 6 " in page
    assert "5 is still late at handstroke: " in page
    assert "5 is still late at backstroke: " in page
    assert "The evening so far" in page
    assert len(re.findall(r"<h3>Pull-off \d", page)) == 5


def test_what_was_no_pull_off_is_said_and_those_before_are_kept(
    service: Service, captain: TestClient, night: Night
) -> None:
    heard(service, night, pulled_off(1))
    heard(service, night, problem="This sounds like 8 bells; 6 were said to be rung.")

    page = captain.get(night.address).text

    assert "This sounds like 8 bells" in page
    assert '<h2 id="newest">No pull-off' in page
    assert "<h2>Pull-off 1 " in page  # it stays in sight
    assert "<summary>Those before" not in page


def test_what_was_no_pull_off_again_and_again_is_told_once(service: Service, captain: TestClient, night: Night) -> None:
    for problem in ("This sounds like 5 bells.", "Bells were being raised, which is not judged.", "Too quiet."):
        heard(service, night, problem=problem)
    heard(service, night, pulled_off(1))
    heard(service, night, problem="This sounds like 8 bells.")

    page = captain.get(night.address).text

    assert "<summary>Those before (1)</summary>" in page
    assert re.search(r"<h3>No pull-off <small class=\"soft\">at \d\d:\d\d, 3 times since \d\d:\d\d</small></h3>", page)
    assert "Too quiet." in page
    assert "5 bells" not in page
    assert re.search(r'id="newest">No pull-off <small class="soft">at \d\d:\d\d</small>', page)


def test_any_row_may_be_pulled_off_in_and_a_tower_be_aimed_at(captain: TestClient, night: Night) -> None:
    form = {"bells": "8", "row": "queens", "there_bells": "12", "there_speed": "3h30"}
    assert captain.post(night.address, data=form).status_code == 303

    page = captain.get(night.address).text

    assert "Pull-offs in Queens on 8" in page
    assert f"one blow follows another after {1000 * gap_s(12, peal_minutes=210, handstroke_gap=1.0):.0f} ms" in page
    assert gap_ms(12, 210) == pytest.approx(1000 * 120 * 210 / 5040 / 25)
    assert "is being rung" in page


@pytest.mark.parametrize(
    ("form", "field"),
    [
        ({"bells": "2", "row": "Rounds"}, "bells"),
        ({"bells": "six", "row": "Rounds"}, "bells"),
        ({"bells": "6", "row": "12345"}, "row"),
        ({"bells": "6", "row": "113456"}, "row"),
        ({"bells": "7", "row": "Whittingtons"}, "row"),
        ({"bells": "6", "row": "Rounds", "there_bells": "8"}, "there_speed"),
        ({"bells": "6", "row": "Rounds", "there_bells": "8", "there_speed": "fast"}, "there_speed"),
        ({"bells": "6", "row": "Rounds", "there_speed": "3h10"}, "there_bells"),
    ],
)
def test_what_cannot_be_listened_for_is_said_beside_its_field(
    captain: TestClient, night: Night, form: dict[str, str], field: str
) -> None:
    answer = captain.post(night.address, data=form)

    assert answer.status_code == 422
    assert f'id="{field}-wrong"' in answer.text


def test_everything_is_erased_when_asked(service: Service, captain: TestClient, night: Night) -> None:
    heard(service, night, pulled_off(1))

    assert captain.post(f"{night.address}/erase").status_code == 303

    assert "Nothing has been pulled off yet" in captain.get(night.address).text
    with service.store.read() as session:
        assert stands_of(session, night.number) == []


def test_blocks_are_heard_and_a_pull_off_is_told(service: Service, captain: TestClient, night: Night) -> None:
    piece = Piece("rounds", np.tile(rounds(6), (2, 1)))
    log = human_log(piece, Character(spread_ms=12.0), peal_minutes=170.0, seed=2).log
    sound, true = ring(log, ring_of_bells(6, seed=3), seed=2, rate=RATE, lead_in_s=3.0)
    sound = 0.5 * np.concatenate([sound, np.zeros(2 * RATE)])
    sound += 2e-4 * np.random.default_rng(0).standard_normal(len(sound))
    samples = (32767 * sound).astype("<i2")
    stream = captain.post(f"{night.address}/streams", json={"rate_hz": RATE}).json()["stream"]
    blocks = [samples[begin : begin + RATE // 2].tobytes() for begin in range(0, len(samples), RATE // 2)]
    was_dark = False
    for number, block in enumerate(blocks):
        now = feed(captain, night, stream, number, block)
        assert now["next"] == number + 1
        assert feed(captain, night, stream, number, block)["next"] == number + 1  # sent twice, had once
        was_dark |= now["ringing"]
    quiet = (6 * np.random.default_rng(1).standard_normal(RATE // 2)).astype("<i2").tobytes()
    for number in range(len(blocks), len(blocks) + 120):
        now = feed(captain, night, stream, number, quiet)
        was_dark |= now["ringing"]
        if now["told"]:
            break
        time.sleep(0.25)

    assert was_dark
    assert now["told"] == 1
    with service.store.read() as session:
        (stand,) = stands_of(session, night.number)
    assert len(stand.csv.splitlines()) == 1 + len(true), stand.problem
    assert ">Pull-off 1 " in captain.get(night.address).text
    assert captain.post(f"{night.address}/streams/{stream}/blocks/999", content=quiet[:-1]).status_code == 422
    captain.post(f"{night.address}/streams/stop")
    assert captain.post(f"{night.address}/streams/{stream}/blocks/999", content=quiet).status_code == 404


def feed(captain: TestClient, night: Night, stream: str, number: int, block: bytes) -> dict[str, int]:
    for _ in range(20):  # the ear may be behind, and says so; a page sends the block again
        answer = captain.post(f"{night.address}/streams/{stream}/blocks/{number}", content=block)
        if answer.status_code != 503:
            break
    assert answer.status_code == 200, answer.text
    told: dict[str, int] = answer.json()
    return told


def test_what_is_no_block_or_no_stream_is_refused(captain: TestClient, night: Night) -> None:
    assert captain.post(f"{night.address}/streams/gone/blocks/0", content=b"ab").status_code == 404
    assert captain.post(f"{night.address}/streams", json={"rate_hz": RATE, "channels": 9}).status_code == 422
    assert captain.post(f"{night.address}/streams", json={"rate_hz": 400}).status_code == 422
    assert captain.post(f"{night.address}/streams", content=b"x").status_code == 422
    big = captain.post(f"{night.address}/streams/gone/blocks/0", content=bytes(2_000_000))
    assert big.status_code == 413


def test_nobody_else_sees_or_feeds_an_evening(service: Service, night: Night) -> None:
    for visitor in (service.visitor(), service.visitor("judge", "ann"), service.visitor("organiser")):
        assert visitor.get(night.address).status_code in {403, 404}
        assert visitor.post(f"{night.address}/streams", json={"rate_hz": RATE}).status_code in {403, 404}
        assert visitor.post(f"{night.address}/erase").status_code in {403, 404}
