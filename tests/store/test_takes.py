"""A recording that comes in slices: nothing acknowledged is lost, and it is joined the same however it came."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.errors import InputError, RuleError
from judging.store import Recordings, Take, Takes

KEY = "0123456789abcdef" * 2


@pytest.fixture
def takes(tmp_path: Path) -> Takes:
    return Takes(tmp_path / "takes")


@pytest.fixture
def recordings(tmp_path: Path) -> Recordings:
    (tmp_path / "recordings").mkdir()
    return Recordings(tmp_path / "recordings", max_bytes=10_000)


@given(
    slices=st.lists(st.binary(min_size=1, max_size=50), min_size=1, max_size=8),
    data=st.data(),
)
def test_slices_in_any_order_and_sent_again_join_to_the_same_recording(
    tmp_path_factory: pytest.TempPathFactory, slices: list[bytes], data: st.DataObject
) -> None:
    folder = tmp_path_factory.mktemp("any")
    (folder / "recordings").mkdir()
    recordings, takes = Recordings(folder / "recordings", max_bytes=10_000), Takes(folder / "takes")
    again = data.draw(st.lists(st.integers(0, len(slices) - 1), max_size=6))
    for number in data.draw(st.permutations([*range(len(slices)), *again])):
        takes.put(7, KEY, number, slices[number])
    kept = takes.join(7, KEY, len(slices), recordings)
    assert recordings.path(kept.sha256).read_bytes() == b"".join(slices)


def test_a_take_says_how_far_it_is_there_without_a_gap(takes: Takes) -> None:
    for number in (0, 1, 4):
        takes.put(7, KEY, number, b"abc")
    assert takes.take(7, KEY) == Take(KEY, slices=2, beyond=1, size_bytes=6)
    assert takes.of_entry(7) == (takes.take(7, KEY),)
    assert takes.of_entry(8) == ()


def test_a_take_with_a_gap_is_not_joined_and_its_beginning_may_be(takes: Takes, recordings: Recordings) -> None:
    takes.put(7, KEY, 0, b"first")
    takes.put(7, KEY, 2, b"third")
    with pytest.raises(RuleError, match="has 3 slices, of which the first 1 are here"):
        takes.join(7, KEY, 3, recordings)
    assert recordings.names() == []
    kept = takes.join(7, KEY, 1, recordings)
    assert recordings.path(kept.sha256).read_bytes() == b"first"


def test_another_slice_of_the_same_number_is_refused_and_the_first_kept(takes: Takes, recordings: Recordings) -> None:
    takes.put(7, KEY, 0, b"one")
    with pytest.raises(RuleError, match="Slice 0 of this recording is here already, and is another one"):
        takes.put(7, KEY, 0, b"two")
    assert recordings.path(takes.join(7, KEY, 1, recordings).sha256).read_bytes() == b"one"


@pytest.mark.parametrize(
    ("key", "number", "data", "told"),
    [
        ("../../etc", 0, b"x", '"../../etc" names no recording'),
        (KEY.upper(), 0, b"x", "names no recording"),
        (KEY, -1, b"x", "-1 is no slice"),
        (KEY, 50_000, b"x", "50000 is no slice"),
        (KEY, 0, b"", "has 0 bytes"),
        (KEY, 0, bytes(8 * 1024 * 1024 + 1), "has 8,388,609 bytes"),
    ],
)
def test_what_is_no_slice_is_refused_and_leaves_nothing(
    takes: Takes, key: str, number: int, data: bytes, told: str
) -> None:
    with pytest.raises(InputError, match=told):
        takes.put(7, key, number, data)
    assert takes.of_entry(7) == ()


def test_a_full_disk_is_said_in_words(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="the disk is nearly full"):
        Takes(tmp_path / "takes", min_free_bytes=2**62).put(7, KEY, 0, b"x")


def test_a_joined_take_is_no_longer_open_and_a_slice_sent_late_changes_nothing(
    takes: Takes, recordings: Recordings
) -> None:
    takes.put(7, KEY, 0, b"x")
    kept = takes.join(7, KEY, 1, recordings)
    takes.close(7, KEY, kept.sha256)
    takes.put(7, KEY, 0, b"x")
    assert takes.of_entry(7) == ()
    assert takes.joined(7, KEY) == kept.sha256
    assert takes.take(7, KEY).slices == 0


def test_a_take_is_forgotten_when_it_is_thrown_away_and_swept_when_nobody_asks(takes: Takes) -> None:
    takes.put(7, KEY, 0, b"x")
    takes.forget(7, KEY)
    assert takes.of_entry(7) == ()
    takes.put(8, KEY, 0, b"x")
    assert takes.sweep() == ()
    assert takes.sweep(older_than_s=0) == (f"8-{KEY}",)
