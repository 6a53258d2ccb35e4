"""What the desk says is to be done now, and where its other pages are."""

from dataclasses import dataclass

from judging.contest import Phase
from judging.contest.phases import SHOWING
from judging.web.judged import Judged

#: What is to be done in each phase, before its next step.
_ADVICE = {
    Phase.DRAFT: "Look through the rules and enter the bands. Once they are published, the rules stand as they are.",
    Phase.PUBLISHED: "Anyone can read the rules now. Draw once the bands are entered; its seed makes the order.",
    Phase.DRAWN: "Print the papers, and give judges and steward their links. Begin when the first band is called.",
    Phase.RINGING: "The steward notes who rings, the judges sign their sheets; what has come in stands below.",
    Phase.SHEETS_IN: "Give the penalties there are, band by band below. Then show the result, to yourself first.",
    Phase.PROVISIONAL: "Read it through before it is announced. Until then the marks can be opened again.",
    Phase.PROTEST: "Announce the places, the last one first. The result becomes final when the window has closed.",
    Phase.FINAL: "The result stands. Certificates, results sheet and fault sheets are ready to print.",
}


def advice_of(judged: Judged) -> str:
    """Return what is to be done now, in a sentence or two."""
    if judged.phase is Phase.DRAFT and not judged.day.entries:
        return "Look through the rules and enter the bands; both can be changed until the rules are published."
    return _ADVICE[judged.phase]


@dataclass(frozen=True, slots=True)
class Drawer:
    """Pages of the desk that belong together: what they are about, and each one's words and address."""

    about: str
    pages: tuple[tuple[str, str], ...]


def drawers_of(judged: Judged) -> tuple[Drawer, ...]:
    """Return the desk's other pages, those only that have something to show in this phase."""
    phase, desk = judged.phase, f"/contests/{judged.slug}"
    is_before, is_out = phase in {Phase.DRAFT, Phase.PUBLISHED}, phase in SHOWING
    several = len(judged.outcome.results) > 1
    announced = tuple(
        (f"Announce “{result.section}”" if several else "Announce it", f"{desk}/sections/{number}/announce")
        for number, result in enumerate(judged.outcome.results, start=1)
    )
    drawers = (
        Drawer(
            "Before the day",
            (
                ("Rules", f"{desk}/rules"),
                *((("Test pieces", f"{desk}/test-pieces"),) if is_before else ()),
                ("Judges", f"{desk}/judges"),
                ("Where it is rung", f"{desk}/tower"),
                *((("Where your judges draw the line", f"{desk}/calibration"),) if phase is Phase.DRAFT else ()),
            ),
        ),
        Drawer(
            "On the day",
            ()
            if is_before
            else (
                ("The draw", f"{desk}/draw"),
                *((("Enter a band late", f"{desk}/entries"),) if phase in {Phase.DRAWN, Phase.RINGING} else ()),
                ("In the ringing room", f"{desk}/ringing"),
                ("The whole day’s recording", f"{desk}/day"),
            ),
        ),
        Drawer(
            "Result and papers",
            (
                *(announced if is_out else ()),
                ("Papers to print", f"{desk}/printing"),
                *((("Protests", f"{desk}/protests"), ("What was published", f"{desk}/revisions")) if is_out else ()),
                *(
                    (("Where your judges draw the line, for the next contest", f"{desk}/calibration"),)
                    if phase is Phase.FINAL
                    else ()
                ),
            ),
        ),
    )
    return tuple(drawer for drawer in drawers if drawer.pages)
