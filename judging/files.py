"""Files in and out: small texts and logs read with a clear message, results written whole or not at all."""

import os
import tempfile
from pathlib import Path

from judging.errors import InputError

#: Of a file that is read whole: far more than a strike log of a peal.
MOST_BYTES = 64 * 2**20


def read_text(path: Path, *, most: int = MOST_BYTES) -> str:
    """Text of a file in UTF-8.

    Parameters
    ----------
    path : Path
        The file.
    most : int
        The most bytes that are read.

    Returns
    -------
    str

    Raises
    ------
    InputError
        Where it is missing, a folder, unreadable, too large or not text.
    """
    try:
        _refuse_larger(path, most)
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise InputError(str(path), "there is no such file; is the name spelt right?") from None
    except IsADirectoryError:
        raise InputError(str(path), "is a folder where a file is needed") from None
    except UnicodeDecodeError as error:
        raise InputError(
            str(path),
            f"is not UTF-8 text (byte {error.start + 1}); was it saved by a word processor or is it a recording?",
        ) from None
    except OSError as error:
        raise InputError(str(path), f"cannot be read ({error.strerror})") from None


def read_bytes(path: Path, *, most: int = MOST_BYTES) -> bytes:
    """Bytes of a file that is not a recording.

    Parameters
    ----------
    path : Path
        The file.
    most : int
        The most bytes that are read.

    Returns
    -------
    bytes

    Raises
    ------
    InputError
        Where it is missing, a folder, unreadable or too large.
    """
    try:
        _refuse_larger(path, most)
        return path.read_bytes()
    except FileNotFoundError:
        raise InputError(str(path), "there is no such file; is the name spelt right?") from None
    except IsADirectoryError:
        raise InputError(str(path), "is a folder where a file is needed") from None
    except OSError as error:
        raise InputError(str(path), f"cannot be read ({error.strerror})") from None


def _refuse_larger(path: Path, most: int) -> None:
    size = path.stat().st_size
    if size > most:
        raise InputError(str(path), f"has {size:,} bytes, more than {most:,}; is it a recording and not a strike log?")


def check_can_be_written(path: Path) -> None:
    """Refuse a file or folder that could not be written, before any work is done for it; nothing is made.

    Parameters
    ----------
    path : Path
        Where something will be written; may not be there yet.

    Raises
    ------
    InputError
        Where what is there already is in the way, or not the caller's to write.
    """
    there = next(one for one in (path, *path.absolute().parents) if one.exists())
    if there != path and not there.is_dir():
        raise InputError(str(path), f"cannot be written: {there} is a file and not a folder")
    if not os.access(there, os.W_OK):
        raise InputError(str(path), f"cannot be written: {there} is not yours to write")


def write_file(path: Path, content: bytes) -> None:
    """Write a file whole: a reader, or a power cut, finds the old content or the new, never half.

    Parameters
    ----------
    path : Path
        Where; missing folders are made.
    content : bytes
        What.

    Raises
    ------
    InputError
        Where it cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=f".{path.name}.", delete=False) as file:
            half = Path(file.name)
            try:
                file.write(content)
                file.flush()  # a full disk is told here, while the half can still be taken away
                half.chmod(0o644)  # as any other file: a temporary one is the owner's alone
            except BaseException:
                half.unlink()
                raise
        half.replace(path)
    except OSError as error:
        raise InputError(str(path), f"cannot be written ({error.strerror}); is the folder there, and yours?") from None
