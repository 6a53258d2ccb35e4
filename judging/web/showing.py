"""What of a contest somebody may see now: one place that every page, paper and answer asks.

The order of things is the contest's (`judging.contest.phases`), names are `judging.contest.display_name`'s; here are
results, figures, fault sheets and recordings.
"""

from dataclasses import dataclass

from judging.contest import Phase, Viewer
from judging.contest.phases import SHOWING
from judging.contest.rules import Public


@dataclass(frozen=True, slots=True)
class Shown:
    """What somebody may see of one contest.

    Parameters
    ----------
    result : bool
        Places and marks.
    by_judge, machine, safety, judges_compared : bool
        Each judge's figures, the machine's count beside them, how safe places are, how the judges compare.
    fault_sheets : bool
        Every band's fault sheet, its recording and strike log; a band's own is `shows_sheet`'s to say.
    """

    result: bool
    by_judge: bool
    machine: bool
    safety: bool
    fault_sheets: bool
    judges_compared: bool


def shown(viewer: Viewer, phase: Phase, public: Public, *, is_shown: bool = True, was_final: bool = False) -> Shown:
    """Return what a viewer may see.

    Parameters
    ----------
    viewer : Viewer
        Who looks.
    phase : Phase
        Where the contest is.
    public : Public
        What the rules make public.
    is_shown : bool
        Whether the result that stands now has been shown; one that is being corrected is not, until it is.
    was_final : bool
        Whether a result has been final; fault sheets then stay open while it is corrected.

    Returns
    -------
    Shown
        Everything for the organiser; for all others nothing that a judge could learn from before signing.
    """
    if viewer.role == "organiser":
        return Shown(result=True, by_judge=True, machine=True, safety=True, fault_sheets=True, judges_compared=True)
    is_out = phase is Phase.FINAL or (public.result == "provisional" and phase in SHOWING and is_shown)
    return Shown(
        result=is_out,
        by_judge=is_out and public.by_judge,
        machine=is_out and public.machine,
        safety=is_out and public.safety,
        judges_compared=is_out and public.judges_compared,
        fault_sheets=(phase is Phase.FINAL or was_final) and public.fault_sheets,
    )


def shows_sheet(entry_id: str, viewer: Viewer, phase: Phase, public: Public, *, was_final: bool = False) -> bool:
    """Whether a viewer may open the fault sheet of an entry: a band sees its own as soon as the result is final."""
    if viewer.role == "band" and entry_id in viewer.own:
        return phase is Phase.FINAL or was_final
    return shown(viewer, phase, public, was_final=was_final).fault_sheets
