"""The life of a contest as a state machine, and who sees which name in it."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from judging.contest import (
    LIFE,
    NEXT,
    Entry,
    Phase,
    Standing,
    Viewer,
    advance,
    display_name,
    missing,
    rules_are_frozen,
    shows_result,
)
from judging.errors import RuleError

READY = Standing(has_seed=True, judges=2, entries=5)


def test_a_contest_that_has_everything_goes_through_its_life_in_order() -> None:
    standing, seen = READY, [READY.phase]
    while standing.phase is not Phase.FINAL:
        phase, revision = advance(standing, NEXT[standing.phase][0])
        standing = replace(standing, phase=phase, revision=revision)
        seen.append(phase)

    assert tuple(seen) == LIFE
    assert standing.revision == 1


@pytest.mark.parametrize(
    ("phase", "to", "lacking", "who", "what"),
    [
        (Phase.DRAFT, Phase.PUBLISHED, {"has_seed": False}, "organiser", "Declare the seed of the draw."),
        (Phase.DRAFT, Phase.PUBLISHED, {"judges": 0}, "organiser", "Name at least one judge."),
        (Phase.DRAFT, Phase.PUBLISHED, {"pieces_not_as_asked": ("Too short.",)}, "organiser", "Too short."),
        (Phase.PUBLISHED, Phase.DRAWN, {"entries": 0}, "organiser", "Enter at least one band."),
        (
            Phase.PUBLISHED,
            Phase.DRAWN,
            {"entries_without_piece": ("a",)},
            "organiser",
            "Give the test piece of entry a.",
        ),
        (
            Phase.RINGING,
            Phase.SHEETS_IN,
            {"not_rung": ("a",)},
            "steward",
            "Band a: say that it has rung, or report on it.",
        ),
        (
            Phase.SHEETS_IN,
            Phase.PROVISIONAL,
            {"sheets_missing": (("j", "a"),)},
            "judge",
            "j: sign the sheet for band a.",
        ),
        (
            Phase.PROTEST,
            Phase.FINAL,
            {"upheld": (3,)},
            "organiser",
            "Correct the result: protest 3 against it is upheld.",
        ),
        (
            Phase.SHEETS_IN,
            Phase.PROVISIONAL,
            {"keyings_open": (("j", "a"),)},
            "organiser",
            "Confirm j’s paper for band a, keyed in by one person so far.",
        ),
        (Phase.PROTEST, Phase.FINAL, {"open_protests": 2}, "organiser", "Decide the open protests (2)."),
        (Phase.PROTEST, Phase.FINAL, {"protest_minutes_left": 4}, "nobody", "The protest window closes in 4 min."),
    ],
)
def test_what_is_missing_for_a_step_is_said_with_who_must_do_it(
    phase: Phase, to: Phase, lacking: dict[str, object], who: str, what: str
) -> None:
    standing = replace(READY, phase=phase, **lacking)  # type: ignore[arg-type]  # fields by name

    assert [(item.who, item.what) for item in missing(standing, to)] == [(who, what)]
    with pytest.raises(RuleError, match=f'before "{to}"'):
        advance(standing, to)


def test_a_correction_of_a_final_result_is_the_next_revision() -> None:
    assert advance(replace(READY, phase=Phase.FINAL), Phase.PROVISIONAL) == (Phase.PROVISIONAL, 2)


def test_a_step_out_of_order_is_refused_with_what_is_possible() -> None:
    with pytest.raises(RuleError, match='from "drawn" a contest goes to ringing or published, not to "final"'):
        advance(replace(READY, phase=Phase.DRAWN), Phase.FINAL)


def test_rules_are_frozen_from_publishing_on() -> None:
    assert [phase for phase in LIFE if not rules_are_frozen(phase)] == [Phase.DRAFT]


def test_opening_the_marks_of_a_result_that_was_shown_is_the_next_revision_and_of_one_that_was_not_is_none() -> None:
    shown = replace(READY, phase=Phase.PROVISIONAL, is_shown=True)

    assert advance(shown, Phase.SHEETS_IN) == (Phase.SHEETS_IN, 2)
    assert advance(replace(shown, revision=2, is_shown=False), Phase.SHEETS_IN) == (Phase.SHEETS_IN, 2)
    assert advance(replace(shown, phase=Phase.PROTEST), Phase.PROVISIONAL) == (Phase.PROVISIONAL, 2)


def test_sheets_that_the_rules_do_without_are_said_to_be_missing_and_stop_nothing() -> None:
    standing = replace(READY, phase=Phase.SHEETS_IN, sheets_missing=(("j", "a"),), sheets_may_miss=True)

    assert [item.blocks for item in missing(standing, Phase.PROVISIONAL)] == [False]
    assert advance(standing, Phase.PROVISIONAL) == (Phase.PROVISIONAL, 1)


class Life(RuleBasedStateMachine):
    """Any steps, in any order, with anything missing, marks changed wherever that is open.

    The contest never skips; each revision is shown at most once provisional and once final; what was shown stays as it
    was; nothing is final while a protest is open, or upheld and not corrected.
    """

    def __init__(self) -> None:
        super().__init__()
        self.standing = Standing()
        self.marks = 0
        self.shown: dict[tuple[int, Phase], int] = {}
        self.reasons = 0
        self.upheld: set[int] = set()

    @rule(seed=st.booleans(), judges=st.integers(0, 2), entries=st.integers(0, 2))
    def prepare(self, *, seed: bool, judges: int, entries: int) -> None:
        self.standing = replace(self.standing, has_seed=seed, judges=judges, entries=entries)

    @rule(not_rung=st.booleans(), unsigned=st.booleans(), may_miss=st.booleans(), left=st.integers(0, 3))
    def hold_the_day(self, *, not_rung: bool, unsigned: bool, may_miss: bool, left: int) -> None:
        self.standing = replace(
            self.standing,
            not_rung=("a",) * not_rung,
            sheets_missing=(("j", "a"),) * unsigned,
            sheets_may_miss=may_miss,
            protest_minutes_left=left,
        )

    @precondition(lambda self: self.standing.phase not in {Phase.PROTEST, Phase.FINAL})
    @rule()
    def mark(self) -> None:
        if not self.standing.is_shown:  # as the store sees to it
            self.marks += 1

    @precondition(lambda self: self.standing.phase is Phase.PROTEST)
    @rule()
    def protest(self) -> None:
        self.standing = replace(self.standing, open_protests=self.standing.open_protests + 1)

    @precondition(lambda self: self.standing.open_protests)
    @rule(upheld=st.booleans())
    def answer(self, *, upheld: bool) -> None:
        self.standing = replace(
            self.standing,
            open_protests=self.standing.open_protests - 1,
            upheld=(1,) if upheld and self.standing.is_shown else self.standing.upheld,
        )

    @rule(to=st.sampled_from(LIFE))
    def step(self, to: Phase) -> None:
        before = self.standing
        blocked = any(item.blocks for item in missing(before, to))
        try:
            phase, revision = advance(before, to)
        except RuleError:
            assert to not in NEXT[before.phase] or blocked
            return
        assert to in NEXT[before.phase]
        assert not blocked
        assert LIFE.index(phase) <= LIFE.index(before.phase) + 1
        self.reasons += revision > before.revision
        if phase is Phase.FINAL:
            assert not before.open_protests
            assert not before.upheld
        is_shown = before.is_shown and revision == before.revision
        if shows_result(before, to):
            kind = Phase.FINAL if to is Phase.FINAL else Phase.PROVISIONAL
            assert (revision, kind) not in self.shown
            self.shown[revision, kind] = self.marks
            is_shown = True
        upheld = before.upheld if revision == before.revision else ()
        self.standing = replace(before, phase=phase, revision=revision, is_shown=is_shown, upheld=upheld)

    @invariant()
    def each_later_revision_has_its_reason(self) -> None:
        assert self.standing.revision == 1 + self.reasons

    @invariant()
    def what_was_shown_stands_as_it_was(self) -> None:
        if self.standing.is_shown:
            assert self.shown[self.standing.revision, Phase.PROVISIONAL] == self.marks
        if self.standing.phase is Phase.FINAL:
            assert self.shown[self.standing.revision, Phase.FINAL] == self.marks


TestLife = Life.TestCase
TestLife.settings = settings(max_examples=40, stateful_step_count=30, deadline=None)

BAND = Entry("a", "Upper Fosslow", number=7)


@pytest.mark.parametrize("role", ["judge", "shadow judge", "public", "band"])
@pytest.mark.parametrize("phase", [phase for phase in LIFE if phase is not Phase.FINAL])
def test_before_final_a_band_is_a_number_to_everyone_whom_a_judge_could_be(role, phase) -> None:  # noqa: ANN001  literals
    assert display_name(BAND, Viewer(role, frozenset({"b"})), phase) == "Band 7"
    assert display_name(replace(BAND, number=None), Viewer(role), phase) == "A band"


@pytest.mark.parametrize("phase", LIFE)
def test_organiser_steward_and_the_band_itself_see_the_name(phase: Phase) -> None:
    assert display_name(BAND, Viewer("organiser"), phase) == "Upper Fosslow"
    assert display_name(BAND, Viewer("steward"), phase) == "Upper Fosslow"
    assert display_name(BAND, Viewer("band", frozenset({"a"})), phase) == "Upper Fosslow"


@pytest.mark.parametrize("role", ["organiser", "steward", "judge", "shadow judge", "public", "band"])
def test_at_final_everyone_sees_the_name(role) -> None:  # noqa: ANN001  a literal
    assert display_name(BAND, Viewer(role), Phase.FINAL) == "Upper Fosslow"


@given(st.text(min_size=1), st.sampled_from([phase for phase in LIFE if phase is not Phase.FINAL]))
@settings(max_examples=50)
def test_owning_an_entry_tells_a_judge_nothing(band: str, phase: Phase) -> None:
    entry = replace(BAND, band=band)

    assert display_name(entry, Viewer("judge", frozenset({"a"})), phase) == "Band 7"
