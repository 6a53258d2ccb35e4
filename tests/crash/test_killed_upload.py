"""The service killed in the middle of an upload: what was acknowledged is there, and nothing is half kept."""

import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import httpx2
import pytest

from judging.store import Settings, Store, contest_by_slug, entries_of, recordings_of, sheets_of, wanted_recordings
from judging.store.recordings import verify_file

SHEET = "/contests/weir/bands/band-1/sheets/ann"
RECORDING = "/contests/weir/bands/band-1/recording"
WAV = b"RIFF\x24\x00\x00\x00WAVEfmt " + bytes(50_000)


@pytest.fixture
def server(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[str], httpx2.Client, httpx2.Client]]:
    """Start the service; yields its process, its organiser and a judge."""
    script = Path(__file__).with_name("serve_uploads.py")
    with subprocess.Popen([sys.executable, str(script), str(tmp_path)], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        address, *links = process.stdout.readline().split()
        with (
            httpx2.Client(base_url=address, timeout=60) as client,
            httpx2.Client(base_url=address, timeout=60) as judge,
        ):
            wait_for(client)
            for visitor, link in zip((client, judge), links, strict=True):
                assert visitor.post(link).status_code == 303
            yield process, client, judge
        process.kill()


def wait_for(client: httpx2.Client) -> None:
    deadline = time.monotonic() + 120
    while time.monotonic() < deadline:
        try:
            client.get("/reading")
        except httpx2.TransportError:
            time.sleep(0.05)
        else:
            return
    pytest.fail("the service did not start")


def send_half(client: httpx2.Client) -> socket.socket:
    """Begin to send a recording, and keep the connection open without finishing."""
    url = client.base_url
    connection = socket.create_connection((url.host, url.port or 80))
    head = (
        f"POST {RECORDING} HTTP/1.1\r\nHost: {url.host}:{url.port}\r\nCookie: evenblow={client.cookies['evenblow']}\r\n"
        "Content-Type: multipart/form-data; boundary=cut\r\nContent-Length: 9000000\r\n\r\n"
        '--cut\r\nContent-Disposition: form-data; name="recording"; filename="half.wav"\r\n\r\n'
    )
    connection.sendall(head.encode() + WAV)
    return connection


def test_nothing_acknowledged_is_lost_and_nothing_is_half_kept(
    server: tuple[subprocess.Popen[str], httpx2.Client, httpx2.Client], tmp_path: Path
) -> None:
    process, client, judge = server
    whole = client.post(RECORDING, files={"recording": ("whole.wav", WAV)}, data={"agreed": "yes"})
    assert whole.status_code == 303
    with send_half(client):
        deadline = time.monotonic() + 60
        while not list((tmp_path / "recordings").glob("incoming-*")):
            assert time.monotonic() < deadline, "the upload never began to be written"
            time.sleep(0.02)
        assert judge.post(SHEET, data={"total": "7"}).status_code == 303  # the upload holds nobody up

        process.kill()
        process.wait()

    with Store.open(tmp_path, Settings(min_free_bytes=0)) as store:
        with store.read() as session:
            contest = contest_by_slug(session, "weir")
            assert contest is not None
            entry = entries_of(session, contest.id or 0)[0]
            assert [str(sheet.total) for sheet in sheets_of(session, contest.id or 0)] == ["7"]
            assert [recording.name for recording in recordings_of(session, entry.id or 0)] == ["whole.wav"]
            wanted = wanted_recordings(session)
        assert store.recordings.names() == sorted(wanted)
        assert len(store.recordings.sweep(wanted, older_than_s=0)) == 1  # what was cut is cleared away
        [sha256] = wanted
        verify_file(store.recordings.path(sha256), sha256)
