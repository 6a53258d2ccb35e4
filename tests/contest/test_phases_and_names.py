"""The life of a contest as a state machine, and who sees which name in it."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from judging.contest import LIFE, NEXT, Entry, Phase, Standing, Viewer, advance, display_name, missing, rules_are_frozen
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
        (Phase.PUBLISHED, Phase.DRAWN, {"entries": 0}, "organiser", "Enter at least one band."),
        (
            Phase.PUBLISHED,
            Phase.DRAWN,
            {"entries_without_piece": ("a",)},
            "organiser",
            "Give the test piece of entry a.",
        ),
        (Phase.RINGING, Phase.SHEETS_IN, {"not_rung": ("a",)}, "steward", "Report on entry a."),
        (
            Phase.SHEETS_IN,
            Phase.PROVISIONAL,
            {"sheets_missing": (("j", "a"),)},
            "judge",
            "Judge j: sign the sheet of entry a.",
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


class Life(RuleBasedStateMachine):
    """Any steps, in any order, with anything missing: the contest never skips, and final is never edited."""

    def __init__(self) -> None:
        super().__init__()
        self.standing = Standing()
        self.finals = 0

    @rule(seed=st.booleans(), judges=st.integers(0, 2), entries=st.integers(0, 2))
    def prepare(self, *, seed: bool, judges: int, entries: int) -> None:
        self.standing = replace(self.standing, has_seed=seed, judges=judges, entries=entries)

    @rule(not_rung=st.booleans(), unsigned=st.booleans(), protests=st.integers(0, 1), left=st.integers(0, 5))
    def hold_the_day(self, *, not_rung: bool, unsigned: bool, protests: int, left: int) -> None:
        self.standing = replace(
            self.standing,
            not_rung=("a",) * not_rung,
            sheets_missing=(("j", "a"),) * unsigned,
            open_protests=protests,
            protest_minutes_left=left,
        )

    @rule(to=st.sampled_from(LIFE))
    def step(self, to: Phase) -> None:
        before = self.standing
        blocked = bool(missing(before, to))
        try:
            phase, revision = advance(before, to)
        except RuleError:
            assert to not in NEXT[before.phase] or blocked
            return
        assert to in NEXT[before.phase]
        assert not blocked
        self.standing = replace(before, phase=phase, revision=revision)
        self.finals += phase is Phase.FINAL
        assert LIFE.index(phase) <= LIFE.index(before.phase) + 1

    @invariant()
    def revisions_count_the_finals_that_were_opened_again(self) -> None:
        open_again = self.standing.phase is not Phase.FINAL
        assert self.standing.revision == (1 if self.finals == 0 else self.finals + open_again)


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
