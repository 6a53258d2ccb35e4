"""A piece in plain keys: what is refused, and what the giver of it is told."""

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.errors import InputError
from judging.piece import PART_KEYS, PIECE_KEYS, Piece, piece_from_file, read_piece

Read = Callable[[str], Piece]

CALLED = 'bells = 6\ncalled = "up"\ncall_changes = ["2 to 3"]\n'

#: Ten wrong pieces as they come from a hurried hand, each with the one message that mends it.
TEN_WRONG = {
    "a misspelt key": (
        'piece = 1\nmethod = "Plain Bob Doubles"\ncoverr = "tenor"',
        "p.toml: unknown key 'coverr': did you mean 'cover'?",
    ),
    "a misspelt method": (
        'piece = 1\nmethod = "Plain Bob Dubles"',
        (
            "p.toml, method: 'Plain Bob Dubles' is not among the methods known by name: did you mean 'Plain Bob "
            "Doubles' or 'Plain Bob Sextuples'? Any other is given by its notation = \"...\""
        ),
    ),
    "a tenor forgotten": (
        'piece = 1\nbells = 6\nmethod = "Plain Bob Doubles"',
        ('p.toml: Plain Bob Doubles is on 5 bells, but 6 ring: does the tenor cover (cover = "tenor")?'),
    ),
    "a call that the method has not": (
        'piece = 1\nmethod = "Stedman Doubles"\ncalling = "ppb"',
        (
            "p.toml, calling: letter 3, 'b', is no call of Stedman Doubles; here p = plain, s = single. Any other call "
            'is declared under [calls], such as bob = "14"'
        ),
    ),
    "a place left alone": (
        'piece = 1\nmethod = "My Own Minor"\nnotation = "x16x16x16,136"',
        (
            "p.toml, My Own Minor, change 7: '136' leaves the bell in 2nds alone, with no neighbour to change places "
            "with: did you mean '1236'?"
        ),
    ),
    "a touch of another length": (
        'piece = 1\nmethod = "Plain Bob Doubles"\ncalling = "pppb"\nchanges = 120',
        "p.toml, changes: 120 are wanted, but what is written comes to 40",
    ),
    "call changes without lengths": (
        f"piece = 1\n{CALLED}",
        (
            "p.toml: says not how long each row is held: add whole_pulls_each = 2, or whole_pulls_each = "
            '"until the next call" where nobody knows beforehand'
        ),
    ),
    "a row with a bell missing": (
        'piece = 1\nbells = 6\nrows = ["213456", "21354"]',
        "p.toml, rows, row 2: '21354' has 5 bells where 6 are expected: is a bell missing?",
    ),
    "a repeat beyond measure": (
        'piece = 1\nmethod = "Plain Bob Doubles"\ncalling = "pppb"\nrepeat = 25_000',
        "p.toml: comes to 1,000,000 changes or more; the most is 100,000: is a repeat or a length right?",
    ),
    "text without quotes": (
        "piece = 1\nmethod = Plain Bob Doubles",
        "p.toml: is not a TOML file: Invalid value (at line 2, column 10) (text stands in quotes, a list in [ ])",
    ),
}


@pytest.mark.parametrize("wrong", TEN_WRONG)
def test_a_wrong_piece_is_told_how_to_be_mended(wrong: str) -> None:
    text, message = TEN_WRONG[wrong]
    with pytest.raises(InputError) as told:
        read_piece(text, name="p.toml")
    assert str(told.value) == message


@pytest.mark.parametrize(
    ("keys", "message"),
    [
        ("", r"^p\.toml: says not how many bells ring: add bells = 6"),
        ("bells = 6", r'^p\.toml: says nothing to ring: give method = "Plain Bob Doubles"'),
        ("bells = 2", r"^p\.toml, bells: 2 where a number from 3 to 16 is expected"),
        ('bells = "six"', r"^p\.toml, bells: 'six' where a whole number is expected"),
        ("bells = true", r"^p\.toml, bells: true where a whole number is expected"),
        ("method = 5", r"^p\.toml, method: 5 where text in quotes is expected"),
        ('method = " "', r"^p\.toml, method: is empty"),
        ('method = "Plain Bob Minor"\ncalling = []', r"^p\.toml, calling: is an empty list"),
        ('method = "Plain Bob Minor"\ncalling = ["p", 3]', r"^p\.toml, calling, item 2: 3 where text in quotes"),
        ('method = "Plain Bob Minor"\nrepeat = 0', r"^p\.toml, repeat: 0 where a number from 1 to"),
        ('method = "Plain Bob Minor"\nopening_rows = -2', r"^p\.toml, opening_rows: -2 where a number from 0 to 1,000"),
        ('method = "Plain Bob Minor"\ncover = true', r"^p\.toml, cover: only the tenor covers \(cover = \"tenor\"\)"),
        ('method = "Plain Bob Minor"\ncover = "treble"', r"^p\.toml, cover: 'treble' where 'tenor' is expected"),
        ('method = "Plain Bob Minor"\nfirst_stroke = "front"', r"^p\.toml, first_stroke: 'front' where one of 'hand'"),
        ('method = "Plain Bob Minor"\nbegin_at_change = 13', r"^p\.toml, begin_at_change: is change 13, but a lead of"),
        ('bells = 4\nrows = ["2134"]\nbegin_at_change = 3', r"^p\.toml, begin_at_change: has no meaning here"),
        ('method = "Plain Bob Minor"\nrows = ["214365"]', r"^p\.toml: method has no meaning beside rows"),
        ('calling = "p"\nrows = ["214365"]', r"^p\.toml: gives both rows and calling: give each its own \[\[part\]\]"),
        ('method = "Plain Bob Minor"\nlabels = []', r"^p\.toml: labels has no meaning beside a plain course"),
        (
            'bells = 6\n[[part]]\nmethod = "Plain Bob Minor"\ncaling = "p"',
            r"^p\.toml, part 1: unknown key 'caling': did you mean 'calling'\?",
        ),
        (
            'bells = 6\nfixed = [1, "6"]\nmethod = "Little Bob Minor"',
            r"^p\.toml, fixed: '6' where numbers from 1 to 6 are",
        ),
        (
            'bells = 8\nmethod = "Plain Bob Doubles"\ncover = "tenor"',
            r"Plain Bob Doubles is on 5 bells, but 8 ring, 1 of them in their own places: set bells, or name those",
        ),
        ('bells = 6\ncalled = "up"\nrows_each = 2\ncall_changes = [2]', r"call_changes, call 1: is no call: write it"),
        ("part = 3\nbells = 5", r"^p\.toml, part: 3 where a list in \[ \] is expected"),
        ("part = [3]\nbells = 5", r"^p\.toml, part 1: 3 where a table is expected"),
        ('bells = 6\nnotation = "x16"\ncalling = "b"', r"^p\.toml, calling: letter 1, 'b', is no call of the method"),
        (
            'method = "Plain Bob Minor"\n[calls]\nplain = "16"',
            r"^p\.toml, calls: 'plain' cannot be declared",
        ),
        (
            'method = "Plain Bob Minor"\ncalling = "b"\n[calls]\nbig = "16"',
            r"letter 1, 'b', is the first of bob and big: write names",
        ),
        (
            'method = "Plain Bob Minor"\n[calls.half]\nnotation = "56"\nends_after = 40',
            r"^p\.toml, half of Plain Bob Minor: made after 40 changes, but a lead has 12",
        ),
        (
            'method = "Plain Bob Minor"\n[calls.half]\nnotation = ["56", "36"]\nends_after = [3]',
            r"^p\.toml, calls, half: 2 notations for 1 points of the lead",
        ),
        (
            'method = "Plain Bob Minor"\n[calls.half]\nends_after = 3',
            r"^p\.toml, calls, half: says not what is rung: add notation",
        ),
        (
            'method = "Plain Bob Minor"\ncalling = "bp"\n[calls.half]\nnotation = "56"\nends_after = 6',
            (
                r"^p\.toml, calling, call 1: a bob of Plain Bob Minor is made after 12 changes of the lead, not "
                r"after 6; calls come after 6 and 12, so a lead has 2 letters"
            ),
        ),
        (
            'method = "Plain Bob Minor"\ncalls_at = ["Nowhere"]',
            r"^p\.toml, calls_at, call 1: 'Nowhere' is no position here; those of Plain Bob Minor are Home, In, Out, ",
        ),
        (
            'method = "Grandsire Triples"\ncalls_at = ["Wrong"]',
            r"'Wrong' is no position here; those of Grandsire Triples are Home, 1sts, 2nds",
        ),
        ('method = "Plain Bob Minor"\ncalls_at = ["1sts"]', r"bell 6 does not come to 1sts with a bob"),
        ('method = "Plain Bob Minor"\ncalls_at = [7]', r"^p\.toml, calls_at, call 1: 7 is no position here"),
        ('method = "Plain Bob Minor"\ncalls_at = [{bob = 1.5}]', r"^p\.toml, calls_at, call 1: is no position: write"),
        ('method = "Plain Bob Minor"\ncalls_at = [{fast = 2}]', r"'fast' is no call of Plain Bob Minor; its calls are"),
        (
            'method = "Plain Bob Doubles"\ncover = "tenor"\nobservation = 6\ncalls_at = [2]',
            r"^p\.toml, observation: bell 6 keeps its place",
        ),
        (
            'method = "Plain Bob Minor"\nobservation = 1\ncalls_at = [2]',
            r"^p\.toml, calls_at, call 1: bell 1 does not come to 2nds with a bob of Plain Bob Minor within 200 leads",
        ),
        (CALLED + "rows_each = 1\nwhole_pulls_each = 1", r"^p\.toml: gives both rows_each and whole_pulls_each"),
        (CALLED + 'whole_pulls_each = "for ever"', r"'for ever' where 'until the next call' is expected"),
        (CALLED.replace("called", "# called"), r'^p\.toml: says not how changes are called: add called = "up"'),
        (
            CALLED + 'whole_pulls_each = "until the next call"\nopening_rows = 4',
            r"^p\.toml, opening_rows: cannot be",
        ),
        (
            (
                'bells = 6\ncalled = "up"\n[[part]]\ncall_changes = ["2 to 3"]\nwhole_pulls_each = 2\n'
                '[[part]]\ncall_changes = ["3 to 2"]\nwhole_pulls_each = "until the next call"'
            ),
            r"^p\.toml: some rows last until the next call and others not",
        ),
        ('bells = 6\nrows = ["Jokers"]', r"^p\.toml, rows, row 1: 'Jokers' is not a row that has a name here"),
        ('bells = 6\nstart = "12345"\nrows = ["214365"]', r"^p\.toml, start: '12345' has 5 bells where 6"),
        (
            'bells = 4\nrows = ["2143"]\nlabels = [{change = 2, kind = "call", text = "bob"}]',
            r"^p\.toml, labels 1, change: 2 where a number from 1 to 1",
        ),
        ('bells = 4\nrows = ["2143"]\nlabels = [{change = 1}]', r"^p\.toml, labels 1: needs change, kind and text"),
    ],
)
def test_what_cannot_be_rung_is_refused_by_name(keys: str, message: str, read: Read) -> None:
    with pytest.raises(InputError, match=message):
        read(keys)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('method = "Plain Bob Minor"', r"^p\.toml: has no version: the first line of a piece is piece = 1"),
        ('piece = 2\nmethod = "Plain Bob Minor"', r"^p\.toml, piece: 2 is no version this Evenblow reads"),
        ('piece = "1"', r"^p\.toml, piece: '1' where a whole number is expected"),
        pytest.param("a = " + "[" * 5000, r"^p\.toml: is not a TOML file", id="lists in lists"),
        pytest.param("piece = " + "1" * 5000, r"^p\.toml: is not a TOML file", id="a number of 5,000 digits"),
        pytest.param(
            "piece = 0x" + "f" * 5000,
            r"^p\.toml, piece: a number beyond measure is no version",
            id="a version beyond measure",
        ),
        pytest.param(
            "piece = 1\nbells = [0x" + "f" * 5000 + "]",
            r"^p\.toml, bells: a number beyond measure where a whole number",
            id="bells beyond measure",
        ),
        ("\x00", r"^p\.toml: is not a TOML file"),
    ],
)
def test_what_is_no_piece_at_all_is_said_to_be_none(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_piece(text, name="p.toml")


def test_parts_deeper_than_anybody_can_follow_are_refused(read: Read) -> None:
    keys = 'method = "Plain Bob Minor"\n' + "".join(f"[[{'.'.join(['part'] * deep)}]]\n" for deep in range(1, 9))
    with pytest.raises(InputError, match="parts stand within parts more than 6 deep"):
        read(keys)


def test_a_million_changes_are_refused_before_any_is_made(read: Read) -> None:
    """In whatever way they are asked for; were they made, this would take minutes."""
    for keys in (
        'method = "Plain Bob Doubles"\ncalling = "p"\nrepeat = 1_000_000_000_000',
        'method = "Plain Bob Minor"\ncalls_at = ["Home"]\nrepeat = 1_000_000_000',
        'method = "Plain Bob Minor"\nrepeat = 1_000_000',
        'bells = 6\nrows = ["Queens"]\nrows_each = 100_000\nrepeat = 100_000',
        CALLED + "whole_pulls_each = 100_000\nrepeat = 10",
        'bells = 6\nrepeat = 900_000\n[[part]]\nmethod = "Plain Bob Minor"\ncalling = "p"\nrepeat = 900_000',
    ):
        with pytest.raises(InputError, match=r"changes or more; the most is 100,000"):
            read(keys)


def test_a_length_known_beforehand_is_named(read: Read) -> None:
    for keys, changes in (
        (CALLED + "whole_pulls_each = 1_000\nrepeat = 100", "200,000"),
        ('method = "Plain Bob Minor"\ncalls_at = ["Home", "Wrong"]\nrepeat = 100_000', "2,400,000"),
    ):
        with pytest.raises(InputError, match=f"^p.toml: comes to {changes} changes or more"):
            read(keys)


def test_a_length_known_only_in_ringing_is_refused_as_soon_as_it_is_too_long(read: Read) -> None:
    with pytest.raises(InputError, match=r"comes to 100,0[0-4][0-9] changes or more"):
        read('method = "Cambridge Surprise Royal"\nrepeat = 2_000')


def test_the_longest_piece_allowed_is_read(read: Read) -> None:
    assert len(read('method = "Plain Bob Doubles"\ncalling = "p"\nrepeat = 10_000').rows) == 100_000


def test_a_file_is_told_by_its_ending_and_a_pasted_piece_by_its_first_line() -> None:
    toml = 'piece = 1\nmethod = "Plain Bob Minimus"'
    rows = "# hunt\n1234\n2143\n"
    assert piece_from_file("a.toml", toml).bells == 4
    assert piece_from_file("A.TXT", rows).bells == 4
    assert piece_from_file("pasted piece", toml).title == "24 Plain Bob Minimus"
    assert piece_from_file("pasted piece", 'piece = 1\nbells = 4\nnotation = "x14x14,12"').title == "24 changes"
    assert len(piece_from_file("pasted piece", rows).rows) == 2
    assert piece_from_file("pasted piece", "# a comment\nbells = 4\n" + toml).bells == 4
    with pytest.raises(InputError, match=r"^pasted piece, line 2: '123' has 3 bells where 4"):
        piece_from_file("pasted piece", "1234\n123")
    with pytest.raises(InputError, match=r"^pasted piece, method: 'Bob'"):
        piece_from_file("pasted piece", 'piece = 1\nbells = 5\nmethod = "Bob"')


def test_a_pasted_piece_gives_the_same_message_as_a_file() -> None:
    """But for the name of what was given."""
    wrong = 'piece = 1\nmethod = "Plain Bob Doubles"\ncoverr = "tenor"'
    told = []
    for name in ("p.toml", "pasted piece"):
        with pytest.raises(InputError) as error:
            piece_from_file(name, wrong)
        told.append(error.value.problem)
    assert told[0] == told[1]


def test_every_shipped_piece_reads() -> None:
    folder = Path(__file__).parents[2] / "demo_contest" / "pieces"
    files = sorted(folder.iterdir())
    assert files
    for path in files:
        assert piece_from_file(path.name, path.read_text(encoding="utf-8")).rows.size


def _told(name: str, text: str) -> str | None:
    """What the giver of a piece is told; None where it is one."""
    try:
        assert len(piece_from_file(name, text).rows)
    except InputError as error:
        return str(error)
    return None


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=200))
def test_any_text_is_a_piece_or_gets_a_message(text: str) -> None:
    for name in ("p.toml", "p.txt", "pasted"):
        told = _told(name, text)
        assert told is None or told.startswith(name)


_WORDS = st.sampled_from(["p", "Home", "up", "Queens", "214365", "2 to 3", "x16x16,12"])
_VALUES: st.SearchStrategy[object] = st.recursive(
    st.one_of(st.integers(-3, 20), st.booleans(), _WORDS),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.sampled_from(["bob", "part"]), inner, max_size=2)
    ),
    max_leaves=5,
)
_KEYS = st.sampled_from([key for key in (*PIECE_KEYS, *PART_KEYS) if key != "piece"])


@settings(max_examples=200, deadline=None)
@given(st.dictionaries(_KEYS, _VALUES, max_size=6))
def test_any_values_of_the_known_keys_are_a_piece_or_get_a_message(keys: dict[str, object]) -> None:
    told = _told("p.toml", "\n".join(["piece = 1", *(f"{key} = {_as_toml(value)}" for key, value in keys.items())]))
    assert told is None or told.startswith("p.toml")


def _as_toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "[" + ", ".join(_as_toml(item) for item in value) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {_as_toml(item)}" for key, item in value.items()) + "}"
    return f'"{value}"' if isinstance(value, str) else str(value)
