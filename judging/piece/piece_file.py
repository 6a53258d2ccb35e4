"""A piece in plain English keys (``.toml``) → piece.

The file says how many bells ring, which keep their places, and what is rung: one part, or several in sequence, each a
method with its calling, call changes, or written rows. What every key means is tabled in the README.
"""

from pathlib import PurePath
from typing import cast, get_args

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.keys import Keys, read_toml, shown
from judging.piece.known_methods import method_named
from judging.piece.methods import stage_of
from judging.piece.parts import PART_KEYS, PartReader, covers, looks_like_a_row, part_keys, row_or_name
from judging.piece.piece import Label, Piece, Stroke
from judging.piece.ringing import LabelKind, Ringing, refuse_too_many
from judging.piece.rows import FEWEST_BELLS, MOST_BELLS, MOST_CHANGES, rounds, tidy
from judging.piece.rows_file import read_rows
from judging.piece.touch import come_home

#: The version of the format that this room reads and writes.
VERSION = 1

#: More opening or closing rows than any contest allows (one has 40 before and 40 after) and many more.
_MOST_ROUNDS = 1_000

#: Keys of the piece as a whole; those of its parts may stand beside them.
PIECE_KEYS: tuple[str, ...] = (
    "piece",
    "title",
    "bells",
    "start",
    "begin_at_change",
    "first_stroke",
    "opening_rows",
    "closing_rows",
    "changes",
    "labels",
)


def piece_from_file(name: str, text: str) -> Piece:
    """Piece from a file of either kind.

    Parameters
    ----------
    name : str
        Its name: one that ends in ``.toml`` or ``.txt`` says what it is, any other is told by its first line.
    text : str
        Its text.

    Returns
    -------
    Piece
        The piece.

    Raises
    ------
    InputError
        As `read_piece` and `read_rows` raise it.
    """
    suffix = PurePath(name).suffix.lower()
    if suffix == ".txt" or (suffix != ".toml" and begins_with_a_row(text)):
        return read_rows(text, name=name)
    return read_piece(text, name=name)


def begins_with_a_row(text: str) -> bool:
    """Whether a text is written-out rows and not a piece in keys, told by its first line that says anything.

    Parameters
    ----------
    text : str
        Of a piece of either kind.

    Returns
    -------
    bool
        Keys have an equals sign, tables brackets, and rows neither.
    """
    lines = (tidy(line.partition("#")[0]) for line in text.split("\n"))
    first = next((line for line in lines if line), "")
    return looks_like_a_row(first) and "=" not in first and "[" not in first


def read_piece(text: str, *, name: str) -> Piece:
    """Piece from the text of a ``.toml`` file.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        Its name, for messages.

    Returns
    -------
    Piece
        Rows, strokes and labels; where rows last until the next call, each row once after one of the opening.

    Raises
    ------
    InputError
        Where it cannot be rung as written; key, value and likely cause are named.
    """
    keys = read_toml(text, name=name)
    keys.allow((*PIECE_KEYS, *PART_KEYS))
    _check_version(keys)
    bells = _bells(keys)
    reader = PartReader(bells)
    passes = reader.passes(keys)
    free = _free(reader, keys)
    opening = keys.whole("opening_rows", 0, least=0, most=_MOST_ROUNDS)
    closing = keys.whole("closing_rows", 0, least=0, most=_MOST_ROUNDS)
    opening = 1 if free else opening
    start = row_or_name(keys.text("start", "Rounds"), bells, where=keys.at("start"))[0]
    begin_at = keys.whole("begin_at_change", 1, least=1, most=MOST_CHANGES) - 1
    refuse_too_many(passes.about(), name)
    ringing = Ringing(start, begin_at=begin_at, where=name)
    passes.ring(ringing)
    come_home(ringing)
    if ringing.begin_at:
        raise InputError(keys.at("begin_at_change"), "has no meaning here: no method is rung")
    changes = ringing.rows()
    held_at_end = _rounds_at_end(changes)
    _check_length(keys, len(changes) - held_at_end)
    rows = np.concatenate([np.tile(start, (opening, 1)), changes, np.tile(ringing.row, (closing, 1))])
    return Piece(
        title=keys.text("title", reader.title(len(changes) - held_at_end)),
        rows=rows,
        opening=opening,
        closing=closing + held_at_end,
        first_change_stroke=cast(Stroke, keys.choice("first_stroke", get_args(Stroke))),
        labels=(*ringing.labels(opening), *_labels(keys, opening, len(rows))),
        free_lengths=free,
    )


def _rounds_at_end(changes: NDArray[np.int8]) -> int:
    """How many rows follow the return to rounds where rounds is held at the end; 0 where all is rounds."""
    is_rounds = (changes == rounds(changes.shape[1])).all(axis=1)
    return 0 if is_rounds.all() else max(int(np.argmin(is_rounds[::-1])) - 1, 0)


def _check_version(keys: Keys) -> None:
    if "piece" not in keys:
        raise InputError(keys.where, f"has no version: the first line of a piece is piece = {VERSION}")
    version = keys.of_kind("piece", int)
    if version != VERSION:
        raise InputError(
            keys.at("piece"),
            f"{shown(version)} is no version this Evenblow reads ({VERSION} is): was it written by a newer one?",
        )


def _bells(keys: Keys) -> int:
    """How many bells ring: as given, or as the first method or written row has it."""
    if "bells" in keys:
        return keys.whole("bells", 0, least=FEWEST_BELLS, most=MOST_BELLS)
    bells = _bells_written(keys)
    if bells is None:
        raise InputError(keys.where, "says not how many bells ring: add bells = 6 (the tenor that covers counts too)")
    return bells


def _bells_written(keys: Keys, depth: int = 0) -> int | None:
    """Number of bells of the first thing that shows it; None where nothing does."""
    for key in ("start", "rows"):
        if key in keys and looks_like_a_row(written := keys.texts(key)[0]):
            return len(tidy(written))
    if "part" in keys and depth <= MOST_BELLS:
        found = (_bells_written(part_keys(keys, inner), depth + 1) for inner in keys.tables("part"))
        return next((bells for bells in found if bells is not None), None)
    title = keys.text("method")
    if not title or any(key in keys.own for key in ("call_changes", "rows")):
        return None
    stage = stage_of(title)
    if stage is None and "notation" not in keys:
        stage = method_named(title, where=keys.at("method")).stage
    fixed = set(keys.wholes("fixed", least=1, most=MOST_BELLS))
    return None if stage is None else stage + len(fixed) + covers(keys)


def _free(reader: PartReader, keys: Keys) -> bool:
    """Whether rows last until the next call."""
    if len(reader.free) > 1:
        raise InputError(
            keys.where, "some rows last until the next call and others not: give all of them lengths, or none"
        )
    if True not in reader.free:
        return False
    for key in ("opening_rows", "closing_rows", "changes"):
        if key in keys:
            raise InputError(keys.at(key), "cannot be known where rows last until the next call: take it out")
    return True


def _check_length(keys: Keys, changes: int) -> None:
    """Refuse a piece that is not as long as it says."""
    wanted = keys.whole("changes", changes, least=1, most=MOST_CHANGES)
    if wanted != changes:
        raise InputError(keys.at("changes"), f"{wanted:,} are wanted, but what is written comes to {changes:,}")


def _labels(keys: Keys, opening: int, rows: int) -> tuple[Label, ...]:
    """Words that a piece of written rows puts beside them."""
    labels = []
    for label in keys.tables("labels"):
        label.allow(("change", "kind", "text"))
        change = label.whole("change", 0, least=1, most=rows - opening)
        kind = label.choice("kind", ("", *get_args(LabelKind)))
        if not change or not kind or "text" not in label:
            raise InputError(
                label.where, 'needs change, kind and text, such as {change = 4, kind = "call", text = "bob"}'
            )
        labels.append(Label(change - 1 + opening, cast(LabelKind, kind), label.text("text")))
    return tuple(labels)
