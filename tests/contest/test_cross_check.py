"""What the cross-check shows: the order under every line and scheme, and a section's judges compared."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from judging.contest import ContestDay, compare_panel, judge_contest, under_every_line
from judging.contest.every_line import LINES_GAPS, section_under_every_line
from judging.contest.machine import counts_if_moved, moved, recounted
from judging.marks import Entrant
from judging.striking.marking import SCHEMES
from judging.striking.rules import CountingRules
from judging.striking.strike_log import StrikeLog
from judging.striking.tolerance import ToleranceBands

from .conftest import RULES

DayOf = Callable[..., ContestDay]
LogOf = Callable[..., StrikeLog]

#: Six small slips of 0.27 gap, or two large ones of 0.47, on blows far enough apart to be charged alone.
SMALL = {(row, 3): 81.0 for row in (8, 13, 24, 30, 43, 49)}
LARGE = {(row, 4): 141.0 for row in (18, 36)}


@pytest.fixture(scope="module")
def day(day_of: DayOf, log_of: LogOf) -> ContestDay:
    return day_of(logs={"a": log_of(SMALL), "b": log_of(LARGE), "c": log_of({**SMALL, **LARGE})})


def test_which_band_is_first_hangs_on_the_line_and_is_said_so(day: ContestDay) -> None:
    found = under_every_line(judge_contest(day).counts, [Entrant("a"), Entrant("b"), Entrant("c")], day.rules)

    low, high = found.lines_gaps.index(0.2), found.lines_gaps.index(0.3)
    assert (found.machine.by_line["a"][low], found.machine.by_line["b"][low]) == (2, 1)
    assert (found.machine.by_line["a"][high], found.machine.by_line["b"][high]) == (1, 2)
    assert found.machine.sentences["a"] == "second from 0.14 to 0.28 gap, first beyond"
    assert found.machine.by_line["c"][low] == 3


def test_at_the_declared_line_and_scheme_the_count_is_the_count(day: ContestDay) -> None:
    outcome = judge_contest(day)
    entrants = [Entrant(entry) for entry in "abc"]

    found = under_every_line(outcome.counts, entrants, day.rules, lines_gaps=[day.rules.counting.bands.half_gaps])

    assert {entry: counts[0] for entry, counts in found.counts.items()} == outcome.machine_counts
    declared = found.machine.by_scheme[day.rules.counting.scheme.name]
    assert declared == {entry: places[0] for entry, places in found.machine.by_line.items()}
    assert set(found.machine.by_scheme) == set(SCHEMES)


def test_a_wider_line_never_charges_more(day: ContestDay) -> None:
    counts = under_every_line(judge_contest(day).counts, [Entrant("c")], day.rules).counts

    assert list(counts) == ["c"]
    assert list(counts["c"]) == sorted(counts["c"], reverse=True)
    assert len(counts["c"]) == len(LINES_GAPS)


def test_a_band_that_is_first_under_every_line_is_told_so(day: ContestDay) -> None:
    found = under_every_line({"a": judge_contest(day).counts["a"]}, [Entrant("a")], day.rules)

    assert found.machine.sentences == {"a": "first under every line from 0.14 to 0.5 gap"}


def test_withdrawn_and_scratch_bands_take_no_place_under_any_line(day: ContestDay) -> None:
    entrants = [Entrant("a"), Entrant("b", withdrawn="ill"), Entrant("c", scratch=True)]

    found = under_every_line(judge_contest(day).counts, entrants, day.rules)

    assert set(found.machine.by_line["b"]) == set(found.machine.by_line["c"]) == {None}
    assert set(found.machine.sentences) == {"a"}


def with_voice(day_of: DayOf, log_of: LogOf, more: str = "") -> ContestDay:
    """Two judges who hear bands a and b alike, so that the machine's voice decides."""
    rules = RULES + f'[machine]\npart = "voice"\n{more}[rounding]\nrank_rounded = false\n'
    sheets = dict.fromkeys(("one", "two"), "entry,total\na,20\nb,20\nc,60\n")
    logs = {"a": log_of(SMALL), "b": log_of(LARGE), "c": log_of({**SMALL, **LARGE})}
    return day_of(rules=rules, sheets=sheets, logs=logs)


def test_where_the_machine_has_a_voice_the_result_itself_is_made_again_under_every_line(
    day_of: DayOf, log_of: LogOf
) -> None:
    day = with_voice(day_of, log_of)
    outcome = judge_contest(day)

    found = section_under_every_line(day, outcome, "Method")

    assert found is not None
    assert found.result is not None
    at = found.lines_gaps.index(0.26)
    assert {line.entry: line.place for line in outcome.results[0].places} == {
        entry: places[at] for entry, places in found.result.by_line.items()
    }
    assert found.result.by_line["b"][at] == 1
    assert found.result.by_line["a"][found.lines_gaps.index(0.3)] == 1
    assert set(found.result.by_line["c"]) == {3}
    assert not found.result.stands


def test_a_result_in_which_the_machine_has_no_part_hangs_on_no_line(day: ContestDay) -> None:
    found = section_under_every_line(day, judge_contest(day), "Method")

    assert found is not None
    assert found.result is None


def test_one_count_has_no_order_under_any_line(day_of: DayOf, log_of: LogOf) -> None:
    day = day_of(logs={"a": log_of(SMALL)})

    assert section_under_every_line(day, judge_contest(day), "Method") is None


def test_an_error_of_the_lines_that_is_declared_goes_into_the_safety_of_a_voice(day_of: DayOf, log_of: LogOf) -> None:
    certain, unsure = with_voice(day_of, log_of), with_voice(day_of, log_of, "lines_unsure_percent = 15\n")
    count = judge_contest(unsure).counts["a"]

    assert set(counts_if_moved(count, certain.rules)) == {float(count.total)}
    by_line = counts_if_moved(count, unsure.rules)
    assert list(by_line) == sorted(by_line, reverse=True)
    assert by_line[2] == float(count.total)
    assert len(set(by_line)) > 1
    first = [judge_contest(day).safeties[0] for day in (certain, unsure)]
    assert first[0] is not None
    assert first[1] is not None
    assert first[0].first != first[1].first


def test_lines_move_together_and_the_clash_stays() -> None:
    bands = moved(ToleranceBands(), 0.5)

    assert (bands.blemish_gaps, bands.half_gaps, bands.whole_gaps) == (0.3, 0.5, 0.8)
    assert (bands.blemish_ms, bands.half_ms, bands.whole_ms) == (60, 90, 140)
    assert bands.clash_gaps == ToleranceBands().clash_gaps


def test_a_recount_under_the_same_rules_is_the_count(day: ContestDay) -> None:
    for count in judge_contest(day).counts.values():
        assert recounted(count, CountingRules()) == count.total


def tapped_s(row: int) -> float:
    """When a judge taps for the third blow of a row: 0.4 s after it, rows being rung as the logs are."""
    return (6 * row + row // 2 + 2) * 0.3 + 0.08 + 0.4


#: Change 1 is row 4. Five slips of band a by the clock; one of band c by its change, and one of the judge's own.
TAPPED = "\n".join(
    [
        "entry,change,faults,tap_s",
        *(f"a,{row - 3},0.5,{tapped_s(row):.2f}" for row in sorted(row for row, _ in SMALL)[:5]),
        "b,,,",
        "c,5,0.5,",
        "c,55,1,",
    ]
)


def test_taps_are_laid_on_the_machines_faults_and_told_by_the_judges_name(day_of: DayOf, log_of: LogOf) -> None:
    sheets = {"one": TAPPED, "two": "entry,total\na,62\nb,50\nc,45\n"}
    day = day_of(sheets=sheets, logs={"a": log_of(SMALL), "c": log_of({**SMALL, **LARGE})})

    found = compare_panel(day, judge_contest(day))

    by_time, by_change = found.taps["one"]
    assert len(by_time.pairs) == 5
    assert by_time.lag_s == pytest.approx(0.4, abs=0.02)
    assert len(by_time.machine_only) == 1
    assert len(by_change.pairs) == 1
    assert len(by_change.judge_only) == 1
    assert found.taps["two"] == ()
    assert found.sentences["one"][0] == "Judge One noted 6 of the machine's 14 faults."
    assert found.sentences["one"][-1].startswith(
        "Judge One's taps follow the blows after a steady delay, give or take 0.0"
    )
    assert found.sentences["two"] == ()


def test_judges_are_compared_on_faults_as_signed(day_of: DayOf) -> None:
    day = day_of()
    found = compare_panel(day, judge_contest(day))

    assert found.judges is not None
    assert [judge.judge for judge in found.judges.judges] == ["one", "two"]
    assert found.judges.judges[1].severity.value > 1
    assert "the other judges" in found.judges.sentences[1]


def test_marks_are_compared_by_what_was_lost_or_not_at_all(day_of: DayOf) -> None:
    rules = """
rules = 1
title = "x"
[[section]]
name = "Method"
piece = "minor"
[[judge]]
id = "one"
name = "Judge One"
[[judge]]
id = "two"
name = "Judge Two"
[draw]
seed = "s"
[sheets]
unit = "marks"
step = 1
"""
    sheets = {"one": "entry,total\na,222\nb,216\nc,210\n", "two": "entry,total\na,178\nb,190\nc,195\n"}
    unlimited = day_of(rules=rules, sheets=sheets)
    limited = day_of(rules=rules + "most = 240\n", sheets=sheets)
    faults = day_of()

    assert compare_panel(unlimited, judge_contest(unlimited)).judges is None
    by_marks = compare_panel(limited, judge_contest(limited)).judges
    by_faults = compare_panel(faults, judge_contest(faults)).judges
    assert by_marks is not None
    assert by_faults is not None
    assert [judge.severity for judge in by_marks.judges] == [judge.severity for judge in by_faults.judges]


def test_no_band_is_named_in_any_sentence(day: ContestDay) -> None:
    found = compare_panel(replace(day), judge_contest(day))
    said = " ".join(
        [
            *(sentence for sentences in found.heard.values() for sentence in sentences),
            *(found.judges.sentences if found.judges else ()),
        ]
    )

    assert not any(band in said for band in ("Alpha", "Beta", "Gamma"))


def test_a_figure_with_its_digits_exchanged_is_asked_about(day_of: DayOf) -> None:
    sheets = {"one": "entry,total\na,18\nb,42\nc,30\n", "two": "entry,total\na,28\nb,36\nc,130\n"}
    day = day_of(sheets=sheets)

    found = compare_panel(day, judge_contest(day)).surprising

    (c,) = found
    assert (c.judge, c.entry) == ("two", "c")
    assert c.sentence == "130 where the other figures foretell about 32: is it as you heard it?"
