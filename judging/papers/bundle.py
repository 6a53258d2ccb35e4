"""All papers of a contest in one ZIP file, the same bytes for the same papers."""

import io
import zipfile
from collections.abc import Mapping

from judging.errors import InputError

#: The earliest time a ZIP file can hold: no clock goes into the bytes.
_NO_TIME = (1980, 1, 1, 0, 0, 0)


def bundle(papers: Mapping[str, bytes]) -> bytes:
    """One file of many.

    Parameters
    ----------
    papers : mapping of str to bytes
        Content by name, such as ``"fault-sheets/wick.pdf"``; folders by a slash.

    Returns
    -------
    bytes
        ZIP, in order of name.

    Raises
    ------
    InputError
        Where there is no paper, or a name would be unpacked outside the folder.
    """
    if not papers:
        raise InputError("papers", "there are none to put together")
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as file:
        for name in sorted(papers):
            if not name or name.startswith("/") or "\\" in name or ".." in name.split("/"):
                raise InputError(f"paper {name!r}", "is no name inside the file; it must not lead out of its folder")
            about = zipfile.ZipInfo(name, _NO_TIME)
            about.compress_type = zipfile.ZIP_DEFLATED
            about.external_attr = 0o644 << 16
            file.writestr(about, papers[name])
    return written.getvalue()
