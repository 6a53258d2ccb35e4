"""A stored contest → the one value that everything is counted and ranked from."""

from sqlmodel import Session

from judging.contest import ContestDay, Judge, draw, numbered
from judging.piece import piece_from_file
from judging.store.evidence import strike_logs_of
from judging.store.lookups import as_entry, entries_of, judges_of, order_of, pieces_of, rules_of
from judging.store.sheets import sheets_of
from judging.store.tables import StoredContest


def load_day(session: Session, contest_id: int) -> ContestDay:
    """Everything a result is made from, read from the texts that are kept.

    Parameters
    ----------
    session : Session
        A reading session will do.
    contest_id : int
        Which contest.

    Returns
    -------
    ContestDay
        As `judging.contest.judge_contest` takes it. Before the draw the order is that of receipt.
    """
    contest = session.get_one(StoredContest, contest_id)
    entries = [as_entry(entry) for entry in entries_of(session, contest_id)]
    order = order_of(contest)
    judges = [judge for judge in judges_of(session, contest_id) if not judge.shadow]
    return ContestDay(
        rules=rules_of(contest),
        entries=numbered(entries, order),
        judges=tuple(Judge(judge.key, judge.name) for judge in judges),
        pieces={piece.key: piece_from_file(piece.file_name, piece.text) for piece in pieces_of(session, contest_id)},
        logs=strike_logs_of(session, contest_id),
        sheets=sheets_of(session, contest_id),
        order=order or tuple(entry.id for entry in entries if not entry.withdrawn),
        revision=contest.revision,
    )


def draw_order(session: Session, contest_id: int) -> tuple[str, ...]:
    """Return the order that the declared seed draws; anyone gets the same."""
    seed = rules_of(session.get_one(StoredContest, contest_id)).draw_seed
    return draw(tuple(as_entry(entry) for entry in entries_of(session, contest_id)), seed)
