"""The life of a contest: what comes after what, what is still missing, and whose turn it is.

::

    draft → published → drawn → ringing → sheets in → provisional → protest → final
              ↑__________|         ↑__________|            ↑___________|

Rules are frozen from *published* on. A draw may be taken back to add or leave out a band before ringing begins. Marks
may be opened again while the result is provisional. *Final* is immutable: a correction is the next revision, which
begins again at *provisional*.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from judging.errors import RuleError


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


@dataclass(frozen=True, slots=True)
class Standing:
    """What is known of a contest when the next step is asked for.

    Parameters
    ----------
    phase : Phase
        Where it is.
    revision : int
        1 until a final result is corrected.
    has_seed : bool
        Whether a draw seed is declared.
    judges, entries : int
        How many of each; withdrawn entries not counted.
    entries_without_piece : tuple of str
        Identifiers of entries whose test piece is not there.
    not_rung : tuple of str
        Entries that the steward has not yet reported on.
    sheets_missing : tuple of tuple of str
        Pairs of judge and entry without a signed sheet.
    open_protests : int
        Protests not yet decided.
    protest_minutes_left : int
        Until the window closes.
    """

    phase: Phase = Phase.DRAFT
    revision: int = 1
    has_seed: bool = False
    judges: int = 0
    entries: int = 0
    entries_without_piece: tuple[str, ...] = ()
    not_rung: tuple[str, ...] = ()
    sheets_missing: tuple[tuple[str, str], ...] = ()
    open_protests: int = 0
    protest_minutes_left: int = 0


@dataclass(frozen=True, slots=True)
class Missing:
    """Something that must be done before a step.

    Parameters
    ----------
    who : {"organiser", "judge", "steward", "nobody"}
        Who must do it; nobody where only time must pass.
    what : str
        What, as a sentence; no band's name in it.
    """

    who: str
    what: str


def missing(standing: Standing, to: Phase) -> tuple[Missing, ...]:
    """List what must be done before a contest can go to a phase.

    Parameters
    ----------
    standing : Standing
        What is known now.
    to : Phase
        Where it shall go.

    Returns
    -------
    tuple of Missing
        Empty where nothing is in the way.
    """
    step = _NEEDED.get((standing.phase, to))
    return tuple(step(standing)) if step else ()


def _to_publish(standing: Standing) -> Iterator[Missing]:
    if not standing.has_seed:
        yield Missing("organiser", "Declare the seed of the draw.")
    if not standing.judges:
        yield Missing("organiser", "Name at least one judge.")


def _to_draw(standing: Standing) -> Iterator[Missing]:
    if not standing.entries:
        yield Missing("organiser", "Enter at least one band.")
    for entry in standing.entries_without_piece:
        yield Missing("organiser", f"Give the test piece of entry {entry}.")


def _to_close_ringing(standing: Standing) -> Iterator[Missing]:
    for entry in standing.not_rung:
        yield Missing("steward", f"Report on entry {entry}.")


def _to_rank(standing: Standing) -> Iterator[Missing]:
    for judge, entry in standing.sheets_missing:
        yield Missing("judge", f"Judge {judge}: sign the sheet of entry {entry}.")


def _to_finish(standing: Standing) -> Iterator[Missing]:
    if standing.open_protests:
        yield Missing("organiser", f"Decide the open protests ({standing.open_protests}).")
    if standing.protest_minutes_left > 0:
        yield Missing("nobody", f"The protest window closes in {standing.protest_minutes_left} min.")


_NEEDED: Mapping[tuple[Phase, Phase], Callable[[Standing], Iterator[Missing]]] = {
    (Phase.DRAFT, Phase.PUBLISHED): _to_publish,
    (Phase.PUBLISHED, Phase.DRAWN): _to_draw,
    (Phase.RINGING, Phase.SHEETS_IN): _to_close_ringing,
    (Phase.SHEETS_IN, Phase.PROVISIONAL): _to_rank,
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
        The new phase, and the revision: one more where a final result is opened for correction.

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
    wanted = missing(standing, to)
    if wanted:
        raise RuleError(f'before "{to}": ' + " ".join(item.what for item in wanted))
    return to, standing.revision + (standing.phase is Phase.FINAL)


def rules_are_frozen(phase: Phase) -> bool:
    """Whether the rules can no longer be changed."""
    return phase is not Phase.DRAFT
