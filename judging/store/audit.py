"""The audit chain: who did what, when, to what, written in the same transaction as the change itself.

Each entry's hash covers the stored text of its fields and the hash before it, so that an entry cannot be changed,
dropped or slipped in without every later hash changing::

    hash = SHA-256( domain ‖ prev_hash ‖ for each field: length (8 bytes, big-endian) ‖ UTF-8 text )

Lengths keep two neighbouring fields from exchanging their ends. A chain shows tampering only against a copy
elsewhere: therefore every paper prints the `head` of the day, and `verify_chain` takes it back.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from judging.errors import InputError
from judging.store.columns import utc_now
from judging.store.service_tables import StoredAudit

#: What is hashed first, so that a hash can never be mistaken for one of another kind or version.
DOMAIN = b"evenblow audit chain 1\n"

#: The hash before the first entry.
BEGINNING = "0" * 64


@dataclass(frozen=True, slots=True)
class Head:
    """The end of the chain, as it is printed on papers.

    Parameters
    ----------
    seq : int
        Number of entries.
    hash : str
        Hash of the last, 64 hexadecimal digits.
    """

    seq: int
    hash: str

    def __str__(self) -> str:
        """Return the form that is printed, such as ``"128-3f9a…"`` (in full)."""
        return f"{self.seq}-{self.hash}"

    @classmethod
    def read(cls, text: str) -> "Head":
        """Head from its printed form.

        Parameters
        ----------
        text : str
            As `__str__` gives it.

        Returns
        -------
        Head
            The same head.

        Raises
        ------
        InputError
            The text is no number, hyphen and 64 hexadecimal digits.
        """
        seq, _, digest = text.strip().partition("-")
        if not (seq.isascii() and seq.isdigit() and len(digest) == 64 and set(digest) <= set("0123456789abcdef")):
            raise InputError(
                "audit head",
                f"{text!r} is not a number, a hyphen and 64 of 0-9 and a-f; was it copied from the paper in full",
            )
        return cls(int(seq), digest)


def audit(
    session: Session,
    *,
    who: str,
    what: str,
    contest: str = "",
    about: str = "",
    before: Mapping[str, Any] | str = "",
    after: Mapping[str, Any] | str = "",
    reason: str = "",
) -> StoredAudit:
    """Entry added to the chain, in the caller's own transaction.

    Parameters
    ----------
    session : Session
        A writing session of the store, in which the change itself is made too.
    who : str
        Role and whom it stands for, such as ``"organiser"`` or ``"judge a"``; never a secret.
    what : str
        The deed in words, such as ``"sheet signed"``.
    contest, about : str
        Slug of the contest, and what in it was touched, such as ``"entry gamlingay"``.
    before, after : mapping or str
        What was changed; a mapping is kept as JSON with sorted keys.
    reason : str
        Why, where a reason is asked for.

    Returns
    -------
    StoredAudit
        The new entry.
    """
    session.flush()
    last = head(session)
    entry = StoredAudit(
        seq=last.seq + 1,
        at=utc_now().isoformat(timespec="microseconds"),
        who=who,
        what=what,
        contest=contest,
        about=about,
        before=_text(before),
        after=_text(after),
        reason=reason,
        prev_hash=last.hash,
        hash="",
    )
    entry.hash = hash_of(entry)
    session.add(entry)
    session.flush()
    return entry


def head(session: Session) -> Head:
    """Return the present end of the chain (seq 0 and all zeros before the first entry)."""
    last = session.exec(select(StoredAudit).order_by(col(StoredAudit.seq).desc()).limit(1)).first()
    return Head(0, BEGINNING) if last is None else Head(last.seq, last.hash)


def hash_of(entry: StoredAudit) -> str:
    """Return the hash an entry should have, from its stored fields."""
    digest = hashlib.sha256(DOMAIN)
    digest.update(bytes.fromhex(entry.prev_hash))
    fields = (entry.at, entry.who, entry.what, entry.contest, entry.about, entry.before, entry.after, entry.reason)
    for text in (str(entry.seq), *fields):
        encoded = text.encode()
        digest.update(len(encoded).to_bytes(8, "big"))
        digest.update(encoded)
    return digest.hexdigest()


def verify_chain(session: Session, printed: Head | None = None) -> Head:
    """Head of a chain that was read through and found whole.

    Parameters
    ----------
    session : Session
        A reading or writing session.
    printed : Head or None
        A head from a paper: the chain must still hold it.

    Returns
    -------
    Head
        The present end.

    Raises
    ------
    InputError
        The chain is broken, with the first entry that does not fit; or it does not hold the printed head.
    """
    end = Head(0, BEGINNING)
    printed_is_met = printed is None or printed == end
    for entry in session.exec(select(StoredAudit).order_by(col(StoredAudit.seq)).execution_options(yield_per=1000)):
        if entry.seq != end.seq + 1:
            raise InputError("audit chain", f"entry {end.seq + 1} is missing: after {end.seq} comes {entry.seq}")
        if entry.prev_hash != end.hash:
            raise InputError("audit chain", f"entry {entry.seq} does not follow from entry {end.seq}")
        if entry.hash != hash_of(entry):
            raise InputError("audit chain", f"entry {entry.seq} was changed after it was written")
        end = Head(entry.seq, entry.hash)
        printed_is_met = printed_is_met or printed == end
    if printed is not None and not printed_is_met:
        raise InputError(
            "audit chain",
            f"it is whole, but entry {printed.seq} does not have the hash printed on the paper: "
            "either the paper is another service's, or the whole chain was written anew",
        )
    return end


def _text(value: Mapping[str, Any] | str) -> str:
    """Return a change as canonical text; what JSON does not know (decimals, moments) by its own text."""
    return value if isinstance(value, str) else json.dumps(value, sort_keys=True, ensure_ascii=False, default=str)
