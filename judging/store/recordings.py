"""Recordings as files named by their own SHA-256, so that a name cannot lie and the same recording is kept once.

A recording is written to a temporary file in the same folder, synced, renamed, and the folder synced; only then may
a row of the database name it. A cut upload leaves a temporary file, which `Recordings.sweep` removes.
"""

import errno
import hashlib
import os
import re
import secrets
import shutil
import time
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from judging.errors import InputError

BLOCK_BYTES = 1024 * 1024
_NAME = re.compile(r"[0-9a-f]{64}")
_PART = ".part"


@dataclass(frozen=True, slots=True)
class Kept:
    """What became of something written.

    Parameters
    ----------
    sha256 : str
        Its name, 64 hexadecimal digits.
    size_bytes : int
        Its length.
    """

    sha256: str
    size_bytes: int


class Incoming:
    """A recording on its way in; comes from `Recordings.incoming`."""

    def __init__(self, path: Path, name: str, max_bytes: int, min_free_bytes: int) -> None:
        self.kept: Kept | None = None
        self._name = name
        self._max_bytes = max_bytes
        self._min_free_bytes = min_free_bytes
        self._digest = hashlib.sha256()
        self._size_bytes = 0
        self._path = path
        self._file = path.open("xb")

    def write(self, block: bytes) -> None:
        """Append a block.

        Raises
        ------
        InputError
            Larger than the limit, or the disk is full.
        """
        self._size_bytes += len(block)
        if self._size_bytes > self._max_bytes:
            raise InputError(
                self._name,
                f"is larger than {self._max_bytes / 1e6:,.0f} MB, the most that is taken; "
                "cut it to the ringing, or give it as FLAC, MP3 or Opus",
            )
        with _disk_errors(self._name):
            if shutil.disk_usage(self._path.parent).free < self._min_free_bytes + len(block):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            self._file.write(block)
        self._digest.update(block)

    def finish(self) -> Kept:
        """Make the file permanent under its own name.

        Returns
        -------
        Kept
            Its SHA-256 and length.

        Raises
        ------
        InputError
            It is empty, or the disk is full.
        """
        if self._size_bytes == 0:
            raise InputError(self._name, "is empty (0 bytes); was the recorder stopped before it wrote anything")
        with _disk_errors(self._name):
            self._file.flush()
            os.fsync(self._file.fileno())
            self._file.close()
            kept = Kept(self._digest.hexdigest(), self._size_bytes)
            self._path.replace(self._path.with_name(kept.sha256))
            sync_folder(self._path.parent)
        self.kept = kept
        return kept

    def abandon(self) -> None:
        """Leave nothing behind; harmless after `finish`."""
        self._file.close()
        self._path.unlink(missing_ok=True)


class Recordings:
    """The folder of recordings.

    Parameters
    ----------
    folder : Path
        An existing folder on a local disk.
    max_bytes : int
        Largest recording taken.
    min_free_bytes : int
        Space left free on the disk.
    """

    def __init__(self, folder: Path, *, max_bytes: int, min_free_bytes: int = 0) -> None:
        self.folder = folder
        self.max_bytes = max_bytes
        self.min_free_bytes = min_free_bytes

    @contextmanager
    def incoming(self, name: str) -> Iterator[Incoming]:
        """Take in a recording block by block; without `Incoming.finish` nothing stays.

        Parameters
        ----------
        name : str
            The giver's name for it, for messages only.

        Yields
        ------
        Incoming
            Has ``write(block)`` and ``finish() -> Kept``.
        """
        with _disk_errors(name):
            part = Incoming(
                self.folder / f"incoming-{secrets.token_hex(16)}{_PART}", name, self.max_bytes, self.min_free_bytes
            )
        try:
            yield part
        finally:
            part.abandon()

    def keep(self, blocks: Iterable[bytes], *, name: str) -> Kept:
        """Keep a recording given as blocks, in one go.

        Parameters
        ----------
        blocks : iterable of bytes
            Its bytes in order.
        name : str
            The giver's name for it, for messages only.

        Returns
        -------
        Kept
            Its SHA-256 and length.

        Raises
        ------
        InputError
            Empty, larger than the limit, or the disk is full.
        """
        with self.incoming(name) as part:
            for block in blocks:
                part.write(block)
            return part.finish()

    def keep_file(self, path: Path) -> Kept:
        """Keep a copy of a file; returns and errors as in `keep`."""
        with path.open("rb") as file:
            return self.keep(iter(lambda: file.read(BLOCK_BYTES), b""), name=path.name)

    def path(self, sha256: str) -> Path:
        """Path of a recording that is there, its bytes not read.

        Raises
        ------
        InputError
            There is none of that name.
        """
        path = self.folder / sha256
        if not _NAME.fullmatch(sha256) or not path.is_file():
            raise InputError(f"recording {sha256[:12]}", "is not here; it was erased, or the folder was not restored")
        return path

    def erase(self, sha256: str) -> None:
        """Remove a recording for good; harmless where it is gone."""
        if _NAME.fullmatch(sha256):
            (self.folder / sha256).unlink(missing_ok=True)
            sync_folder(self.folder)

    def names(self) -> list[str]:
        """Return the SHA-256 of every recording that is there, in order."""
        return sorted(path.name for path in self.folder.iterdir() if _NAME.fullmatch(path.name))

    def sweep(self, wanted: Collection[str], *, older_than_s: float = 86_400.0) -> tuple[str, ...]:
        """Names of files removed: cut uploads, and recordings that no row wants.

        Parameters
        ----------
        wanted : collection of str
            SHA-256 of every recording that is referred to.
        older_than_s : float
            Younger files are left: an upload may be on its way, and its row not yet written.

        Returns
        -------
        tuple of str
            File names removed, in order.
        """
        before = time.time() - older_than_s
        removed = []
        for path in sorted(self.folder.iterdir()):
            unwanted = path.suffix == _PART or (_NAME.fullmatch(path.name) and path.name not in wanted)
            if unwanted and path.stat().st_mtime <= before:
                path.unlink()
                removed.append(path.name)
        return tuple(removed)


def verify_file(path: Path, sha256: str) -> None:
    """Read a file through and compare.

    Raises
    ------
    InputError
        Its bytes do not have this SHA-256.
    """
    with path.open("rb") as file:
        found = hashlib.file_digest(file, "sha256").hexdigest()
    if found != sha256:
        raise InputError(f"recording {sha256[:12]}", "was changed on the disk since it was taken; restore it")


def sync_folder(folder: Path) -> None:
    """Put a folder's names on the disk, where the system can (Windows cannot, and does not need it)."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def _disk_errors(name: str) -> Iterator[None]:
    """Say a full disk in words."""
    try:
        yield
    except OSError as problem:
        if problem.errno in {errno.ENOSPC, errno.EDQUOT}:
            raise InputError(
                name, "could not be kept: the disk is nearly full; free some space and send it again"
            ) from problem
        raise
