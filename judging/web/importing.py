"""A contest folder that was judged already, taken into the service as a finished contest."""

from pathlib import Path

from sqlmodel import Session

from judging.contest import Phase, result_document
from judging.store import Store, StoredContest, contests, import_folder, publish, set_phase
from judging.web.judged import judge
from judging.web.sounds import ask_for_sounds

_WHO = "service"


def take_in(store: Store, folder: Path) -> str:
    """Return the slug of a contest taken in from its folder; one that is here already is not taken twice.

    Parameters
    ----------
    store : Store
        Open.
    folder : Path
        ``rules.toml``, ``entries.toml``, ``pieces/``, ``recordings/``, ``logs/``, ``sheets/``.

    Returns
    -------
    str
        Names the contest in addresses. It is final where it has a result.

    Raises
    ------
    InputError
        A file is missing or cannot be used; nothing is kept then.
    """
    rules_text = (folder / "rules.toml").read_text(encoding="utf-8-sig") if (folder / "rules.toml").is_file() else ""
    with store.read() as session:
        for known in contests(session):
            if known.rules_text == rules_text:
                return known.slug
    contest_id = import_folder(store, folder, who=_WHO)
    with store.write() as session:
        contest = session.get_one(StoredContest, contest_id)
        _make_final(session, store, contest)
        return contest.slug


def _make_final(session: Session, store: Store, contest: StoredContest) -> None:
    """Publish the result of a contest whose sheets are all in."""
    judged = judge(session, contest)
    if judged.phase is Phase.SHEETS_IN and judged.outcome.results:
        publish(session, contest, result_document(judged.outcome, judged.day), phase="final", who=_WHO)
        set_phase(session, contest, Phase.FINAL, who=_WHO)
        ask_for_sounds(session, store, contest, judged)
