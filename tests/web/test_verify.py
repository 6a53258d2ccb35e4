"""A certificate's code, confirmed by anybody, years later."""

import json
import re
import shutil
import subprocess

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from judging.store import StoredPublication, contest_by_slug, publish
from judging.web.certified import plain_code

from .conftest import ADDRESS, BANDS, SLUG, Service

PRINTED = f"{ADDRESS}/sections/1/certificates.pdf"


def words_of(pdf: bytes) -> str:
    if shutil.which("pdftotext") is None:
        pytest.skip("poppler's pdftotext is not installed")
    done = subprocess.run(["pdftotext", "-", "-"], input=pdf, capture_output=True, check=True)
    return done.stdout.decode().replace("\u200b", "")


def codes_on(pdf: bytes) -> list[str]:
    return re.findall(r"code ([0-9A-F]{4}-[0-9A-F]{4})", words_of(pdf))


@pytest.fixture(scope="module")
def codes(finished: Service) -> list[str]:
    return codes_on(finished.visitor().get(PRINTED).content)


def test_every_code_that_is_printed_is_confirmed_with_all_that_the_certificate_says(
    finished: Service, codes: list[str]
) -> None:
    assert len(set(codes)) == len(BANDS)
    pages = [finished.visitor().get("/verify", params={"code": code}).text for code in codes]

    assert all("This certificate is genuine." in page for page in pages)
    assert "<dd>First</dd>" in pages[0]
    assert f"<dd>{BANDS['saltmarsh']}</dd>" in pages[0]
    assert "13½ faults" in pages[0]
    assert f'href="{ADDRESS}"' in pages[0]


@pytest.mark.parametrize("typed", ["{}", " {} ", "{lower}", "{bare}"])
def test_a_code_is_known_however_it_is_typed(finished: Service, codes: list[str], typed: str) -> None:
    code = codes[0]
    sent = typed.format(code, lower=code.lower(), bare=code.replace("-", ""))

    assert "This certificate is genuine." in finished.visitor().get("/verify", params={"code": sent}).text


def test_letters_that_look_like_digits_are_taken_for_them() -> None:
    assert plain_code(" 4foa il23") == "4F0A-1123"


@pytest.mark.parametrize("typed", ["0000-0000", "x", "<script>alert(1)</script>", "4F0A-91C2-AA"])
def test_another_code_is_told_to_be_none_and_what_was_typed_is_kept(finished: Service, typed: str) -> None:
    answer = finished.visitor().get("/verify", params={"code": typed})

    assert answer.status_code == 200
    assert "No certificate of a final result kept here" in answer.text
    assert "<script>alert" not in answer.text


def test_a_result_that_was_corrected_is_said_to_be_so(service: Service, codes: list[str]) -> None:
    with service.store.write() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        first = session.exec(select(StoredPublication)).one()
        contest.revision = 2
        session.add(contest)
        session.flush()
        document = json.loads(first.result_json)
        publish(session, contest, document, phase="final", who="test", reason="a sum was wrong")

    page = service.visitor().get("/verify", params={"code": codes[0]}).text

    assert "its result has been corrected since" in page
    assert "It is of revision 1; the result is now revision 2" in page


def test_nothing_is_confirmed_of_a_contest_that_nobody_may_know_of(service: Service, codes: list[str]) -> None:
    service.set_phase("draft")

    assert "This certificate is genuine." not in service.visitor().get("/verify", params={"code": codes[0]}).text


@pytest.mark.parametrize(
    ("host", "printed"),
    [("striking.example", "striking.example/verify"), ("192.168.1.20:8000", ""), ("laptop.lan", ""), ("localhost", "")],
)
def test_only_an_address_that_will_last_is_printed(finished: Service, host: str, printed: str) -> None:
    client = TestClient(finished.app, base_url=f"http://{host}", follow_redirects=False)
    words = "".join(words_of(client.get(PRINTED).content).split())

    assert ("confirmedat" in words) == bool(printed)
    assert printed in words
