"""All papers of a contest in one ZIP file, the same bytes for the same papers, made and sent one after another."""

import io
import zipfile
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from typing import BinaryIO, cast

from judging.errors import InputError

#: The earliest time a ZIP file can hold: no clock goes into the bytes.
_NO_TIME = (1980, 1, 1, 0, 0, 0)

#: Holds what could not be made, so that one bad paper does not cost the others.
NOT_MADE = "NOT-MADE.txt"


class _Unsent(io.RawIOBase):
    """Bytes written and not sent yet; a ZIP that is sent as it grows cannot be gone back in."""

    def __init__(self) -> None:
        self._bytes = bytearray()

    def writable(self) -> bool:
        return True

    def write(self, data: bytes) -> int:  # type: ignore[override]  # zipfile writes bytes and nothing else
        self._bytes += data
        return len(data)

    def take(self) -> bytes:
        taken = bytes(self._bytes)
        self._bytes.clear()
        return taken


def bundled(makers: Mapping[str, Callable[[], bytes]]) -> Iterator[bytes]:
    """One file of many, in parts: each paper is made when the ones before it have been taken.

    Parameters
    ----------
    makers : mapping of str to callable
        What makes each paper, by name, such as ``"bands/fault-sheet-wick.pdf"``; folders by a slash.

    Returns
    -------
    iterator of bytes
        ZIP, in order of name. Where a paper cannot be made, `NOT_MADE` says why, last.

    Raises
    ------
    InputError
        At once, where there is no paper, or a name would be unpacked outside the folder.
    """
    if not makers:
        raise InputError("papers", "there are none to put together")
    for name in makers:
        if not name or name.startswith("/") or "\\" in name or ".." in name.split("/"):
            raise InputError(f"paper {name!r}", "is no name inside the file; it must not lead out of its folder")
    return _parts(makers)


def bundle(papers: Mapping[str, bytes]) -> bytes:
    """One file of many that are made already; `bundled` has the particulars.

    Parameters
    ----------
    papers : mapping of str to bytes
        Content by name.

    Returns
    -------
    bytes
        ZIP, in order of name.

    Raises
    ------
    InputError
        As `bundled` does.
    """
    return b"".join(bundled({name: partial(bytes, content) for name, content in papers.items()}))


def _parts(makers: Mapping[str, Callable[[], bytes]]) -> Iterator[bytes]:
    unsent, failed = _Unsent(), []
    with zipfile.ZipFile(cast(BinaryIO, unsent), "w") as file:
        for name in sorted(makers):
            try:
                content = makers[name]()
            except InputError as error:
                failed.append(f"{name}: {error}\n")
                continue
            _add(file, name, content)
            yield unsent.take()
        if failed:
            _add(file, NOT_MADE, "".join(failed).encode())
    yield unsent.take()


def _add(file: zipfile.ZipFile, name: str, content: bytes) -> None:
    about = zipfile.ZipInfo(name, _NO_TIME)
    about.compress_type = zipfile.ZIP_DEFLATED
    about.external_attr = 0o644 << 16
    file.writestr(about, content)
