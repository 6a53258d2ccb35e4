"""Each tie rule on bands that are level, and what is said about it."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.errors import InputError
from judging.marks import Combining, Entrant, MachinePart, MarksRules, Result, Sheet, Ties, rank
from judging.marks.exact import Rounding
from judging.marks.rules import Part, Sheets, TieRule

D = Decimal


def rules(*names: TieRule, part: Part = "cross-check", **options: str | int) -> MarksRules:
    return MarksRules(ties=Ties(names, **options), machine=MachinePart(part))


#: Level on 60 each; the first judge has A ahead.
LEVEL = {"A": (20, 40), "B": (30, 30), "C": (50, 50)}


def test_the_chief_judges_figure_splits_and_both_sides_are_told(
    ranked: Callable[..., Result], places: Callable[[Result], dict[str, int | None]]
) -> None:
    result = ranked(LEVEL, rules("chief judge", chief_judge="j2"))

    assert places(result) == {"B": 1, "A": 2, "C": 3}
    assert result.places[0].reasons == (
        "Level with the next place on 60 faults, above it by the chief judge's figure: 30 against 40",
    )
    assert result.places[1].reasons == (
        "40 faults fewer than the next place",
        "Level with the place before on 60 faults, below it by the chief judge's figure: 40 against 30",
    )


def test_what_no_rule_splits_shares_the_place_and_the_next_place_is_counted_on(
    ranked: Callable[..., Result], places: Callable[[Result], dict[str, int | None]]
) -> None:
    result = ranked({"A": (30, 30), "B": (30, 30), "C": (50, 50)}, rules("chief judge", chief_judge="j2"))

    assert places(result) == {"A": 1, "B": 1, "C": 3}
    assert [line.tied for line in result.places] == [True, True, False]
    assert "1 place is shared: no declared tie rule splits them." in result.notes


def test_marks_that_are_not_rounded_before_ranking_are_told_apart_without_endless_digits(
    ranked: Callable[..., Result],
) -> None:
    exact = MarksRules(combining=Combining("mean"), rounding=Rounding(D("0.01"), "half up"), rank_rounded=False)
    # Means of 20⅓, 20⅔ and 40.
    result = ranked({"A": (20, 20, 21), "B": (20, 21, 21), "C": (40, 40, 40)}, exact)

    assert result.places[0].reasons == ("0.33 faults fewer than the next place",)
    assert result.places[1].reasons == (
        "19.33 faults fewer than the next place",
        "0.33 faults more than the place before",
    )

    # A third of a fault rounds to none in whole faults, and is more than none.
    coarse = replace(exact, rounding=Rounding(D(1), "half up"))
    assert "0.33 faults" in ranked({"A": (20, 20, 20), "B": (20, 20, 21)}, coarse).places[0].reasons[0]


def test_rules_are_asked_in_order_and_the_next_only_of_what_is_still_level(
    ranked: Callable[..., Result], places: Callable[[Result], dict[str, int | None]]
) -> None:
    # Level on 60: the chief splits off C, and A and B go to the best single sheet.
    table = {"A": (10, 20, 30), "B": (15, 15, 30), "C": (10, 10, 40)}

    result = ranked(table, rules("chief judge", "best single sheet", chief_judge="j3"))

    assert places(result) == {"A": 1, "B": 2, "C": 3}
    assert "best single sheet: 10 against 15" in result.places[0].reasons[0]
    assert "the chief judge's figure: 30 against 40" in result.places[1].reasons[0]


def test_fewest_whole_faults_counts_taps_of_a_whole_or_more(taps: Callable[..., Sheet]) -> None:
    sheets = [
        taps("j1", "A", (1, "1"), (2, "1"), (3, "2")),
        taps("j1", "B", (1, "0.5"), (2, "0.5"), (3, "1"), (9, "2")),
    ]

    result = rank([Entrant("A"), Entrant("B")], sheets, rules("fewest whole faults"), judges=["j1"])

    assert [line.entry for line in result.places] == ["B", "A"]
    assert "fewest whole faults: 2 against 3" in result.places[0].reasons[0]


def test_fewest_whole_faults_asks_only_judges_who_noted_every_fault_of_every_level_band(
    sheets: Callable[..., list[Sheet]], taps: Callable[..., Sheet]
) -> None:
    itemised = [taps("j1", "A", (1, "1"), (2, "1")), taps("j1", "B", (1, "0.5"), (2, "0.5"), (3, "1"))]
    totals = [sheet for sheet in sheets({"A": (2, 5), "B": (2, 5)}) if sheet.judge == "j2"]

    result = rank([Entrant("A"), Entrant("B")], itemised + totals, rules("fewest whole faults"), judges=["j1", "j2"])

    assert [line.entry for line in result.places] == ["B", "A"]


def test_a_rule_that_cannot_be_asked_says_so_and_leaves_the_place_shared(ranked: Callable[..., Result]) -> None:
    result = ranked(LEVEL, rules("fewest whole faults"))

    assert [line.place for line in result.places] == [1, 1, 3]
    assert (
        "The rule “fewest whole faults” could not be asked: no judge noted every fault of every one of them."
        in result.notes
    )


def test_fewest_faulty_changes_counts_each_change_once(taps: Callable[..., Sheet]) -> None:
    sheets = [taps("j1", "A", (1, "1"), (2, "1")), taps("j1", "B", (7, "1"), (7, "1"))]

    result = rank([Entrant("A"), Entrant("B")], sheets, rules("fewest faulty changes"), judges=["j1"])

    assert [line.entry for line in result.places] == ["B", "A"]
    assert "fewest faulty changes: 1 against 2" in result.places[0].reasons[0]


def test_fewest_faults_in_the_last_changes_looks_at_the_end_of_the_piece(taps: Callable[..., Sheet]) -> None:
    sheets = [taps("j1", "A", (119, "1"), (1, "1")), taps("j1", "B", (60, "1"), (61, "1"))]
    entrants = [Entrant("A", changes=120), Entrant("B", changes=120)]

    result = rank(entrants, sheets, rules("fewest faults in the last changes", last_changes=20), judges=["j1"])

    assert [line.entry for line in result.places] == ["B", "A"]
    assert "fewest faults in the last 20 changes: 0 against 1" in result.places[0].reasons[0]


def test_better_by_more_judges_is_a_count_of_heads(
    ranked: Callable[..., Result], places: Callable[[Result], dict[str, int | None]]
) -> None:
    table = {"A": (10, 10, 40), "B": (20, 20, 20)}

    assert places(ranked(table, rules("better by more judges"))) == {"A": 1, "B": 2}


def test_lowest_total_of_placings_looks_at_all_placed_bands(
    ranked: Callable[..., Result], places: Callable[[Result], dict[str, int | None]]
) -> None:
    # Level on 50. A is placed 1 and 3 (of three), B 2 and 1.
    table = {"A": (10, 40), "B": (20, 30), "C": (30, 35)}

    assert places(ranked(table, rules("lowest total of placings"))) == {"B": 1, "A": 2, "C": 3}


ILL = MarksRules(
    combining=Combining("mean", missing_judge="use those present"),
    ties=Ties(("chief judge", "better by more judges", "best single sheet", "lowest total of placings"), "j2"),
)


def test_rules_that_need_every_judge_are_not_asked_where_one_was_ill(ranked: Callable[..., Result]) -> None:
    result = ranked({"A": (30, 40), "B": (35,)}, ILL)

    assert [line.place for line in result.places] == [1, 1]
    assert [note.split(": ")[1] for note in result.notes if "could not be asked" in note] == [
        "the chief judge has no sheet for every one of them.",
        "not every judge has a sheet for every one of them.",
        "not every judge has a sheet for every one of them.",
        "not every judge has a sheet for every one of them.",
    ]


def test_the_last_changes_are_not_asked_of_a_piece_without_a_fixed_length_or_of_totals(
    taps: Callable[..., Sheet], ranked: Callable[..., Result]
) -> None:
    asked = rules("fewest faults in the last changes", "fewest faulty changes", last_changes=20)
    tapped = [taps("j1", "A", (1, "1"), (5, "1")), taps("j1", "B", (3, "1"), (4, "1"))]

    free = rank([Entrant("A"), Entrant("B")], tapped, asked, judges=["j1"])
    totals = ranked({"A": (2,), "B": (2,)}, asked)

    assert any("the length of the piece is not fixed" in note for note in free.notes)
    assert sum("no judge noted the change of every fault" in note for note in totals.notes) == 2


class TestTheMachine:
    RULES = rules("machine", part="tie-break")

    def test_splits_where_every_band_has_a_count(
        self, ranked: Callable[..., Result], places: Callable[[Result], dict[str, int | None]]
    ) -> None:
        result = ranked(LEVEL, self.RULES, machine={"A": D(31), "B": D("30.5"), "C": D(1)})

        assert places(result) == {"B": 1, "A": 2, "C": 3}
        assert "the machine's count: 30½ against 31" in result.places[0].reasons[0]

    @pytest.mark.parametrize("unfit", [{}, {"C": "too much wind"}])
    def test_has_no_part_where_any_placed_band_of_the_section_lacks_one(
        self, ranked: Callable[..., Result], places: Callable[[Result], dict[str, int | None]], unfit: dict[str, str]
    ) -> None:
        counts = {"A": D(31), "B": D(30), "C": D(1)}
        result = ranked(LEVEL, self.RULES, machine=counts if unfit else {"A": D(31), "B": D(30)}, unfit=unfit)

        assert places(result) == {"A": 1, "B": 1, "C": 3}
        assert any("no part in this section, tie rules included: one band has no count" in n for n in result.notes)
        assert result.places[0].machine == D(31)

    def test_is_not_kept_out_by_a_scratch_band(
        self, ranked: Callable[..., Result], places: Callable[[Result], dict[str, int | None]]
    ) -> None:
        result = ranked(LEVEL, self.RULES, Entrant("C", scratch=True), machine={"A": D(31), "B": D(30)})

        assert places(result) == {"B": 1, "A": 2, "C": None}

    def test_must_be_declared_on_both_sides(self) -> None:
        with pytest.raises(InputError, match="cross-check"):
            rules("machine")
        with pytest.raises(InputError, match='no tie rule is "machine"'):
            rules("chief judge", chief_judge="j1", part="tie-break")


class TestAVoice:
    def test_adds_the_machines_count_with_its_weight(
        self, ranked: Callable[..., Result], marks: Callable[[Result], dict[str, str]]
    ) -> None:
        declared = MarksRules(machine=MachinePart("voice", weight=D("0.5")))

        result = ranked(LEVEL, declared, machine={"A": D(10), "B": D(40), "C": D(20)})

        assert marks(result) == {"A": "65", "B": "80", "C": "110"}
        assert result.places[0].by_judge == {"j1": D(20), "j2": D(40), "machine": D(10)}

    def test_weighs_in_a_mean(self, ranked: Callable[..., Result], marks: Callable[[Result], dict[str, str]]) -> None:
        declared = MarksRules(combining=Combining("mean"), machine=MachinePart("voice", weight=D("0.5")))

        result = ranked({"A": (20, 40)}, declared, machine={"A": D(10)})

        assert marks(result) == {"A": "26"}  # (20 + 40 + 5) / 2.5

    def test_is_silent_in_a_section_where_one_band_has_no_count(
        self, ranked: Callable[..., Result], marks: Callable[[Result], dict[str, str]]
    ) -> None:
        declared = MarksRules(machine=MachinePart("voice"))

        result = ranked(LEVEL, declared, machine={"A": D(10), "B": D(40)})

        assert marks(result) == {"A": "60", "B": "60", "C": "100"}

    @pytest.mark.parametrize("combining", [Combining("agreed mark"), Combining("sum", drop="highest and lowest")])
    def test_is_refused_where_it_has_no_meaning(self, combining: Combining) -> None:
        with pytest.raises(InputError, match="voice"):
            MarksRules(combining=combining, machine=MachinePart("voice"))


@pytest.mark.parametrize(
    ("ties", "message"),
    [
        ({"rules": ("machine", "machine")}, "twice"),
        ({"rules": ("chief judge",)}, "no judge is declared as chief"),
        ({"rules": ("fewest faults in the last changes",)}, "not how many"),
    ],
)
def test_tie_rules_that_cannot_work_are_refused(ties: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        Ties(**ties)


@pytest.mark.parametrize("name", ["fewest whole faults", "fewest faulty changes", "fewest faults in the last changes"])
def test_a_rule_about_single_faults_is_refused_where_sheets_hold_marks(name: TieRule) -> None:
    """A line of two marks is a well struck row and not two faults: the band with fewer of them struck worse."""
    ties = Ties((name,), last_changes=20)
    assert MarksRules(ties=ties).ties is ties
    with pytest.raises(InputError, match="sheets hold marks, more being better"):
        MarksRules(sheets=Sheets(unit="marks", step=Decimal(1)), ties=ties)


@given(
    st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6), st.integers(0, 6)), min_size=2, max_size=7),
    st.permutations(["chief judge", "better by more judges", "best single sheet", "lowest total of placings"]),
    st.integers(0, 4),
)
@settings(max_examples=80)
def test_a_tie_rule_never_reorders_what_was_not_tied(
    sheets: Callable[..., list[Sheet]], table: list[tuple[int, int, int]], names: list[TieRule], how_many: int
) -> None:
    figures = {f"e{number}": line for number, line in enumerate(table)}
    asked = Ties(tuple(names[:how_many]), chief_judge="j2")
    arguments = [Entrant(entry) for entry in figures], sheets(figures)

    without = rank(*arguments, MarksRules(), judges=["j1", "j2", "j3"])
    with_rules = rank(*arguments, MarksRules(ties=asked), judges=["j1", "j2", "j3"])

    before = {line.entry: line.place for line in without.places}
    after = {line.entry: line.place for line in with_rules.places}
    for (one, place), (other, next_place) in permutations(before.items(), 2):
        if place < next_place:
            assert after[one] < after[other]
