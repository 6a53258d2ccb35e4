"""What kind of recording a file is, by its first bytes and never by its name."""

from pathlib import Path

#: How many bytes `media_type` needs.
HEAD_BYTES = 16

#: First bytes of the formats that recorders make: offset, bytes, media type.
_MARKS = (
    (8, b"WAVE", "audio/wav"),
    (0, b"fLaC", "audio/flac"),
    (0, b"OggS", "audio/ogg"),
    (0, b"ID3", "audio/mpeg"),
    (0, b"\x1a\x45\xdf\xa3", "audio/webm"),
    (4, b"ftyp", "audio/mp4"),
    (8, b"AIFF", "audio/aiff"),
    (8, b"AIFC", "audio/aiff"),
)


def media_type(head: bytes) -> str | None:
    """Return the media type of a recording.

    Parameters
    ----------
    head : bytes
        Its first `HEAD_BYTES` bytes.

    Returns
    -------
    str or None
        None where it is no recording we know.
    """
    for offset, mark, kind in _MARKS:
        if head[offset : offset + len(mark)] == mark:
            return kind
    # An MPEG audio frame, or ADTS, begins with eleven or twelve set bits.
    if len(head) > 1 and head[0] == 0xFF and head[1] & 0xE0 == 0xE0:
        return "audio/aac" if head[1] & 0xF6 == 0xF0 else "audio/mpeg"
    return None


def media_type_of(path: Path) -> str:
    """Return the media type of a file; bytes without a meaning where it is no recording."""
    with path.open("rb") as file:
        return media_type(file.read(HEAD_BYTES)) or "application/octet-stream"
