"""The declared rules as one value, composed from what each room declares, with one fingerprint over all of it.

Conventions
-----------
The fingerprint is the SHA-256 of the rules' content in one canonical form: comments, order of keys, spelling of
numbers and defaults written out or left out make no difference; every value that can change a result or a page does.
A key that was added later and is left at its default makes none either, so that rules declared before keep theirs.
"""

import datetime as dt
import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Literal, cast

from judging.contest.judge import Judge
from judging.errors import InputError
from judging.marks.exact import plain
from judging.marks.rules import MarksRules
from judging.piece.lengths import LengthRule
from judging.striking.marking import ADDED_LATER
from judging.striking.rules import CountingRules

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

#: What the rules can say of a band incomplete at the draw, of swaps after it, and of a judge's conflict of interest.
LateRule = Literal["rings last", "refused"]
SwapRule = Literal["with consent", "not allowed"]
ConflictRule = Literal["declared only", "sheet left out"]

_ASKS_NOTHING = LengthRule()

#: Version of the form of ``rules.toml``; part of the fingerprint.
VERSION = 1


@dataclass(frozen=True, slots=True)
class Section:
    """One section or category; an entry may stand in several.

    Parameters
    ----------
    name : str
        As printed; empty for the only section of a contest that names none.
    piece : str
        Identifier of the test piece, where the entry names no other.
    changes, practice_minutes, slot_minutes, minutes_allowed
        For the rules page and the timetable; None where not declared.
    most_borrowed : int or None
        With more borrowed ringers an entry takes no place in this section.
    eligibility : str
        Who may enter, in words.
    judges : tuple of str
        Identifiers of the section's panel; empty where every judge is on it.
    asks : LengthRule
        What is asked of its test piece.
    notes : str
        Note of each bell in strike logs that are MIDI files, treble first, with commas between; empty where the highest
        note is the treble.
    """

    name: str = ""
    piece: str = ""
    changes: int | None = None
    practice_minutes: Decimal | None = None
    slot_minutes: Decimal | None = None
    minutes_allowed: Decimal | None = None
    most_borrowed: int | None = None
    eligibility: str = ""
    judges: tuple[str, ...] = ()
    asks: LengthRule = field(default=_ASKS_NOTHING, metadata=ADDED_LATER)
    notes: str = field(default="", metadata=ADDED_LATER)


@dataclass(frozen=True, slots=True)
class Eligibility:
    """Who may ring; stated and printed, checked by the organiser since ringers' names are not held.

    Parameters
    ----------
    bands_per_ringer, residents : int or None
        In how many bands one person may ring; how many must belong to the tower.
    words : str
        Anything more.
    """

    bands_per_ringer: int | None = None
    residents: int | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class Protest:
    """How long, and to whom, a protest may be handed in after the provisional result.

    Parameters
    ----------
    minutes : int
        0 where the judges' decision is final.
    to : str
        Whom it is handed to.
    """

    minutes: int = 10
    to: str = ""


@dataclass(frozen=True, slots=True)
class Public:
    """What the public sees.

    Parameters
    ----------
    result : {"final", "provisional"}
        From when it sees the result.
    by_judge, machine, safety, fault_sheets, judges_compared : bool
        Whether it sees each judge's figure, the machine's count, safety of places, fault sheets, and the judges
        compared.
    """

    result: Literal["final", "provisional"] = "final"
    by_judge: bool = True
    machine: bool = True
    safety: bool = True
    fault_sheets: bool = False
    judges_compared: bool = field(default=False, metadata=ADDED_LATER)


@dataclass(frozen=True, slots=True)
class Break:
    """A break between bands, which begins once the band that is due at its time has rung.

    Parameters
    ----------
    at : time
        When it is due.
    minutes : Decimal
        How long it lasts.
    what : str
        What it is for, as printed.
    """

    at: dt.time
    minutes: Decimal
    what: str = "Break"


@dataclass(frozen=True, slots=True)
class RuleSet:
    """Everything declared before the draw.

    Parameters
    ----------
    title, district, place : str
        As printed.
    date : date or None
        The day of the contest.
    sections : tuple of Section
        At least one, in the order in which results are printed.
    judges : tuple of Judge
        In the order in which they are printed.
    draw_seed : str
        The draw follows from it and the entries' identifiers.
    first_band : time or None
        When the first band begins; None for a contest without a timetable.
    breaks : tuple of Break
        In order of time.
    late : {"rings last", "refused"}
        What becomes of a band that is incomplete at the draw, or enters after it.
    swaps : {"with consent", "not allowed"}
        Whether two bands may change places after the draw.
    conflict : {"declared only", "sheet left out"}
        What happens to the sheet of a judge who has to do with the band.
    protest, eligibility, public
        The parts, each its own value.
    counting : CountingRules
        How the machine counts: tolerance bands, marking scheme, what is marked. Carries the same fingerprint.
    marks : MarksRules
        How sheets become a result.
    fingerprint : str
        SHA-256 of the canonical content, 64 hexadecimal digits.
    """

    title: str = ""
    district: str = ""
    date: dt.date | None = None
    place: str = ""
    sections: tuple[Section, ...] = (Section(),)
    judges: tuple[Judge, ...] = ()
    draw_seed: str = ""
    first_band: dt.time | None = field(default=None, metadata=ADDED_LATER)
    breaks: tuple[Break, ...] = field(default=(), metadata=ADDED_LATER)
    late: LateRule = field(default="rings last", metadata=ADDED_LATER)
    swaps: SwapRule = field(default="with consent", metadata=ADDED_LATER)
    conflict: ConflictRule = field(default="declared only", metadata=ADDED_LATER)
    protest: Protest = field(default_factory=Protest)
    eligibility: Eligibility = field(default_factory=Eligibility)
    public: Public = field(default_factory=Public)
    counting: CountingRules = field(default_factory=CountingRules)
    marks: MarksRules = field(default_factory=MarksRules)
    fingerprint: str = ""

    def __post_init__(self) -> None:
        """Refuse rules that leave no result; work out the fingerprint and hand it on to the counting."""
        if self.conflict == "sheet left out" and self.marks.combining.missing_judge == "refuse":
            raise InputError(
                "conflict, then",
                '"sheet left out" leaves a band without a sheet, and missing_judge = "refuse" then gives no result; '
                'declare missing_judge as "use those present" or "leave the judge out"',
            )
        bare = {name: value for name, value in _declared(self) if name != "fingerprint"}
        bare["counting"] = replace(self.counting, fingerprint="")
        text = json.dumps({"form": VERSION, **_canonical(bare)}, sort_keys=True, ensure_ascii=False)
        fingerprint = hashlib.sha256(text.encode()).hexdigest()
        object.__setattr__(self, "fingerprint", fingerprint)
        object.__setattr__(self, "counting", replace(self.counting, fingerprint=fingerprint))

    @property
    def short_fingerprint(self) -> str:
        """First twelve digits in groups of four, for print."""
        return " ".join(self.fingerprint[start : start + 4] for start in (0, 4, 8))

    def section(self, name: str) -> Section:
        """Section of a name.

        Raises
        ------
        InputError
            Where there is none.
        """
        for section in self.sections:
            if section.name == name:
                return section
        raise InputError("rules", f'there is no section "{name}"')


def _canonical(value: object) -> dict[str, object]:
    """Make one form of every content, whatever its spelling: a mapping of plain JSON values."""
    return cast(dict[str, object], _plain_json(value))


def _declared(value: "DataclassInstance") -> Iterator[tuple[str, Any]]:
    """Fields of a value, without those that were added later and left as they are by default."""
    for part in fields(value):
        held = getattr(value, part.name)
        if not (part.metadata.get("added_later") and held == part.default):
            yield part.name, held


def _plain_json(value: object) -> object:
    if is_dataclass(value) and not isinstance(value, type):
        return {name: _plain_json(held) for name, held in _declared(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain_json(item) for key, item in value.items()}
    if isinstance(value, (Decimal, float)) and not isinstance(value, bool):
        return str(plain(Decimal(str(value))))
    if isinstance(value, (Fraction, dt.date, dt.time)):
        return str(value)
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_plain_json(item) for item in value]
    return value
