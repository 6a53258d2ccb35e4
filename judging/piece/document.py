"""Piece → the document that machines read: rows, calls, lead heads and truth.

In it ``row`` counts from 0, the first row in the piece; ``change`` counts from 1, as people do. A bell is a number
wherever it stands, so a row is a list of them; only sentences and titles, which are for people, write it as text.
"""

from typing import Any

from judging.piece.piece import Piece
from judging.piece.proof import Proof, prove
from judging.piece.ringing import LabelKind
from judging.piece.rows import read_row


def document(piece: Piece) -> dict[str, Any]:
    """Everything about a piece, as plain data for JSON.

    Parameters
    ----------
    piece : Piece
        The piece.

    Returns
    -------
    dict
        ``title``, ``bells``, ``rows`` (lists of bells), ``opening``, ``closing``, ``changes`` (how many),
        ``first_change_stroke``, ``free_lengths``; ``calls``, ``part_ends`` and ``named_rows``, each a list of
        ``{row, change, text}``; ``lead_heads``, a list of ``{row, change, bells}``; and ``truth``, the proof.
    """
    return {
        "title": piece.title,
        "bells": piece.bells,
        "rows": piece.rows.tolist(),
        "opening": piece.opening,
        "closing": piece.closing,
        "changes": int(piece.is_change.sum()),
        "first_change_stroke": piece.first_change_stroke,
        "free_lengths": piece.free_lengths,
        "calls": _labels(piece, "call"),
        "lead_heads": [
            {"row": label.row, "change": piece.change_of(label.row), "bells": piece.rows[label.row].tolist()}
            for label in piece.labels
            if label.kind == "lead head"
        ],
        "part_ends": _labels(piece, "part end"),
        "named_rows": _labels(piece, "named row"),
        "truth": _truth(prove(piece)),
    }


def _labels(piece: Piece, kind: LabelKind) -> list[dict[str, Any]]:
    return [
        {"row": label.row, "change": piece.change_of(label.row), "text": label.text}
        for label in piece.labels
        if label.kind == kind
    ]


def _truth(proof: Proof) -> dict[str, Any]:
    return {
        "true": proof.true,
        "times_allowed": proof.allowed,
        "repeated": [{"bells": _bells(repeat.row), "changes": list(repeat.changes)} for repeat in proof.repeats],
        "comes_round": proof.comes_round,
        "ends_on": _bells(proof.ends_on),
        "comes_round_early_at": proof.early,
        "every_bell_but_tenor_leads": proof.every_bell_but_tenor_leads,
        "never_lead": list(proof.never_lead),
        "jumps_at": list(proof.jumps),
        "sentences": list(proof.sentences),
    }


def _bells(row: str) -> list[int]:
    return [int(bell) for bell in read_row(row, where="row")]
