"""Methods known by name: each against what is published, or against the properties its provenance names."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from piece_facts import (
    CAMBRIDGE_MINOR_LEAD,
    COURSES,
    KENT_MINOR_LEAD,
    STEDMAN_SIXES,
    Course,
    sha256_12,
)
from slow_ringing import course as slow_course
from slow_ringing import is_true as slowly_true
from slow_ringing import touch as slow_touch

from judging.errors import InputError
from judging.piece import (
    METHODS,
    Method,
    Piece,
    method_named,
    prove,
    read_notation,
    read_piece,
    rounds,
    row_text,
    rows_text,
)

Read = Callable[[str], Piece]
Changes = Callable[[str], list[str]]

LEFT_BY_RULE = [method for method in METHODS if "lead heads of Plain Bob" in method.provenance]


def _course_of(method: Method) -> str:
    return f'method = "{method.title}"'


def _lead_heads(piece: Piece) -> tuple[str, ...]:
    return tuple(label.text for label in piece.labels if label.kind == "lead head")


@pytest.mark.parametrize("course", COURSES, ids=lambda course: course.title)
def test_the_plain_course_is_the_published_one(course: Course, read: Read, changes: Changes) -> None:
    method = method_named(course.title)
    assert np.array_equal(read_notation(method.notation, course.stage), read_notation(course.notation, course.stage))
    rows = changes(_course_of(method))
    assert len(rows) == course.length
    assert sha256_12(rows) == course.sha256_12
    assert _lead_heads(read(_course_of(method)))[:-1] == course.lead_heads


@pytest.mark.parametrize("course", [c for c in COURSES if c.first_row_after_bob], ids=lambda course: course.title)
def test_a_bob_at_the_first_lead_head_makes_the_known_row(course: Course, changes: Changes) -> None:
    assert changes(f'method = "{course.title}"\ncalling = "b"')[-1] == course.first_row_after_bob


@pytest.mark.parametrize("course", [c for c in COURSES if c.first_row_after_single], ids=lambda course: course.title)
def test_a_single_at_the_first_lead_head_makes_the_known_row(course: Course, changes: Changes) -> None:
    assert changes(f'method = "{course.title}"\ncalling = "s"')[-1] == course.first_row_after_single


def test_the_first_leads_of_kent_and_cambridge_minor_are_the_known_ones(changes: Changes) -> None:
    assert " ".join(changes('method = "Kent Treble Bob Minor"')[:24]) == KENT_MINOR_LEAD
    assert " ".join(changes('method = "Cambridge Surprise Minor"')[:24]) == CAMBRIDGE_MINOR_LEAD


def test_stedman_doubles_begins_with_the_known_sixes(changes: Changes) -> None:
    assert changes('method = "Stedman Doubles"')[:20] == " ".join(STEDMAN_SIXES).split()


@pytest.mark.parametrize("method", METHODS, ids=lambda method: method.title)
def test_every_method_has_a_true_plain_course_that_comes_round(method: Method, read: Read) -> None:
    proof = prove(read(_course_of(method)))
    assert proof.true
    assert proof.comes_round
    assert not proof.jumps


@pytest.mark.parametrize("method", METHODS, ids=lambda method: method.title)
def test_every_method_says_where_it_comes_from(method: Method) -> None:
    assert "Framework" in method.provenance or "from memory; " in method.provenance


@pytest.mark.parametrize("method", [m for m in METHODS if m.stage <= 8], ids=lambda method: method.title)
def test_courses_agree_with_a_slow_and_obvious_generator(method: Method, changes: Changes) -> None:
    rows = slow_course(method.notation, method.stage)
    assert changes(_course_of(method)) == rows
    assert slowly_true(rows)


@pytest.mark.parametrize("method", LEFT_BY_RULE, ids=lambda method: method.title)
def test_a_single_hunt_course_has_one_lead_less_than_bells_and_the_lead_heads_of_plain_bob(
    method: Method, read: Read
) -> None:
    """Group fact: a lead head that is a cycle of the n - 1 working bells has order n - 1."""
    plain_bob = read(f'method = "{next(m for m in METHODS if m.stage == method.stage).title}"')
    found = _lead_heads(read(_course_of(method)))
    assert len(found) == method.stage - 1
    assert set(found) == set(_lead_heads(plain_bob))


def test_plain_bob_leads_every_bell_to_the_place_of_the_next_in_coursing_order_at_every_stage(read: Read) -> None:
    """Framework's pattern of the first lead head, 1 3 5 2 7 4 ...: even bells go up two places, odd ones down two."""
    for method in METHODS:
        if method.title.startswith("Plain Bob"):
            stage = method.stage
            to = {bell: bell + 2 if bell % 2 == 0 else max(bell - 2, 2) for bell in range(2, stage + 1)}
            last_even = stage - stage % 2
            to[last_even] = stage if stage % 2 else stage - 1
            expected = [1, *sorted(to, key=lambda bell: to[bell])]
            assert _lead_heads(read(_course_of(method)))[0] == row_text(expected)


def test_grandsire_keeps_the_treble_and_the_hunt_bell_at_home_and_moves_the_rest_in_one_cycle(read: Read) -> None:
    for method in METHODS:
        if method.title.startswith("Grandsire"):
            heads = _lead_heads(read(_course_of(method)))
            assert len(heads) == method.stage - 2
            assert all(head.startswith("12") for head in heads)


@pytest.mark.parametrize("method", [m for m in METHODS if "Stedman" in m.title], ids=lambda method: method.title)
def test_in_stedman_every_bell_does_the_same_work_begun_apart(method: Method, read: Read) -> None:
    piece = read(_course_of(method))
    places = np.argsort(piece.rows, axis=1)
    assert len(piece.rows) == 12 * method.stage
    works = {tuple(np.roll(places[:, 0], 12 * lead).tolist()) for lead in range(method.stage)}
    assert {tuple(places[:, bell].tolist()) for bell in range(method.stage)} == works


def _places_at_cross_sections(changes: NDArray[np.int8]) -> list[int]:
    """How many inner places are made whenever the treble, in the first half lead, goes from one dodge to the next."""
    stage = changes.shape[1]
    treble, made = 0, []
    for change in changes[: len(changes) // 2]:
        here = int(np.flatnonzero(change == treble)[0])
        if treble % 2 == 1 and here == treble + 1:
            made.append(int((change == np.arange(stage))[1:-1].sum()))
        treble = here
    return made


def test_a_surprise_method_makes_a_place_at_every_cross_section_and_a_treble_bob_method_at_none() -> None:
    """Framework for Method Ringing: what the class words Surprise and Treble Bob mean."""
    for method in METHODS:
        sections = _places_at_cross_sections(read_notation(method.notation, method.stage))
        if "Surprise" in method.title:
            assert len(sections) == method.stage // 2 - 1
            assert min(sections) > 0, method.title
        if "Treble Bob" in method.title:
            assert sections == [0] * (method.stage // 2 - 1), method.title


DOUBLE = [method for method in METHODS if "double method" in method.provenance]


@pytest.mark.parametrize("method", DOUBLE, ids=lambda method: method.title)
def test_a_double_method_is_the_same_from_either_end_of_the_row_half_a_lead_apart(method: Method) -> None:
    changes = read_notation(method.notation, method.stage)
    upside_down = method.stage - 1 - changes[:, ::-1]
    assert np.array_equal(np.roll(upside_down, len(changes) // 2, axis=0), changes)


def test_the_methods_called_double_are_among_the_double_ones() -> None:
    assert {m.title for m in METHODS if m.title.startswith("Double ")} <= {m.title for m in DOUBLE}


def test_st_clements_keeps_two_bells_on_the_front_while_the_treble_is_behind(changes: Changes) -> None:
    rows = changes('method = "St Clement\'s College Bob Minor"')
    for lead in range(5):
        front = {frozenset(row[:2]) for row in rows[12 * lead : 12 * lead + 12] if row.index("1") > 2}
        assert len(front) == 1


CALLED_AT_THE_LEAD_HEAD = [
    method
    for method in METHODS
    if method.stage > 5 and "Grandsire" not in method.title and "Stedman" not in method.title
]


def _order(permutation: NDArray[np.int8]) -> int:
    """How often it must be done until everything is back."""
    done, times = permutation, 1
    while (done != np.arange(len(done))).any():
        done, times = done[permutation], times + 1
    return times


@pytest.mark.parametrize("method", CALLED_AT_THE_LEAD_HEAD, ids=lambda method: method.title)
def test_calls_that_leave_the_observation_bell_alone_undo_each_other(method: Method, read: Read) -> None:
    """A call turns some bells round in a ring; called as often as the ring is long, it has done nothing (a group fact).

    With 2nds made at the lead head a bob turns three bells and a single two, so that three and two calls come round.
    """
    plain = read_notation(method.notation, method.stage)[-1]
    for call in method.calls:
        called = read_notation(call.made[0][1], method.stage)[-1]
        times = _order(called[plain])
        if plain[1] == 1:
            assert times == {"bob": 3, "single": 2}[call.name]
        left_alone = [place for place in range(1, method.stage) if called[place] == plain[place]]
        if not left_alone:
            continue  # a single in 2nds, 3rds and 4ths where the plain lead makes none of them moves every bell
        keys = f'method = "{method.title}"\ncalls_at = [{{{call.name} = {left_alone[-1] + 1}}}]\nrepeat = {times}'
        piece = read(keys)
        assert prove(piece).comes_round, call
        assert sum(label.text == call.name for label in piece.labels) == times


@pytest.mark.parametrize("title", ["Plain Bob Doubles", "St Simon's Bob Doubles", "St Martin's Bob Doubles"])
def test_three_bobs_make_a_true_120_of_doubles(title: str, read: Read) -> None:
    proof = prove(read(f'method = "{title}"\ncalling = "pppb"\nrepeat = 3'))
    assert (proof.changes, proof.true, proof.comes_round) == (120, True, True)


@pytest.mark.parametrize(
    ("asked", "title"),
    [
        ("plain bob doubles", "Plain Bob Doubles"),
        ("Bob Minor", "Plain Bob Minor"),
        ("Kent  Major", "Kent Treble Bob Major"),
        ("Cambridge Minor", "Cambridge Surprise Minor"),
        ("St Clement's Minor", "St Clement's College Bob Minor"),
        ("Double Norwich Major", "Double Norwich Court Bob Major"),
        ("Oxford Minor", "Oxford Treble Bob Minor"),
    ],
)
def test_a_method_is_known_by_its_short_name_too(asked: str, title: str) -> None:
    assert method_named(asked).title == title


def test_no_two_methods_share_a_title() -> None:
    titles = [method.title for method in METHODS]
    assert len(titles) == len(set(titles))


def test_a_misspelt_method_is_told_the_near_ones() -> None:
    with pytest.raises(InputError, match=r"^method: 'Granshire Doubles' is not.*did you mean 'Grandsire Doubles'"):
        method_named("Granshire Doubles")


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from([course for course in COURSES if course.stage <= 7 and "Stedman" not in course.title]),
    st.text("pb", min_size=1, max_size=12),
)
def test_any_touch_agrees_with_a_slow_and_obvious_generator(course: Course, calling: str) -> None:
    bob = {"Grandsire": "3.1"}.get(course.title.split()[0], "14")
    slow = slow_touch(course.notation, course.stage, calling, {"b": bob})
    fast = rows_text(read_piece(f'piece = 1\nmethod = "{course.title}"\ncalling = "{calling}"', name="p.toml").rows)
    home = row_text(rounds(course.stage))
    in_last_lead = slow[-course.lead :]
    ends_at = len(slow) - course.lead + in_last_lead.index(home) + 1 if home in in_last_lead else len(slow)
    assert fast[:ends_at] == slow[:ends_at]
    assert len(fast) == ends_at or (fast[-1] == home and len(fast) < ends_at + course.lead)
