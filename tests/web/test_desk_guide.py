"""The desk says first what is to be done now, and offers only pages that have something to show."""

import re

import pytest
from fastapi.testclient import TestClient

from judging.contest import LIFE

from .conftest import ADDRESS, Service


def words_of_links(page: str) -> dict[str, str]:
    return {words: address for address, words in re.findall(r'<li><a href="([^"]+)">([^<]+)</a></li>', page)}


@pytest.mark.parametrize("phase", LIFE)
def test_every_page_that_the_desk_offers_is_there(service: Service, phase: str) -> None:
    service.set_phase(phase)
    organiser = service.visitor("organiser")

    offered = words_of_links(organiser.get(f"{ADDRESS}/desk").text)

    assert {"Rules", "Judges", "Papers to print"} <= set(offered)
    assert {words: organiser.get(address).status_code for words, address in offered.items()} == dict.fromkeys(
        offered, 200
    )


def test_nothing_is_offered_to_be_announced_before_there_is_a_result(service: Service) -> None:
    organiser = service.visitor("organiser")
    told = {}
    for phase in ("ringing", "protest"):
        service.set_phase(phase)
        told[phase] = "Announce it" in words_of_links(organiser.get(f"{ADDRESS}/desk").text)

    assert told == {"ringing": False, "protest": True}


def test_the_first_button_is_what_is_to_be_done_now(service: Service) -> None:
    organiser = service.visitor("organiser")

    def first_button(client: TestClient, address: str) -> str:
        found = re.search(r'<(?:a|button) class="button"[^>]*>([^<]+)<', client.get(f"{address}/desk").text)
        assert found is not None
        return found[1]

    assert first_button(service.stranger(), "/contests/other-six-bell-contest") == "Enter bands"  # there is none yet
    service.set_phase("draft")
    assert first_button(organiser, ADDRESS) == "Publish the rules"
    service.set_phase("final")
    assert first_button(organiser, ADDRESS) == "Print the papers"
