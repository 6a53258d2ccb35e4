"""The organiser's papers: every one of them, for the organiser alone, and slips with links that work."""

import io
import re
import shutil
import subprocess
import zipfile

import pytest

from judging.web.answers import disposition
from judging.web.link_slips import _base

from .conftest import ADDRESS, BANDS, Service

PAPERS = f"{ADDRESS}/printing"


def words_of(pdf: bytes) -> str:
    if shutil.which("pdftotext") is None:
        pytest.skip("poppler's pdftotext is not installed")
    done = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True)
    return " ".join(done.stdout.decode().replace("\u200b", "").split())


def papers_on(page: str) -> list[str]:
    return [address.partition("?")[0] for address in re.findall(rf'href="{PAPERS}/([^"]+\.pdf[^"]*)"', page)]


def test_every_paper_on_the_page_can_be_printed_and_is_in_the_one_file(finished: Service) -> None:
    organiser = finished.visitor("organiser")
    listed = papers_on(organiser.get(PAPERS).text)

    whole = organiser.get(f"{PAPERS}/everything.zip")
    assert whole.headers["content-type"] == "application/zip"
    assert whole.content == organiser.get(f"{PAPERS}/everything.zip").content
    with zipfile.ZipFile(io.BytesIO(whole.content)) as file:
        assert file.testzip() is None
        inside = {name.rsplit("/", 1)[1]: file.read(name) for name in file.namelist()}
    assert {"rules.pdf", "draw.pdf", "stewards-sheet.pdf", "results.pdf", "certificates-a5.pdf"} < set(listed)
    assert set(listed) == {name for name in inside if name.endswith(".pdf")}
    assert {f"fault-sheet-{band}.{kind}" for band in BANDS for kind in ("pdf", "html")} < set(inside)
    for name in listed:
        answer = organiser.get(f"{PAPERS}/{name}")
        assert answer.content == inside[name]
        assert answer.content.startswith(b"%PDF")
        assert answer.headers["content-disposition"] == f'inline; filename="{name}"'
        assert answer.headers["x-content-type-options"] == "nosniff"


def test_a_page_to_keep_is_never_opened_as_one_of_ours(finished: Service) -> None:
    answer = finished.visitor("organiser").get(f"{PAPERS}/results.html")

    assert answer.headers["content-disposition"].startswith("attachment;")
    assert answer.headers["content-type"] == "text/html; charset=utf-8"


def test_before_the_draw_there_is_what_can_be_printed_then_and_it_says_what_stands(service: Service) -> None:
    service.set_phase("draft")
    organiser = service.visitor("organiser")

    page = organiser.get(PAPERS).text

    assert "draft · revision 1" in page
    assert "draw.pdf" not in papers_on(page)
    assert {"rules.pdf", "judges-paper-bob.pdf", "certificates-blank.pdf"} <= set(papers_on(page))
    assert "not published yet" in words_of(organiser.get(f"{PAPERS}/rules.pdf").content)
    assert organiser.get(f"{PAPERS}/draw.pdf").status_code == 404


def test_what_is_wanted_next_is_listed_first(service: Service) -> None:
    organiser = service.visitor("organiser")

    def headings() -> list[str]:
        return re.findall(r'<h2 id="part-([a-z-]+)"', organiser.get(PAPERS).text)

    service.set_phase("drawn")
    before = headings()
    service.set_phase("protest")
    after = headings()

    assert before[0] == after[-1] == "before-the-day"
    assert before[1:] == after[:-1]


def test_a_draw_that_was_taken_back_is_neither_shown_nor_printed(service: Service) -> None:
    service.set_phase("drawn")
    organiser = service.visitor("organiser")
    assert "draw.pdf" in papers_on(organiser.get(PAPERS).text)

    assert organiser.post(f"{ADDRESS}/phase", data={"to": "published", "reason": "a band was late"}).status_code == 303

    assert "draw.pdf" not in papers_on(organiser.get(PAPERS).text)
    assert "band-1" not in organiser.get(f"{ADDRESS}/desk").text
    page = service.visitor().get(ADDRESS).text
    order, rules_follow, _ = page.partition('id="rules"')  # whose worked example has bands of its own
    assert 'id="order"' in order
    assert rules_follow
    assert "Band 1" not in order


def test_a_result_is_provisional_on_paper_until_it_is_final(service: Service) -> None:
    organiser = service.visitor("organiser")
    assert "provisional" not in words_of(organiser.get(f"{PAPERS}/results.pdf").content)

    service.set_phase("protest")

    words = words_of(organiser.get(f"{PAPERS}/results.pdf").content)
    assert "provisional · revision 1 · rules" in words
    assert "audit" in words
    assert BANDS["saltmarsh"] in words


def test_a_band_judged_by_ear_alone_takes_the_judges_words_home(service: Service) -> None:
    service.set_phase("sheets in")
    organiser = service.visitor("organiser")
    own = f"{ADDRESS}/bands/{number_of(service, 'saltmarsh')}"
    assert organiser.post(f"{own}/consent", data={"consent": "refused"}).status_code == 303
    assert "judged-by-ear-saltmarsh.pdf" in papers_on(organiser.get(PAPERS).text)
    assert service.visitor("band", "saltmarsh").get(f"{own}/fault-sheet.pdf").status_code == 404  # not final

    service.set_phase("final")

    band = service.visitor("band", "saltmarsh")
    words, shown = words_of(band.get(f"{own}/fault-sheet.pdf").content), band.get(own).text
    for part in ("Well led.", "First judge", "How the mark was reached", "What the judges noted", "17"):
        assert part in words
        assert part in shown
    for told in (words, shown):
        assert "no consent to a recording" in told.casefold()
        assert "What the machine counted" not in told
        assert "count.json" not in told
    assert f'href="{own}"' in service.visitor().get(ADDRESS).text

    service.change_rules("fault_sheets = true", "fault_sheets = true\nby_judge = false")
    veiled = words_of(service.visitor("band", "saltmarsh").get(f"{own}/fault-sheet.pdf").content)
    for told in (veiled, service.visitor("band", "saltmarsh").get(own).text):
        assert "Well led." in told
        assert "What the judges noted" not in told


def number_of(service: Service, band: str) -> str:
    """How addresses call a band."""
    order = service.visitor("organiser").get(f"{ADDRESS}/result.json").json()["order"]
    return f"band-{order.index(band) + 1}"


def test_the_first_time_puts_times_on_the_draw(service: Service) -> None:
    service.set_phase("drawn")
    with_slots(service)
    organiser = service.visitor("organiser")

    page = organiser.get(f"{PAPERS}?first=14:00").text

    assert f'href="{PAPERS}/draw.pdf?first=14:00"' in page
    for name in ("draw.pdf", "draw-by-number.pdf", "stewards-sheet.pdf"):
        words = words_of(organiser.get(f"{PAPERS}/{name}?first=14:00").content)
        assert "14:00" in words
        assert "14:30" in words
    assert "14:00" not in words_of(organiser.get(f"{PAPERS}/draw.pdf").content)


@pytest.mark.parametrize("first", ["25:00", "two o'clock", "14:00:61", "x" * 20])
def test_a_first_time_that_is_none_is_told_beside_its_field_and_costs_no_paper(service: Service, first: str) -> None:
    with_slots(service)
    organiser = service.visitor("organiser")

    answer = organiser.get(PAPERS, params={"first": first})

    assert answer.status_code == 422
    assert "is no time of day" in answer.text
    assert "first-wrong" in answer.text
    assert organiser.get(f"{PAPERS}/draw.pdf", params={"first": first}).status_code == 422


def with_slots(service: Service) -> None:
    """Declare how long each band has, behind everybody's back: no page can once the rules are published."""
    service.change_rules('piece = "bob"', 'piece = "bob"\nslot_minutes = 15')


def test_slips_bring_each_judge_and_the_steward_in_and_are_printed_once(service: Service) -> None:
    service.set_phase("ringing")
    organiser = service.visitor("organiser")

    answer = organiser.post(f"{PAPERS}/slips", data={"address": "http://testserver/"})

    assert answer.status_code == 200
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["content-disposition"].startswith("attachment;")
    links = links_on(answer.content)
    assert len(links) == 3
    landed = {service.visitor().post(link).headers["location"] for link in links}
    assert landed == {f"{ADDRESS}/judging", f"{ADDRESS}/ringing"}
    assert not any(link in organiser.get(f"{ADDRESS}/desk").text for link in links)


def test_new_slips_put_the_lost_ones_out_of_use_and_leave_alone_who_is_in(service: Service) -> None:
    service.set_phase("ringing")
    organiser = service.visitor("organiser")
    first = links_on(organiser.post(f"{PAPERS}/slips", data={"address": "http://testserver", "bands": "yes"}).content)
    assert len(first) == 3 + len(BANDS)
    judge = service.visitor()
    assert judge.post(first[0]).status_code == 303

    second = links_on(organiser.post(f"{PAPERS}/slips", data={"address": "http://testserver"}).content)

    assert judge.get(f"{ADDRESS}/judging").status_code == 200
    assert [service.visitor().post(link).status_code for link in first[1:3]] == [409, 409]
    assert [service.visitor().post(link).status_code for link in first[3:]] == [303] * len(BANDS)  # not printed again
    assert service.visitor().post(second[1]).status_code == 303


def links_on(pdf: bytes) -> list[str]:
    """Addresses on slips, in the order in which they are set; they are broken over lines where they are printed."""
    if shutil.which("pdftotext") is None:
        pytest.skip("poppler's pdftotext is not installed")
    done = subprocess.run(["pdftotext", "-raw", "-", "-"], input=pdf, capture_output=True, check=True)
    text = re.sub(r"\s|\u200b", "", done.stdout.decode())
    return re.findall(r"http://testserver(/links/[\w-]{43})", text)


@pytest.mark.parametrize(
    "address",
    [
        "",
        "nowhere",
        "ftp://x",
        "http://",
        "http://[",
        "http://x:y",
        "http://a b",
        "http://x/y",
        "http://u@x",
        "http://x?q",
    ],
)
def test_an_address_that_no_phone_could_open_makes_no_link(service: Service, address: str) -> None:
    organiser = service.visitor("organiser")
    before = organiser.get(f"{ADDRESS}/desk").text.count("waits to be used")

    answer = organiser.post(f"{PAPERS}/slips", data={"address": address, "bands": "yes"})

    assert answer.status_code == 422
    assert "address-wrong" in answer.text
    assert " checked" in answer.text
    assert organiser.get(f"{ADDRESS}/desk").text.count("waits to be used") == before


@pytest.mark.parametrize("address", ["http://192.168.1.20:8000", "https://bells.example/", " http://[::1]:8000 "])
def test_an_address_is_taken_without_what_stands_round_it(address: str) -> None:
    assert _base(address) == address.strip().rstrip("/")


@pytest.mark.parametrize("name", ['Łódź "1".pdf', "a\r\nset-cookie: x", "../../etc/passwd", "鐘.pdf", "\udcff"])
def test_a_file_name_cannot_leave_its_header(name: str) -> None:
    """RFC 6266: a quoted string of plain signs, and beside it the whole name percent-encoded."""
    header = disposition("attachment", name)["content-disposition"]

    assert re.fullmatch(r"attachment; filename=\"[A-Za-z0-9._-]*\"; filename\*=UTF-8''[A-Za-z0-9._~%-]*", header)


def test_a_plain_file_name_is_said_once() -> None:
    assert disposition("inline", "draw.pdf") == {"content-disposition": 'inline; filename="draw.pdf"'}
