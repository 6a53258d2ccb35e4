"""How long a piece is: rows held for a length or until the next call, and what a contest asks of the length.

A call-change piece has two forms. With *free lengths* it gives each row once, in order, for nobody knows beforehand
when the next call comes. With lengths it gives every row as often as it is rung.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from judging.errors import InputError
from judging.piece.piece import Label, Piece
from judging.piece.proof import prove
from judging.piece.ringing import refuse_too_many


@dataclass(frozen=True, slots=True)
class LengthRule:
    """What a contest asks of a test piece.

    Parameters
    ----------
    least_changes, most_changes : int or None
        Fewest and most changes, the return to rounds included; None where the rules say nothing.
    least_s : float or None
        Shortest ringing from the first change to the return, in seconds (5 minutes of call changes is 300).
    every_bell_but_tenor_leads : bool
        Whether each bell, the tenor excepted, must lead.
    true : bool
        Whether no row may be repeated.
    comes_round : bool
        Whether it must end in rounds, or in the row it began from.
    """

    least_changes: int | None = None
    most_changes: int | None = None
    least_s: float | None = None
    every_bell_but_tenor_leads: bool = False
    true: bool = False
    comes_round: bool = False


def unmet(piece: Piece, rule: LengthRule, *, row_s: float | None = None) -> tuple[str, ...]:
    """What a piece lacks of what a contest asks.

    Parameters
    ----------
    piece : Piece
        The piece.
    rule : LengthRule
        What is asked. The length of a piece with free lengths is not looked at: it is known once it is rung.
    row_s : float or None
        How long one row lasts, in seconds (peal speed in minutes × 60 / 5,040), for a rule in minutes; None where it
        is not known, which leaves that rule out.

    Returns
    -------
    tuple of str
        One sentence for each thing that is lacking; empty where nothing is.
    """
    proof = prove(piece)
    said: list[str] = []
    if not piece.free_lengths:
        if rule.least_changes is not None and proof.changes < rule.least_changes:
            short = rule.least_changes - proof.changes
            said.append(f"{proof.changes} changes are {short} short of the {rule.least_changes} asked for.")
        if rule.most_changes is not None and proof.changes > rule.most_changes:
            over = proof.changes - rule.most_changes
            said.append(f"{proof.changes} changes are {over} more than the {rule.most_changes} allowed.")
        if rule.least_s is not None and row_s is not None and proof.changes * row_s < rule.least_s:
            said.append(f"It lasts about {_minutes(proof.changes * row_s)}; {_minutes(rule.least_s)} are asked for.")
    if rule.true and not proof.true:
        said.append(proof.sentences[0])
    if rule.comes_round and not proof.comes_round:
        said.append(f"It does not come round: it ends on {proof.ends_on}.")
    if rule.every_bell_but_tenor_leads and not proof.every_bell_but_tenor_leads:
        said.append(proof.leading_sentence)
    return tuple(said)


def _minutes(seconds: float) -> str:
    """Time as minutes and seconds."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if rest else f"{minutes} min"


def with_lengths(piece: Piece, lengths: Sequence[int]) -> Piece:
    """Piece with free lengths, each row as often as it was rung.

    Parameters
    ----------
    piece : Piece
        With free lengths.
    lengths : sequence of int
        How many rows each of its rows lasted, the opening included; 0 for one that was left out.

    Returns
    -------
    Piece
        With lengths. What follows the first row that returns to the start is closing; labels stand beside the first
        row of what they name.

    Raises
    ------
    InputError
        Where the piece has lengths already, or there is not one length for each of its rows.
    """
    if not piece.free_lengths:
        raise InputError(piece.title, "its rows have their lengths already")
    if len(lengths) != len(piece.rows) or min(lengths) < 0 or sum(lengths) == 0:
        raise InputError(
            piece.title, f"{len(lengths)} lengths for {len(piece.rows)} rows: give one, 0 or more, for each"
        )
    refuse_too_many(sum(lengths), piece.title)
    starts = np.concatenate([[0], np.cumsum(lengths)])
    last = len(lengths) - 1 - piece.closing
    closing = sum(lengths[last + 1 :])
    if last > piece.opening and (piece.rows[last] == piece.rows[0]).all():
        closing += max(lengths[last] - 1, 0)
    return replace(
        piece,
        rows=np.repeat(piece.rows, lengths, axis=0),
        opening=sum(lengths[: piece.opening]),
        closing=closing,
        labels=tuple(
            Label(int(starts[label.row]), label.kind, label.text) for label in piece.labels if lengths[label.row]
        ),
        free_lengths=False,
    )


def without_lengths(piece: Piece) -> Piece:
    """Piece with each row once, for a conductor who calls when it pleases.

    Parameters
    ----------
    piece : Piece
        With lengths, or without (which comes back as it is).

    Returns
    -------
    Piece
        With free lengths: rows held are one row, and there is no closing.
    """
    if piece.free_lengths:
        return piece
    kept = piece.rows[: len(piece.rows) - piece.closing]
    begins = np.concatenate([[True], (kept[1:] != kept[:-1]).any(axis=1)])
    row_of = np.cumsum(begins) - 1
    labels = tuple(replace(label, row=int(row_of[label.row])) for label in piece.labels if label.row < len(kept))
    return replace(
        piece,
        rows=kept[begins],
        opening=int(begins[: piece.opening].sum()),
        closing=0,
        labels=labels,
        free_lengths=True,
    )
