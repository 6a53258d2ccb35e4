"""The policies, on examples worked by hand and against scipy."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any, ClassVar

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from judging.errors import InputError
from judging.marks import Combining, Entrant, MarksRules, Panel, Result, Rounding, Sheet, combine, rank
from judging.marks.rules import Policy

#: Faults of two judges; the same three bands win under three policies and tie under a fourth.
THREE_BANDS = {"A": (18, 62), "B": (24, 50), "C": (30, 45)}


def rules(policy: Policy, **combining: str) -> MarksRules:
    return MarksRules(combining=Combining(policy, **combining), rounding=Rounding(Decimal("0.001")))


@pytest.mark.parametrize(
    ("policy", "expected", "order"),
    [
        ("sum", {"A": "80", "B": "74", "C": "75"}, ["B", "C", "A"]),
        ("mean", {"A": "40", "B": "37", "C": "37.5"}, ["B", "C", "A"]),
        ("placings", {"A": "4", "B": "4", "C": "4"}, ["A", "B", "C"]),
        ("standard score", {"A": "0.13", "B": "-0.327", "C": "0.197"}, ["B", "A", "C"]),
        ("ratio", {"A": "0.967", "B": "0.978", "C": "1.055"}, ["A", "B", "C"]),
    ],
)
def test_three_bands_rank_differently_under_each_policy(
    policy: Policy,
    expected: dict[str, str],
    order: list[str],
    ranked: Callable[..., Result],
    marks: Callable[[Result], dict[str, str]],
) -> None:
    result = ranked(THREE_BANDS, rules(policy))

    assert marks(result) == expected
    assert [line.entry for line in result.places] == order


def test_placings_of_the_three_bands_are_a_three_way_tie_shown_as_shared(ranked: Callable[..., Result]) -> None:
    result = ranked(THREE_BANDS, rules("placings"))

    assert [(line.place, line.tied) for line in result.places] == [(1, True)] * 3
    assert result.places[0].reasons == ("Shared with 2 others on 4 in placings: no declared tie rule splits them",)


def test_equal_figures_share_the_mean_of_their_places(ranked: Callable[..., Result]) -> None:
    result = ranked({"A": (10,), "B": (20,), "C": (20,), "D": (30,)}, rules("placings"))

    assert {line.entry: line.mark for line in result.places} == {
        "A": Decimal(1),
        "B": Decimal("2.5"),
        "C": Decimal("2.5"),
        "D": Decimal(4),
    }


def test_a_majority_gives_the_best_place_that_more_than_half_of_the_judges_gave_or_bettered(
    ranked: Callable[..., Result],
    places: Callable[[Result], dict[str, int | None]],
    marks: Callable[[Result], dict[str, str]],
) -> None:
    # A: 1 1 3 → two of three gave first. B: 2 2 1 → second. C: 3 3 2 → third.
    table = {"A": (10, 10, 30), "B": (20, 20, 10), "C": (30, 30, 20)}

    result = ranked(table, rules("majority of placings"))

    assert marks(result) == {"A": "1", "B": "2", "C": "3"}
    assert places(result) == {"A": 1, "B": 2, "C": 3}


def test_two_judges_are_a_majority_only_together(
    ranked: Callable[..., Result], marks: Callable[[Result], dict[str, str]]
) -> None:
    assert marks(ranked(THREE_BANDS, rules("majority of placings"))) == {"A": "3", "B": "2", "C": "3"}


def test_the_highest_and_lowest_are_left_out_of_each_bands_own_figures(
    ranked: Callable[..., Result], marks: Callable[[Result], dict[str, str]]
) -> None:
    # A: 10 and 40 go, 20 + 30 stay. B: 11 and 99 go, 12 + 13 stay.
    table = {"A": (10, 20, 30, 40), "B": (12, 99, 11, 13)}

    assert marks(ranked(table, rules("sum", drop="highest and lowest"))) == {"B": "25", "A": "50"}
    assert marks(ranked(table, rules("mean", drop="highest and lowest"))) == {"B": "12.5", "A": "25"}


def test_leaving_out_highest_and_lowest_needs_three_judges(ranked: Callable[..., Result]) -> None:
    with pytest.raises(InputError, match="can be left out of 3 or more"):
        ranked(THREE_BANDS, rules("sum", drop="highest and lowest"))


def test_a_judge_who_gave_every_band_the_same_has_standard_score_zero_and_it_is_said(
    ranked: Callable[..., Result], marks: Callable[[Result], dict[str, str]]
) -> None:
    result = ranked({"A": (18, 50), "B": (24, 50)}, rules("standard score"))

    assert marks(result) == {"A": "-1", "B": "1"}
    assert "j2 gave every band the same: each standard score is 0." in result.notes


def test_a_judge_who_found_nothing_counts_one_for_every_band_as_a_ratio_and_it_is_said(
    ranked: Callable[..., Result], marks: Callable[[Result], dict[str, str]]
) -> None:
    result = ranked({"A": (10, 0), "B": (30, 0)}, rules("ratio"))

    assert marks(result) == {"A": "0.75", "B": "1.25"}
    assert "j2 found nothing in any band: each counts 1 as a ratio." in result.notes


def test_a_scratch_band_is_put_on_the_scale_but_does_not_move_it(ranked: Callable[..., Result]) -> None:
    alone = ranked({"A": (10,), "B": (30,)}, rules("ratio"))
    with_scratch = ranked({"A": (10,), "B": (30,), "S": (80,)}, rules("ratio"), Entrant("S", scratch=True))

    assert [line.mark for line in with_scratch.places[:2]] == [line.mark for line in alone.places]
    assert with_scratch.places[2].mark == Decimal(4)
    assert with_scratch.places[2].place is None


def test_an_agreed_mark_is_one_sheet(ranked: Callable[..., Result]) -> None:
    assert ranked({"A": (10,), "B": (30,)}, rules("agreed mark")).places[0].entry == "A"
    with pytest.raises(InputError, match="one sheet from the panel; 2 judges"):
        ranked(THREE_BANDS, rules("agreed mark"))


@pytest.mark.parametrize(
    ("combining", "message"),
    [
        ({"policy": "placings", "drop": "highest and lowest"}, "goes with"),
        ({"policy": "sum", "missing_judge": "use those present"}, "would be better off"),
        ({"policy": "mean", "drop": "highest and lowest", "missing_judge": "use those present"}, "same judges"),
    ],
)
def test_combinations_without_a_meaning_are_refused(combining: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        Combining(**combining)


class TestMissingJudge:
    TABLE: ClassVar = {"A": (18, 62), "B": (24, 50), "C": (30,)}

    def test_is_refused_by_default_naming_judge_and_entry(self, ranked: Callable[..., Result]) -> None:
        with pytest.raises(InputError, match=r"sheet of j2 for C: it is missing \(1 of 3 are\)"):
            ranked(self.TABLE, rules("sum"))

    def test_counts_for_nobody_where_so_declared(
        self, ranked: Callable[..., Result], marks: Callable[[Result], dict[str, str]]
    ) -> None:
        result = ranked(self.TABLE, rules("sum", missing_judge="leave the judge out"))

        assert marks(result) == {"A": "18", "B": "24", "C": "30"}
        assert "j2 did not judge every band, and so counts for none of them, as declared." in result.notes

    def test_leaves_the_mean_to_those_present_where_so_declared(
        self, ranked: Callable[..., Result], marks: Callable[[Result], dict[str, str]]
    ) -> None:
        result = ranked(self.TABLE, rules("mean", missing_judge="use those present"))

        assert marks(result) == {"C": "30", "B": "37", "A": "40"}
        assert any("over the judges who did" in note for note in result.notes)

    def test_does_not_matter_for_a_scratch_band_but_its_mark_is_not_given(self, ranked: Callable[..., Result]) -> None:
        result = ranked(self.TABLE, rules("sum"), Entrant("C", scratch=True))

        assert result.places[2].mark is None
        assert "No mark: nothing from j2" in result.places[2].reasons

    def test_a_declared_judge_without_any_sheet_is_not_passed_over(self, sheets: Callable[..., list[Sheet]]) -> None:
        with pytest.raises(InputError, match=r"sheet of j3 for A: it is missing \(2 of 2 are\)"):
            rank(
                [Entrant("A"), Entrant("B")],
                sheets({"A": (1, 2), "B": (3, 4)}),
                MarksRules(),
                judges=["j1", "j2", "j3"],
            )

    def test_a_band_that_nobody_judged_is_refused(self, sheets: Callable[..., list[Sheet]]) -> None:
        with pytest.raises(InputError, match="entry B: no judge"):
            rank(
                [Entrant("A"), Entrant("B")],
                sheets({"A": (1,)}),
                rules("mean", missing_judge="use those present"),
                judges=["j1"],
            )


FIGURES = st.integers(2, 5).flatmap(
    lambda judges: st.lists(st.lists(st.integers(0, 240), min_size=judges, max_size=judges), min_size=2, max_size=8)
)


def panel_of(table: list[list[int]]) -> tuple[Panel, NDArray[np.float64], tuple[str, ...]]:
    halves = [[Decimal(figure) / 2 for figure in line] for line in table]
    entries = tuple(f"e{number}" for number in range(len(table)))
    figures = {
        f"j{judge}": {entry: line[judge] for entry, line in zip(entries, halves, strict=True)}
        for judge in range(len(table[0]))
    }
    return Panel(figures, entries), np.array([[float(figure) for figure in line] for line in halves]), entries


@given(FIGURES)
@settings(max_examples=60)
def test_standard_scores_are_scipys(table: list[list[int]]) -> None:
    panel, array, entries = panel_of(table)
    spread = array.std(axis=0) > 0
    expected = stats.zscore(array[:, spread], axis=0).sum(axis=1) if spread.any() else np.zeros(len(array))

    combined = combine(panel, Combining("standard score"))

    assert [float(combined.marks[entry]) for entry in entries] == pytest.approx(list(expected), abs=1e-9)


@given(FIGURES)
@settings(max_examples=60)
def test_placings_are_scipys_mean_ranks(table: list[list[int]]) -> None:
    panel, array, entries = panel_of(table)

    combined = combine(panel, Combining("placings"))

    expected = stats.rankdata(array, axis=0).sum(axis=1)
    assert [float(combined.marks[entry]) for entry in entries] == list(expected)


@given(FIGURES, st.integers(1, 40))
@settings(max_examples=60)
def test_a_judge_twice_as_severe_changes_neither_ratios_nor_standard_scores_nor_placings(
    table: list[list[int]], factor: int
) -> None:
    panel, _, _ = panel_of(table)
    severe = Panel(
        {**panel.figures, "j0": {entry: figure * factor for entry, figure in panel.figures["j0"].items()}}, panel.placed
    )

    for policy in ("ratio", "standard score", "placings"):
        before, after = combine(panel, Combining(policy)), combine(severe, Combining(policy))
        if policy != "ratio" or any(panel.figures["j0"].values()):
            assert after.marks == before.marks


@given(FIGURES, st.integers(1, 100))
@settings(max_examples=60)
def test_a_judge_who_adds_the_same_to_every_band_changes_no_standard_score(table: list[list[int]], extra: int) -> None:
    panel, _, _ = panel_of(table)
    higher = Panel(
        {**panel.figures, "j0": {entry: figure + extra for entry, figure in panel.figures["j0"].items()}}, panel.placed
    )

    assert combine(higher, Combining("standard score")).marks == combine(panel, Combining("standard score")).marks
