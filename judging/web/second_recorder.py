"""Two recorders of one touch: what they say of the machine, or why they say nothing."""

from sqlmodel import Session

from judging.errors import JudgingError
from judging.piece import Piece, piece_from_file
from judging.store import StoredContest, StoredEntry, as_strike_log, piece_of, rules_of, strike_log_of
from judging.striking import CountingRules, StrikeLog, count_striking
from judging.striking.repeatability import Repeatability, repeatability


def held_together(first: StrikeLog, second: StrikeLog, piece: Piece, rules: CountingRules) -> Repeatability | str:
    """Hold a second recorder's log against the first, both counted as they are; or say why that cannot be."""
    try:
        return repeatability(
            count_striking(first, piece, rules, name="the recording"),
            count_striking(second, piece, rules, name="the second recorder's"),
        )
    except JudgingError as error:
        return str(error)


def second_recorder_said(session: Session, entry: StoredEntry) -> str:
    """Return what an entry's second recorder says, in words; empty where there is none, or it is not heard yet."""
    first, second = (strike_log_of(session, entry.id, is_second=is_second) for is_second in (False, True))
    if first is None or second is None:
        return ""
    stored = piece_of(session, entry)
    piece = piece_from_file(stored.file_name, stored.text)
    rules = rules_of(session.get_one(StoredContest, entry.contest_id)).counting
    logs = as_strike_log(session, first), as_strike_log(session, second)
    found = held_together(*logs, piece, rules)
    return found if isinstance(found, str) else found.sentence
