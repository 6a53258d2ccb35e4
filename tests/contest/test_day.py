"""A whole day judged: logs counted, sections ranked, the machine kept in its part, and the document that comes out."""

import json
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from judging.contest import ContestDay, Outcome, judge_contest, result_document
from judging.contest.machine import count_spread
from judging.errors import InputError
from judging.piece import Piece
from judging.striking.counting import count_striking
from judging.striking.rules import CountingRules
from judging.striking.strike_log import StrikeLog

D = Decimal
DayOf = Callable[..., ContestDay]
LogOf = Callable[..., StrikeLog]

#: A third and a half of a gap late: a half fault and a whole one, well clear of the lines.
HALF_MS, WHOLE_MS = 95.0, 155.0


def places(outcome: Outcome, section: int = 0) -> dict[str, int | None]:
    return {line.entry: line.place for line in outcome.results[section].places}


#: The panel and the piece; tests add what they are about.
RULES = """
rules = 1
title = "A small contest"
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
seed = "a seed"
"""


def entries_with(last: str) -> str:
    """Three bands, something more being known of the last."""
    heads = (f'[[entry]]\nid = "{entry}"\nband = "{entry.upper()}"\n' for entry in "abc")
    return "".join(heads) + last


def test_a_day_without_any_recording_is_judged_by_ear_only(day_of: DayOf) -> None:
    outcome = judge_contest(day_of())

    assert places(outcome) == {"b": 1, "c": 2, "a": 3}
    assert outcome.counts == {}
    assert outcome.uncounted == dict.fromkeys("abc", "no strike log; judged by ear only")
    assert outcome.results[0].notes[-1].startswith("Safety of places")


def test_logs_are_counted_and_stand_beside_the_judges_without_moving_a_place(day_of: DayOf, log_of: LogOf) -> None:
    logs = {"a": log_of(), "b": log_of({(10, 3): HALF_MS, (20, 4): WHOLE_MS})}

    outcome = judge_contest(day_of(logs=logs))

    assert places(outcome) == places(judge_contest(day_of()))
    assert outcome.machine_counts == {"a": D(0), "b": D("1.5")}
    assert {line.entry: line.machine for line in outcome.results[0].places} == {"a": D(0), "b": D("1.5"), "c": None}


LEVEL = {"one": "entry,total\na,18\nb,24\nc,30\n", "two": "entry,total\na,30\nb,24\nc,45\n"}
TIE_BREAK = RULES + '[machine]\npart = "tie-break"\n[ties]\nrules = ["machine"]\n'


class TestTheMachineAsATieBreak:
    def logs(self, log_of: LogOf) -> dict[str, StrikeLog]:
        return {"a": log_of({(10, 3): WHOLE_MS}), "b": log_of({(10, 3): HALF_MS}), "c": log_of()}

    def test_splits_level_bands(self, day_of: DayOf, log_of: LogOf) -> None:
        outcome = judge_contest(day_of(rules=TIE_BREAK, sheets=LEVEL, logs=self.logs(log_of)))

        assert places(outcome) == {"b": 1, "a": 2, "c": 3}
        assert "the machine's count: ½ against 1" in outcome.results[0].places[0].reasons[0]

    @pytest.mark.parametrize(
        ("spoil", "why"),
        [
            ("missing", "no strike log; judged by ear only"),
            ("noisy", "% of its judged blows are unheard or not timed within 10 ms, at most 15 % are allowed"),
            ("cut off", "rows short of what was rung; the recording may have been cut off"),
            ("another piece", ""),
            ("no consent", "no consent to a recording; judged by ear only"),
        ],
    )
    def test_has_no_part_at_all_where_one_band_has_no_count_of_the_declared_quality(
        self, day_of: DayOf, log_of: LogOf, spoil: str, why: str
    ) -> None:
        logs = self.logs(log_of)
        entries = entries_with("")
        if spoil == "missing":
            del logs["c"]
        elif spoil == "noisy":
            logs["c"] = log_of(spread_ms=25)
        elif spoil == "cut off":
            logs["c"] = log_of(rows=40)
        elif spoil == "another piece":
            chance = np.random.default_rng(1)
            logs["c"] = replace(logs["c"], bells=chance.permutation(logs["c"].bells))
        else:
            entries = entries_with("may_be_recorded = false\n")

        outcome = judge_contest(day_of(rules=TIE_BREAK, sheets=LEVEL, logs=logs, entries=entries))

        assert places(outcome) == {"a": 1, "b": 1, "c": 3}
        assert why in outcome.uncounted["c"]
        assert any("no part in this section, tie rules included" in note for note in outcome.results[0].notes)

    def test_takes_a_short_log_where_the_steward_reports_the_rows_missing(self, day_of: DayOf, log_of: LogOf) -> None:
        logs = {**self.logs(log_of), "c": log_of(rows=54)}
        entries = entries_with("missing_rows = 10\n")
        rules = TIE_BREAK + '[[penalty]]\nfor = "missing rows"\namount = 3\n'

        outcome = judge_contest(day_of(rules=rules, sheets=LEVEL, logs=logs, entries=entries))

        assert places(outcome) == {"b": 1, "a": 2, "c": 3}
        assert outcome.machine_counts["c"] == D(30)
        assert outcome.results[0].places[2].mark == D(30 + 45 + 2 * 10 * 3)


SECTIONS = """
rules = 1
title = "Two sections"
[[section]]
name = "Service bands"
piece = "minor"
most_borrowed = 0
[[section]]
name = "All bands"
piece = "minor"
[[judge]]
id = "one"
name = "Judge One"
[[judge]]
id = "two"
name = "Judge Two"
[draw]
seed = "a seed"
[[penalty]]
for = "borrowed ringers"
base = "combined"
percent = 15
"""

ENTERED = """
[[entry]]
id = "a"
band = "Alpha"
section = "Service bands"
also_in = ["All bands"]
[[entry]]
id = "b"
band = "Beta"
section = "Service bands"
also_in = ["All bands"]
borrowed = 1
[[entry]]
id = "c"
band = "Gamma"
section = "All bands"
"""


def test_one_ringing_stands_in_two_sections_each_under_its_own_limit(day_of: DayOf) -> None:
    outcome = judge_contest(day_of(rules=SECTIONS, entries=ENTERED))

    assert [result.section for result in outcome.results] == ["Service bands", "All bands"]
    assert places(outcome, 0) == {"a": 1, "b": None}
    assert places(outcome, 1) == {"c": 1, "a": 2, "b": 3}
    assert outcome.results[0].places[1].reasons == (
        "Not placed in this section: 1 borrowed, none is allowed in this section",
    )
    assert outcome.results[1].places[2].mark == D("85.1")  # 74 and 15 per cent


def test_a_section_is_judged_by_its_own_panel(day_of: DayOf) -> None:
    rules = SECTIONS.replace('name = "All bands"\n', 'name = "All bands"\njudges = ["one"]\n')
    sheets = {"one": "entry,total\na,18\nb,24\nc,30\n", "two": "entry,total\na,62\nb,50\n"}
    entries = ENTERED.replace('also_in = ["All bands"]\n', "")

    outcome = judge_contest(day_of(rules=rules, entries=entries, sheets=sheets))

    assert places(outcome, 1) == {"c": 1}
    assert outcome.results[1].places[0].mark == D(30)


def test_a_missing_sheet_is_refused_naming_judge_and_entry(day_of: DayOf) -> None:
    with pytest.raises(InputError, match=r"sheet of two for c: it is missing \(1 of 3 are\)"):
        judge_contest(day_of(sheets={**LEVEL, "two": "entry,total\na,30\nb,24\n"}))


def test_sheets_of_unknown_judges_and_entries_are_refused_whichever_way_the_day_came_in(day_of: DayOf) -> None:
    day = day_of()
    sheet = day.sheets[0]

    with pytest.raises(InputError, match='"nobody" is no judge of this contest'):
        judge_contest(replace(day, sheets=(*day.sheets, replace(sheet, judge="nobody"))))
    with pytest.raises(InputError, match='"ghost" is no entry of this contest'):
        judge_contest(replace(day, sheets=(*day.sheets, replace(sheet, entry="ghost"))))


def test_an_entry_of_no_section_is_refused(day_of: DayOf) -> None:
    day = day_of(rules=SECTIONS, entries=ENTERED)

    with pytest.raises(InputError, match='entry a, section: "Nowhere" is no section of the rules'):
        judge_contest(replace(day, entries=(replace(day.entries[0], section="Nowhere"), *day.entries[1:])))
    with pytest.raises(InputError, match='there is no section "Nowhere"'):
        day.rules.section("Nowhere")


def test_a_log_none_of_whose_rows_is_marked_is_of_no_quality(day_of: DayOf, log_of: LogOf) -> None:
    outcome = judge_contest(day_of(rules=RULES + "[marked]\nfree_rows = 500\n", logs={"a": log_of()}))

    assert outcome.uncounted["a"] == "no row of it is marked"


def test_a_log_of_an_entry_without_its_piece_is_refused(day_of: DayOf, log_of: LogOf) -> None:
    with pytest.raises(InputError, match=r'entry a, piece: "minor" is not among the test pieces \(none\)'):
        judge_contest(replace(day_of(logs={"a": log_of()}), pieces={}))


class TestTheDocument:
    def document(self, day: ContestDay) -> dict[str, Any]:
        text = json.dumps(result_document(judge_contest(day), day), allow_nan=False)
        return dict(json.loads(text))

    def test_has_what_a_reader_relies_on(self, day_of: DayOf) -> None:
        document = self.document(day_of())

        assert document["unit"] == "faults"
        assert document["lower_is_better"] is True
        assert [(line["entry"], line["place"], line["tied"], line["mark"]) for line in document["places"]] == [
            ("b", 1, False, 74),
            ("c", 2, False, 75),
            ("a", 3, False, 80),
        ]
        assert document["places"][0]["reasons"] == ["1 fault fewer than the next place"]
        assert all(0 <= line["safety"] <= 1 for line in document["places"])

    def test_has_every_section_and_the_first_one_at_the_top(self, day_of: DayOf) -> None:
        document = self.document(day_of(rules=SECTIONS, entries=ENTERED))

        assert [section["section"] for section in document["sections"]] == ["Service bands", "All bands"]
        assert document["places"] == document["sections"][0]["places"]
        assert document["sections"][1]["places"][2]["adjustments"] == [
            {"judge": "", "rule": "1 borrowed ringer at 15 %", "before": 74, "after": 85.1}
        ]

    def test_names_no_band(self, day_of: DayOf) -> None:
        text = json.dumps(self.document(day_of()))

        assert not any(band in text for band in ("Alpha", "Beta", "Gamma"))

    def test_is_the_same_whatever_order_everything_came_in(self, day_of: DayOf, log_of: LogOf) -> None:
        day = day_of(logs={"a": log_of(), "b": log_of({(10, 3): HALF_MS})})
        turned = replace(
            day,
            entries=day.entries[::-1],
            judges=day.judges[::-1],
            sheets=day.sheets[::-1],
            logs=dict(reversed(day.logs.items())),
        )

        assert self.document(turned) == self.document(day)


class TestTheDoubtOfACount:
    def test_is_nothing_where_every_blow_is_far_from_every_line(self, minor: Piece, log_of: LogOf) -> None:
        count = count_striking(log_of(), minor, CountingRules())

        assert count_spread(count, CountingRules()) == pytest.approx(0, abs=1e-6)

    def test_is_a_quarter_where_one_blow_lies_on_the_half_line(self, minor: Piece, log_of: LogOf) -> None:
        rules = CountingRules()
        count = count_striking(log_of({(20, 3): 79.0}), minor, rules)
        own = float(np.nanmax(np.abs(count.deviations.own_gaps)))
        on_the_line = replace(rules, bands=replace(rules.bands, half_gaps=own))

        # A half or nothing, even chances: standard deviation a quarter.
        assert count_spread(count, on_the_line) == pytest.approx(0.25, abs=0.01)

    def test_grows_with_the_square_root_of_the_number_of_doubtful_blows(self, minor: Piece, log_of: LogOf) -> None:
        rules = CountingRules()
        one = count_striking(log_of({(20, 3): 75.0}, spread_ms=5), minor, rules)
        four = count_striking(log_of({(row, 3): 75.0 for row in (12, 24, 36, 48)}, spread_ms=5), minor, rules)

        assert count_spread(four, rules) == pytest.approx(2 * count_spread(one, rules), rel=0.15)

    def test_is_nothing_for_a_blow_timed_exactly_however_far_out_it_is(self, minor: Piece, log_of: LogOf) -> None:
        count = count_striking(log_of(spread_ms=0.0), minor, CountingRules())
        own_gaps = count.deviations.own_gaps.copy()
        own_gaps[20, 2] = 6.0
        far = replace(count, deviations=replace(count.deviations, own_gaps=own_gaps))

        assert count_spread(far, CountingRules()) == 0


SIX = "".join(f'[[entry]]\nid = "{name}"\nband = "Band {name}"\n' for name in "abcdef")
SIX_SHEETS = {
    judge: "entry,total,comment\n" + "".join(f"{name},18,\n" for name in "abcdef") for judge in ("one", "two")
}


def test_delays_of_the_tower_are_taken_out_only_where_the_rules_say_so(
    day_of: DayOf, log_of: LogOf, minor: Piece
) -> None:
    """Bell 6 is 130 ms late at every backstroke, whoever rings it; each band has a mishap of its own besides."""
    at_back = {
        (row, place + 1): 130.0
        for row, bells in enumerate(minor.rows)
        for place, bell in enumerate(bells)
        if bell == 6 and not minor.is_hand[row]
    }
    logs = {name: log_of({**at_back, (20 + number, 2): 160.0}) for number, name in enumerate("abcdef")}
    declared = RULES + "[machine]\ntower_delays = true\n"
    off, on = (
        judge_contest(day_of(rules=rules, entries=SIX, sheets=SIX_SHEETS, logs=logs)) for rules in (RULES, declared)
    )
    assert all(off.counts[name].total >= 10 for name in "abcdef")
    assert all(on.counts[name].total <= 2 for name in "abcdef")
    assert all("bell 6 at backstroke" in " ".join(on.counts[name].notes) for name in "abcdef")
    assert not any("tower" in " ".join(count.notes) for count in off.counts.values())
    few = judge_contest(
        day_of(rules=declared, entries=SIX, sheets=SIX_SHEETS, logs={name: logs[name] for name in "abcd"})
    )
    assert all(few.counts[name].total == off.counts[name].total for name in "abcd")
    assert all("needs 5 bands on 6 bells, and 4 could be counted" in " ".join(c.notes) for c in few.counts.values())
