r"""ENTRIES + SEED → ORDER OF RINGING, which anyone can work out again.

The draw
--------
For each entry write the seed, a line feed, and the entry's identifier; take the SHA-256 of these bytes (UTF-8) as
hexadecimal digits; ring in ascending order of the digits. In a shell, for one entry::

    printf '%s\n%s' "$seed" "$entry" | sha256sum

No entry's number depends on which others are entered, so a withdrawal leaves the order of the rest as it was. Entries
incomplete at the draw ring after those that were drawn, in the order of the same digits; withdrawn ones do not ring.
"""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from judging.contest.values import Entry
from judging.errors import InputError, RuleError


def ticket(entry_id: str, seed: str) -> str:
    """Digits that decide an entry's place in the draw: SHA-256 of seed, line feed, identifier."""
    return hashlib.sha256(f"{seed}\n{entry_id}".encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Ticket:
    """One entry's lot: its identifier, the digits that decide its place, and whether it rings after the others."""

    entry: str
    digits: str
    is_late: bool = False


def tickets(entries: Iterable[Entry], seed: str) -> tuple[Ticket, ...]:
    """Return the lots of all entries in the order in which they ring; anyone can work them out again.

    Parameters
    ----------
    entries : iterable of Entry
        In any order; withdrawn ones are left out.
    seed : str
        As declared in the rules.

    Returns
    -------
    tuple of Ticket
        Before any swap.

    Raises
    ------
    InputError
        Where no seed is declared.
    """
    if not seed:
        raise InputError("draw, seed", "none is declared; the draw follows from it, so that anyone can run it again")
    lots = [Ticket(entry.id, ticket(entry.id, seed), entry.late) for entry in entries if not entry.withdrawn]
    return tuple(sorted(lots, key=lambda lot: (lot.is_late, lot.digits)))


def draw(entries: Iterable[Entry], seed: str) -> tuple[str, ...]:
    """Draw the order of ringing.

    Parameters
    ----------
    entries : iterable of Entry
        In any order; withdrawn ones are left out.
    seed : str
        As declared in the rules.

    Returns
    -------
    tuple of str
        The same for the same entries and seed, on any machine.

    Raises
    ------
    InputError
        Where no seed is declared.
    """
    return tuple(lot.entry for lot in tickets(entries, seed))


def swap(order: Sequence[str], first: str, second: str) -> tuple[str, ...]:
    """Order of ringing with two entries exchanged, as the organiser allows with the bands' consent.

    Raises
    ------
    RuleError
        Where one of them is not in the order.
    """
    for entry in (first, second):
        if entry not in order:
            raise RuleError(f"{entry} is not in the order of ringing, so it cannot be exchanged")
    exchanged = {first: second, second: first}
    return tuple(exchanged.get(entry, entry) for entry in order)


def numbered(entries: Iterable[Entry], order: Sequence[str]) -> tuple[Entry, ...]:
    """Entries with their number in the order of ringing, by which judges know them.

    Parameters
    ----------
    entries : iterable of Entry
        In any order, which is kept.
    order : sequence of str
        Identifiers in the order of ringing.

    Returns
    -------
    tuple of Entry
        ``number`` from 1; None where an entry is not in the order.
    """
    numbers = {entry: number for number, entry in enumerate(order, start=1)}
    return tuple(replace(entry, number=numbers.get(entry.id)) for entry in entries)
