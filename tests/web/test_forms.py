"""A judge's sheet as it is typed."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.errors import InputError
from judging.marks.sheet_rules import Sheets
from judging.marks.values import Tap
from judging.web.forms import SheetForm, form_of, read_sheet, read_taps

from .conftest import ADDRESS, Service

HALVES = st.integers(0, 20).map(lambda halves: Decimal(halves) / 2)


def test_faults_are_read_as_judges_write_them() -> None:
    assert read_taps("38 ½\n\n 112, 1\n112: 1½ 204.6\n9 0.5") == (
        Tap(38, Decimal("0.5")),
        Tap(112, Decimal(1)),
        Tap(112, Decimal("1.5"), 204.6),
        Tap(9, Decimal("0.5")),
    )


@given(st.lists(st.tuples(st.integers(1, 5040), HALVES), max_size=30))
def test_what_is_written_is_what_is_read(taps: list[tuple[int, Decimal]]) -> None:
    text = "\n".join(f"{change} {faults}" for change, faults in taps)

    assert [(tap.change, tap.faults) for tap in read_taps(text)] == taps


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_about_its_field(text: str) -> None:
    wrong = ""
    try:
        read_taps(text)
    except InputError as error:
        wrong = str(error)

    assert not wrong or wrong.startswith("taps: line ")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("38", "1 words"),
        ("a ½", '"a" is not the number of a change'),
        ("0 1", "counts from 1"),
        ("-3 1", "counts from 1"),
        ("3 x", '"x" is not a number'),
        ("3 -1", "not from 0 to 10"),
        ("3 11", "not from 0 to 10"),
        ("3 NaN", "not a number that a sheet can hold"),
        ("3 1 99999999", "no time in seconds"),
        ("3 1 2 4", "4 words"),
        ("٣ 1", "not the number of a change"),
    ],
)
def test_a_line_that_says_nothing_is_named_with_its_number(line: str, words: str) -> None:
    with pytest.raises(InputError, match="line 2") as refused:
        read_taps(f"5 1\n{line}")
    assert words in str(refused.value)


def sheet(total: str = "", taps: str = "") -> SheetForm:
    return SheetForm(total=total, taps=taps)


def test_the_lines_give_the_total_where_it_is_left_out() -> None:
    read = read_sheet(sheet(taps="3 1\n9 ½"), judge="ann", entry="gorse", rules=Sheets())

    assert (read.total, len(read.taps)) == (Decimal("1.5"), 2)


@pytest.mark.parametrize(
    ("form", "where", "words"),
    [
        (sheet(), "total", "write 0 for a sheet without a fault"),
        (sheet("3", "5 1"), "total", "add up to 1"),
        (sheet("x"), "total", "not a number"),
        (sheet("-1"), "total", "below 0"),
        (sheet("0.3"), "total", "finer than the step"),
        (sheet("41"), "total", "above the most"),
        (sheet("1e3"), "total", "above the most"),
        (sheet("1", "what"), "taps", "line 1"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused_about_its_field(form: SheetForm, where: str, words: str) -> None:
    with pytest.raises(InputError) as refused:
        read_sheet(form, judge="ann", entry="gorse", rules=Sheets(most=Decimal(40)))
    assert refused.value.where == where
    assert words in refused.value.problem


def test_an_error_stands_beside_its_field_and_any_other_above_the_form() -> None:
    beside = form_of({"total": "x"}, error=InputError("total", "is odd"), fields=("total",))
    above = form_of(error=InputError("line 4", "is odd"), fields=("total",))

    assert (beside.wrong["total"], beside.wrong["form"], beside.typed["total"]) == ("Is odd.", "", "x")
    assert (above.wrong["total"], above.wrong["form"]) == ("", "Line 4: is odd.")


@pytest.fixture
def ringing(service: Service) -> Service:
    service.set_phase("ringing")
    return service


def test_a_sheet_is_signed_and_read_back(ringing: Service) -> None:
    judge = ringing.visitor("judge", "ben")
    address = f"{ADDRESS}/bands/band-2/sheets/ben"

    answer = judge.post(address, data={"taps": "7 1\n12 ½", "comment": "Good leads.", "reason": "heard again"})

    assert answer.status_code == 303
    page = judge.get(address).text
    assert "7 1\n12 ½" in page
    assert "Good leads." in page
    assert "changed because: heard again" in page


def test_what_was_typed_is_kept_when_a_sheet_is_refused(ringing: Service) -> None:
    judge = ringing.visitor("judge", "ben")

    answer = judge.post(
        f"{ADDRESS}/bands/band-2/sheets/ben",
        data={"total": "12½½", "taps": "7 <1", "comment": "<script>alert('it')</script>", "reason": "none"},
    )

    assert answer.status_code == 422
    assert "7 &lt;1" in answer.text
    assert "&lt;script&gt;" in answer.text
    assert "<script>alert" not in answer.text
    assert 'value="none"' in answer.text


def test_a_revision_without_a_reason_is_refused_and_kept_in_the_form(ringing: Service) -> None:
    answer = ringing.visitor("judge", "ben").post(f"{ADDRESS}/bands/band-2/sheets/ben", data={"total": "33"})

    assert answer.status_code == 409
    assert "needs a reason" in answer.text
    assert 'value="33"' in answer.text


def test_the_same_sheet_sent_twice_is_one(ringing: Service) -> None:
    judge = ringing.visitor("judge", "ben")
    address = f"{ADDRESS}/bands/band-2/sheets/ben"

    for _ in range(2):
        assert judge.post(address, data={"total": "33", "reason": "added again"}).status_code == 303

    assert judge.get(address).text.count("changed because") == 1


def test_a_field_that_is_not_of_the_form_is_refused(ringing: Service) -> None:
    answer = ringing.visitor("judge", "ben").post(
        f"{ADDRESS}/bands/band-2/sheets/ben", data={"total": "3", "judge": "ann"}
    )

    assert answer.status_code == 422


def test_a_judge_sees_a_number_and_never_a_name(ringing: Service) -> None:
    page = ringing.visitor("judge", "ben").get(f"{ADDRESS}/bands/band-2/sheets/ben").text

    assert "Band 2" in page
    assert "Saltmarsh" not in page
    assert "saltmarsh" not in page
