"""A contest as it stands now, judged from its texts and kept in memory until something about it changes.

Counts and results are never stored where they could disagree with what they are made from; they are made when asked
for, and made again after any change, which the audit chain shows.
"""

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from threading import Lock
from typing import cast

from sqlmodel import Session, func, select

from judging.contest import EveryLine, PanelCompared, Phase, RuleSet, compare_panel, judge_contest
from judging.contest.day import piece_of
from judging.contest.every_line import section_under_every_line
from judging.contest.order import numbered
from judging.contest.values import ContestDay, Entry, Outcome
from judging.errors import JudgingError
from judging.papers import RulesPaper
from judging.store import StoredAudit, StoredContest, load_day, strike_logs_of, was_final
from judging.striking import StrikeLog
from judging.striking.repeatability import Repeatability
from judging.web.counted import Counted
from judging.web.rules_form import example_of
from judging.web.second_recorder import held_together

#: Of all contests: a step is taken, and a page made, from counts made before.
_count = Counted()


@dataclass(frozen=True, slots=True)
class Judged:
    """A contest as it stands.

    Parameters
    ----------
    slug, phase, revision
        From the store.
    day : ContestDay
        Its entries are numbered by the order of ringing once that is drawn.
    outcome : Outcome
        Machine counts, and a result for each section; without results where there can be none yet.
    why_not : str
        Why there is no result yet; empty where there is one.
    was_final : bool
        Whether a result has been final, and so names are known; it stays so while a correction is made.
    second_logs : mapping of str to StrikeLog
        What was heard in a second recorder's recording, by entry; it never counts.
    """

    slug: str
    phase: Phase
    revision: int
    day: ContestDay
    outcome: Outcome
    why_not: str = ""
    _made: dict[tuple[str, str], object] = field(default_factory=dict, repr=False, compare=False)
    was_final: bool = False
    second_logs: Mapping[str, StrikeLog] = field(default_factory=dict)

    @property
    def rules(self) -> RuleSet:
        """The declared rules."""
        return self.day.rules

    @property
    def is_drawn(self) -> bool:
        """Whether bands have numbers."""
        return any(entry.number is not None for entry in self.day.entries)

    def entry(self, entry_id: str) -> Entry:
        """Return an entry by its identifier."""
        return next(entry for entry in self.day.entries if entry.id == entry_id)

    def panel(self, section: str) -> PanelCompared:
        """Return a section's judges compared, worked out once."""
        if ("panel", section) not in self._made:
            self._made["panel", section] = compare_panel(self.day, self.outcome, section)
        return cast(PanelCompared, self._made["panel", section])

    def every_line(self, section: str) -> EveryLine | None:
        """Return a section under every line and scheme, worked out once; None where there are no two counts."""
        if ("lines", section) not in self._made:
            self._made["lines", section] = section_under_every_line(self.day, self.outcome, section)
        return cast(EveryLine | None, self._made["lines", section])

    @property
    def repeated(self) -> Mapping[str, Repeatability | str]:
        """How the machine repeats itself from one recorder to another, or why that cannot be told, by entry.

        Both are counted as they are, with nothing taken out for the tower.
        """
        if ("repeated", "") not in self._made:
            self._made["repeated", ""] = {
                entry: held_together(
                    self.day.logs[entry], second, piece_of(self.entry(entry), self.day), self.rules.counting
                )
                for entry, second in self.second_logs.items()
                if entry in self.outcome.counts
            }
        return cast(Mapping[str, Repeatability | str], self._made["repeated", ""])

    @property
    def rules_paper(self) -> RulesPaper:
        """The rules in sentences with their worked example, worked out once."""
        if ("rules", "") not in self._made:
            self._made["rules", ""] = example_of(self.rules)
        return cast(RulesPaper, self._made["rules", ""])

    def is_by_ear_alone(self, entry_id: str) -> bool:
        """Whether judges have given sheets for an entry that the machine has not counted."""
        return entry_id not in self.outcome.counts and any(sheet.entry == entry_id for sheet in self.day.sheets)


class Judging:
    """The contests judged of late, made again when their audit trail has grown.

    Parameters
    ----------
    most : int
        How many are kept; one of a dozen bands takes a few megabytes.
    """

    def __init__(self, most: int = 8) -> None:
        self._most = most
        self._lock = Lock()
        self._kept: OrderedDict[tuple[int, int], Judged] = OrderedDict()

    def of(self, session: Session, contest: StoredContest) -> Judged:
        """Return a contest as it stands now.

        Parameters
        ----------
        session : Session
            A reading session will do.
        contest : StoredContest
            Which.

        Returns
        -------
        Judged
            The same object until something changes.
        """
        trail = session.exec(select(func.max(StoredAudit.seq)).where(StoredAudit.contest == contest.slug)).one()
        key = (contest.id or 0, trail or 0)
        # Held while judging: ten people who refresh the results page at once then cost one judging and not ten.
        with self._lock:
            if key not in self._kept:
                for old in [old for old in self._kept if old[0] == key[0]]:
                    del self._kept[old]
                self._kept[key] = judge(session, contest)
                while len(self._kept) > self._most:
                    self._kept.popitem(last=False)
            self._kept.move_to_end(key)
            return self._kept[key]


def judge(session: Session, contest: StoredContest) -> Judged:
    """Return a contest judged from what the store holds now."""
    day = load_day(session, contest.id or 0)
    if Phase(contest.phase) in {Phase.DRAFT, Phase.PUBLISHED}:  # a draw that was taken back is kept, and counts no more
        day = replace(day, entries=tuple(replace(entry, number=None) for entry in day.entries))
    else:
        day = replace(day, entries=numbered(day.entries, day.order))
    try:
        outcome, why_not = judge_contest(day, count=_count), ""
    except JudgingError as error:
        outcome, why_not = _counted_only(day), str(error)
    return Judged(
        contest.slug,
        Phase(contest.phase),
        contest.revision,
        day,
        outcome,
        why_not,
        was_final=was_final(session, contest),
        second_logs=strike_logs_of(session, contest.id or 0, is_second=True),
    )


def _counted_only(day: ContestDay) -> Outcome:
    """Count what can be counted where there is no result yet."""
    counts, uncounted = {}, {}
    for entry in day.entries:
        if entry.id in day.logs:
            try:
                counts[entry.id] = _count(
                    day.logs[entry.id], piece_of(entry, day), day.rules.counting, name=f"entry {entry.id}"
                )
            except JudgingError as error:
                uncounted[entry.id] = str(error)
    return Outcome(counts=counts, results=(), uncounted=uncounted)
