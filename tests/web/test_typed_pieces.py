"""Test pieces typed into a form: the messages of the file, a proof, a drawing, and nothing kept unless it is asked."""

import html
import re

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from judging.errors import InputError
from judging.piece import piece_from_file, row_text
from judging.store import StoredAudit, contest_by_slug, load_day
from judging.web.piece_page import MOST_DRAWN, MOST_WRITTEN, piece_page
from judging.web.typed_piece import EXAMPLES, MOST_CHARACTERS, MOST_TRIED, try_piece

from .conftest import ADDRESS, ROWS, SLUG, Service

PIECES = f"{ADDRESS}/test-pieces"

#: Pieces that cannot be rung as they are written, each wrong in its own way.
WRONG = (
    "piece = 2\n",
    'piece = 1\nmethod = "Plain Bob Mynor"\n',
    'piece = 1\nbells = 6\nnotation = "x16x14x17,12"\n',
    'piece = 1\nmethod = "Plain Bob Minor"\ncalling = "pzb"\n',
    'piece = 1\nmethod = "Plain Bob Doubles"\nchanges = 120\n',
    "piece = 1\nbells = 99\n",
    "piece = 1\nbels = 6\n",
    'piece = 1\nmethod = "Plain Bob Minor\n',
    "1234\n1243\n1233\n",
    "123456\n21345\n",
    "1234\n\n# a remark\n12x4\n",
    'piece = 1\nmethod = "Plain Bob Minor"\nrepeat = 1000000\n',
    "neither rows nor keys",
)


def problem_on(page: str) -> str:
    found = re.search(r'<p class="wrong" id="text-wrong">(.*?)</p>', page, re.DOTALL)
    assert found is not None
    return html.unescape(found[1])


@pytest.mark.parametrize("text", WRONG)
def test_a_piece_in_a_form_is_refused_in_the_words_that_its_file_is(finished: Service, text: str) -> None:
    with pytest.raises(InputError) as refused:
        piece_from_file("piece.toml" if "=" in text or "nei" in text else "piece.txt", text)

    answer = finished.visitor().post("/piece", data={"text": text})

    assert answer.status_code == 422
    said = problem_on(answer.text).rstrip(".")
    assert refused.value.problem.rstrip(".").lower() in said.lower()  # the first word has a capital on a page
    place = refused.value.where.partition(", ")[2]
    assert place.lower() in said.lower()
    assert "piece.t" not in said  # there is no file
    assert html.escape(text.strip(), quote=True).replace("&#x27;", "&#39;").splitlines()[0] in answer.text.replace(
        "&#34;", "&quot;"
    )


@pytest.mark.parametrize(("title", "text"), EXAMPLES)
def test_every_piece_to_begin_from_is_proved_and_drawn(finished: Service, title: str, text: str) -> None:
    answer = finished.visitor().post("/piece", data={"text": text})

    assert answer.status_code == 200, title
    assert "Comes round." in answer.text
    assert "<polyline" in answer.text


def test_a_false_piece_is_told_false_with_the_changes_where(finished: Service) -> None:
    rows = "1234\n1234\n2143\n2134\n2143\n1234\n"

    text = finished.visitor().post("/piece", data={"text": rows}).text

    assert "4 changes, false: 2143 comes at changes 1 and 3." in text


def test_lead_heads_and_calls_are_listed_beside_their_changes(finished: Service) -> None:
    text = finished.visitor().post("/piece", data={"text": EXAMPLES[0][1]}).text

    assert '<th scope="row">10</th><td class="row">135246</td><td>lead head</td>' in text
    assert re.search(r'<th scope="row">40</th><td class="row">142356</td><td>bob, lead head', text)


def test_the_bell_that_is_asked_for_is_followed_and_one_that_does_not_ring_is_let_go(finished: Service) -> None:
    client = finished.visitor()

    for bell, followed in (("3", "3"), ("", "6"), ("9", "6"), ("x", "6"), ("²", "6")):
        text = client.post("/piece", data={"text": "123456\n123456\n214365\n123456\n", "bell": bell}).text
        assert f"The thick line follows {followed}" in text


def test_lines_that_a_browser_ends_in_its_own_way_are_read_alike() -> None:
    assert try_piece(ROWS.replace("\n", "\r\n"), bell="").page == try_piece(ROWS, bell="").page


def test_nothing_is_kept_of_a_piece_that_is_tried(service: Service) -> None:
    service.visitor().post("/piece", data={"text": ROWS})
    service.visitor("organiser").post(PIECES, data={"name": "tried", "text": ROWS})

    with service.store.read() as session:
        assert session.exec(select(StoredAudit).where(StoredAudit.about == "piece tried")).first() is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "Is empty"),
        (" \n", "Is empty"),
        ("1234\n" * (MOST_CHARACTERS // 5 + 1), "200,005 characters, more than 200,000"),
        ("123\n" * (MOST_TRIED + 1), "10,001 rows; at most 10,000"),
    ],
)
def test_nothing_and_far_too_much_are_refused_in_words(finished: Service, text: str, said: str) -> None:
    answer = finished.visitor().post("/piece", data={"text": text})

    assert answer.status_code == 422
    assert said in problem_on(answer.text)


def test_more_than_a_form_may_hold_is_not_even_read(finished: Service) -> None:
    for length in (1_000_001, 4_000_000):
        answer = finished.visitor().post("/piece", data={"text": "1" * length})
        assert answer.status_code in {400, 413, 422}
        assert "1" * 1000 not in answer.text


def test_of_a_peal_the_beginning_is_drawn_and_it_is_said_so(finished: Service) -> None:
    peal = 'piece = 1\nmethod = "Plain Bob Major"\nrepeat = 45\n'

    answer = finished.visitor().post("/piece", data={"text": peal})

    assert "5,040 changes" in answer.text
    assert "of 5040 rows are drawn" in answer.text
    assert f"The first {MOST_WRITTEN} of 5040 rows" in answer.text
    page = piece_page(piece_from_file("p.toml", peal), None)
    assert MOST_DRAWN - 40 < page.drawn_to <= MOST_DRAWN
    assert page.drawn_to % 16 == 15  # no lead is cut: sixteen changes each, and the lead head begins the next
    assert len(answer.text) < 700_000


@pytest.fixture
def drafting(service: Service) -> TestClient:
    """The organiser of a contest whose rules are not published."""
    service.set_phase("draft")
    return service.visitor("organiser")


def test_a_piece_is_checked_and_then_kept_with_its_trail(service: Service, drafting: TestClient) -> None:
    typed = {"name": "hunt", "text": EXAMPLES[2][1]}
    assert 'name="keep"' not in drafting.get(PIECES).text  # what nobody has checked is not offered to be kept

    checked = drafting.post(PIECES, data=typed)
    assert checked.status_code == 200
    assert "8 changes, true." in checked.text
    assert 'name="keep"' in checked.text
    kept = drafting.post(PIECES, data={**typed, "keep": "yes"})

    assert kept.status_code == 303
    assert "8 changes, true." in drafting.get(kept.headers["location"]).text
    with service.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        piece = load_day(session, contest.id or 0).pieces["hunt"]
        said = session.exec(select(StoredAudit).where(StoredAudit.about == "piece hunt")).one()
    assert [row_text(row) for row in piece.rows] == EXAMPLES[2][1].split()
    assert said.what == "piece set"
    assert said.who.startswith("organiser")


def test_a_piece_can_be_changed_until_the_rules_are_published(service: Service, drafting: TestClient) -> None:
    changed = {"name": "bob", "text": EXAMPLES[0][1], "keep": "yes"}
    assert "123456" in drafting.get(f"{PIECES}?piece=bob").text
    assert drafting.post(PIECES, data=changed).status_code == 303
    assert "Plain Bob Doubles" in drafting.get(f"{PIECES}?piece=bob").text

    service.set_phase("published")

    answer = drafting.post(PIECES, data={**changed, "text": EXAMPLES[1][1]})
    assert answer.status_code == 409
    assert "cannot be changed any more" in answer.text
    assert "until the next call" in answer.text  # what was typed is there still
    assert drafting.post(PIECES, data={**changed, "name": "another"}).status_code == 303
    service.set_phase("drawn")
    assert drafting.post(PIECES, data={**changed, "name": "a-third"}).status_code == 409


@pytest.mark.parametrize("name", ["", "Plain Bob", "../x", "a" * 65, "bob.toml", "é"])
def test_a_name_that_no_entry_could_write_is_refused_beside_its_field(drafting: TestClient, name: str) -> None:
    for keep in ("", "yes"):
        answer = drafting.post(PIECES, data={"name": name, "text": ROWS, "keep": keep})
        assert answer.status_code == 422
        assert "name-wrong" in answer.text
        assert ROWS.split()[5] in answer.text


def test_what_is_typed_is_shown_and_never_obeyed(finished: Service) -> None:
    nasty = 'piece = 1\ntitle = "</textarea><script>alert(1)</script>"\nbells = 4\nrows = ["1234", "2143", "1234"]\n'

    text = finished.visitor().post("/piece", data={"text": nasty}).text

    assert "<script>alert" not in text
