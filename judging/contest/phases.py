"""The life of a contest: what comes after what, what is still missing, and whose turn it is.

::

    draft → published → drawn → ringing → sheets in → provisional → protest → final
              ↑__________|         ↑__________|  ↑__________|  ↑_________|         |
                                                              ↑____________________|

Rules are frozen from *published* on. A draw may be taken back to add or leave out a band before ringing begins. A
result is shown when it becomes provisional, and again when it is final. What has been shown is never changed: whoever
goes back from there, to open the marks again or to correct a final result, opens the next revision, with a reason.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from judging.errors import RuleError
from judging.figures import together


class Phase(StrEnum):
    """Where a contest is in its life."""

    DRAFT = "draft"
    PUBLISHED = "published"
    DRAWN = "drawn"
    RINGING = "ringing"
    SHEETS_IN = "sheets in"
    PROVISIONAL = "provisional"
    PROTEST = "protest"
    FINAL = "final"


#: Where a contest may go from each phase; the first is the way on.
NEXT: Mapping[Phase, tuple[Phase, ...]] = {
    Phase.DRAFT: (Phase.PUBLISHED,),
    Phase.PUBLISHED: (Phase.DRAWN,),
    Phase.DRAWN: (Phase.RINGING, Phase.PUBLISHED),
    Phase.RINGING: (Phase.SHEETS_IN,),
    Phase.SHEETS_IN: (Phase.PROVISIONAL, Phase.RINGING),
    Phase.PROVISIONAL: (Phase.PROTEST, Phase.SHEETS_IN),
    Phase.PROTEST: (Phase.FINAL, Phase.PROVISIONAL),
    Phase.FINAL: (Phase.PROVISIONAL,),
}

#: Phases in the order of a contest's life.
LIFE: tuple[Phase, ...] = tuple(Phase)

#: Phases that a contest comes to by showing a result.
SHOWING = frozenset({Phase.PROVISIONAL, Phase.PROTEST, Phase.FINAL})


@dataclass(frozen=True, slots=True)
class Standing:
    """What is known of a contest when the next step is asked for.

    Parameters
    ----------
    phase : Phase
        Where it is.
    revision : int
        1 until a result that was shown is corrected.
    is_shown : bool
        Whether a result of this revision has been shown.
    has_seed : bool
        Whether a draw seed is declared.
    judges, entries : int
        How many of each; withdrawn entries not counted.
    undeclared : tuple of str
        Judges who have not said which bands they have to do with.
    entries_without_piece : tuple of str
        Identifiers of entries whose test piece is not there.
    pieces_not_as_asked : tuple of str
        What test pieces lack of what the rules ask, one sentence each.
    not_rung : tuple of str
        Entries of whose ringing there is no sign yet: no report, no recording, no sheet.
    keyings_open : tuple of tuple of str
        Pairs of judge and entry whose paper one person has keyed in and nobody has confirmed.
    sheets_missing : tuple of tuple of str
        Pairs of judge and entry without a signed sheet.
    sheets_may_miss : bool
        Whether the rules give a result without them.
    why_no_result : str
        What is in the way of a result; empty where there is one.
    open_protests : int
        Protests not yet decided.
    upheld : tuple of int
        Numbers of protests upheld against the revision that stands now.
    protest_minutes_left : int
        Until the window closes.
    heard_unlike : tuple of str
        Entries heard with other kept voices than the rest of their section, or without.
    machine_has_part : bool
        Whether the machine's count can change a place.
    """

    phase: Phase = Phase.DRAFT
    revision: int = 1
    is_shown: bool = False
    has_seed: bool = False
    judges: int = 0
    entries: int = 0
    undeclared: tuple[str, ...] = ()
    entries_without_piece: tuple[str, ...] = ()
    pieces_not_as_asked: tuple[str, ...] = ()
    not_rung: tuple[str, ...] = ()
    keyings_open: tuple[tuple[str, str], ...] = ()
    sheets_missing: tuple[tuple[str, str], ...] = ()
    sheets_may_miss: bool = False
    why_no_result: str = ""
    open_protests: int = 0
    upheld: tuple[int, ...] = ()
    protest_minutes_left: int = 0
    heard_unlike: tuple[str, ...] = ()
    machine_has_part: bool = False


Who = Literal["organiser", "judge", "steward", "nobody"]


@dataclass(frozen=True, slots=True)
class Missing:
    """Something that must, or should, be done before a step.

    Parameters
    ----------
    who : {"organiser", "judge", "steward", "nobody"}
        Who must do it; nobody where only time must pass.
    what : str
        What, as a sentence; no band's name in it.
    blocks : bool
        Whether the step cannot be taken without it; otherwise it is only said.
    """

    who: Who
    what: str
    blocks: bool = True


def missing(standing: Standing, to: Phase) -> tuple[Missing, ...]:
    """List what must or should be done before a contest goes to a phase.

    Parameters
    ----------
    standing : Standing
        What is known now.
    to : Phase
        Where it shall go.

    Returns
    -------
    tuple of Missing
        What is in the way comes first.
    """
    step = _NEEDED.get((standing.phase, to))
    return tuple(sorted(step(standing), key=lambda item: not item.blocks)) if step else ()


def _to_publish(standing: Standing) -> Iterator[Missing]:
    if not standing.has_seed:
        yield Missing("organiser", "Declare the seed of the draw.")
    if not standing.judges:
        yield Missing("organiser", "Name at least one judge.")
    for sentence in standing.pieces_not_as_asked:
        yield Missing("organiser", sentence)


def _to_draw(standing: Standing) -> Iterator[Missing]:
    if not standing.entries:
        yield Missing("organiser", "Enter at least one band.")
    for entry in standing.entries_without_piece:
        yield Missing("organiser", f"Give the test piece of entry {entry}.")
    for judge in standing.undeclared:
        yield Missing("judge", f"{judge}: declare the bands you have to do with, or none.", blocks=False)


def _to_close_ringing(standing: Standing) -> Iterator[Missing]:
    for entry in standing.not_rung:
        yield Missing("steward", f"Band {entry}: say that it has rung, or report on it.")


def _to_rank(standing: Standing) -> Iterator[Missing]:
    for judge, entry in standing.keyings_open:
        yield Missing("organiser", f"Confirm {judge}’s paper for band {entry}, keyed in by one person so far.")
    for judge, entry in standing.sheets_missing:
        yield Missing("judge", f"{judge}: sign the sheet for band {entry}.", blocks=not standing.sheets_may_miss)
    if standing.why_no_result and not (standing.sheets_missing and not standing.sheets_may_miss):
        yield Missing("organiser", f"{standing.why_no_result.rstrip('.')}.")
    if standing.heard_unlike:
        yield Missing(
            "organiser",
            f"Have every band of a section heard alike: {_listed(standing.heard_unlike)} heard with other kept voices "
            "than the rest, or without.",
            blocks=standing.machine_has_part,
        )


def _listed(entries: tuple[str, ...]) -> str:
    if len(entries) == 1:
        return f"band {entries[0]} was"
    return f"bands {together(entries)} were"


def _to_announce(standing: Standing) -> Iterator[Missing]:
    if standing.why_no_result:
        yield Missing("organiser", f"{standing.why_no_result.rstrip('.')}.")


def _to_finish(standing: Standing) -> Iterator[Missing]:
    if standing.why_no_result:
        yield Missing("organiser", f"{standing.why_no_result.rstrip('.')}.")
    if standing.open_protests:
        yield Missing("organiser", f"Decide the open protests ({standing.open_protests}).")
    for number in standing.upheld:
        yield Missing("organiser", f"Correct the result: protest {number} against it is upheld.")
    if standing.protest_minutes_left > 0:
        yield Missing("nobody", f"The protest window closes in {standing.protest_minutes_left} min.")


_NEEDED: Mapping[tuple[Phase, Phase], Callable[[Standing], Iterator[Missing]]] = {
    (Phase.DRAFT, Phase.PUBLISHED): _to_publish,
    (Phase.PUBLISHED, Phase.DRAWN): _to_draw,
    (Phase.RINGING, Phase.SHEETS_IN): _to_close_ringing,
    (Phase.SHEETS_IN, Phase.PROVISIONAL): _to_rank,
    (Phase.PROVISIONAL, Phase.PROTEST): _to_announce,
    (Phase.PROTEST, Phase.FINAL): _to_finish,
}


def advance(standing: Standing, to: Phase) -> tuple[Phase, int]:
    """Phase and revision after a step.

    Parameters
    ----------
    standing : Standing
        What is known now.
    to : Phase
        Where the contest shall go.

    Returns
    -------
    tuple
        The new phase, and the revision: one more where a result that was shown is left to be corrected.

    Raises
    ------
    RuleError
        Where the step does not follow, or something is missing for it.
    """
    allowed = NEXT[standing.phase]
    if to not in allowed:
        raise RuleError(
            f'from "{standing.phase}" a contest goes to {" or ".join(f"{p!s}" for p in allowed)}, not to "{to}"'
        )
    wanted = [item for item in missing(standing, to) if item.blocks]
    if wanted:
        raise RuleError(f'before "{to}": ' + " ".join(item.what for item in wanted))
    was_shown = standing.is_shown or standing.phase is Phase.FINAL
    return to, standing.revision + (is_back(standing.phase, to) and was_shown)


def is_back(phase: Phase, to: Phase) -> bool:
    """Whether a step goes back, which needs a reason."""
    return LIFE.index(to) < LIFE.index(phase)


def shows_result(standing: Standing, to: Phase) -> bool:
    """Whether a step shows a result, word for word as it then stands: each revision once provisional, once final."""
    if is_back(standing.phase, to) or to not in SHOWING:
        return False
    return to is Phase.FINAL or not standing.is_shown


def rules_are_frozen(phase: Phase) -> bool:
    """Whether the rules can no longer be changed."""
    return phase is not Phase.DRAFT
