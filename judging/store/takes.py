"""A recording that comes in slices while it is made: each on the disk before it is acknowledged, joined at the end.

A take is what one recorder makes between start and stop. Its slices may come in any order and more than once, after a
lost signal, a closed lid or a killed server; what is joined is the same. Nothing of a take is a recording of anybody
until it is joined.
"""

import os
import re
import secrets
import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from judging.errors import InputError, RuleError
from judging.store.recordings import BLOCK_BYTES, Kept, Recordings, sync_folder

#: A slice is some seconds of sound; half an hour of studio sound would be larger.
MOST_SLICE_BYTES = 8 * 1024 * 1024
#: A day in slices of two seconds.
MOST_SLICES = 50_000
#: Unfinished takes that nobody asks for any more are kept so long.
KEPT_S = 30 * 86_400.0
_TAKE = re.compile(r"[0-9a-f]{32}")
_SLICE = re.compile(r"\d{5}")
_JOINED = "joined"


@dataclass(frozen=True, slots=True)
class Take:
    """What is there of a take.

    Parameters
    ----------
    key : str
        The recorder's own name for it, 32 hexadecimal digits.
    slices : int
        How many there are from the first on without a gap.
    beyond : int
        How many there are after the first gap.
    size_bytes : int
        Of those without a gap.
    """

    key: str
    slices: int
    beyond: int
    size_bytes: int


class Takes:
    """The folder of takes that are not joined yet.

    Parameters
    ----------
    folder : Path
        On the disk of the recordings; made when it is needed.
    min_free_bytes : int
        Space left free on the disk.
    """

    def __init__(self, folder: Path, *, min_free_bytes: int = 0) -> None:
        self.folder = folder
        self.min_free_bytes = min_free_bytes

    def put(self, entry_id: int, key: str, number: int, data: bytes) -> None:
        """Keep a slice; when this returns it is on the disk.

        Parameters
        ----------
        entry_id : int
            Whose ringing it is.
        key : str
            Of the take.
        number : int
            Of the slice, from 0.
        data : bytes
            The slice. The same slice sent again changes nothing.

        Raises
        ------
        InputError
            No such name, number or size, or the disk is full.
        RuleError
            Another slice of that number is there.
        """
        if not 0 <= number < MOST_SLICES:
            raise InputError("slice", f"{number} is no slice of a recording; there are 0 to {MOST_SLICES - 1:,}")
        if not 0 < len(data) <= MOST_SLICE_BYTES:
            raise InputError("slice", f"has {len(data):,} bytes; from 1 to {MOST_SLICE_BYTES:,} are taken at once")
        folder = self._folder(entry_id, key)
        path = folder / f"{number:05}"
        if self.joined(entry_id, key):
            return
        if path.is_file():
            if path.read_bytes() != data:
                raise RuleError(f"Slice {number} of this recording is here already, and is another one.")
            return
        if shutil.disk_usage(self.folder.parent).free < self.min_free_bytes + len(data):
            raise InputError("slice", "could not be kept: the disk is nearly full; free some space, it is sent again")
        if not folder.is_dir():
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            sync_folder(self.folder.parent)
            sync_folder(self.folder)
        half = folder / f"{secrets.token_hex(8)}.part"
        with half.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        half.replace(path)
        sync_folder(folder)

    def take(self, entry_id: int, key: str) -> Take:
        """Return what is there of a take; nothing where it is not known."""
        numbers = self._numbers(self._folder(entry_id, key))
        whole = next((index for index, number in enumerate(numbers) if index != number), len(numbers))
        folder = self._folder(entry_id, key)
        size = sum((folder / f"{number:05}").stat().st_size for number in range(whole))
        return Take(key, whole, len(numbers) - whole, size)

    def of_entry(self, entry_id: int) -> tuple[Take, ...]:
        """Return the takes of an entry that are not joined yet, in order of their names."""
        prefix = f"{entry_id}-"
        folders = sorted(self.folder.glob(f"{prefix}*")) if self.folder.is_dir() else []
        keys = [folder.name.removeprefix(prefix) for folder in folders]
        return tuple(self.take(entry_id, key) for key in keys if not self.joined(entry_id, key))

    def join(self, entry_id: int, key: str, slices: int, recordings: Recordings) -> Kept:
        """Make a recording of a take's first slices; they stay until `close`.

        Raises
        ------
        RuleError
            Slices are missing.
        InputError
            It is larger than a recording may be, or the disk is full.
        """
        found = self.take(entry_id, key)
        if not 0 < slices <= found.slices:
            raise RuleError(
                f"The recording has {slices} slices, of which the first {found.slices} are here; send the others first."
            )
        return recordings.keep(self._blocks(entry_id, key, slices), name="the recording made here")

    def head(self, entry_id: int, key: str) -> bytes:
        """Return the first bytes of a take, by which its kind is known; none where its first slice is missing."""
        path = self._folder(entry_id, key) / "00000"
        return path.read_bytes()[:BLOCK_BYTES] if path.is_file() else b""

    def close(self, entry_id: int, key: str, sha256: str) -> None:
        """Note what a take was joined to, so that its end may be told twice, and let its slices go."""
        folder = self._folder(entry_id, key)
        half = folder / f"{secrets.token_hex(8)}.part"
        half.write_text(sha256, encoding="ascii")
        half.replace(folder / _JOINED)
        for path in folder.iterdir():
            if path.name != _JOINED:
                path.unlink()

    def joined(self, entry_id: int, key: str) -> str:
        """Return the SHA-256 of the recording that a take was joined to; empty where it is not."""
        path = self._folder(entry_id, key) / _JOINED
        return path.read_text(encoding="ascii") if path.is_file() else ""

    def forget(self, entry_id: int, key: str) -> None:
        """Remove a take that nobody wants."""
        shutil.rmtree(self._folder(entry_id, key), ignore_errors=True)

    def sweep(self, *, older_than_s: float = KEPT_S) -> tuple[str, ...]:
        """Remove takes that nothing was added to for so long; return their folders' names."""
        before = time.time() - older_than_s
        folders = sorted(self.folder.iterdir()) if self.folder.is_dir() else []
        old = [folder for folder in folders if folder.stat().st_mtime <= before]
        for folder in old:
            shutil.rmtree(folder, ignore_errors=True)
        return tuple(folder.name for folder in old)

    def _blocks(self, entry_id: int, key: str, slices: int) -> Iterator[bytes]:
        folder = self._folder(entry_id, key)
        for number in range(slices):
            yield (folder / f"{number:05}").read_bytes()

    def _folder(self, entry_id: int, key: str) -> Path:
        if not _TAKE.fullmatch(key):
            raise InputError("take", f'"{key[:40]}" names no recording; 32 hexadecimal digits do')
        return self.folder / f"{entry_id}-{key}"

    @staticmethod
    def _numbers(folder: Path) -> list[int]:
        if not folder.is_dir():
            return []
        return sorted(int(path.name) for path in folder.iterdir() if _SLICE.fullmatch(path.name))
