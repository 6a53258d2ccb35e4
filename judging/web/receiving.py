"""A file on its way in: a multipart form read block by block, its one file written straight to its store.

Nothing is held in memory and nothing in a temporary folder, which on many machines is memory too.
"""

from collections.abc import Callable
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass, field

from fastapi import Request
from fastapi.concurrency import run_in_threadpool
from python_multipart.exceptions import MultipartParseError
from python_multipart.multipart import MultipartParser, parse_options_header

from judging.errors import InputError
from judging.store import Incoming, Kept

#: Longest text field, and most parts, of such a form.
MOST_FIELD_BYTES = 8192
MOST_PARTS = 12

#: How much of a refused file is still read, so that the browser can show the answer and not a broken connection.
MOST_DRAINED_BYTES = 2**33


@dataclass(slots=True)
class Received:
    """What came in.

    Parameters
    ----------
    fields : dict of str to str
        Text fields of the form.
    file_name : str
        The giver's name for the file; empty where none was chosen.
    kept : Kept or None
        What became of it; None where none was chosen.
    head : bytes
        Its first bytes.
    """

    fields: dict[str, str] = field(default_factory=dict)
    file_name: str = ""
    kept: Kept | None = None
    head: bytes = b""


async def receive(
    request: Request,
    received: Received,
    *,
    field_name: str,
    incoming: Callable[[str], AbstractContextManager[Incoming]],
    check: Callable[[bytes], None],
) -> None:
    """Read a form with one file.

    Parameters
    ----------
    request : Request
        Its body has not been read yet.
    received : Received
        Filled in as it comes, so that what was typed is known even where the file is refused.
    field_name : str
        Of the file's field.
    incoming : callable
        Opens a place for a file, by the giver's name.
    check : callable
        Called with the file's first bytes before it is kept; raises `InputError` where they will not do.

    Raises
    ------
    InputError
        No multipart form, a field too long, or what the store or the check refuses. Nothing is left behind.
    """
    kind, options = parse_options_header(request.headers.get("content-type", ""))
    boundary = options.get(b"boundary")
    if kind != b"multipart/form-data" or not boundary:
        raise InputError("form", "holds no file; send it as multipart/form-data, as the page's own form does")
    stream = request.stream()
    with ExitStack() as stack:
        form = _Form(received, field_name, incoming, stack)
        parser = form.parser(boundary)
        try:
            async for chunk in stream:
                await run_in_threadpool(parser.write, chunk)
            parser.finalize()
            await run_in_threadpool(form.finish, check)
        except MultipartParseError as problem:
            raise InputError("form", f"could not be read ({problem}); was the sending cut short?") from problem
        except InputError:
            await _drain(stream)
            raise


class _Form:
    """Callbacks of the parser; each is called in order, from one thread at a time."""

    def __init__(
        self,
        received: Received,
        field_name: str,
        incoming: Callable[[str], AbstractContextManager[Incoming]],
        stack: ExitStack,
    ) -> None:
        self.received = received
        self._field_name = field_name
        self._incoming = incoming
        self._stack = stack
        self._parts = 0
        self._header = b""
        self._headers: dict[bytes, bytes] = {}
        self._value = b""
        self._name = ""
        self._text = b""
        self._file: Incoming | None = None
        self._is_file = False
        self._is_closed = False

    def parser(self, boundary: bytes) -> MultipartParser:
        return MultipartParser(
            boundary,
            callbacks={
                "on_part_begin": self._begin,
                "on_header_field": self._header_name,
                "on_header_value": self._header_value,
                "on_header_end": self._header_end,
                "on_headers_finished": self._headers_end,
                "on_part_data": self._data,
                "on_part_end": self._end,
                "on_end": self._close,
            },
        )

    def finish(self, check: Callable[[bytes], None]) -> None:
        if not self._is_closed:
            raise InputError("form", "ends before its end; was the sending cut short? Send it again")
        if self._file is not None:
            check(self.received.head)
            self.received.kept = self._file.finish()

    def _begin(self) -> None:
        self._parts += 1
        if self._parts > MOST_PARTS:
            raise InputError("form", f"has more than {MOST_PARTS} parts")
        self._headers, self._text, self._is_file = {}, b"", False

    def _header_name(self, data: bytes, start: int, end: int) -> None:
        self._header += data[start:end]

    def _header_value(self, data: bytes, start: int, end: int) -> None:
        self._value += data[start:end]

    def _header_end(self) -> None:
        self._headers[self._header.lower()] = self._value
        self._header = self._value = b""

    def _headers_end(self) -> None:
        _, options = parse_options_header(self._headers.get(b"content-disposition", b""))
        self._name = options.get(b"name", b"").decode(errors="replace")
        file_name = options.get(b"filename")
        self._is_file = file_name is not None
        if file_name and self._name == self._field_name and self._file is None:
            self.received.file_name = file_name.decode(errors="replace")[:200]
            self._file = self._stack.enter_context(self._incoming(self.received.file_name))

    def _data(self, data: bytes, start: int, end: int) -> None:
        block = data[start:end]
        if not self._is_file:
            self._text += block
            if len(self._text) > MOST_FIELD_BYTES:
                raise InputError(self._name, f"is longer than {MOST_FIELD_BYTES:,} bytes")
        elif self._file is not None and self._name == self._field_name:
            if len(self.received.head) < 16:
                self.received.head += block[:16]
            self._file.write(block)

    def _end(self) -> None:
        if not self._is_file:
            self.received.fields[self._name] = self._text.decode(errors="replace")

    def _close(self) -> None:
        self._is_closed = True


async def _drain(stream: object) -> None:
    """Read on without keeping anything."""
    read = 0
    async for chunk in stream:  # type: ignore[attr-defined]  # an async generator, whose type Starlette does not name
        read += len(chunk)
        if read > MOST_DRAINED_BYTES:
            return
