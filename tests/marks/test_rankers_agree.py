"""The Decimal ranker against a slow, obvious one in fractions, and the float ranker against the Decimal one."""

import math
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.marks import Combining, Entrant, MarksRules, Penalty, Result, Rounding, Sheet, Sheets, rank
from judging.marks.exact import Mode
from judging.marks.float_ranker import Field, float_marks, float_places
from judging.marks.penalties import Base
from judging.marks.rules import Policy

POLICIES: list[Policy] = ["sum", "mean", "ratio", "standard score", "placings", "majority of placings"]
Table = dict[str, list[Fraction]]
Contest = tuple[Table, dict[str, Entrant], MarksRules]
PLAIN = {"sum", "mean"}


def slow_result(table: Table, entrants: dict[str, Entrant], rules: MarksRules) -> dict[str, tuple[Fraction, int]]:
    """Marks and places worked out the long way round: exact fractions, every pair compared, nothing shared.

    ``table`` is entry → list of figures. Standard scores are irrational, so they are left to another test.
    """
    lower = rules.sheets.unit == "faults"
    by_entry = {
        entry: [penalised(Fraction(figure), entrants[entry], rules, "each judge", lower=lower) for figure in line]
        for entry, line in table.items()
    }
    judges = range(len(next(iter(table.values()))))
    policy = rules.combining.policy
    marks = {}
    for entry, line in by_entry.items():
        column = {judge: [by_entry[other][judge] for other in table] for judge in judges}
        if policy in PLAIN:
            mark = sum(line) / (len(line) if policy == "mean" else 1)
        elif policy == "ratio":
            mark = Fraction(0)
            for judge in judges:
                mean = Fraction(sum(column[judge]), len(table))
                mark += line[judge] / mean if mean else 1
            mark /= len(line)
        else:
            own_places = []
            for judge in judges:
                better = sum(1 for x in column[judge] if (x < line[judge] if lower else x > line[judge]))
                level = sum(1 for x in column[judge] if x == line[judge])
                own_places.append(Fraction(2 * better + level + 1, 2))
            if policy == "placings":
                mark = sum(own_places)
            else:
                tries = sorted(own_places)
                mark = next(k for k in tries if 2 * sum(1 for x in own_places if x <= k) > len(own_places))
        if policy in PLAIN:
            mark = penalised(mark, entrants[entry], rules, "combined", lower=lower)
        marks[entry] = half_up(mark, Fraction(rules.rounding.step))
    best_is_low = lower or "placings" in policy
    return {
        entry: (mark, 1 + sum(1 for other in marks.values() if (other < mark if best_is_low else other > mark)))
        for entry, mark in marks.items()
    }


def penalised(figure: Fraction, entrant: Entrant, rules: MarksRules, base: Base, *, lower: bool) -> Fraction:
    counted = figure
    for penalty in rules.penalties:
        if penalty.base != base:
            continue
        if penalty.kind == "novice handicap":
            figure *= penalty.multipliers[min(entrant.experienced, len(penalty.multipliers) - 1)]
            continue
        number = {"borrowed ringers": entrant.borrowed, "missing rows": entrant.missing_rows}[penalty.kind]
        of = counted if penalty.percent_of == "as counted" else figure
        change = number * (Fraction(penalty.percent) * of / 100 + Fraction(penalty.amount))
        before, figure = figure, figure + change if lower else max(Fraction(0), figure - change)
        if penalty.rounding is not None and figure != before:
            figure = half_up(figure, Fraction(penalty.rounding.step))
    return figure


def half_up(figure: Fraction, step: Fraction) -> Fraction:
    steps = abs(figure) / step
    whole = math.floor(steps)
    whole += steps - whole >= Fraction(1, 2)
    return (whole if figure >= 0 else -whole) * step


@st.composite
def contests(draw: st.DrawFn, policies: list[Policy]) -> Contest:
    judges = draw(st.integers(1, 4))
    size = draw(st.integers(2, 6))
    policy = draw(st.sampled_from(policies))
    unit = draw(st.sampled_from(["faults", "marks"]))
    halves = st.integers(0, draw(st.sampled_from([4, 40, 240])))
    table = {f"e{number}": [Fraction(draw(halves), 2) for _ in range(judges)] for number in range(size)}
    entrants = {
        entry: Entrant(
            entry,
            borrowed=draw(st.integers(0, 2)),
            missing_rows=draw(st.integers(0, 3)),
            experienced=draw(st.integers(0, 4)),
        )
        for entry in table
    }
    base = st.sampled_from(["each judge", "combined"]) if policy in PLAIN else st.just("each judge")
    penalties = [
        Penalty(
            "borrowed ringers",
            base=draw(base),
            percent=draw(st.sampled_from([Decimal(15), Decimal("7.5")])),
            percent_of=draw(st.sampled_from(["as counted", "so far"])),
            rounding=draw(st.sampled_from([None, Rounding(Decimal("0.5"))])),
        ),
        Penalty("missing rows", base=draw(base), amount=draw(st.sampled_from([Decimal(3), Decimal("0.5")]))),
    ]
    if unit == "faults":
        ladder = (Fraction(1), Fraction(4, 3), Fraction(5, 3), Fraction(2))
        penalties.append(Penalty("novice handicap", base=draw(base), multipliers=ladder))
    chosen = draw(st.permutations(penalties))[: draw(st.integers(0, len(penalties)))]
    step = draw(st.sampled_from(["0.01", "0.5", "0.001", "1"]))
    rules = MarksRules(
        sheets=Sheets(unit), combining=Combining(policy), penalties=tuple(chosen), rounding=Rounding(Decimal(step))
    )
    return table, entrants, rules


def ranked(table: Table, entrants: dict[str, Entrant], rules: MarksRules, *, turned: bool = False) -> Result:
    sheets = [
        Sheet(f"j{judge}", entry, Decimal(figure.numerator) / figure.denominator)
        for entry, line in table.items()
        for judge, figure in enumerate(line)
    ]
    judges = [f"j{judge}" for judge in range(len(next(iter(table.values()))))]
    known = list(entrants.values())
    if turned:
        sheets, judges, known = sheets[::-1], judges[::-1], known[::-1]
    return rank(known, sheets, rules, judges=judges)


def places_of(result: Result) -> dict[str, int | None]:
    return {line.entry: line.place for line in result.places}


@given(contests([policy for policy in POLICIES if policy != "standard score"]))
@settings(max_examples=150, deadline=None)
def test_the_ranker_gives_the_marks_and_places_of_the_slow_one(contest: Contest) -> None:
    result = ranked(*contest)

    assert {line.entry: (Fraction(line.mark), line.place) for line in result.places} == slow_result(*contest)


@given(
    contest=contests(POLICIES),
    mode=st.sampled_from(["half up", "half even", "half down", "up", "down"]),
    rank_rounded=st.booleans(),
)
@settings(max_examples=200, deadline=None)
def test_the_float_ranker_gives_the_marks_and_places_of_the_decimal_one(
    contest: Contest, mode: Mode, *, rank_rounded: bool
) -> None:
    table, entrants, rules = contest
    rules = MarksRules(
        sheets=rules.sheets,
        combining=rules.combining,
        penalties=rules.penalties,
        rounding=Rounding(rules.rounding.step, mode),
        rank_rounded=rank_rounded,
    )
    judges = len(next(iter(table.values())))
    signed = np.array([[float(line[judge]) for line in table.values()] for judge in range(judges)])

    field = Field(tuple(entrants.values()), np.ones(judges), rules)
    decimal = ranked(table, entrants, rules)

    assert dict(zip(table, float_places(signed[None], field)[0].tolist(), strict=True)) == places_of(decimal)
    if rank_rounded:
        marks = {line.entry: float(line.mark) for line in decimal.places}
        assert dict(zip(table, float_marks(signed[None], field)[0], strict=True)) == pytest.approx(marks, abs=1e-9)


@given(contests(POLICIES), st.integers(0, 2**32))
@settings(max_examples=30, deadline=None)
def test_a_thousand_sections_at_once_are_ranked_as_one_by_one(contest: Contest, seed: int) -> None:
    _, entrants, rules = contest
    figures = np.random.default_rng(seed).integers(0, 12, (40, 3, len(entrants))) / 2
    field = Field(tuple(entrants.values()), np.ones(3), rules)

    together = float_places(figures, field)

    assert (together == np.concatenate([float_places(one[None], field) for one in figures])).all()


@pytest.mark.parametrize("mode", ["half up", "half even", "half down", "up", "down"])
@pytest.mark.parametrize("step", ["0.25", "0.01", "3"])
def test_floats_are_rounded_as_decimals_are_at_every_half_step(mode: Mode, step: str) -> None:
    rounding = Rounding(Decimal(step), mode)
    rules = MarksRules(rounding=rounding)
    figures = [Decimal(number) * Decimal(step) / 4 for number in range(41)]

    floats = float_marks(np.array(figures, dtype=float)[None, None], Field((Entrant("a"),) * 41, np.ones(1), rules))

    assert floats[0].tolist() == pytest.approx([float(rounding(figure)) for figure in figures], abs=1e-12)


def test_highest_and_lowest_are_left_out_alike() -> None:
    rules = MarksRules(combining=Combining("mean", drop="highest and lowest"))
    table = {"a": [Fraction(1), Fraction(9), Fraction(4)], "b": [Fraction(3), Fraction(3), Fraction(99)]}
    entrants = {entry: Entrant(entry) for entry in table}
    signed = np.array([[1.0, 3.0], [9.0, 3.0], [4.0, 99.0]])

    floats = float_places(signed[None], Field(tuple(entrants.values()), np.ones(3), rules))

    assert floats.tolist() == [[2, 1]]
    assert places_of(ranked(table, entrants, rules)) == {"a": 2, "b": 1}


def test_those_present_are_averaged_alike() -> None:
    rules = MarksRules(combining=Combining("ratio", missing_judge="use those present"))
    sheets = [Sheet("j0", "a", Decimal(10)), Sheet("j0", "b", Decimal(12)), Sheet("j1", "b", Decimal(3))]
    entrants = (Entrant("a"), Entrant("b"))
    signed = np.array([[10.0, 12.0], [np.nan, 3.0]])

    floats = float_places(signed[None], Field(entrants, np.ones(2), rules))

    assert floats.tolist() == [[1, 2]]
    assert places_of(rank(entrants, sheets, rules, judges=["j0", "j1"])) == {"a": 1, "b": 2}


@given(contests(POLICIES))
@settings(max_examples=60, deadline=None)
def test_the_order_of_judges_bands_and_sheets_changes_nothing(contest: Contest) -> None:
    assert ranked(*contest, turned=True) == ranked(*contest)


@given(contests(POLICIES))
@settings(max_examples=60, deadline=None)
def test_places_are_a_weak_order_counted_as_competitions_count(contest: Contest) -> None:
    result = ranked(*contest)
    taken = [line.place for line in result.places]

    assert taken == sorted(taken)
    for line in result.places:
        assert line.place == 1 + sum(other < line.place for other in taken)
        assert line.tied == (taken.count(line.place) > 1)


@given(contests(["sum", "mean"]), st.integers(1, 20), st.data())
@settings(max_examples=80, deadline=None)
def test_adding_faults_to_a_band_never_raises_it(contest: Contest, extra: int, data: st.DataObject) -> None:
    table, entrants, rules = contest
    entry = data.draw(st.sampled_from(sorted(table)))
    worse = {**table, entry: [figure + extra for figure in table[entry]]}

    before, after = places_of(ranked(table, entrants, rules))[entry], places_of(ranked(worse, entrants, rules))[entry]

    assert after >= before if rules.sheets.lower_is_better else after <= before


@given(contests(["sum", "mean", "ratio", "standard score", "placings"]), st.integers(2, 5))
@settings(max_examples=60, deadline=None)
def test_every_figure_times_the_same_changes_no_place(contest: Contest, factor: int) -> None:
    table, entrants, rules = contest
    rules = MarksRules(
        sheets=rules.sheets,
        combining=rules.combining,
        penalties=tuple(p for p in rules.penalties if not p.amount and not p.rounding),
        rank_rounded=False,
    )
    larger = {entry: [figure * factor for figure in line] for entry, line in table.items()}

    assert places_of(ranked(larger, entrants, rules)) == places_of(ranked(table, entrants, rules))


@pytest.mark.parametrize("policy", POLICIES)
def test_a_contest_of_one_band_has_a_winner(policy: Policy) -> None:
    result = ranked({"a": [Fraction(3)]}, {"a": Entrant("a")}, MarksRules(combining=Combining(policy)))

    assert places_of(result) == {"a": 1}
    assert result.places[0].reasons == ("The only placed entry",)
