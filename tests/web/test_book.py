"""A band's own book: touches of contests and practices from year to year, the band's alone, erased by it alone."""

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from judging.sounding import Character, Lateness, human_log
from judging.store import StoredAudit, StoredBookTouch, contest_by_slug, entry_by_key, read_kept, strike_log_of
from judging.store.engine import DATABASE_NAME
from judging.striking import write_log
from judging.striking.touch_figures import figures_of_log
from judging.striking.touches_file import KeptTouch, Strikes, write_touches

from .conftest import ADDRESS, ROWS, SLUG, Service, rows_piece, serve

SHEET = f"{ADDRESS}/bands/band-1"


@pytest.fixture
def band(service: Service) -> TestClient:
    return service.visitor("band", first_band(service))


def first_band(service: Service) -> str:
    with service.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        return str(json.loads(contest.order_json)[0])


def begin(client: TestClient, **more: str) -> str:
    """Begin a book with the band's touch; return the token of its link."""
    shown = client.post(f"{SHEET}/book/begin", data={"name": "Our ringing", "strikes": "yes", **more})
    assert shown.status_code == 200
    assert shown.headers["cache-control"] == "no-store"
    link = re.search(r"/books/([A-Za-z0-9_-]{43})<", shown.text)
    assert link is not None
    return link[1]


def rung(day: date, *, spread_ms: float, seed: int, tenor_ms: float = 0.0, strikes: bool = True) -> KeptTouch:
    """A touch that was rung elsewhere."""
    late = (Lateness(bell=6, stroke="back", late_ms=tenor_ms),) if tenor_ms else ()
    character = Character(spread_ms=spread_ms, late=late)
    log = human_log(rows_piece(), character, seed=seed, peal_minutes=170.0, handstroke_gap=1.0).log
    kept = Strikes("bob.txt", ROWS, write_log(log)) if strikes else None
    return KeptTouch(day, "Contest elsewhere", figures_of_log(log, rows_piece(), name="log"), kept)


def add(client: TestClient, *touches: KeptTouch) -> None:
    answer = client.post("/book/touches", files={"touches": ("t.json", write_touches(touches).encode())})
    assert answer.status_code == 303, answer.text


def test_a_band_keeps_its_touch_and_opens_the_book_elsewhere_by_its_link(service: Service, band: TestClient) -> None:
    assert "Begin a book" in band.get(SHEET).text
    token = begin(band)
    shown = band.get("/book").text
    assert "Our ringing" in shown
    assert "13 June 2026, Dell Deanery six-bell contest" in shown
    assert f'href="{SHEET}"' in shown
    assert "is open here" in band.get(SHEET).text

    phone = service.visitor()
    assert phone.get("/book").status_code == 403
    assert "Open the book" in phone.get(f"/books/{token}").text
    assert phone.get("/book").status_code == 403  # a link that is only looked at opens nothing
    assert phone.post(f"/books/{token}").headers["location"] == "/book"
    assert "13 June 2026" in phone.get("/book").text
    assert "Erase this touch" in phone.get("/book/touches/1").text


def test_nobody_keeps_the_touch_of_another_band(service: Service, band: TestClient) -> None:
    begin(band)
    assert band.post(f"{ADDRESS}/bands/band-2/book", data={"strikes": "yes"}).status_code == 403
    organiser = service.visitor("organiser")
    assert organiser.post(f"{SHEET}/book/begin", data={"name": "x"}).status_code == 403
    assert "A book of your band" not in organiser.get(SHEET).text
    assert service.visitor("judge", "ann").post(f"{SHEET}/book/begin", data={"name": "x"}).status_code == 403


def test_an_organiser_sees_nothing_of_a_book(service: Service, band: TestClient) -> None:
    begin(band)
    organiser = service.visitor("organiser", anywhere=True)
    for address in ("/book", "/book/touches/1", "/book/touches.json", "/book/touches/1/touch.json", "/book/erase"):
        assert organiser.get(address).status_code == 403
    assert organiser.post("/book/erase").status_code == 403
    for address in ("/", "/practice/year-to-year", f"{ADDRESS}/desk", SHEET):
        assert "Our ringing" not in organiser.get(address).text
    with service.store.read() as session:
        trail = session.exec(select(StoredAudit).where(StoredAudit.about.startswith("book"))).all()  # type: ignore[attr-defined]
    assert {entry.who for entry in trail} == {"the holder of a book"}
    assert {entry.contest for entry in trail} == {""}


def test_the_strike_log_is_kept_only_where_the_band_wishes(service: Service, band: TestClient) -> None:
    begin(band, strikes="")
    (touch,) = json.loads(band.get("/book/touches.json").text)["touches"]
    assert "strikes" not in touch
    assert "These figures alone" in band.get("/book/touches/1").text
    assert band.post(f"{SHEET}/book", data={"strikes": "yes"}).status_code == 303
    (touch,) = json.loads(band.get("/book/touches.json").text)["touches"]
    with service.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        entry = entry_by_key(session, contest.id or 0, first_band(service))
        assert entry is not None
        log = strike_log_of(session, entry.id or 0)
    assert log is not None
    assert touch["strikes"] == {"piece_file": "bob.txt", "piece": ROWS, "log": log.csv}


def test_a_touch_that_was_heard_anew_takes_the_place_of_what_was_kept_of_it(service: Service, band: TestClient) -> None:
    begin(band)
    service.set_phase("sheets in")
    log = human_log(rows_piece(), Character(spread_ms=60.0), seed=9, peal_minutes=165.0, handstroke_gap=1.0).log
    given = {"log": ("log.csv", write_log(log).encode())}
    assert service.visitor("organiser").post(f"{SHEET}/strike-log", files=given).status_code == 303
    service.set_phase("final")

    assert band.post(f"{SHEET}/book", data={}).status_code == 303
    (touch,) = band.get("/book/touches.json").json()["touches"]
    assert touch["spread_ms"] == figures_of_log(log, rows_piece(), name="log").spread_ms
    assert "strikes" not in touch


def test_a_file_names_no_band_and_no_judge(band: TestClient) -> None:
    for address in (f"{SHEET}/touch.json", f"{SHEET}/touch.json?strikes=yes"):
        text = band.get(address).text
        assert "evenblow_touches" in text
        assert not [name for name in ("Saltmarsh", "Pinfold", "Gorse", "saltmarsh", "judge") if name in text]
    assert '"strikes"' not in band.get(f"{SHEET}/touch.json").text


@pytest.fixture
def elsewhere(finished_data: Path, tmp_path: Path) -> Iterator[Service]:
    yield from serve(tmp_path / "elsewhere", finished_data)


def test_a_touch_is_carried_from_one_service_to_the_book_on_another(band: TestClient, elsewhere: Service) -> None:
    laptop = elsewhere.visitor("organiser", anywhere=True)
    assert laptop.post("/books", data={"name": "Ours"}).status_code == 200
    carried = band.get(f"{SHEET}/touch.json?strikes=yes").content
    assert laptop.post("/book/touches", files={"touches": ("t.json", carried)}).status_code == 303

    begin(band)
    here, there = (client.get("/book/touches.json").json() for client in (band, laptop))
    assert here == there
    shown = laptop.get("/book/touches/1").text
    assert "not open to you here now" in shown
    again = laptop.post("/book/touches", files={"touches": ("t.json", carried)})
    assert again.status_code == 303
    assert len(laptop.get("/book/touches.json").json()["touches"]) == 1


def test_years_are_told_with_their_habits(band: TestClient) -> None:
    begin(band)
    spreads = [62, 56, 50, 45, 40, 37, 33, 30]
    years = [
        rung(date(2018 + at, 5, 9), spread_ms=spread, seed=at, tenor_ms=90 if at < 3 else 0.0)
        for at, spread in enumerate(spreads)
    ]
    add(band, *years)

    shown = band.get("/book").text
    assert re.search(r"becomes closer, from \d+ to \d+ ms over 9 nights", shown)
    assert shown.count('role="row"') == 10
    assert "<h3>Comes back</h3>" in shown or "<h3>Went</h3>" in shown
    tenor = re.search(r"6 strikes late at backstroke: on \d of 9 nights, in [^<]*", shown)
    assert tenor is not None
    assert "2018" in tenor[0]


def test_a_practice_touch_is_kept_by_whoever_holds_book_and_laptop(service: Service) -> None:
    captain = service.visitor("organiser", anywhere=True)
    address = str(captain.post("/practice", data={"what": "Rows of my own", "rows": ROWS}).headers["location"])
    slug = address.split("/")[2]
    wav = b"RIFF\x24\x00\x00\x00WAVEfmt " + bytes(100)
    assert captain.post(address, files={"recording": ("t.wav", wav)}).status_code == 303
    log = human_log(rows_piece(), Character(spread_ms=30.0), seed=5, peal_minutes=165.0, handstroke_gap=1.0).log
    sheet = f"/contests/{slug}/bands/touch-1"
    given = {"log": ("log.csv", write_log(log).encode())}
    assert captain.post(f"{sheet}/strike-log", files=given).status_code == 303
    assert captain.post(f"{sheet}/book", data={"strikes": "yes"}).status_code == 403  # no book is open yet

    captain.post("/books", data={"name": "Tower"})
    assert captain.post(f"{sheet}/book", data={"strikes": "yes"}).headers["location"] == "/book"
    assert ", Practice</a>" in captain.get("/book").text
    captain.post(f"{address}/erase")
    shown = captain.get("/book").text
    assert ", Practice</a>" in shown  # what a band kept in its book stays there
    assert sheet not in shown


def test_a_sheet_is_linked_only_where_it_may_still_be_seen(service: Service, band: TestClient) -> None:
    service.keep_fault_sheets_private()
    token = begin(band)
    assert f'href="{SHEET}"' in band.get("/book").text
    phone = service.visitor()
    phone.post(f"/books/{token}")
    assert f'href="{SHEET}"' not in phone.get("/book").text
    band.post(f"{SHEET}/sharing", data={"open": "yes"})
    assert f'href="{SHEET}"' in phone.get("/book").text


@pytest.mark.parametrize(
    ("name", "data", "message"),
    [
        ("t.json", b"RIFF....", "In t.json: is no JSON (line 1)"),
        ("t.json", b"\xff\xfe", "Is no text"),
        ("t.json", b'{"evenblow_touches": 1, "touches": []}', "holds no list of 1 to 300 touches"),
        ("<b>.json", b"{}", "&lt;b&gt;.json: has no"),
    ],
)
def test_a_file_that_is_none_is_refused_with_the_book_as_it_was(
    band: TestClient, name: str, data: bytes, message: str
) -> None:
    begin(band)
    answer = band.post("/book/touches", files={"touches": (name, data, "application/json")})
    assert answer.status_code == 422
    assert message in answer.text
    assert "13 June 2026" in answer.text


def test_a_form_without_a_file_is_said_to_be_one(band: TestClient) -> None:
    """As a browser sends a field in which no file was chosen."""
    begin(band)
    part = b'--x\r\nContent-Disposition: form-data; name="touches"; filename=""\r\n\r\n\r\n--x--\r\n'
    answer = band.post("/book/touches", content=part, headers={"content-type": "multipart/form-data; boundary=x"})
    assert answer.status_code == 422
    assert "No file is chosen" in answer.text


def test_one_bad_touch_keeps_the_whole_file_out(band: TestClient) -> None:
    begin(band)
    good, bad = rung(date(2020, 1, 1), spread_ms=40, seed=1), rung(date(2021, 1, 1), spread_ms=40, seed=2)
    assert bad.strikes is not None
    spoilt = json.loads(write_touches([good, bad]))
    spoilt["touches"][1]["strikes"]["log"] = "time_s,bell\n1.0,9\n"
    answer = band.post("/book/touches", files={"touches": ("t.json", json.dumps(spoilt).encode())})
    assert answer.status_code == 422
    assert "t.json, touch 2" in answer.text.lower()
    assert len(band.get("/book/touches.json").json()["touches"]) == 1


def test_touches_of_an_older_version_are_counted_again_when_asked(service: Service, band: TestClient) -> None:
    begin(band)
    now = rung(date(2020, 1, 1), spread_ms=40, seed=1)
    add(band, now, rung(date(2021, 1, 1), spread_ms=40, seed=2, strikes=False))
    with service.store.write() as session:
        for kept in session.exec(select(StoredBookTouch)):
            older = replace(read_kept(kept), figures=replace(now.figures, version="0.0.1", spread_ms=99.0))
            kept.touch_json = write_touches([older])
            session.add(kept)
    assert "2 touches were counted by another version" in band.get("/book").text  # one has no strike log

    assert band.post("/book/recount").headers["location"] == "/book"
    assert "counted by another version" not in band.get("/book").text
    touches = {one["day"]: one for one in band.get("/book/touches.json").json()["touches"]}
    assert touches["2020-01-01"]["spread_ms"] == now.figures.spread_ms
    assert touches["2021-01-01"]["spread_ms"] == 99.0


def test_one_touch_is_erased_and_then_the_book(service: Service, band: TestClient) -> None:
    token = begin(band)
    add(band, rung(date(2020, 1, 1), spread_ms=40, seed=1))
    assert band.post("/book/touches/1/erase").headers["location"] == "/book"
    assert band.get("/book/touches/1").status_code == 404
    assert "13 June 2026" not in band.get("/book").text
    assert band.get(SHEET).status_code == 200  # the contest's own record stays as it was

    phone = service.visitor()
    phone.post(f"/books/{token}")
    assert "Erase it for good" in band.get("/book/erase").text
    assert band.post("/book/erase").headers["location"] == "/"
    for client in (band, phone):
        assert client.get("/book").status_code == 403
    assert service.visitor().post(f"/books/{token}").status_code == 409
    left = b"".join(path.read_bytes() for path in service.store.data.glob(f"{DATABASE_NAME}*"))
    assert b"Our ringing" not in left
    assert b"Contest elsewhere" not in left


def test_closing_and_a_link_made_anew_shut_others_out(service: Service, band: TestClient) -> None:
    token = begin(band)
    phone = service.visitor()
    phone.post(f"/books/{token}")
    anew = band.post("/book/link")
    link = re.search(r"/books/([A-Za-z0-9_-]{43})<", anew.text)
    assert link is not None
    assert phone.get("/book").status_code == 403
    assert phone.post(f"/books/{token}").status_code == 409
    assert phone.post(f"/books/{link[1]}").status_code == 303
    held = phone.cookies["evenblow_book"]
    assert phone.post("/book/close").status_code == 303
    phone.cookies.set("evenblow_book", held)
    assert phone.get("/book").status_code == 403


def test_signing_out_closes_the_book_too(band: TestClient) -> None:
    begin(band)
    held = band.cookies["evenblow_book"]
    band.post("/leave")
    band.cookies.set("evenblow_book", held)
    assert band.get("/book").status_code == 403


def test_a_book_without_a_name_is_asked_for_one(band: TestClient) -> None:
    answer = band.post(f"{SHEET}/book/begin", data={"name": " ", "strikes": "yes"})
    assert answer.status_code == 422
    assert f'action="{SHEET}/book/begin"' in answer.text
    assert 'name="strikes" value="yes"' in answer.text
    assert "evenblow_book" not in band.cookies
