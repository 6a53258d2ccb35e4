"""What a pad and the server tell each other, and what happens to everything that should not be."""

from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from judging.store import StoredLink, StoredPadEvent, StoredSheet, revoke_link
from judging.web.turnstile import Turnstile

from .conftest import ADDRESS, Service

PAD = f"{ADDRESS}/bands/band-1/pad"
DEVICE = "phone001"
JSON = {"accept": "application/json"}


def entry_of(judge: TestClient) -> int:
    """Number of the entry that a pad is opened for, as its page tells it."""
    text = judge.get(PAD).text
    return int(text.split("&#34;entry&#34;: ")[1].split(",")[0])


def event(number: int, kind: str = "tap", *, device: str = DEVICE, **more: Any) -> dict[str, Any]:  # noqa: ANN401 any field
    faults = {"faults": 0.5} if kind == "tap" else {}
    return (
        {"id": f"{device}{number:08d}", "seq": number, "kind": kind, "at_ms": 1_700_000_000_000 + number}
        | faults
        | more
    )


def send(judge: TestClient, *events: dict[str, Any], device: str = DEVICE, **more: Any) -> Any:  # noqa: ANN401 JSON
    batch = {"device": device, "entry": entry_of(judge), "events": list(events)} | more
    return judge.post(PAD, json=batch, headers=JSON)


def signature(number: int, *lines: tuple[int, float], total: float | None = None, **more: str) -> dict[str, Any]:
    sheet = {
        "lines": [{"change": change, "faults": faults, "time_s": 2.0 * change} for change, faults in lines],
        "total": sum(faults for _, faults in lines) if total is None else total,
    }
    return event(number, "sign", sheet=sheet | more)


def kept(service: Service) -> list[str]:
    with service.store.read() as session:
        return [stored.event for stored in session.exec(select(StoredPadEvent)).all()]


def sheets(service: Service, judge: int) -> list[tuple[int, str]]:
    with service.store.read() as session:
        found = session.exec(select(StoredSheet).where(StoredSheet.judge_id == judge)).all()
        return [(sheet.revision, str(sheet.total)) for sheet in found]


@pytest.fixture
def judge(unsigned: Service) -> TestClient:
    return unsigned.visitor("judge", "ann")


@pytest.fixture
def unsigned(service: Service) -> Service:
    """The first band's sheets are not signed: the contest is rung anew in a phase of its own."""
    service.set_phase("ringing")
    with service.store.write() as session:
        session.connection().exec_driver_sql("DROP TRIGGER tap_no_delete")
        session.connection().exec_driver_sql("DROP TRIGGER sheet_no_delete")
        session.connection().exec_driver_sql("DELETE FROM tap")
        session.connection().exec_driver_sql("DELETE FROM sheet")
    return service


def test_what_is_sent_is_named_and_sent_again_is_named_again_and_kept_once(
    judge: TestClient, unsigned: Service
) -> None:
    first = send(judge, event(1, "start"), event(2)).json()
    again = send(judge, event(2), event(3)).json()

    assert first["kept"] == [f"{DEVICE}00000001", f"{DEVICE}00000002"]
    assert again["kept"] == [f"{DEVICE}00000002", f"{DEVICE}00000003"]
    assert len(kept(unsigned)) == 3


def test_the_servers_clock_is_told_and_a_pads_own_is_taken_out(judge: TestClient, unsigned: Service) -> None:
    now_ms = send(judge).json()["now_ms"]
    an_hour = 3_600_000
    answer = send(judge, event(1, at_ms=now_ms - an_hour, offset_ms=an_hour - 2000.4)).json()

    assert answer["future"] == []
    with unsigned.store.read() as session:
        [stored] = session.exec(select(StoredPadEvent)).all()
    assert (stored.at_ms, stored.device_ms) == (now_ms - 2000, now_ms - an_hour)


def test_a_tap_from_the_future_is_kept_counted_and_told(judge: TestClient, unsigned: Service) -> None:
    answer = send(judge, event(1, at_ms=2**52)).json()

    assert answer["kept"] == answer["future"] == [f"{DEVICE}00000001"]
    with unsigned.store.read() as session:
        [stored] = session.exec(select(StoredPadEvent)).all()
    assert stored.at_ms == stored.received_ms


def test_the_stewards_start_reaches_the_pad(judge: TestClient) -> None:
    assert (send(judge).json()["began_ms"], send(judge).json()["is_open"]) == (None, True)


def test_another_pad_of_the_judge_is_told_what_this_one_sent_and_a_colleagues_is_not(
    judge: TestClient, unsigned: Service
) -> None:
    send(judge, event(1), event(2))
    other = send(unsigned.visitor("judge", "ann"), event(1, device="tablet01"), device="tablet01").json()
    colleague = send(unsigned.visitor("judge", "ben"), device="tablet02").json()

    assert [(one["device"], one["seq"]) for one in other["others"]] == [(DEVICE, 1), (DEVICE, 2)]
    assert colleague["others"] == []
    later = send(judge, device="tablet01", after=other["after"]).json()
    assert later["others"] == []


def test_a_signature_makes_the_sheet_with_its_times(judge: TestClient, unsigned: Service) -> None:
    answer = send(judge, event(1), signature(2, (3, 0.5), (38, 1.0), comment="Well led.")).json()

    assert answer["signed"] | {"at_ms": 0} == {"revision": 1, "total": "1½", "at_ms": 0, "late": 0}
    assert sheets(unsigned, 1) == [(1, "1.5")]
    page = judge.get(f"{ADDRESS}/bands/band-1/sheets/ann").text
    assert "38 1 76" in page
    assert "Well led." in page


def test_a_signature_that_comes_twice_signs_once_and_another_needs_a_reason(
    judge: TestClient, unsigned: Service
) -> None:
    send(judge, signature(1, (3, 0.5)))
    again = send(judge, signature(1, (3, 0.5))).json()
    other = send(judge, signature(2, (3, 1.0))).json()
    revised = send(judge, signature(3, (3, 1.0), reason="heard it again")).json()

    assert again["kept"] == [f"{DEVICE}00000001"]
    assert (other["kept"], list(other["refused"])) == ([], [f"{DEVICE}00000002"])
    assert "needs a reason" in other["refused"][f"{DEVICE}00000002"]
    assert revised["signed"]["revision"] == 2
    assert sheets(unsigned, 1) == [(1, "0.5"), (2, "1.0")]


def test_a_total_that_its_lines_do_not_make_is_not_signed(judge: TestClient, unsigned: Service) -> None:
    answer = send(judge, event(1), signature(2, (3, 0.5), total=4.0)).json()

    assert answer["kept"] == [f"{DEVICE}00000001"]
    assert "is 4, but its lines make ½ faults" in answer["refused"][f"{DEVICE}00000002"]
    assert sheets(unsigned, 1) == []


def test_taps_that_come_after_the_signature_are_kept_told_and_not_counted(judge: TestClient, unsigned: Service) -> None:
    send(judge, event(1), signature(2, (3, 0.5)))
    late = send(unsigned.visitor("judge", "ann"), event(1, device="tablet01"), device="tablet01").json()

    assert late["signed"]["late"] == 1
    assert sheets(unsigned, 1) == [(1, "0.5")]
    assert len(kept(unsigned)) == 3


def test_a_pad_that_died_is_finished_on_the_sheets_own_page(judge: TestClient) -> None:
    send(judge, event(1, "start"), event(2, at_ms=1_700_000_004_000), event(3, "comment", text="Mind the backstrokes."))

    page = judge.get(f"{ADDRESS}/bands/band-1/sheets/ann").text
    assert "what the judge’s pad has sent so far: 1 touch" in page
    assert 'value="½"' in page
    assert "Mind the backstrokes." in page


def test_without_scripts_the_pad_leads_to_the_sheet(judge: TestClient) -> None:
    page = judge.get(PAD).text

    assert "<noscript>" in page
    assert f"{ADDRESS}/bands/band-1/sheets/ann" in page
    assert all(name not in page for name in ("saltmarsh", "pinfold", "gorse", "Saltmarsh"))


def test_a_final_contest_takes_nothing_and_the_pad_is_told(judge: TestClient, unsigned: Service) -> None:
    unsigned.set_phase("final")
    answer = send(judge, event(1))

    assert (answer.status_code, answer.json()["error"][:19]) == (409, "The result is final")
    assert kept(unsigned) == []
    assert send(judge).json()["is_open"] is False


def test_a_withdrawn_link_is_not_found_and_a_new_one_takes_what_was_kept(judge: TestClient, unsigned: Service) -> None:
    send(judge, event(1))
    entry = entry_of(judge)
    with unsigned.store.write() as session:
        link = session.exec(select(StoredLink).where(StoredLink.role == "judge").order_by("id")).all()[-1]
        revoke_link(session, link.id, who="test")
    batch = {"device": DEVICE, "entry": entry, "events": [event(1), event(2)]}

    assert judge.post(PAD, json=batch).status_code == 404
    again = unsigned.visitor("judge", "ann").post(PAD, json=batch).json()
    assert again["kept"] == [f"{DEVICE}00000001", f"{DEVICE}00000002"]
    assert len(kept(unsigned)) == 2


def test_a_number_that_went_to_another_band_takes_nothing(judge: TestClient, unsigned: Service) -> None:
    answer = send(judge, event(1), entry=entry_of(judge) + 1)

    assert (answer.status_code, kept(unsigned)) == (409, [])


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "dance"},
        {"seq": 0},
        {"seq": 10**7},
        {"at_ms": -1},
        {"at_ms": 2**60},
        {"id": "short"},
        {"id": "<script>alert(1)</script>"},
        {"faults": 99},
        {"faults": "NaN"},
        {"faults": "1e400"},
        {"text": "x" * 5001},
        {"offset_ms": 1e300},
        {"more": 1},
    ],
)
def test_an_event_that_cannot_be_is_refused_and_keeps_nothing(
    judge: TestClient, unsigned: Service, wrong: dict[str, Any]
) -> None:
    answer = send(judge, event(1) | wrong)

    assert answer.status_code == 422
    assert answer.json()["ok"] is False
    assert kept(unsigned) == []


def test_what_is_no_batch_is_refused(judge: TestClient) -> None:
    for body in (b"", b"[]", b"{", b"\xff\xfe", b'{"device": 1}', b'{"events": ' + b"[" * 5000 + b"]" * 5000 + b"}"):
        answer = judge.post(PAD, content=body, headers={"content-type": "application/json"})
        assert answer.status_code in {400, 422}


def test_more_at_once_than_a_pad_ever_sends_is_refused(judge: TestClient, unsigned: Service) -> None:
    assert send(judge, *(event(number) for number in range(1, 202))).status_code == 422
    assert judge.post(PAD, content=b"x" * 600_000).status_code == 413
    assert kept(unsigned) == []


def test_ten_thousand_a_second_are_held_back_and_nobody_elses() -> None:
    turnstile = Turnstile(rate=20.0, burst=100.0)
    passed = sum(turnstile.admits(1) for _ in range(10_000))

    assert 100 <= passed < 1000
    assert turnstile.admits(2)


def test_what_is_held_back_is_told_and_kept_on_the_pad_and_what_was_named_is_here(
    judge: TestClient, unsigned: Service
) -> None:
    unsigned.app.state.turnstile = Turnstile(rate=0.0, burst=5.0)
    entry = entry_of(judge)
    answers = [
        judge.post(PAD, json={"device": DEVICE, "entry": entry, "events": [event(number)]}, headers=JSON)
        for number in range(1, 9)
    ]

    assert [answer.status_code for answer in answers] == [200] * 5 + [429] * 3
    assert "is a key stuck" in answers[-1].json()["error"]
    assert [name for answer in answers[:5] for name in answer.json()["kept"]] == kept(unsigned)
    assert send(unsigned.visitor("judge", "ben"), event(1, device="tablet01"), device="tablet01").status_code == 200


def test_a_surprising_figure_is_asked_about_at_signing_and_signed_with_its_reason(
    judge: TestClient, unsigned: Service
) -> None:
    lines = [(change, 4.5) for change in range(1, 41)]

    asked = send(judge, signature(1, *lines)).json()
    signed = send(judge, signature(2, *lines, reason="they fired out")).json()

    assert asked["kept"] == []
    [said] = asked["refused"].values()
    assert said.startswith("180 faults is more than 4 for each of 40 changes: is it as you heard it?")
    assert signed["kept"] == [f"{DEVICE}00000002"]
    assert signed["signed"]["total"] == "180"
    with unsigned.store.read() as session:
        [sheet] = session.exec(select(StoredSheet)).all()
    assert sheet.reason == "they fired out"
