"""What a fault sheet shows, every text as it is printed: the same values serve page and paper."""

from dataclasses import dataclass, field

from judging.papers.drawings import RowsMap
from judging.papers.heading import Heading


@dataclass(frozen=True, slots=True)
class Fact:
    """One figure of the summary, with what it is out of."""

    label: str
    value: str


@dataclass(frozen=True, slots=True)
class FaultLine:
    """One fault of the list.

    Parameters
    ----------
    id, row, blow : str
        Identifiers of the fault, of its row and of its cell in the map, for links.
    time_s : float
        Where to listen, in seconds from the start of the recording.
    time, change, stroke, bell, charge : str
        As read; ``change`` is ``"opening"`` before the first.
    level : str
        ``"blemish"``, ``"half"`` or ``"whole"``.
    doubtful : bool
        Whether the ear's own spread straddles a line.
    sentence : str
        What a ringer is told.
    where, what : str
        The same in a long list: the row in short, such as ``"38 back"``, and the sentence without it.
    """

    id: str
    row: str
    blow: str
    time_s: float
    time: str
    change: str
    stroke: str
    bell: str
    charge: str
    level: str
    doubtful: bool
    sentence: str
    where: str
    what: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """A row that shows something: its identifier, its change as read, and when it begins on the recording."""

    row: str
    change: str
    time_s: float


@dataclass(frozen=True, slots=True)
class HabitLine:
    """One habit, what it costs (empty for praise and where it costs nothing), and some rows that show it."""

    sentence: str
    saves: str
    praise: bool
    evidence: tuple[Evidence, ...] = ()


@dataclass(frozen=True, slots=True)
class MethodLine:
    """One method mistake with where it was."""

    where: str
    sentence: str


@dataclass(frozen=True, slots=True)
class MarkStep:
    """One step from what a judge counted to the mark: who, what was done, the figure after it."""

    who: str
    what: str
    figure: str


@dataclass(frozen=True, slots=True)
class Comment:
    """A judge's words to the band."""

    judge: str
    words: str


@dataclass(frozen=True, slots=True)
class FaultSheet:
    """Everything a fault sheet shows, ready to print; the same for page and paper.

    Parameters
    ----------
    heading : Heading
        The contest; its title is empty on a practice night.
    band, number, piece : str
        As printed; ``number`` is the order of ringing, empty where there is none.
    place, mark, safety : str
        In words; empty where the band has no place yet.
    steps : tuple of MarkStep
        How the mark was reached, in order.
    reasons : tuple of str
        Why this place.
    total : str
        The machine's count with its unit.
    facts : tuple of Fact
        Figures of the summary, each with its denominator.
    summary, pull_off, work_on : str
        Sentences: the ringing as a whole, the first whole pull, what to work on first.
    habits : tuple of HabitLine
        Most worth working on first; praise among them.
    map : RowsMap
        Rows down, places across.
    pace, habits_drawn : str
        SVG.
    pace_told, habits_told : str
        The same in words.
    faults : tuple of FaultLine
        Every charged fault in order.
    blemishes : tuple of FaultLine
        Judged, but too slight to charge (or beyond a row's cap).
    unmarked : tuple of FaultLine
        Heard in rows that the rules do not mark.
    method : tuple of MethodLine
        Method mistakes, kept apart from striking.
    comments : tuple of Comment
        The judges' words.
    scheme : str
        How faults are charged.
    notes : tuple of str
        What the reader must know.
    pace_meant : str
        The pace rung beside the one that was meant; empty where none was.
    """

    heading: Heading
    band: str
    number: str
    piece: str
    place: str
    mark: str
    safety: str
    steps: tuple[MarkStep, ...]
    reasons: tuple[str, ...]
    total: str
    facts: tuple[Fact, ...]
    summary: str
    pull_off: str
    work_on: str
    habits: tuple[HabitLine, ...]
    map: RowsMap
    pace: str
    pace_told: str
    habits_drawn: str
    habits_told: str
    faults: tuple[FaultLine, ...]
    blemishes: tuple[FaultLine, ...]
    unmarked: tuple[FaultLine, ...]
    method: tuple[MethodLine, ...]
    comments: tuple[Comment, ...]
    scheme: str
    notes: tuple[str, ...] = field(default=())
    pace_meant: str = ""
