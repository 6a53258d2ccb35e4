"""Touches: what is called comes out as it is known to, comes round where it should, and is labelled."""

from collections.abc import Callable

import pytest
from piece_facts import (
    BOB_DOUBLES_120_SHA256_12,
    BOB_MINOR_120_SHA256_12,
    GRANDSIRE_DOUBLES_60_SHA256_12,
    GRANDSIRE_DOUBLES_120_SHA256_12,
    sha256_12,
)

from judging.errors import InputError
from judging.piece import Piece, prove

Read = Callable[[str], Piece]
Changes = Callable[[str], list[str]]


def _labels(piece: Piece, kind: str) -> list[tuple[int | None, str]]:
    return [(piece.change_of(label.row), label.text) for label in piece.labels if label.kind == kind]


@pytest.mark.parametrize(
    ("keys", "length", "sha"),
    [
        ('method = "Plain Bob Doubles"\ncalling = "pppb"\nrepeat = 3', 120, BOB_DOUBLES_120_SHA256_12),
        ('method = "Plain Bob Doubles"\ncalls_at = ["Home", "Home", "Home"]', 120, BOB_DOUBLES_120_SHA256_12),
        ('method = "Grandsire Doubles"\ncalling = "pbpbpb"', 60, GRANDSIRE_DOUBLES_60_SHA256_12),
        ('method = "Grandsire Doubles"\ncalling = "pbpbps"\nrepeat = 2', 120, GRANDSIRE_DOUBLES_120_SHA256_12),
        ('method = "Plain Bob Minor"\ncalling = "bpppb"\nrepeat = 2', 120, BOB_MINOR_120_SHA256_12),
        ('method = "Plain Bob Minor"\ncalls_at = ["Wrong", "Home"]\nrepeat = 2', 120, BOB_MINOR_120_SHA256_12),
    ],
)
def test_a_known_touch_is_true_and_has_the_known_rows(
    keys: str, length: int, sha: str, read: Read, changes: Changes
) -> None:
    proof = prove(read(keys))
    assert (proof.changes, proof.true, proof.comes_round, proof.early) == (length, True, True, None)
    assert sha256_12(changes(keys)) == sha


def test_the_bobs_of_the_known_touches_make_the_known_rows(changes: Changes) -> None:
    """Published lessons: 14235 at the first bob of the 120 of Plain Bob Doubles, 15324 in the false 90 of Grandsire."""
    assert changes('method = "Plain Bob Doubles"\ncalling = "pppb"\nrepeat = 3')[39] == "14235"
    assert changes('method = "Grandsire Doubles"\ncalling = "ppbppbppb"')[29] == "15324"


def test_the_false_90_of_grandsire_doubles_is_proved_false(read: Read) -> None:
    """A published lesson's example of a false touch."""
    proof = prove(read('method = "Grandsire Doubles"\ncalling = "ppbppbppb"'))
    assert (proof.changes, proof.true) == (90, False)
    assert proof.repeats


def test_two_bobs_of_grandsire_doubles_are_a_true_20(read: Read) -> None:
    proof = prove(read('method = "Grandsire Doubles"\ncalling = "bb"'))
    assert (proof.changes, proof.true, proof.comes_round) == (20, True, True)


@pytest.mark.parametrize("single_at", range(10))
def test_a_single_at_the_same_six_of_each_half_makes_stedman_doubles_an_extent(single_at: int, read: Read) -> None:
    """Value from memory: any one single in the middle of a six, once in each 60, gives a true 120."""
    half = "p" * single_at + "s" + "p" * (9 - single_at)
    proof = prove(read(f'method = "Stedman Doubles"\ncalling = "{half}"\nrepeat = 2'))
    assert (proof.changes, proof.true, proof.comes_round) == (120, True, True)


def test_an_extent_of_bob_minor_is_true_at_full_length(read: Read, changes: Changes) -> None:
    """The calling was found by trying; that its 720 rows are all the rows there are proves it."""
    keys = """
        method = "Plain Bob Minor"
        repeat = 2
        [[part]]
        calls_at = ["Wrong", "Wrong", "Home"]
        repeat = 2
        [[part]]
        calls_at = ["Wrong", "Wrong", {single = "Home"}]
    """
    assert prove(read(keys)).true
    assert len(changes(keys)) == len(set(changes(keys))) == 720


def test_stedman_triples_is_called_six_by_six_and_may_end_in_the_middle_of_a_six(read: Read) -> None:
    piece = read('method = "Stedman Triples"\ncalling = "' + "p" * 14 + '"')
    assert len(piece.rows) == 84
    bobbed = read('method = "Stedman Triples"\ncalling = "pb"')
    assert _labels(bobbed, "call") == [(9, "bob")]


def test_bobs_of_stedman_triples_keep_the_front_three_and_move_the_back_ones(changes: Changes) -> None:
    plain = changes('method = "Stedman Triples"\ncalling = "p"')[2]
    bobbed = changes('method = "Stedman Triples"\ncalling = "b"')[2]
    single = changes('method = "Stedman Triples"\ncalling = "s"')[2]
    before = changes('method = "Stedman Triples"\ncalling = "p"')[1]
    assert plain[:4] == bobbed[:4] == single[:4]
    assert bobbed[4:] == before[4] + before[6] + before[5]
    assert single[4:] == before[4:]


def test_a_half_lead_start_ends_at_the_half_lead(read: Read) -> None:
    """Whichever way the course is asked for: begun at change 6 of the lead it comes round after change 5 of one."""
    course = read('method = "Plain Bob Doubles"\nbegin_at_change = 6')
    called = read('method = "Plain Bob Doubles"\nbegin_at_change = 6\ncalling = "ppppp"')
    assert (course.rows == called.rows).all()
    assert prove(course).sentences == ("40 changes, true.",)
    assert _labels(course, "lead head")[0][0] == 5


def test_a_touch_that_would_come_round_only_after_another_call_is_left_as_called(read: Read) -> None:
    """Begun at the half lead, the course comes round in its fifth stretch: four called are enough, three are not."""
    four = read('method = "Plain Bob Doubles"\nbegin_at_change = 6\ncalling = "pppp"')
    three = read('method = "Plain Bob Doubles"\nbegin_at_change = 6\ncalling = "ppp"')
    assert (len(four.rows), prove(four).comes_round) == (40, True)
    assert (len(three.rows), prove(three).comes_round) == (25, False)


@pytest.mark.parametrize("begin_at", range(1, 13))
def test_a_course_of_stedman_may_begin_anywhere_in_its_sixes(begin_at: int, read: Read) -> None:
    piece = read(f'method = "Stedman Triples"\nbegin_at_change = {begin_at}')
    assert (len(piece.rows), prove(piece).comes_round, prove(piece).true) == (84, True, True)


def test_a_call_needs_room_after_the_start(read: Read) -> None:
    with pytest.raises(InputError, match="call 1: there is no room for a bob so soon after the start"):
        read('method = "Grandsire Doubles"\nbegin_at_change = 10\ncalling = "b"')
    assert len(read('method = "Grandsire Doubles"\nbegin_at_change = 9\ncalling = "b"').rows) == 2


def test_a_touch_may_come_round_at_handstroke(read: Read) -> None:
    """Grandsire Doubles begun with the last change of a lead ends one change short of a lead head, at a handstroke."""
    piece = read('method = "Grandsire Doubles"\nbegin_at_change = 10\ncalling = "pppp"')
    assert prove(piece).comes_round
    assert len(piece.rows) == 30


def test_a_handstroke_start_makes_the_first_change_a_backstroke(read: Read) -> None:
    piece = read('method = "Plain Bob Doubles"\nfirst_stroke = "back"\nopening_rows = 9')
    assert piece.first_change_stroke == "back"
    assert not piece.is_hand[9]
    assert piece.is_hand[0]


def test_a_touch_that_goes_through_rounds_goes_on_where_it_was_told_to(read: Read) -> None:
    """Two extents of Doubles, as contests with 240 changes have them: each row twice, and true so."""
    proof = prove(read('method = "Plain Bob Doubles"\ncalling = "pppb"\nrepeat = 6'))
    assert (proof.changes, proof.true, proof.allowed, proof.early) == (240, True, 2, 120)


def test_a_calling_that_does_not_come_round_is_left_as_called_and_says_so(read: Read) -> None:
    proof = prove(read('method = "Plain Bob Minor"\ncalling = "pppb"'))
    assert not proof.comes_round
    assert proof.ends_on == "164235"
    assert "Does not come round: it ends on 164235." in proof.sentences


def test_calls_lead_heads_and_part_ends_stand_beside_their_rows(read: Read) -> None:
    piece = read('method = "Plain Bob Doubles"\ncover = "tenor"\ncalling = "pppb"\nrepeat = 3\nopening_rows = 4')
    assert _labels(piece, "call") == [(40, "bob"), (80, "bob"), (120, "bob")]
    assert _labels(piece, "part end") == [(40, "part 1"), (80, "part 2"), (120, "part 3")]
    heads = _labels(piece, "lead head")
    assert [change for change, _ in heads] == list(range(10, 121, 10))
    assert heads[0][1] == "135246"
    assert heads[-1][1] == "123456"
    assert [label.row for label in piece.labels] == sorted(label.row for label in piece.labels)


def test_a_call_of_two_changes_stands_beside_the_first_of_them(read: Read) -> None:
    assert _labels(read('method = "Grandsire Doubles"\ncalling = "b"'), "call") == [(9, "bob")]


def test_names_of_calls_and_their_first_letters_mean_the_same(read: Read) -> None:
    by_letter = read('method = "Grandsire Doubles"\ncalling = "pbpbps"\nrepeat = 2')
    by_name = read(
        'method = "Grandsire Doubles"\ncalling = ["plain", "bob", "plain", "bob", "plain", "single"]\nrepeat = 2'
    )
    in_parts = read('method = "Grandsire Doubles"\ncalling = ["pb pb", "ps"]\nrepeat = 2')
    assert (by_letter.rows == by_name.rows).all()
    assert (by_letter.rows == in_parts.rows).all()
    assert by_letter.labels == by_name.labels == in_parts.labels


def test_spliced_methods_are_rung_part_by_part_and_each_change_of_method_is_called(read: Read) -> None:
    piece = read(
        'repeat = 5\n[[part]]\nmethod = "Cambridge Surprise Minor"\ncalling = "p"\n'
        '[[part]]\nmethod = "Norwich Surprise Minor"\ncalling = "p"'
    )
    assert piece.title == "240 Cambridge Surprise Minor and Norwich Surprise Minor"
    assert _labels(piece, "call")[:2] == [(25, "Norwich Surprise Minor"), (49, "Cambridge Surprise Minor")]
    assert _labels(piece, "part end")[0] == (48, "part 1")


def test_parts_in_sequence_are_numbered_and_a_single_one_is_not(read: Read) -> None:
    two = read('method = "Plain Bob Minor"\n[[part]]\ncalling = "p"\n[[part]]\ncalling = "b"')
    assert _labels(two, "part end") == [(12, "part 1"), (24, "part 2")]
    assert _labels(read('method = "Plain Bob Minor"\ncalling = "pb"'), "part end") == []


def test_parts_within_parts_take_over_the_method_they_stand_in(read: Read) -> None:
    nested = read(
        'method = "Plain Bob Minor"\nrepeat = 2\n[[part]]\ncalling = "b"\n'
        '[[part]]\n[[part.part]]\ncalling = "p"\nrepeat = 3\n[[part.part]]\ncalling = "b"'
    )
    flat = read('method = "Plain Bob Minor"\ncalling = "bpppb"\nrepeat = 2')
    assert (nested.rows == flat.rows).all()


def test_a_method_may_be_rung_on_some_bells_of_the_ring(read: Read) -> None:
    piece = read('bells = 8\nfixed = [1, 8]\nmethod = "Plain Bob Minor"')
    assert (piece.rows[:, [0, 7]] == [1, 8]).all()
    inner = read('method = "Plain Bob Minor"')
    assert (piece.rows[:, 1:7] == inner.rows + 1).all()


def test_without_bells_being_said_those_that_change_those_that_stay_and_the_cover_ring(read: Read) -> None:
    piece = read('fixed = [1]\ncover = "tenor"\nmethod = "Plain Bob Doubles"')
    assert piece.bells == 7
    assert (piece.rows[:, [0, 6]] == [1, 7]).all()


def test_a_method_not_known_by_name_is_given_by_its_notation_and_its_calls(read: Read) -> None:
    own = read(
        'method = "Somebody\'s Fancy Doubles"\nnotation = "3,1.5.1.5.1"\ncalling = "pbpbps"\nrepeat = 2\n'
        '[calls]\nbob = "3.1"\nsingle = "3.123"'
    )
    known = read('method = "Grandsire Doubles"\ncalling = "pbpbps"\nrepeat = 2')
    assert (own.rows == known.rows).all()
    assert own.title == "120 Somebody's Fancy Doubles"


def test_a_call_may_be_declared_at_another_point_of_the_lead(read: Read, changes: Changes) -> None:
    """Two points of the lead take two letters a lead: here the half lead of Plain Bob Minor, and its lead head."""
    keys = 'method = "Plain Bob Minor"\ncalling = "fp"\n[calls.fancy]\nnotation = "56"\nends_after = 6'
    rows = changes(keys)
    assert len(rows) == 12
    assert rows[5] == changes('method = "Double Bob Minor"')[5]
    assert _labels(read(keys), "call") == [(6, "fancy")]
    assert rows[6:] == changes('method = "Double Bob Minor"')[6:12]


def test_a_call_with_another_notation_at_each_point_is_stedmans_single(changes: Changes) -> None:
    own = (
        'method = "Slow Sixes Doubles"\nnotation = "3.1.5.3.1.3.1.3.5.1.3.1"\ncalling = "ppppsppppp"\nrepeat = 2\n'
        '[calls.single]\nnotation = ["345", "145"]\nends_after = [6, 12]'
    )
    assert changes(own) == changes('method = "Stedman Doubles"\ncalling = "ppppsppppp"\nrepeat = 2')


@pytest.mark.parametrize(
    ("position", "place"),
    [("Home", 8), ("Wrong", 7), ("Middle", 5), ("In", 2), ("Out", 3), ("Make", 4), ("6ths", 6), ("8ths", 8)],
)
def test_a_bob_at_a_position_leaves_the_tenor_in_its_place(position: str, place: int, read: Read) -> None:
    piece = read(f'method = "Plain Bob Major"\ncalls_at = ["{position}"]')
    bob = next(label for label in piece.labels if label.kind == "call")
    assert piece.rows[bob.row].tolist().index(8) + 1 == place


def test_another_bell_may_be_watched_and_another_word_declared(read: Read) -> None:
    piece = read(
        'method = "Plain Bob Minor"\nobservation = 5\ncalls_at = [{single = "Behind"}]\n[positions]\nBehind = 6'
    )
    single = next(label for label in piece.labels if label.text == "single")
    assert piece.rows[single.row].tolist().index(5) == 5


def test_a_watched_bell_waits_for_a_call_that_is_made_elsewhere_in_the_lead(read: Read) -> None:
    """With a half-lead call declared, every second stretch ends at the lead head, where alone the bob is made."""
    keys = 'method = "Plain Bob Minor"\ncalls_at = ["Wrong", "Home"]\nrepeat = 2'
    with_half_lead = read(f'{keys}\n[calls.fancy]\nnotation = "56"\nends_after = 6')
    assert (with_half_lead.rows == read(keys).rows).all()


def test_a_start_from_queens_comes_back_to_queens(read: Read) -> None:
    piece = read('start = "Queens"\nmethod = "Plain Bob Minor"\nopening_rows = 6\nclosing_rows = 2')
    assert (piece.rows[:6] == [1, 3, 5, 2, 4, 6]).all()
    assert (piece.rows[-3:] == [1, 3, 5, 2, 4, 6]).all()
    assert prove(piece).comes_round
