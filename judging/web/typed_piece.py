"""A test piece typed or pasted into a form: the same reader and the same messages as for its file."""

from dataclasses import dataclass

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from judging.contest import Phase
from judging.contest.rules import check_identifier
from judging.errors import InputError, RuleError
from judging.piece import Piece, begins_with_a_row, piece_from_file
from judging.store import StoredContest, StoredPiece, add_piece, pieces_of
from judging.web.access import BEFORE_THE_DRAW
from judging.web.piece_page import PiecePage, piece_page

#: Most characters of a piece; a peal on twelve, written out, has about 65,000.
MOST_CHARACTERS = 200_000

#: Most rows that are proved and drawn for somebody who only tries a piece; the longest peals on seven have 5,040.
MOST_TRIED = 10_000

#: Fields of both forms.
FIELDS = ("name", "text", "bell")

HINTS = {
    "name": "A short name in small letters, such as plain-bob. Entries and sections call the piece by it.",
    "text": "Either rows, one a line with the opening rounds first; or keys, beginning with piece = 1.",
}

#: Pieces to begin from, each read by a test.
EXAMPLES = (
    (
        "A touch",
        """piece = 1
method = "Plain Bob Doubles"
cover = "tenor"
calling = "pppb"      # one letter a lead: p plain, b bob
repeat = 3
opening_rows = 8
closing_rows = 2
""",
    ),
    (
        "Call changes, each row until the next call",
        """piece = 1
bells = 6
called = "up"
whole_pulls_each = "until the next call"
call_changes = ["2 to 3", "4 to 5", "2 to 5", "5 to 2", ["3 to 2", "5 to 4"]]
""",
    ),
    ("Written rows", "1234\n1234\n2143\n2413\n4231\n4321\n3412\n3142\n1324\n1234\n"),
)


class TrialForm(BaseModel):
    """A piece as it is tried."""

    model_config = ConfigDict(extra="forbid")

    text: str = Field(default="", max_length=1_000_000)  # beyond `MOST_CHARACTERS` it is told, with the text kept
    bell: str = Field(default="", max_length=3)


class PieceForm(TrialForm):
    """A piece as it is added to a contest: checked, or kept."""

    name: str = Field(default="", max_length=100)
    keep: str = Field(default="", max_length=3)


@dataclass(frozen=True, slots=True)
class Tried:
    """A piece that could be read, and what its page shows."""

    file_name: str
    piece: Piece
    page: PiecePage


def try_piece(text: str, *, bell: str, name: str = "piece") -> Tried:
    """Return what is proved and drawn of a piece.

    Parameters
    ----------
    text : str
        As typed; rows or keys, told apart by the first line.
    bell : str
        The bell to follow; empty for the heaviest that moves.
    name : str
        What the piece is called.

    Returns
    -------
    Tried

    Raises
    ------
    InputError
        Its ``where`` is the field; the problem is the one that the file would be refused with.
    """
    if not text.strip():
        raise InputError("text", "is empty; type or paste a piece")
    if len(text) > MOST_CHARACTERS:
        raise InputError("text", f"has {len(text):,} characters, more than {MOST_CHARACTERS:,}; is it a piece?")
    text = text.replace("\r\n", "\n")  # as browsers send the ends of lines
    file_name = f"{name}.{'txt' if begins_with_a_row(text) else 'toml'}"
    try:
        piece = piece_from_file(file_name, text)
    except InputError as error:
        raise InputError("text", _within(error, file_name)) from error
    if len(piece.rows) > MOST_TRIED:
        raise InputError("text", f"makes {len(piece.rows):,} rows; at most {MOST_TRIED:,} are proved and drawn here")
    return Tried(file_name, piece, piece_page(piece, _bell(bell, piece)))


def keep_piece(session: Session, contest: StoredContest, form: PieceForm, *, who: str) -> StoredPiece:
    """Return a piece kept in a contest, new or in the place of the one of that name.

    Parameters
    ----------
    session : Session
        A writing session.
    contest : StoredContest
        Which.
    form : PieceForm
        As typed.
    who : str
        Who adds it, for the trail.

    Returns
    -------
    StoredPiece

    Raises
    ------
    InputError
        Its ``where`` is the field.
    RuleError
        The order of ringing is drawn, or the rules are published and a piece of that name is there.
    """
    name = piece_name(form.name)
    tried = try_piece(form.text, bell=form.bell, name=name)
    if Phase(contest.phase) not in BEFORE_THE_DRAW:
        raise RuleError("The order of ringing is drawn; the test pieces stand.")
    text = form.text.replace("\r\n", "\n")
    return add_piece(session, contest.id or 0, file_name=tried.file_name, text=text, who=who)


def piece_name(name: str) -> str:
    """Return the name of a piece as entries call it; refuse one that they could not.

    Raises
    ------
    InputError
        They could not.
    """
    try:
        return check_identifier(name.strip(), "name")
    except InputError as error:
        raise InputError("name", error.problem) from error


def typed_of(session: Session, contest: StoredContest, name: str) -> dict[str, str]:
    """Return what stands in the form for a piece that is kept; nothing for any other name."""
    kept = {piece.key: piece for piece in pieces_of(session, contest.id or 0)}
    return {"name": name, "text": kept[name].text} if name in kept else {}


def _bell(bell: str, piece: Piece) -> int | None:
    """Return the bell to follow; one that does not ring in what is typed now is let go."""
    chosen = int(bell) if bell.isascii() and bell.isdecimal() else 0
    return chosen if 1 <= chosen <= piece.bells else None


def _within(error: InputError, file_name: str) -> str:
    """Return a message about a file that has no name on the page."""
    where = error.where.removeprefix(file_name).lstrip(", ")
    return f"{where}: {error.problem}" if where else error.problem
