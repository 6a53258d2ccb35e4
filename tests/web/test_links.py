"""Personal links: exchanged once, taken back at once, shown once."""

import re

import pytest

from judging.store import make_link
from judging.web import network, organiser_link

from .conftest import ADDRESS, Service


def test_the_first_start_makes_a_link_and_later_starts_none_once_it_was_used(service: Service) -> None:
    first = organiser_link(service.store, base="http://127.0.0.1:8000")
    assert first is not None
    assert first.startswith("http://127.0.0.1:8000/links/")
    assert len(first.rsplit("/", 1)[1]) == 43  # 256 bits, six to a letter
    assert organiser_link(service.store, base="http://127.0.0.1:8000") is not None  # not used yet

    assert service.visitor().post(first.removeprefix("http://127.0.0.1:8000")).status_code == 303

    assert organiser_link(service.store, base="http://127.0.0.1:8000") is None


def test_looking_at_a_link_does_not_use_it_up(service: Service) -> None:
    address = organiser_link(service.store, base="") or ""
    client = service.visitor()

    for _ in range(3):
        assert client.get(address).status_code == 200
    assert client.post(address).status_code == 303
    assert client.post(address).status_code == 409


def test_a_link_that_was_never_given_is_refused_in_words(service: Service) -> None:
    answer = service.visitor().post("/links/" + "x" * 43)

    assert answer.status_code == 409
    assert "copy it whole" in answer.text


def test_a_link_made_at_the_desk_is_shown_once_and_brings_its_holder_in(service: Service) -> None:
    service.set_phase("ringing")
    organiser = service.visitor("organiser")

    shown = organiser.post(f"{ADDRESS}/links", data={"holder": "judge ann", "note": "by hand"}).text

    address = re.search(r"http://testserver(/links/[\w-]{43})", shown)
    assert address is not None
    assert "<svg" in shown  # the square to point a phone at
    judge = service.visitor()
    assert judge.post(address[1]).headers["location"] == f"{ADDRESS}/judging"
    assert judge.get(f"{ADDRESS}/bands/band-1/sheets/ann").status_code == 200
    assert judge.get(f"{ADDRESS}/bands/band-1/sheets/ben").status_code == 404
    assert address[1] not in organiser.get(f"{ADDRESS}/desk").text


def test_a_link_taken_back_ends_the_sessions_that_came_from_it(service: Service) -> None:
    service.set_phase("ringing")
    judge = service.visitor("judge", "ann")
    organiser = service.visitor("organiser")
    assert judge.get(f"{ADDRESS}/bands/band-1/sheets/ann").status_code == 200
    numbers = [int(number) for number in re.findall(r"/links/(\d+)/revoke", organiser.get(f"{ADDRESS}/desk").text)]

    organiser.post(f"{ADDRESS}/links/{min(numbers)}/revoke")

    assert judge.get(f"{ADDRESS}/bands/band-1/sheets/ann").status_code == 404


def test_a_link_for_nobody_of_the_contest_is_refused(service: Service) -> None:
    organiser = service.visitor("organiser")

    for holder in ("judge nobody", "band nobody", "public", "steward x", ""):
        assert organiser.post(f"{ADDRESS}/links", data={"holder": holder}).status_code == 422


def test_links_of_another_contest_cannot_be_taken_back(service: Service) -> None:
    with service.store.write() as session:
        make_link(session, role="organiser", who="test")
    organiser = service.visitor("organiser")

    assert organiser.post(f"{ADDRESS}/links/1/revoke").status_code == 409
    assert organiser.post(f"{ADDRESS}/links/999/revoke").status_code == 409


def test_everybody_is_led_back_from_any_page_to_where_they_began(service: Service) -> None:
    service.set_phase("ringing")
    own = {
        ("judge", "ann"): ("Your sheets", f"{ADDRESS}/judging"),
        ("steward", ""): ("In the ringing room", f"{ADDRESS}/ringing"),
        ("band", "gorse"): ("Your contest", ADDRESS),
        ("organiser", ""): ("The desk", f"{ADDRESS}/desk"),
    }

    for (role, key), (words, address) in own.items():
        visitor = service.visitor(role, key)
        assert f'<a class="own" href="/own-page">{words}</a>' in visitor.get("/reading").text
        assert visitor.get("/own-page").headers["location"] == address
    assert "own-page" not in service.visitor().get("/reading").text
    assert service.visitor().get("/own-page").headers["location"] == "/"


def test_the_desk_calls_whoever_has_a_link_as_people_do(service: Service) -> None:
    organiser = service.visitor("organiser")
    for holder in ("judge ann", "band pinfold", "steward"):
        organiser.post(f"{ADDRESS}/links", data={"holder": holder, "note": ""})

    desk = organiser.get(f"{ADDRESS}/desk").text

    listed = re.findall(r'<tr><th scope="row">(.*?)</th>', desk[desk.index("Links given") :])
    assert listed[:3] == ["The steward", "Pinfold Hatch", "First judge"]


def test_a_link_made_at_the_laptop_leads_a_phone_to_the_laptop_and_not_to_itself(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    service.set_phase("ringing")
    organiser = service.visitor("organiser")
    organiser.base_url = "http://127.0.0.1:8000"
    organiser.cookies.set("evenblow", organiser.cookies["evenblow"], domain="127.0.0.1")
    asked = {"holder": "steward", "note": ""}
    monkeypatch.setattr(network, "own_address", lambda: "192.168.1.20")

    alone = organiser.post(f"{ADDRESS}/links", data=asked).text
    service.app.state.is_on_network = True
    reached = organiser.post(f"{ADDRESS}/links", data=asked).text

    assert "http://127.0.0.1:8000/links/" in alone
    assert "works on this computer alone" in alone
    assert "http://192.168.1.20:8000/links/" in reached
    assert "works on this computer alone" not in reached
    assert 'value="http://192.168.1.20:8000"' in organiser.get(f"{ADDRESS}/printing").text


@pytest.mark.parametrize(
    ("address", "is_alone"),
    [
        ("http://127.0.0.1:8000", True),
        ("http://localhost:8000", True),
        ("http://[::1]:8000", True),
        ("http://192.168.1.20:8000", False),
        ("https://evenblow.example", False),
    ],
)
def test_an_address_of_this_computer_alone_is_known_as_one(address: str, *, is_alone: bool) -> None:
    assert network.is_this_computer_alone(address) is is_alone
