"""An archived contest → every difference between its result as published and its result recomputed now.

An archive is what `judging.jobs.judge_folder` writes: a contest folder with strike logs, ``result.json`` and the list
of its files, as a folder or as one ZIP file. Recordings are not needed: the strike logs are the evidence that was
counted.
"""

import json
import stat
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from judging.contest import judge_contest, result_document
from judging.errors import InputError, JudgingError
from judging.store.archive_list import LIST_NAME, changes_since, read_json, read_list
from judging.store.contest_folder import read_folder

RESULT_NAME = "result.json"
#: A contest of a hundred bands holds fewer and smaller files than this, recordings apart.
MOST_FILES = 10_000
MOST_BYTES = 2 * 2**30
#: What the ZIP reader raises where bits are not what they were.
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError)


def recount(archive: Path) -> tuple[str, ...]:
    """Every difference between the archived result and the same rules applied again.

    Parameters
    ----------
    archive : Path
        A folder or a ZIP file.

    Returns
    -------
    tuple of str
        One sentence a difference, such as ``"places, 1, mark: was 32.5, is now 33"``: first of the files, against the
        archive's own list of them, then of the result. Empty where all agrees.

    Raises
    ------
    InputError
        Where it is no archive, or cannot be read although its files are those of its list.
    """
    with unpacked(archive) as folder:
        if not any((folder / name).is_file() for name in (LIST_NAME, RESULT_NAME)):
            raise InputError(str(archive), f"is no archive: it has neither {LIST_NAME} nor {RESULT_NAME}")
        befallen: tuple[str, ...] = ()
        try:
            listed = read_list(folder)
            befallen = tuple(changes_since(folder, listed))
            return (*befallen, *_since_published(folder, int(listed.get("revision", 1))))
        except JudgingError as error:
            told = str(error).replace(f"{folder}/", "")
            if befallen:
                return (*befallen, f"The result cannot be computed again: {told}")
            raise InputError(str(archive), told) from None


def _since_published(folder: Path, revision: int) -> Iterator[str]:
    """Every difference between the result as it was published and as it is computed now."""
    if not (folder / RESULT_NAME).is_file():
        raise InputError(RESULT_NAME, "there is none; was the archive taken before a result was published?")
    before = read_json(folder / RESULT_NAME)
    if not isinstance(before, dict):
        raise InputError(RESULT_NAME, "is no result; was it written by something else?")
    found = read_folder(folder)
    if found.recordings:
        missing = ", ".join(sorted(found.recordings))
        raise InputError("recordings", f"there is no strike log of {missing}; judge the folder first")
    day = replace(found.day, revision=revision)
    now = json.loads(json.dumps(result_document(judge_contest(day), day)))
    yield from _differences(_once(before), _once(now), "")


def _once(document: dict[str, Any]) -> dict[str, Any]:
    """Leave out what stands at the top for readers of the first section only, and again under ``sections``."""
    repeated = (document.get("sections") or [{}])[0]
    return {key: value for key, value in document.items() if key not in repeated}


def _by_entry(lines: list[Any]) -> Any:  # noqa: ANN401 - any JSON value
    """Turn lines about entries into a mapping, so that an entry is compared with itself wherever it stands."""
    if all(isinstance(line, dict) and "entry" in line for line in lines):
        return {line["entry"]: line for line in lines}
    return {str(index): line for index, line in enumerate(lines, 1)}


def _differences(before: Any, now: Any, where: str) -> Iterator[str]:  # noqa: ANN401 - any JSON value
    if isinstance(before, dict) and isinstance(now, dict):
        for key in dict.fromkeys((*before, *now)):
            yield from _differences(before.get(key), now.get(key), f"{where}, {key}" if where else key)
    elif isinstance(before, list) and isinstance(now, list):
        yield from _differences(_by_entry(before), _by_entry(now), where)
    elif before != now:
        yield f"{where}: was {_said(before)}, is now {_said(now)}"


def _said(value: object) -> str:
    return "absent" if value is None else json.dumps(value, ensure_ascii=False)


@contextmanager
def unpacked(archive: Path) -> Iterator[Path]:
    """Yield an archive as a folder.

    Parameters
    ----------
    archive : Path
        A folder, which is yielded as it is, or a ZIP file.

    Yields
    ------
    Path
        Gone afterwards, where it was a ZIP file.

    Raises
    ------
    InputError
        Where it is neither, not whole, too large, or would unpack outside its folder.
    """
    if archive.is_dir():
        yield archive
        return
    if not archive.is_file():
        raise InputError(str(archive), "there is no such archive; give a folder or a ZIP file")
    with tempfile.TemporaryDirectory() as folder:
        try:
            with zipfile.ZipFile(archive) as packed:
                _check(archive, packed)
                packed.extractall(folder)
        except _BROKEN as error:
            raise InputError(str(archive), f"is no whole ZIP file ({error})") from None
        yield Path(folder)


def _check(archive: Path, packed: zipfile.ZipFile) -> None:
    files = packed.infolist()
    size = sum(file.file_size for file in files)
    if len(files) > MOST_FILES or size > MOST_BYTES:
        raise InputError(
            str(archive),
            f"would unpack to {len(files):,} files and {size:,} bytes, more than {MOST_FILES:,} and {MOST_BYTES:,}",
        )
    for file in files:
        parts = file.filename.replace("\\", "/").split("/")
        if file.filename.startswith("/") or ".." in parts or stat.S_ISLNK(file.external_attr >> 16):
            raise InputError(str(archive), f"holds '{file.filename[:80]}', which leads out of the archive")
