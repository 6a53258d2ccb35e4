"""What pads send: kept once and for good, whatever the network does with it."""

from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, consumes, initialize, invariant, multiple, rule
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import select

from judging.contest.tally import PadEvent
from judging.errors import RuleError
from judging.store import (
    Sent,
    Settings,
    Store,
    StoredAudit,
    StoredEntry,
    StoredJudge,
    StoredPadEvent,
    create_contest,
    entry_by_key,
    judge_by_key,
    keep_events,
    pad_events,
)
from judging.store import pads as pads_module

from .conftest import ENTRIES, RULES


def tap(number: int, device: str = "phone", at_ms: int = 1000) -> Sent:
    return Sent(PadEvent(f"{device}{number:08d}", device, number, "tap", at_ms, Decimal("0.5")), device_ms=at_ms)


@pytest.fixture
def touch(store: Store, contest_id: int) -> tuple[StoredEntry, StoredJudge]:
    with store.read() as session:
        entry, judge = entry_by_key(session, contest_id, "ash"), judge_by_key(session, contest_id, "a")
        assert entry is not None
        assert judge is not None
        return entry, judge


def test_an_event_that_comes_again_is_kept_once_as_it_first_came(
    store: Store, touch: tuple[StoredEntry, StoredJudge]
) -> None:
    entry, judge = touch
    with store.write() as session:
        first = keep_events(session, entry, judge, [tap(1), tap(1)], received_ms=2000)
    with store.write() as session:
        again = keep_events(session, entry, judge, [tap(1, at_ms=1500), tap(2)], received_ms=3000)

    assert [event.seq for event in first] == [1]
    assert [event.seq for event in again] == [2]
    with store.read() as session:
        kept, after = pad_events(session, entry.id, judge.id)
        assert [(event.seq, event.at_ms) for event in kept] == [(1, 1000), (2, 1000)]
        assert pad_events(session, entry.id, judge.id, after=after)[0] == []
        assert pad_events(session, entry.id, judge.id, but_of="phone")[0] == []


def test_an_event_from_the_future_happened_when_it_came(store: Store, touch: tuple[StoredEntry, StoredJudge]) -> None:
    with store.write() as session:
        [kept] = keep_events(session, *touch, [tap(1, at_ms=10**12)], received_ms=5000)

    assert kept.at_ms == 5000


@pytest.mark.parametrize("deed", ["UPDATE pad_event SET seq = 9", "DELETE FROM pad_event"])
def test_what_is_kept_is_never_changed(store: Store, touch: tuple[StoredEntry, StoredJudge], deed: str) -> None:
    with store.write() as session:
        keep_events(session, *touch, [tap(1)], received_ms=2000)

    with pytest.raises(IntegrityError, match="kept for good"), store.write() as session:
        session.connection().execute(text(deed))


def test_the_trail_shows_each_pad_once(store: Store, touch: tuple[StoredEntry, StoredJudge]) -> None:
    for sent in ([tap(1), tap(2)], [tap(3)], [tap(1, "tablet")]):
        with store.write() as session:
            keep_events(session, *touch, sent, received_ms=2000)

    with store.read() as session:
        used = [deed.about for deed in session.exec(select(StoredAudit).where(StoredAudit.what == "pad in use")).all()]
    assert used == ["judge a, entry ash, pad phone", "judge a, entry ash, pad tablet"]


def test_more_than_a_judge_can_make_is_refused_whole(
    store: Store, touch: tuple[StoredEntry, StoredJudge], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pads_module, "MOST_EVENTS", 3)
    with store.write() as session:
        keep_events(session, *touch, [tap(1), tap(2)], received_ms=2000)

    with pytest.raises(RuleError, match="is a key stuck"), store.write() as session:
        keep_events(session, *touch, [tap(3), tap(4)], received_ms=2000)
    with store.read() as session:
        assert len(session.exec(select(StoredPadEvent)).all()) == 2


class Network(RuleBasedStateMachine):
    """Two pads of one judge, a network that does what it likes, and the server's own store.

    A pad's rule is the whole of its side: send whatever has not been named in an answer, again and again. Messages
    and answers are lost, doubled, delayed and overtaken; the server may be shut and opened between any two.
    """

    flights: Bundle[tuple[str, tuple[Sent, ...]]] = Bundle("flights")
    answers: Bundle[tuple[str, frozenset[str]]] = Bundle("answers")

    @initialize()
    def begin(self) -> None:
        self.folder = TemporaryDirectory()
        self.settings = Settings(data=Path(self.folder.name) / "data", min_free_bytes=0)
        self.store = Store.open(self.settings.data, self.settings)
        with self.store.write() as session:
            contest = create_contest(session, rules_text=RULES, entries_text=ENTRIES, who="organiser")
            entry, judge = entry_by_key(session, contest.id, "ash"), judge_by_key(session, contest.id, "a")
        assert entry is not None
        assert judge is not None
        self.entry, self.judge = entry, judge
        self.done: dict[str, list[Sent]] = {"phone": [], "tablet": []}
        self.named: dict[str, set[str]] = {"phone": set(), "tablet": set()}
        self.clock_ms = 0

    def unsent(self, device: str) -> tuple[Sent, ...]:
        return tuple(one for one in self.done[device] if one.event.id not in self.named[device])

    @rule(device=st.sampled_from(["phone", "tablet"]), undoes=st.booleans())
    def touched(self, device: str, undoes: bool) -> None:  # noqa: FBT001 hypothesis passes it by name
        number = len(self.done[device]) + 1
        sent = tap(number, device, at_ms=self.clock_ms)
        if undoes and self.done[device]:
            last = self.done[device][-1].event.id
            sent = Sent(
                PadEvent(sent.event.id, device, number, "undo", self.clock_ms, of=last), device_ms=self.clock_ms
            )
        self.done[device].append(sent)
        self.clock_ms += 100

    @rule(target=flights, device=st.sampled_from(["phone", "tablet"]), most=st.integers(1, 5))
    def sends(self, device: str, most: int) -> object:
        batch = self.unsent(device)[:most]
        return (device, batch) if batch else multiple()

    @rule(target=answers, flight=flights)
    def arrives(self, flight: tuple[str, tuple[Sent, ...]]) -> tuple[str, frozenset[str]]:
        """A message may arrive any number of times, and long after later ones."""
        device, batch = flight
        with self.store.write() as session:
            keep_events(session, self.entry, self.judge, batch, received_ms=self.clock_ms)
        return device, frozenset(one.event.id for one in batch)

    @rule(flight=consumes(flights))
    def is_lost(self, flight: object) -> None:
        pass

    @rule(answer=answers)
    def is_answered(self, answer: tuple[str, frozenset[str]]) -> None:
        device, names = answer
        self.named[device] |= names

    @rule(answer=consumes(answers))
    def answer_is_lost(self, answer: object) -> None:
        pass

    @rule()
    def server_is_started_again(self) -> None:
        self.store.close()
        self.store = Store.open(self.settings.data, self.settings)

    @invariant()
    def what_was_named_is_there_and_nothing_twice(self) -> None:
        with self.store.read() as session:
            kept = [event.id for event in pad_events(session, self.entry.id, self.judge.id)[0]]
        assert len(kept) == len(set(kept))
        assert self.named["phone"] | self.named["tablet"] <= set(kept)

    def teardown(self) -> None:
        """The signal comes back: every pad sends what is left, and the server has exactly what was done."""
        for device in self.done:
            with self.store.write() as session:
                keep_events(session, self.entry, self.judge, self.unsent(device), received_ms=self.clock_ms)
        with self.store.read() as session:
            kept = pad_events(session, self.entry.id, self.judge.id)[0]
        for device, done in self.done.items():
            mine = sorted((event for event in kept if event.device == device), key=lambda event: event.seq)
            assert mine == [one.event for one in done]
        self.store.close()
        self.folder.cleanup()


Network.TestCase.settings = settings(
    max_examples=25, stateful_step_count=40, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
TestWhateverTheNetworkDoes = Network.TestCase
