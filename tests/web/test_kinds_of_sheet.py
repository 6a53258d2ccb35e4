"""The sheet's page for every declared kind of sheet, and what it asks about before a surprising figure is signed."""

import re
from typing import Any

import pytest

from judging.store import contest_by_slug, load_day, sheets_of

from .conftest import ADDRESS, SLUG, Service

SHEET = f"{ADDRESS}/bands/band-1/sheets/ben"

CRITERIA = """[sheets]
lines = "criterion"
[[criterion]]
name = "Rhythm"
most = 20
[[criterion]]
name = "Leads"
most = 30
"""


@pytest.fixture
def ringing(service: Service) -> Service:
    """Sheets are open, and what was signed must be revised with a reason."""
    service.set_phase("ringing")
    return service


def declare(service: Service, more: str) -> None:
    service.change_rules("[public]\n", more + "[public]\n")


def test_criteria_are_a_field_each_and_their_sum_is_the_total(ringing: Service) -> None:
    declare(ringing, CRITERIA)
    judge = ringing.visitor("judge", "ben")

    page = judge.get(SHEET).text
    assert 'name="criteria"' in page
    assert "At most 20." in page
    assert 'name="taps"' not in page

    answer = judge.post(SHEET, data={"criteria": ["12½", "7"], "reason": "as the rules have it"})

    assert answer.status_code == 303
    page = judge.get(SHEET).text
    assert 'value="12½"' in page
    assert 'value="19½"' in page


@pytest.mark.parametrize(
    ("typed", "problem"),
    [
        (["12", ""], "“Leads” is empty"),
        (["21", "7"], "“Rhythm” has 21 faults"),
        (["x", "7"], "Rhythm: “x” is not a number"),
        (["-1", "7"], "Rhythm: -1 is below 0"),
        (["1", "7.25"], "Leads: 7.25 is finer than the step"),
    ],
)
def test_a_criterion_that_cannot_be_is_refused_with_what_was_typed(
    ringing: Service, typed: list[str], problem: str
) -> None:
    declare(ringing, CRITERIA)

    answer = ringing.visitor("judge", "ben").post(SHEET, data={"criteria": typed, "reason": "r"})

    assert answer.status_code == 422
    said = answer.text.replace("&#34;", '"').replace("&quot;", '"')
    assert problem.replace("“", '"').replace("”", '"') in said
    assert f'value="{typed[0]}"' in said


def test_whole_pulls_are_typed_by_their_own_number_and_shown_by_it_again(ringing: Service) -> None:
    declare(ringing, '[sheets]\nstep = 1\nlines = "whole pull"\n')
    judge = ringing.visitor("judge", "ben")

    assert judge.post(SHEET, data={"taps": "3 1\n10 2", "reason": "by whole pulls"}).status_code == 303

    page = judge.get(SHEET).text
    assert "whole pull by whole pull" in page
    assert "3 1\n10 2" in page


@pytest.mark.parametrize(
    ("kind", "first", "second", "line", "held"),
    [
        (CRITERIA, {"criteria": ["12½", "7"]}, {"criteria": ["12½", "8"]}, "Leads", [(1, "12.5"), (2, "7")]),
        (
            '[sheets]\nstep = 1\nlines = "whole pull"\n',
            {"taps": "3 1\n10 2"},
            {"taps": "3 1\n11 2"},
            "Whole pull 10",
            [(5, "1"), (19, "2")],
        ),
        (
            '[sheets]\nunit = "marks"\nstep = 1\nlines = "block"\nblock_changes = 20\nmost_a_line = 10\n',
            {"taps": "1 3\n2 8"},
            {"taps": "1 3\n2 9"},
            "Block 2",
            [(1, "3"), (21, "8")],
        ),
    ],
)
def test_a_paper_of_any_kind_is_keyed_compared_and_confirmed_by_a_second_person(
    ringing: Service,
    kind: str,
    first: dict[str, Any],
    second: dict[str, Any],
    line: str,
    held: list[tuple[int, str]],
) -> None:
    declare(ringing, kind)
    why = {"reason": "from the paper"}
    one, another = ringing.visitor("organiser"), ringing.visitor("organiser", anywhere=True)

    assert one.post(SHEET, data=first | why).status_code == 303
    assert another.post(SHEET, data=second | why).headers["location"].endswith("#differences")
    shown = another.get(SHEET).text
    assert re.search(rf'class="differs"><th scope="row">{line}</th>', shown)
    assert another.post(SHEET, data=first | why).headers["location"].endswith("/desk")

    with ringing.store.read() as session:
        contest = contest_by_slug(session, SLUG)
        assert contest is not None
        band = load_day(session, contest.id or 0).order[0]
        signed = [sheet for sheet in sheets_of(session, contest.id or 0) if (sheet.judge, sheet.entry) == ("ben", band)]
    assert len(signed) == 2
    assert signed[-1].reason == "from the paper"
    assert [(tap.change, f"{tap.faults.normalize():f}") for tap in signed[-1].taps] == held
    assert signed[-1].total == sum(tap.faults for tap in signed[-1].taps)


def test_where_the_rules_ask_for_a_total_only_there_is_no_place_for_lines(ringing: Service) -> None:
    declare(ringing, '[sheets]\nlines = "total"\n')
    judge = ringing.visitor("judge", "ben")

    assert 'name="taps"' not in judge.get(SHEET).text
    assert judge.post(SHEET, data={"total": "5", "taps": "3 5", "reason": "r"}).status_code == 422


def test_a_surprising_figure_is_asked_about_and_signed_with_its_reason(ringing: Service) -> None:
    ringing.change_rules('piece = "bob"\n\n[[judge]]', 'piece = "bob"\nchanges = 40\n\n[[judge]]')
    judge = ringing.visitor("judge", "ben")

    asked = judge.post(SHEET, data={"total": "161"})

    assert asked.status_code == 422
    assert "161 faults is more than 4 for each of 40 changes: is it as you heard it?" in asked.text
    assert 'value="161"' in asked.text
    signed = judge.post(SHEET, data={"total": "161", "reason": "they fired out and I counted on"})
    assert signed.status_code == 303
    assert "they fired out and I counted on" in judge.get(SHEET).text


@pytest.mark.parametrize(("more", "leads_to"), [("", "/pad"), (CRITERIA, "/sheets/ben")])
def test_a_band_leads_to_the_pad_only_where_sheets_are_about_changes(
    ringing: Service, more: str, leads_to: str
) -> None:
    declare(ringing, more)

    page = ringing.visitor("judge", "ben").get(f"{ADDRESS}/judging").text

    assert f'<h2><a href="{ADDRESS}/bands/band-1{leads_to}">' in page
