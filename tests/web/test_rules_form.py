"""Rules in a form: fields and text are the same rules, the example follows both, and only a draft is changed."""

import html
import re
from html.parser import HTMLParser

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from judging.contest import PRESETS, read_rules, worked_example
from judging.contest.asking import SAID, TOPICS
from judging.contest.documenting import every_table
from judging.web.rules_form import form_with, text_from

from .conftest import ADDRESS, RULES, SLUG, Service

PAGE = f"{ADDRESS}/rules"


class Fields(HTMLParser):
    """What a browser would send for a page's first form with a text of rules, read by the standard library."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.sent: dict[str, list[str]] = {}
        self._select, self._area, self._options = "", "", []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        name = found.get("name") or ""
        if tag == "input" and found.get("type") != "file" and name:
            self.sent.setdefault(name, []).append(found.get("value") or "")
        elif tag == "select":
            self._select, self._options = name, []
        elif tag == "option" and self._select:
            self._options.append((found.get("value") or "", "selected" in found))
        elif tag == "textarea":
            self._area = name
            self.sent[name] = [""]

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            chosen = [value for value, is_chosen in self._options if is_chosen] or [self._options[0][0]]
            self.sent.setdefault(self._select, []).append(chosen[0])
            self._select = ""
        elif tag == "textarea":
            self.sent[self._area][0] = self.sent[self._area][0].removeprefix("\n")
            self._area = ""

    def handle_data(self, data: str) -> None:
        if self._area:
            self.sent[self._area][0] += data


def fields(answer: Response) -> dict[str, list[str]]:
    return Fields(answer.text).sent


def region(answer: Response) -> str:
    """What the rules come to, as the page says it."""
    found = re.search(r'<section class="comes-to".*?</section>', answer.text, re.DOTALL)
    assert found
    return html.unescape(found[0])


@pytest.fixture
def organiser(service: Service) -> TestClient:
    service.set_phase("draft")
    return service.visitor("organiser")


def text_kept(client: TestClient) -> str:
    return client.get(f"{ADDRESS}/rules.toml").text


def test_the_page_sent_back_as_it_is_changes_nothing(organiser: TestClient) -> None:
    sent = fields(organiser.get(PAGE))

    assert organiser.post(PAGE, data={**sent, "do": "keep"}).status_code == 303
    assert text_kept(organiser) == RULES


def test_a_field_changes_the_text_and_the_example_and_keeps_nothing_yet(organiser: TestClient) -> None:
    sent = fields(organiser.get(PAGE))
    before = region(organiser.get(PAGE))
    answer = organiser.post(PAGE, data={**sent, "combining-policy": "mean", "penalty-1-percent": "20"})
    (text,) = fields(answer)["text"]

    rules = read_rules(text, name="rules.toml")
    assert rules.marks.combining.policy == "mean"
    assert region(answer) != before
    for line in worked_example(rules).result.places:
        assert all(reason in region(answer) for reason in line.reasons)
    assert rules.short_fingerprint[:8] in region(answer)
    assert text_kept(organiser) == RULES


def test_the_text_changes_the_fields(organiser: TestClient) -> None:
    sent = fields(organiser.get(PAGE))
    sent["text"] = [sent["text"][0].replace("percent = 10", "percent = 15")]
    answer = organiser.post(PAGE, data=sent)

    assert fields(answer)["penalty-1-percent"] == ["15"]


def test_changes_in_both_at_once_are_both_taken(organiser: TestClient) -> None:
    sent = fields(organiser.get(PAGE))
    sent["text"] = [sent["text"][0].replace("percent = 10", "percent = 15") + "\n# a thought of mine\n"]
    organiser.post(PAGE, data={**sent, "protest-minutes": "20", "do": "keep"})
    text = text_kept(organiser)

    assert "percent = 15" in text
    assert "# a thought of mine" in text
    assert read_rules(text, name="rules.toml").protest.minutes == 20


def test_another_judge_and_another_section_are_written_and_taken_out_again(organiser: TestClient) -> None:
    sent = fields(organiser.get(PAGE))
    answer = organiser.post(PAGE, data={**sent, "judge-3-name": "Third", "section-2-name": "Eight", "do": "show"})
    rules = read_rules(fields(answer)["text"][0], name="rules.toml")
    assert [judge.name for judge in rules.judges] == ["First judge", "Second judge", "Third"]
    assert [section.name for section in rules.sections] == ["Six bells", "Eight"]

    gone = organiser.post(PAGE, data={**fields(answer), "judge-2-name": "", "section-2-name": ""})
    rules = read_rules(fields(gone)["text"][0], name="rules.toml")
    assert [judge.name for judge in rules.judges] == ["First judge", "Third"]
    assert [section.name for section in rules.sections] == ["Six bells"]


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("sheets-step", "half", "not a number"),
        ("sheets-step", "0", "below"),
        ("penalty-1-percent", "-3", "below 0"),
        ("protest-minutes", "ten", "not a whole number"),
        ("top-date", "next week", "no day"),
        ("top-title", "", "missing"),
        ("combining-policy", "luck", "not known"),
        ("public-machine", "perhaps", "yes or no"),
        ("timetable-first_band", "25:00", "no time of day"),
        ("penalty-2-percent", "5", "belongs to nothing"),
        ("ties-rules", "machine", "cross-check"),
        ("top-place", "a\x00b", "cannot be printed"),
        ("text", "title = ", "no TOML"),
        ("text", RULES + "\n[sheets]\nsteps = 1\n", "did you mean"),
    ],
)
def test_a_bad_value_is_told_beside_its_field_and_kept_as_typed(
    organiser: TestClient, field: str, typed: str, words: str
) -> None:
    sent = {**fields(organiser.get(PAGE)), field: [typed]}
    for do in ("show", "keep"):
        answer = organiser.post(PAGE, data={**sent, "do": do})
        name = "penalty-2-for" if field == "penalty-2-percent" else field
        said = re.search(rf'id="{name}-wrong">(.*?)</p>', answer.text)

        assert answer.status_code == 422
        assert said
        assert words in html.unescape(said[1])
        assert fields(answer)[field][0] == typed
    assert text_kept(organiser) == RULES


def test_published_rules_are_read_with_their_fingerprint_and_changed_no_more(service: Service) -> None:
    service.set_phase("draft")
    organiser = service.visitor("organiser")
    sent = fields(organiser.get(PAGE))
    service.set_phase("published")
    answer = organiser.post(PAGE, data={**sent, "top-place": "Elsewhere", "do": "keep"})
    seen = service.visitor().get(PAGE).text

    assert answer.status_code == 409
    assert "published and cannot be changed" in answer.text
    assert fields(answer)["top-place"] == ["Elsewhere"]
    assert read_rules(RULES, name="rules.toml").fingerprint in seen
    assert "<textarea" not in seen
    assert text_kept(organiser) == RULES


def test_rules_that_were_kept_in_another_tab_meanwhile_are_not_overwritten_unseen(organiser: TestClient) -> None:
    first, second = fields(organiser.get(PAGE)), fields(organiser.get(PAGE))
    organiser.post(PAGE, data={**first, "top-place": "Here", "do": "keep"})
    answer = organiser.post(PAGE, data={**second, "top-place": "There", "do": "keep"})

    assert answer.status_code == 409
    assert "changed elsewhere" in answer.text
    assert fields(answer)["top-place"] == ["There"]
    assert 'place = "Here"' in text_kept(organiser)

    organiser.post(PAGE, data={**fields(answer), "do": "keep"})
    assert 'place = "There"' in text_kept(organiser)


def test_a_file_is_shown_before_it_is_kept(organiser: TestClient) -> None:
    text = RULES.replace("percent = 10", "percent = 12")
    shown = organiser.post(f"{PAGE}/file", files={"rules": ("rules.toml", text.encode())})
    assert "Read from the file" in shown.text
    assert text_kept(organiser) == RULES

    organiser.post(PAGE, data={**fields(shown), "do": "keep"})
    assert "percent = 12" in text_kept(organiser)


@pytest.mark.parametrize("data", [b"", b"\xff\xfe", b"no toml", b"rules = 1", b"x" * 600_000])
def test_a_file_that_is_none_is_told(organiser: TestClient, data: bytes) -> None:
    answer = organiser.post(f"{PAGE}/file", files={"rules": ("rules.toml", data)})

    assert answer.status_code == 422
    assert 'class="wrong"' in answer.text


def test_a_section_in_which_bands_are_entered_keeps_its_name(organiser: TestClient) -> None:
    sent = fields(organiser.get(PAGE))
    answer = organiser.post(PAGE, data={**sent, "section-1-name": "Ten bells", "do": "keep"})

    assert answer.status_code == 409
    assert "bands are entered" in answer.text
    assert text_kept(organiser) == RULES


def test_a_new_contest_leads_from_usual_rules_to_the_form(service: Service) -> None:
    maker = service.visitor("organiser", anywhere=True)
    form = {"preset": next(iter(PRESETS)), "title": "New one", "judges": "A\nB", "seed": "s", "then": "rules"}
    answer = maker.post("/contests/new/usual", data=form)

    assert answer.headers["location"] == "/contests/new-one/rules"
    assert "data-lively" in maker.get(answer.headers["location"]).text
    assert service.visitor().get(answer.headers["location"]).status_code == 404


def test_every_contest_shows_its_rules_with_their_worked_example(finished: Service) -> None:
    for address in (ADDRESS, PAGE):
        page = html.unescape(finished.visitor().get(address).text)
        for line in worked_example(read_rules(RULES, name="rules.toml")).result.places:
            assert line.entry.replace("-", " ").capitalize() in page
            assert all(reason in page for reason in line.reasons)


def test_words_for_choices_are_for_all_the_choices_there_are() -> None:
    for (table, name), said in SAID.items():
        key = next(key for key in every_table()[table] if key.name == name)
        assert tuple(said) == key.choices


@pytest.mark.parametrize("name", PRESETS)
def test_the_fields_of_usual_rules_say_what_is_in_their_text(name: str) -> None:
    text = PRESETS[name]
    typed = form_with(text).form.typed

    assert text_from({**typed, "was": text}) == text


names = [
    question.table + ("-1-" if topic.table else "-") + question.key.name
    for topic in TOPICS
    for question in topic.questions
    if question.table
]


@settings(
    deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(st.dictionaries(st.sampled_from(names), st.text(max_size=12) | st.sampled_from(["1", "½", "yes"]), max_size=4))
def test_whatever_is_typed_is_shown_or_refused(finished: Service, typed: dict[str, str]) -> None:
    """The page never breaks; a finished contest keeps nothing."""
    organiser = finished.visitor("organiser")
    answer = organiser.post(PAGE, data={"text": RULES, "was": RULES, **typed}, headers={"accept": "text/html"})

    assert answer.status_code in {409, 422}
    assert SLUG in answer.text
