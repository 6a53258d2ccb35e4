"""ARCHIVE'S FILES ↔ ARCHIVE.JSON, the list of them, by which what is missing, changed or slipped in is named.

The list shows what befell an archive by accident or by an unskilled hand; whoever writes the list anew too is found by
the rules' fingerprint and the head of the audit chain, which every paper prints.
"""

import json
from collections.abc import Collection, Iterator, Mapping
from hashlib import sha256
from itertools import pairwise
from pathlib import Path
from typing import Any

from judging import __version__
from judging.errors import InputError
from judging.files import read_bytes, read_text
from judging.store.audit import Head, hash_of
from judging.store.service_tables import StoredAudit

LIST_NAME = "archive.json"
TRAIL_NAME = "audit.jsonl"
_FORM = "evenblow archive 1"
#: Folders whose every file is part of what a result is made from, or of the result.
_WHOLE = ("pieces", "sheets", "logs", "counts", "second")
#: Files at the top of which a reader takes note where they are there.
_NOTED = ("order.txt", "heard.json", TRAIL_NAME)


def list_of(files: Mapping[str, bytes], *, revision: int = 1, **more: str) -> bytes:
    """Return the text of ``archive.json``.

    Parameters
    ----------
    files : mapping of str to bytes
        Every other file of the archive, by its path within.
    revision : int
        Revision of the result.
    **more : str
        What else is said of the contest, such as the head of the audit chain.

    Returns
    -------
    bytes
        The same for the same files.
    """
    digests = {name: sha256(content).hexdigest() for name, content in files.items()}
    listed = {"form": _FORM, "version": __version__, "revision": revision, **more, "files": digests}
    return json.dumps(listed, indent=1, sort_keys=True).encode()


def read_list(folder: Path) -> dict[str, Any]:
    """What ``archive.json`` says; empty where there is none.

    Parameters
    ----------
    folder : Path
        An archive, unpacked.

    Returns
    -------
    dict
        ``form``, ``version``, ``revision``, ``files`` (a digest a file) and, of a service, ``contest``, ``phase`` and
        ``audit_head``.

    Raises
    ------
    InputError
        Where it is no list of an archive.
    """
    path = folder / LIST_NAME
    if not path.is_file():
        return {}
    listed = read_json(path)
    if not isinstance(listed, dict) or listed.get("form") != _FORM:
        raise InputError(str(path), f'is no list of an archive; "form" must be "{_FORM}"')
    if not isinstance(listed.get("files"), dict) or not isinstance(listed.get("revision"), int):
        raise InputError(str(path), 'lacks "files" or "revision"; was it cut short or written by something else?')
    return listed


def read_json(path: Path) -> Any:  # noqa: ANN401 - any JSON value
    """Value of a JSON file.

    Raises
    ------
    InputError
        Where it is none.
    """
    try:
        return json.loads(read_text(path))
    except json.JSONDecodeError as error:
        raise InputError(str(path), f"is no JSON (line {error.lineno}); was it cut short?") from None
    except RecursionError:
        raise InputError(str(path), "is no JSON that can be read: a nest of lists in it has no end") from None


def changes_since(folder: Path, listed: Mapping[str, Any]) -> Iterator[str]:
    """Every way in which an archive's files are not those that its list names.

    Parameters
    ----------
    folder : Path
        An archive, unpacked.
    listed : mapping
        Its list.

    Yields
    ------
    str
        A sentence each.
    """
    if not listed:
        yield f"{LIST_NAME}: is missing, so that nothing shows whether the other files are as they were"
        return
    files: Mapping[str, Any] = listed["files"]
    for name, digest in sorted(files.items()):
        path = folder / name
        if not path.resolve().is_relative_to(folder.resolve()):
            yield f"{name}: is listed, but leads out of the archive"
        elif not path.is_file():
            yield f"{name}: is missing"
        elif sha256(read_bytes(path)).hexdigest() != digest:
            yield f"{name}: was changed after the archive was made"
    for name in _found(folder):
        if name not in files:
            yield f"{name}: was added after the archive was made"
    if TRAIL_NAME in files and (folder / TRAIL_NAME).is_file():
        yield from _broken(folder / TRAIL_NAME, str(listed.get("audit_head", "")))


def no_longer_in(listed: Mapping[str, Any], files: Collection[str]) -> Iterator[str]:
    """Files of an earlier archive that one written over it does not have, such as those of a band that withdrew.

    Parameters
    ----------
    listed : mapping
        The earlier archive's list.
    files : collection of str
        What the new one holds.

    Yields
    ------
    str
        Paths within the archive, in its own folders alone.
    """
    for name in sorted(set(listed.get("files", ())) - set(files)):
        *folders, file = name.split("/")
        if file not in {"", ".", ".."} and (folders in [[part] for part in (*_WHOLE, "papers")] or name in _NOTED):
            yield name


def _found(folder: Path) -> Iterator[str]:
    yield from (name for name in _NOTED if (folder / name).is_file())
    for part in _WHOLE:
        inside = (folder / part).iterdir() if (folder / part).is_dir() else ()
        yield from sorted(f"{part}/{path.name}" for path in inside if not path.name.startswith("."))


def _broken(path: Path, printed: str) -> Iterator[str]:
    """Where a contest's part of the audit chain does not hold; entries of other contests are not in it."""
    entries: list[StoredAudit] = []
    for number, line in enumerate(read_text(path).splitlines(), 1):
        try:
            entries.append(StoredAudit(**json.loads(line)))
            is_whole = entries[-1].hash == hash_of(entries[-1])
        except (ValueError, TypeError, AttributeError, RecursionError):
            yield f"{path.name}, line {number}: is no entry of an audit chain"
            return
        if not is_whole:
            yield f"{path.name}: entry {entries[-1].seq} was changed after it was written"
    for before, after in pairwise(entries):
        if after.seq <= before.seq:
            yield f"{path.name}: entry {after.seq} stands after entry {before.seq}"
        elif after.seq == before.seq + 1 and after.prev_hash != before.hash:
            yield f"{path.name}: entry {after.seq} does not follow from entry {before.seq}"
    try:
        end = Head.read(printed)
    except InputError:
        yield f"{LIST_NAME}: its audit_head is none"
        return
    last = max(entries, key=lambda entry: entry.seq, default=None)
    if last is not None and (last.seq > end.seq or (last.seq == end.seq and last.hash != end.hash)):
        yield f"{path.name}: entry {last.seq} is not what the archive's head of the chain, {end.seq}, was made from"
