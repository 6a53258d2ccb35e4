"""A contest's whole life over the pages: from usual rules to a second revision, and what is refused on the way."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx2 import Response

from judging.contest import PRESETS, read_rules
from judging.jobs.recount import recount
from judging.piece import piece_from_file
from judging.store import Settings, Store, StoredContest, contest_by_slug, make_link
from judging.web import create_app
from judging.web.new_contest import READY_PIECES, PresetForm, new_piece_of, preset_rules

TITLE = "Marsh End six-bell contest"
HOME = "/contests/marsh-end-six-bell-contest"
BANDS = ("Reedham Sluice", "<b>Osier</b> & Withy", "טבעת הפעמונים", "W" * 200)
USUAL = {
    "preset": "six bells, 120 changes",
    "title": TITLE,
    "judges": "Judge One\nJudge Two",
    "seed": "first drawn ball 17",
    "date": "2027-06-19",
    "place": "Marsh End",
    "piece": next(iter(READY_PIECES)),
}


@dataclass
class Day:
    """A service with nothing in it, and whoever is needed."""

    app: FastAPI
    store: Store

    def person(self, role: str, **of: int) -> TestClient:
        with self.store.write() as session:
            contest = contest_by_slug(session, HOME.rsplit("/", 1)[1])
            token = make_link(session, role=role, who="test", contest_id=contest.id if contest else None, **of)
        client = TestClient(self.app, follow_redirects=False)
        assert client.post(f"/links/{token}").status_code == 303
        return client

    def given_link(self, organiser: TestClient, holder: str) -> TestClient:
        """Client of somebody who was given a link at the desk."""
        shown = organiser.post(f"{HOME}/links", data={"holder": holder})
        found = re.search(r"/links/[\w-]{43}", shown.text)
        assert found is not None
        client = TestClient(self.app, follow_redirects=False)
        assert client.post(found[0]).status_code == 303
        return client

    def wait(self, minutes: float) -> None:
        """Let the contest have been in its phase for longer."""
        with self.store.write() as session:
            contest = contest_by_slug(session, HOME.rsplit("/", 1)[1])
            assert contest is not None
            assert contest.phase_since is not None
            contest.phase_since -= timedelta(minutes=minutes)
            session.add(contest)

    def phase(self) -> tuple[str, int]:
        with self.store.read() as session:
            contest = contest_by_slug(session, HOME.rsplit("/", 1)[1])
            assert isinstance(contest, StoredContest)
            return contest.phase, contest.revision


@pytest.fixture
def day(tmp_path: Path) -> Iterator[Day]:
    settings = Settings(data=tmp_path / "data", min_free_bytes=0)
    app = create_app(settings, runs_jobs=False)
    with TestClient(app):
        yield Day(app, app.state.store)


@pytest.fixture
def organiser(day: Day) -> TestClient:
    """Organiser of the service, with the contest made from usual rules."""
    client = day.person("organiser")
    made = client.post("/contests/new/usual", data=USUAL)
    assert (made.status_code, made.headers["location"]) == (303, f"{HOME}/desk")
    return client


def step(client: TestClient, to: str, **more: str) -> Response:
    return client.post(f"{HOME}/phase", data={"to": to, **more})


def enter(client: TestClient, *bands: str) -> None:
    for band in bands:
        assert client.post(f"{HOME}/entries", data={"band": band}).status_code == 303


def ring(organiser: TestClient) -> None:
    """Publish, draw, begin."""
    for to in ("published", "drawn", "ringing"):
        answer = step(organiser, to)
        assert answer.status_code == 303, answer.text


def sign(client: TestClient, judge: str, *totals: int) -> None:
    for number, total in enumerate(totals, 1):
        answer = client.post(f"{HOME}/bands/band-{number}/sheets/{judge}", data={"total": str(total)})
        assert answer.status_code == 303, answer.text


def test_usual_rules_and_ready_pieces_can_all_be_read() -> None:
    for preset in PRESETS:
        rules = read_rules(preset_rules(PresetForm(**{**USUAL, "preset": preset})), name="rules.toml")
        assert (rules.title, rules.draw_seed) == (TITLE, "first drawn ball 17")
        assert [judge.name for judge in rules.judges] == ["Judge One", "Judge Two"]
    for name in READY_PIECES:
        for file, text in new_piece_of(PresetForm(piece=name)).items():
            assert piece_from_file(file, text).is_change.any() or "Rounds" in name


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("title", " ", "Is empty; the contest is called by it everywhere."),
        ("judges", "", "Are missing; name at least one."),
        ("judges", "A\na", "Are not all different"),
        ("seed", "", "Is empty; without it there is no draw"),
        ("date", "19 June", "is no day"),
        ("preset", "none", "Is not chosen."),
    ],
)
def test_what_is_wrong_with_a_new_contest_is_said_beside_its_field(day: Day, field: str, value: str, said: str) -> None:
    answer = day.person("organiser").post("/contests/new/usual", data={**USUAL, field: value})

    assert answer.status_code == 422
    wrong = re.search(rf'id="{field}-wrong">([^<]*)<', answer.text)
    assert wrong is not None
    assert said in wrong[1]
    assert USUAL["place"] in answer.text


def test_names_with_quotes_markup_and_other_scripts_stay_names(day: Day) -> None:
    title = 'Say "bells"\\ & <b>work</b> טבעת'
    organiser = day.person("organiser")
    made = organiser.post("/contests/new/usual", data={**USUAL, "title": title})

    assert made.status_code == 303
    desk = organiser.get(made.headers["location"]).text
    assert "Say &#34;bells&#34;\\ &amp; &lt;b&gt;work&lt;/b&gt; טבעת" in desk


def test_a_character_that_turns_a_line_around_is_refused_beside_its_field(day: Day) -> None:
    answer = day.person("organiser").post("/contests/new/usual", data={**USUAL, "judges": "One\nTwo \u202eowT"})

    assert answer.status_code == 422
    assert 'id="judges-wrong">It holds a character that cannot be printed' in answer.text


def test_a_whole_life(day: Day, organiser: TestClient, tmp_path: Path) -> None:  # noqa: PLR0915  a day is long
    enter(organiser, *BANDS)
    ring(organiser)
    judge, steward = day.given_link(organiser, "judge judge-1"), day.given_link(organiser, "steward")
    second = day.given_link(organiser, "organiser")

    # Who rings now, as the steward notes it.
    assert steward.post(f"{HOME}/bands/band-1/turn", data={"turn": "begins"}).status_code == 303
    assert "<dt>Rings now</dt><dd>nobody" not in organiser.get(f"{HOME}/desk").text
    for number in range(1, 5):
        assert steward.post(f"{HOME}/bands/band-{number}/turn", data={"turn": "has rung"}).status_code == 303
    assert "<dt>Have rung</dt><dd>4 of 4" in organiser.get(f"{HOME}/desk").text

    # One judge on the page, one on paper, keyed by two.
    sign(judge, "judge-1", 12, 15, 30, 22)
    sign(organiser, "judge-2", 14, 12, 31, 20)
    assert "4 of 8" in organiser.get(f"{HOME}/desk").text
    assert step(organiser, "sheets in").status_code == 303
    refused = step(organiser, "provisional")
    assert refused.status_code == 409
    assert "Confirm Judge Two’s paper for band 1" in refused.text
    sign(second, "judge-2", 14, 12, 31, 20)

    # A penalty with its cause, a footnote of the result.
    penalty = {"kind": "restart", "count": "1", "changes": "20", "why": "a rope slipped"}
    assert organiser.post(f"{HOME}/bands/band-1/penalties", data=penalty).status_code == 303
    assert step(organiser, "provisional").status_code == 303
    assert "1 restart at 10 % (a rope slipped): 26 became 28.6" in organiser.get(HOME).text
    assert BANDS[0] not in judge.get(HOME).text

    # What is shown is not changed.
    late = judge.post(f"{HOME}/bands/band-1/sheets/judge-1", data={"total": "1", "reason": "on reflection"})
    assert late.status_code == 409
    assert "correct it as revision 2" in late.text
    assert 'value="1"' in late.text
    assert step(organiser, "protest").status_code == 303

    # A protest, upheld: no final before the correction, which is revision 2.
    taken = organiser.post(f"{HOME}/protests", data={"handed_in_by": "A captain", "about": "We did not restart."})
    assert taken.status_code == 303
    assert "Decide the open protests (1)" in step(organiser, "final").text
    answer = {"outcome": "upheld", "answered_by": "The committee", "answer": "The steward agrees."}
    assert organiser.post(f"{HOME}/protests/1/answer", data=answer).status_code == 303
    day.wait(11)
    assert "Correct the result: protest 1 against it is upheld." in step(organiser, "final").text
    assert step(organiser, "provisional").status_code == 422
    assert step(organiser, "provisional", reason="Protest 1: no restart.").status_code == 303
    assert day.phase() == ("provisional", 2)
    away = {"kind": "restart", "why": "protest 1", "do": "take away"}
    assert organiser.post(f"{HOME}/bands/band-1/penalties", data=away).status_code == 303
    assert step(organiser, "protest").status_code == 303
    day.wait(11)
    assert step(organiser, "final").status_code == 303

    # Everybody sees both revisions and what changed between them.
    public = TestClient(day.app).get(f"{HOME}/revisions").text
    assert "Protest 1: no restart." in public
    assert re.search(r"mark 26, was 28\.6; .*no longer: 1 restart at 10 % \(a rope slipped\)", public)
    assert TestClient(day.app).get(f"{HOME}/result.json").json()["revision"] == 2
    (tmp_path / "revision-2.zip").write_bytes(organiser.get(f"{HOME}/printing/archive.zip").content)
    assert recount(tmp_path / "revision-2.zip") == ()
    organisers = organiser.get(f"{HOME}/revisions").text
    assert re.search(r"mark 26, was 28\.6; .*no longer: 1 restart at 10 % \(a rope slipped\)", organisers)

    # A correction after final: revision 2 stays to be read, names stay known, revision 3 follows.
    assert step(organiser, "provisional", reason="A sum was wrong.").status_code == 303
    assert day.phase() == ("provisional", 3)
    page = TestClient(day.app).get(HOME).text
    assert "The result is being corrected as revision 3: A sum was wrong." in page
    assert "Reedham Sluice" in TestClient(day.app).get(f"{HOME}/revisions").text
    assert step(organiser, "protest").status_code == 303
    day.wait(11)
    assert step(organiser, "final").status_code == 303
    assert TestClient(day.app).get(HOME).text.count("This is revision 3.") == 1


def test_marks_opened_again_and_closed_again_are_the_next_revision(day: Day, organiser: TestClient) -> None:
    enter(organiser, "Reedham Sluice", "Osier")
    ring(organiser)
    for judge in ("judge-1", "judge-2"):
        sign(day.given_link(organiser, f"judge {judge}"), judge, 12, 15)
    for to in ("sheets in", "provisional"):
        assert step(organiser, to).status_code == 303
    assert step(organiser, "sheets in", reason="a judge asks").status_code == 303
    assert step(organiser, "provisional").status_code == 303

    assert day.phase() == ("provisional", 2)
    assert "a judge asks" in organiser.get(f"{HOME}/revisions").text


class TestStepsOutOfOrder:
    def test_the_same_step_sent_twice_is_taken_once(self, day: Day, organiser: TestClient) -> None:
        for _ in range(2):
            assert step(organiser, "published", seen_at="draft").status_code == 303
        assert day.phase() == ("published", 1)

    def test_a_page_that_is_out_of_date_takes_no_step(self, day: Day, organiser: TestClient) -> None:
        enter(organiser, "Reedham Sluice")
        ring(organiser)

        stale = step(organiser, "published", seen_at="drawn", reason="a band is missing")

        assert stale.status_code == 409
        assert "The contest has gone on meanwhile and is &#34;ringing&#34; now" in stale.text
        assert day.phase() == ("ringing", 1)

    def test_a_step_that_does_not_follow_says_what_does(self, organiser: TestClient) -> None:
        answer = step(organiser, "final")

        assert answer.status_code == 409
        assert "From &#34;draft&#34; a contest goes to published" in answer.text

    def test_what_is_missing_is_said_and_a_step_back_asks_for_its_reason_beside_the_field(
        self, organiser: TestClient
    ) -> None:
        enter(organiser, "Reedham Sluice")
        for to in ("published", "drawn"):
            assert step(organiser, to).status_code == 303
        back = step(organiser, "published")
        assert back.status_code == 422
        assert 'id="reason-2-wrong">Is empty; a step back is kept in the trail with its reason.' in back.text
        assert step(organiser, "ringing").status_code == 303
        assert "Band 1: say that it has rung" in step(organiser, "sheets in").text


class TestPapersKeyedByTwo:
    @pytest.fixture
    def second(self, day: Day, organiser: TestClient) -> TestClient:
        enter(organiser, "Reedham Sluice")
        ring(organiser)
        return day.given_link(organiser, "organiser")

    def test_a_difference_is_shown_side_by_side_and_nothing_counts(
        self, organiser: TestClient, second: TestClient
    ) -> None:
        sheet = f"{HOME}/bands/band-1/sheets/judge-1"
        organiser.post(sheet, data={"total": "1½", "taps": "3 1\n17 ½", "comment": "Well led."})

        assert "1½" not in second.get(sheet).text  # the second reads the paper and not the first reading
        answer = second.post(sheet, data={"total": "2", "taps": "3 1\n18 1"})
        assert answer.headers["location"] == f"{sheet}#differences"
        shown = second.get(sheet).text
        assert shown.count("<strong>differs</strong>") == 3
        assert "Change 17</th><td>½</td><td>–</td>" in shown
        assert "Have rung</dt><dd>0 of 1" in organiser.get(f"{HOME}/desk").text
        assert ">differs<" in organiser.get(f"{HOME}/desk").text

        assert second.post(sheet, data={"total": "1½", "taps": "3 1\n17 ½"}).headers["location"] == f"{HOME}/desk"
        assert "Signed so far" in second.get(sheet).text

    def test_what_cannot_be_is_said_beside_the_field_and_kept(self, second: TestClient) -> None:
        answer = second.post(f"{HOME}/bands/band-1/sheets/judge-1", data={"total": "18½½", "comment": "<i>Well"})

        assert answer.status_code == 422
        assert "18½½&#34; is not a number" in answer.text
        assert "&lt;i&gt;Well" in answer.text


class TestProtests:
    @pytest.fixture
    def announced(self, day: Day, organiser: TestClient) -> TestClient:
        enter(organiser, "Reedham Sluice", "Osier")
        ring(organiser)
        for judge in ("judge-1", "judge-2"):
            sign(day.given_link(organiser, f"judge {judge}"), judge, 12, 15)
        for to in ("sheets in", "provisional", "protest"):
            assert step(organiser, to).status_code == 303
        return organiser

    def test_a_band_hands_in_its_own_and_sees_no_others(self, day: Day, announced: TestClient) -> None:
        osier, reedham = (day.given_link(announced, f"band {key}") for key in ("osier", "reedham-sluice"))

        assert osier.post(f"{HOME}/protests", data={"about": "The clock was wrong."}).status_code == 303
        assert "The clock was wrong." in osier.get(f"{HOME}/protests").text
        assert "The clock was wrong." not in reedham.get(f"{HOME}/protests").text
        assert "Osier" in announced.get(f"{HOME}/protests").text

    def test_after_the_window_it_is_refused_with_the_rule_and_what_was_typed_is_kept(
        self, day: Day, announced: TestClient
    ) -> None:
        day.wait(11)

        answer = announced.post(f"{HOME}/protests", data={"handed_in_by": "A captain", "about": "Too <late>."})

        assert answer.status_code == 409
        assert "By the rules a protest is handed in within 10 minutes of the provisional result" in answer.text
        assert "Too &lt;late&gt;." in answer.text

    def test_an_answer_without_a_reason_is_asked_for_beside_its_field(self, announced: TestClient) -> None:
        announced.post(f"{HOME}/protests", data={"handed_in_by": "A captain", "about": "The clock."})

        answer = announced.post(f"{HOME}/protests/1/answer", data={"outcome": "dismissed", "answered_by": "Judges"})

        assert answer.status_code == 422
        assert 'id="answer-1-wrong">Is empty; the band is told why.' in answer.text
        assert 'value="Judges"' in answer.text


class TestPeople:
    def test_a_shadow_judge_judges_along_and_does_not_count(self, day: Day, organiser: TestClient) -> None:
        enter(organiser, "Reedham Sluice")
        assert organiser.post(f"{HOME}/judges/shadows", data={"name": "A learner"}).status_code == 303
        ring(organiser)
        shadow = day.given_link(organiser, "judge shadow-a-learner")
        page = shadow.get(f"{HOME}/judging").text
        assert "your sheets are kept, and do not count" in page
        assert "Reedham" not in page

        sign(shadow, "shadow-a-learner", 7)
        assert "signed: <strong>7</strong>" in shadow.get(f"{HOME}/judging").text
        assert "0 of 2" in organiser.get(f"{HOME}/desk").text
        assert shadow.get(f"{HOME}/bands/band-1/sheets/judge-1").status_code == 404
        assert shadow.get(f"{HOME}/desk").status_code == 403

    def test_a_judge_declares_without_learning_who_has_entered(self, day: Day, organiser: TestClient) -> None:
        enter(organiser, "Reedham Sluice", "Osier")
        assert step(organiser, "published").status_code == 303
        judge = day.given_link(organiser, "judge judge-1")

        assert judge.post(f"{HOME}/judging/interests", data={"belongs_to": "I ring at Reedham"}).status_code == 303
        after = judge.get(f"{HOME}/judging").text
        assert "Reedham Sluice" not in after
        shown = organiser.get(f"{HOME}/judges").text
        assert "This may mean Reedham Sluice." in shown

        kept = {"judge": "judge-1", "belongs_to": "I ring at Reedham", "entries": ["reedham-sluice"]}
        assert organiser.post(f"{HOME}/judges/conflicts", data=kept).status_code == 303
        assert "concerns Judge One" in organiser.get(f"{HOME}/desk").text
        assert judge.get(f"{HOME}/judging").text == after

    def test_rights_taken_back_end_a_session_at_once(self, day: Day, organiser: TestClient) -> None:
        enter(organiser, "Reedham Sluice")
        ring(organiser)
        judge = day.given_link(organiser, "judge judge-1")
        assert judge.get(f"{HOME}/judging").status_code == 200
        number = max(map(int, re.findall(r"/links/(\d+)/revoke", organiser.get(f"{HOME}/desk").text)))

        assert organiser.post(f"{HOME}/links/{number}/revoke").status_code == 303

        assert judge.get(f"{HOME}/judging").status_code == 404
        assert judge.post(f"{HOME}/bands/band-1/sheets/judge-1", data={"total": "1"}).status_code == 404


class TestOrder:
    def test_anyone_runs_the_draw_again(self, day: Day, organiser: TestClient) -> None:
        """Against the shell's own arithmetic, written out here: SHA-256 of seed, line feed, identifier."""
        enter(organiser, "Reedham Sluice", "Osier", "Withy Bed")
        ring(organiser)
        keys = ("reedham-sluice", "osier", "withy-bed")
        expected = sorted(keys, key=lambda key: sha256(f"first drawn ball 17\n{key}".encode()).hexdigest())

        public = TestClient(day.app).post(f"{HOME}/draw", data={"entries": "\n".join(keys)}).text

        assert re.findall(r"<li><bdi>([\w-]+)</bdi>", public) == expected
        named = organiser.get(f"{HOME}/draw").text
        assert re.findall(r'<td class="fingerprint">([a-z-]+)</td>', named) == expected
        assert "Reedham" not in TestClient(day.app).get(f"{HOME}/draw").text

    def test_a_swap_needs_a_reason_and_is_told_to_everybody_by_number(self, day: Day, organiser: TestClient) -> None:
        enter(organiser, "Reedham Sluice", "Osier", "Withy Bed")
        ring(organiser)
        swap = {"first": "osier", "second": "withy-bed", "reason": ""}
        refused = organiser.post(f"{HOME}/order", data=swap)
        assert refused.status_code == 422
        assert 'id="reason-wrong"' in refused.text

        assert organiser.post(f"{HOME}/order", data={**swap, "reason": "a train; both agree"}).status_code == 303
        public = TestClient(day.app).get(f"{HOME}/draw").text
        assert re.search(r"Numbers \d and \d changed places: a train; both agree\.", public)


def test_a_table_of_bands_is_entered_whole_or_not_at_all(organiser: TestClient) -> None:
    bad = b"band;borrowed\nReedham Sluice;1\nOsier;two\n"
    answer = organiser.post(f"{HOME}/entries/table", files={"table": ("bands.csv", bad)})
    assert answer.status_code == 422
    assert "In bands.csv, line 3, borrowed: &#34;two&#34; is not a whole number" in answer.text
    assert "No band is entered yet." in organiser.get(f"{HOME}/desk").text

    good = "band,remarks\nReedham Sluice,\n=HYPERLINK(1),\n<b>Ösier</b>,\n".encode()
    assert organiser.post(f"{HOME}/entries/table", files={"table": ("bands.csv", good)}).status_code == 303
    desk = organiser.get(f"{HOME}/desk").text
    assert "&lt;b&gt;Ösier&lt;/b&gt;" in desk
    again = organiser.post(f"{HOME}/entries/table", files={"table": ("bands.csv", good)})
    assert again.status_code == 422
    assert "is entered already" in again.text


def test_a_band_is_entered_once_however_often_the_form_is_sent(organiser: TestClient) -> None:
    enter(organiser, "Reedham Sluice")

    again = organiser.post(f"{HOME}/entries", data={"band": "reedham  SLUICE"})

    assert again.status_code == 422
    assert "is entered already" in again.text


def test_what_belongs_to_another_contest_is_not_there(day: Day, organiser: TestClient) -> None:
    enter(organiser, "Reedham Sluice")
    ring(organiser)
    organiser.post("/contests/new/usual", data={**USUAL, "title": "Another"})
    judge = day.given_link(organiser, "judge judge-1")

    for path in ("/contests/another/judging", "/contests/another/desk", "/contests/another/draw"):
        assert judge.get(path).status_code in {403, 404}
    conflicts = {"judge": "judge-1", "entries": ["reedham-sluice"]}
    assert organiser.post("/contests/another/judges/conflicts", data=conflicts).status_code == 422
    assert organiser.post("/contests/another/protests/1/answer", data={"outcome": "upheld"}).status_code == 404
