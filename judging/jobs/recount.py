"""An archived contest → every difference between its result as published and its result recomputed now.

An archive is what `judging.jobs.judge_folder` writes: a contest folder with strike logs and ``result.json``, as a
folder or as one ZIP file. Recordings are not needed: the strike logs are the evidence that was counted.
"""

import json
import stat
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from judging.contest import judge_contest, result_document
from judging.errors import InputError
from judging.files import read_text
from judging.store.contest_folder import read_folder

#: A contest of a hundred bands holds fewer and smaller files than this, recordings apart.
MOST_FILES = 10_000
MOST_BYTES = 2 * 2**30


def recount(archive: Path) -> tuple[str, ...]:
    """Every difference between the archived result and the same rules applied again.

    Parameters
    ----------
    archive : Path
        A folder or a ZIP file.

    Returns
    -------
    tuple of str
        One sentence a difference, such as ``"places, 1, mark: was 32.5, is now 33"``; empty where all agrees.

    Raises
    ------
    InputError
        Where the archive is not whole or holds no result.
    """
    with unpacked(archive) as folder:
        kept = read_text(folder / "result.json")
        try:
            before = json.loads(kept)
        except json.JSONDecodeError as error:
            raise InputError(
                str(folder / "result.json"), f"is no JSON (line {error.lineno}); was it cut short?"
            ) from None
        found = read_folder(folder)
        if found.recordings:
            missing = ", ".join(sorted(found.recordings))
            raise InputError(str(archive), f"holds recordings but no strike log of {missing}; judge the folder first")
        now = json.loads(json.dumps(result_document(judge_contest(found.day), found.day)))
        if not isinstance(before, dict):
            raise InputError(str(folder / "result.json"), "is no result; was it written by something else?")
        return tuple(_differences(_once(before), _once(now), ""))


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
        except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError) as error:
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
