"""Who may do what: every route for every kind of visitor, each cell with its expected status.

A route that is not in the matrix fails the suite, so that nothing is open by having been forgotten.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from .conftest import ADDRESS, Service, serve

BAND = f"{ADDRESS}/bands/band-1"
EAR_TEST = {"bells": "7", "rung": "rounds", "peal_minutes": "165", "rows": "120"}
WAV = b"RIFF\x24\x00\x00\x00WAVEfmt " + bytes(100)

#: One line of the matrix.
Row = tuple[str, str, str, dict[str, Any], str]

#: Kinds of visitors, in the order of the columns below. "own" is the band that rang first, "rival" another of the
#: contest; "stranger" organises another contest, and "service" the whole service.
VISITORS = ("public", "rival", "own", "steward", "judge", "colleague", "organiser", "stranger", "service")

#: What is in a band's own book is for whoever holds it open, which none of these does, the organisers neither.
IN_A_BOOK: tuple[tuple[str, str, dict[str, Any]], ...] = (
    ("GET", "/book", {}),
    ("GET", "/book/touches.json", {}),
    ("POST", "/book/touches", {"files": {"touches": ("t.json", b"{}")}}),
    ("GET", "/book/touches/{number}", {}),
    ("GET", "/book/touches/{number}/touch.json", {}),
    ("POST", "/book/touches/{number}/erase", {}),
    ("GET", "/book/erase", {}),
    ("POST", "/book/erase", {}),
    ("POST", "/book/recount", {}),
    ("POST", "/book/link", {}),
    ("POST", "/book/close", {}),
)

#: Method, route, address (where it has parts), what is sent; then the status for each visitor while the bands ring.
#: Reading: 200 shown, 403 refused, 404 not there for this visitor.
MATRIX: tuple[Row, ...] = (
    ("GET", "/", "/", {}, "200 200 200 200 200 200 200 200 200"),
    ("GET", "/reading", "/reading", {}, "200 200 200 200 200 200 200 200 200"),
    ("GET", "/reading/rules", "/reading/rules", {}, "200 200 200 200 200 200 200 200 200"),
    ("GET", "/patterns", "/patterns", {}, "200 200 200 200 200 200 200 200 200"),
    ("GET", "/verify", "/verify?code=4F0A-91C2", {}, "200 200 200 200 200 200 200 200 200"),
    ("GET", "/links/{token}", "/links/x", {}, "200 200 200 200 200 200 200 200 200"),
    ("POST", "/links/{token}", "/links/x", {}, "409 409 409 409 409 409 409 409 409"),
    ("GET", "/own-page", "/own-page", {}, "303 303 303 303 303 303 303 303 303"),
    ("POST", "/leave", "/leave", {}, "303 303 303 303 303 303 303 303 303"),
    ("GET", "/contests/new", "/contests/new", {}, "403 403 403 403 403 403 403 403 200"),
    (
        "POST",
        "/contests/new",
        "/contests/new",
        {"files": {"rules": ("rules.toml", b"")}},
        "403 403 403 403 403 403 403 403 422",
    ),
    (
        "POST",
        "/contests/new/usual",
        "/contests/new/usual",
        {"data": {"title": "x"}},
        "403 403 403 403 403 403 403 403 422",
    ),
    ("GET", "/contests/{slug}", ADDRESS, {}, "200 200 200 200 200 200 200 200 200"),
    ("GET", "/contests/{slug}/rules", f"{ADDRESS}/rules", {}, "200 200 200 200 200 200 200 200 200"),
    ("GET", "/contests/{slug}/rules.toml", f"{ADDRESS}/rules.toml", {}, "200 200 200 200 200 200 200 200 200"),
    ("POST", "/contests/{slug}/rules", f"{ADDRESS}/rules", {"data": {}}, "403 403 403 403 403 403 422 403 422"),
    (
        "POST",
        "/contests/{slug}/rules/file",
        f"{ADDRESS}/rules/file",
        {"files": {"rules": ("rules.toml", b"rules = 1")}},
        "403 403 403 403 403 403 409 403 409",
    ),
    ("GET", "/contests/{slug}/result.json", f"{ADDRESS}/result.json", {}, "404 404 404 404 404 404 200 404 200"),
    (
        "GET",
        "/contests/{slug}/sections/{number}/results.pdf",
        f"{ADDRESS}/sections/1/results.pdf",
        {},
        "404 404 404 404 404 404 200 404 200",
    ),
    (
        "GET",
        "/contests/{slug}/sections/{number}/certificates.pdf",
        f"{ADDRESS}/sections/1/certificates.pdf",
        {},
        "404 404 404 404 404 404 200 404 200",
    ),
    (
        "POST",
        "/contests/{slug}/sections/{number}/certificates.pdf",
        f"{ADDRESS}/sections/1/certificates.pdf",
        {},
        "404 404 404 404 404 404 303 404 303",
    ),
    ("GET", "/practice", "/practice", {}, "403 403 403 403 403 403 403 403 200"),
    (
        "POST",
        "/practice",
        "/practice",
        {"data": {"what": "Nothing"}},
        "403 403 403 403 403 403 403 403 422",
    ),
    ("GET", "/practice/year-to-year", "/practice/year-to-year", {}, "403 403 403 403 403 403 403 403 200"),
    ("GET", "/contests/{slug}/practice/erase", f"{ADDRESS}/practice/erase", {}, "403 403 403 403 403 403 404 403 404"),
    ("POST", "/contests/{slug}/practice/erase", f"{ADDRESS}/practice/erase", {}, "403 403 403 403 403 403 404 403 404"),
    ("GET", "/books", "/books", {}, "403 403 403 403 403 403 403 403 200"),
    ("POST", "/books", "/books", {"data": {"name": ""}}, "403 403 403 403 403 403 403 403 422"),
    ("GET", "/books/{token}", "/books/x", {}, "200 200 200 200 200 200 200 200 200"),
    ("POST", "/books/{token}", "/books/x", {}, "409 409 409 409 409 409 409 409 409"),
    *(
        (method, route, route.replace("{number}", "1"), sent, "403 403 403 403 403 403 403 403 403")
        for method, route, sent in IN_A_BOOK
    ),
    ("GET", "/contests/{slug}/bands/{key}/touch.json", f"{BAND}/touch.json", {}, "404 404 404 404 404 404 200 404 200"),
    ("POST", "/contests/{slug}/bands/{key}/book", f"{BAND}/book", {"data": {}}, "404 404 404 404 404 404 403 404 403"),
    (
        "POST",
        "/contests/{slug}/bands/{key}/book/begin",
        f"{BAND}/book/begin",
        {"data": {"name": "x"}},
        "404 404 404 404 404 404 403 404 403",
    ),
    ("GET", "/towers", "/towers", {}, "403 403 403 403 403 403 403 403 200"),
    ("POST", "/towers", "/towers", {"data": {"name": ""}}, "403 403 403 403 403 403 403 403 422"),
    ("GET", "/towers/{number}", "/towers/9", {}, "403 403 403 403 403 403 403 403 404"),
    ("POST", "/towers/{number}", "/towers/9", {"data": {"name": ""}}, "403 403 403 403 403 403 403 403 404"),
    ("POST", "/towers/{number}/erase", "/towers/9/erase", {}, "403 403 403 403 403 403 403 403 404"),
    (
        "POST",
        "/towers/{number}/voices/{kept}/erase",
        "/towers/9/voices/9/erase",
        {},
        "403 403 403 403 403 403 403 403 404",
    ),
    ("GET", "/contests/{slug}/tower", f"{ADDRESS}/tower", {}, "403 403 403 403 403 403 200 403 200"),
    (
        "POST",
        "/contests/{slug}/tower",
        f"{ADDRESS}/tower",
        {"data": {"bells": "6", "tower": "9"}},
        "403 403 403 403 403 403 422 403 422",
    ),
    (
        "POST",
        "/contests/{slug}/bands/{key}/voices",
        f"{BAND}/voices",
        {"data": {"tower": "9"}},
        "403 403 403 403 403 403 403 403 404",
    ),
    ("GET", "/ear-test", "/ear-test", {}, "403 403 403 403 200 200 200 200 200"),
    ("POST", "/ear-test", "/ear-test", {"data": EAR_TEST}, "403 403 403 403 422 422 422 422 422"),
    ("GET", "/ear-test/{name}", "/ear-test/9-rounds", {}, "403 403 403 403 404 404 404 404 404"),
    ("POST", "/ear-test/{name}", "/ear-test/9-rounds", {"data": {}}, "403 403 403 403 404 404 404 404 404"),
    ("GET", "/ear-test/{name}/sound", "/ear-test/9-rounds/sound", {}, "403 403 403 403 404 404 404 404 404"),
    ("GET", "/contests/{slug}/practice", f"{ADDRESS}/practice", {}, "403 403 403 403 403 403 404 403 404"),
    (
        "POST",
        "/contests/{slug}/practice",
        f"{ADDRESS}/practice",
        {"files": {"recording": ("e.wav", WAV)}},
        "403 403 403 403 403 403 404 403 404",
    ),
    ("GET", "/contests/{slug}/draw", f"{ADDRESS}/draw", {}, "200 200 200 200 200 200 200 200 200"),
    (
        "POST",
        "/contests/{slug}/draw",
        f"{ADDRESS}/draw",
        {"data": {"entries": "a b"}},
        "200 200 200 200 200 200 200 200 200",
    ),
    ("POST", "/contests/{slug}/order", f"{ADDRESS}/order", {"data": {}}, "403 403 403 403 403 403 422 403 422"),
    ("GET", "/contests/{slug}/revisions", f"{ADDRESS}/revisions", {}, "200 200 200 200 200 200 200 200 200"),
    ("GET", "/contests/{slug}/calibration", f"{ADDRESS}/calibration", {}, "403 403 403 403 403 403 200 403 200"),
    (
        "POST",
        "/contests/{slug}/calibration",
        f"{ADDRESS}/calibration",
        {"data": {"before": "nothing"}},
        "403 403 403 403 403 403 422 403 422",
    ),
    ("GET", "/contests/{slug}/judges", f"{ADDRESS}/judges", {}, "403 403 403 403 403 403 200 403 200"),
    (
        "POST",
        "/contests/{slug}/judges/shadows",
        f"{ADDRESS}/judges/shadows",
        {"data": {"name": ""}},
        "403 403 403 403 403 403 422 403 422",
    ),
    (
        "POST",
        "/contests/{slug}/judges/conflicts",
        f"{ADDRESS}/judges/conflicts",
        {"data": {"judge": "nobody"}},
        "403 403 403 403 403 403 422 403 422",
    ),
    (
        "POST",
        "/contests/{slug}/judging/interests",
        f"{ADDRESS}/judging/interests",
        {"data": {"belongs_to": "none"}},
        "404 404 404 404 303 303 404 404 404",
    ),
    ("GET", "/contests/{slug}/protests", f"{ADDRESS}/protests", {}, "404 200 200 404 404 404 200 404 200"),
    (
        "POST",
        "/contests/{slug}/protests",
        f"{ADDRESS}/protests",
        {"data": {"about": ""}},
        "404 422 422 404 404 404 422 404 422",
    ),
    (
        "POST",
        "/contests/{slug}/protests/{number}/answer",
        f"{ADDRESS}/protests/9/answer",
        {"data": {"outcome": "upheld"}},
        "403 403 403 403 403 403 404 403 404",
    ),
    ("GET", "/contests/{slug}/bands/{key}/penalties", f"{BAND}/penalties", {}, "403 403 403 403 403 403 200 403 200"),
    (
        "POST",
        "/contests/{slug}/bands/{key}/penalties",
        f"{BAND}/penalties",
        {"data": {"kind": "none"}},
        "403 403 403 403 403 403 422 403 422",
    ),
    (
        "POST",
        "/contests/{slug}/entries/table",
        f"{ADDRESS}/entries/table",
        {"files": {"table": ("e.csv", b"band")}},
        "403 403 403 403 403 403 409 403 409",
    ),
    (
        "POST",
        "/contests/{slug}/bands/{key}/turn",
        f"{BAND}/turn",
        {"data": {"turn": "x"}},
        "404 404 404 422 404 404 422 404 422",
    ),
    (
        "GET",
        "/contests/{slug}/practice/pull-offs",
        f"{ADDRESS}/practice/pull-offs",
        {},
        "403 403 403 403 403 403 404 403 404",
    ),
    (
        "POST",
        "/contests/{slug}/practice/pull-offs",
        f"{ADDRESS}/practice/pull-offs",
        {"data": {"bells": "6"}},
        "403 403 403 403 403 403 404 403 404",
    ),
    (
        "POST",
        "/contests/{slug}/practice/pull-offs/erase",
        f"{ADDRESS}/practice/pull-offs/erase",
        {},
        "403 403 403 403 403 403 404 403 404",
    ),
    (
        "GET",
        "/contests/{slug}/practice/pull-offs/ideal.flac",
        f"{ADDRESS}/practice/pull-offs/ideal.flac",
        {},
        "403 403 403 403 403 403 404 403 404",
    ),
    (
        "POST",
        "/contests/{slug}/practice/pull-offs/streams",
        f"{ADDRESS}/practice/pull-offs/streams",
        {"json": {"rate_hz": 48000}},
        "403 403 403 403 403 403 404 403 404",
    ),
    (
        "POST",
        "/contests/{slug}/practice/pull-offs/streams/{stream}/blocks/{number}",
        f"{ADDRESS}/practice/pull-offs/streams/x/blocks/0",
        {"content": b"ab"},
        "403 403 403 403 403 403 404 403 404",
    ),
    (
        "POST",
        "/contests/{slug}/practice/pull-offs/streams/ready",
        f"{ADDRESS}/practice/pull-offs/streams/ready",
        {},
        "403 403 403 403 403 403 404 403 404",
    ),
    (
        "POST",
        "/contests/{slug}/practice/pull-offs/streams/stop",
        f"{ADDRESS}/practice/pull-offs/streams/stop",
        {},
        "403 403 403 403 403 403 404 403 404",
    ),
    ("GET", "/contests/{slug}/desk", f"{ADDRESS}/desk", {}, "403 403 403 403 403 403 200 403 200"),
    ("GET", "/contests/{slug}/desk/changes", f"{ADDRESS}/desk/changes", {}, "403 403 403 403 403 403 200 403 200"),
    (
        "POST",
        "/contests/{slug}/phase",
        f"{ADDRESS}/phase",
        {"data": {"to": "final"}},
        "403 403 403 403 403 403 409 403 409",
    ),
    (
        "POST",
        "/contests/{slug}/links",
        f"{ADDRESS}/links",
        {"data": {"holder": "nobody"}},
        "403 403 403 403 403 403 422 403 422",
    ),
    (
        "POST",
        "/contests/{slug}/links/{number}/revoke",
        f"{ADDRESS}/links/9999/revoke",
        {},
        "403 403 403 403 403 403 409 403 409",
    ),
    (
        "POST",
        "/contests/{slug}/bands/{key}/consent",
        f"{BAND}/consent",
        {"data": {"consent": "given"}},
        "403 403 403 403 403 403 303 403 303",
    ),
    ("GET", "/contests/{slug}/bands/{key}/evidence", f"{BAND}/evidence", {}, "403 403 403 403 403 403 200 403 200"),
    (
        "POST",
        "/contests/{slug}/bands/{key}/recording",
        f"{BAND}/recording",
        {"files": {"recording": ("e.wav", WAV)}, "data": {"agreed": "yes"}},
        "403 403 403 403 403 403 303 403 303",
    ),
    (
        "POST",
        "/contests/{slug}/bands/{key}/strike-log",
        f"{BAND}/strike-log",
        {"files": {"log": ("log.csv", b"")}},
        "403 403 403 403 403 403 422 403 422",
    ),
    (
        "POST",
        "/contests/{slug}/bands/{key}/hear-part",
        f"{BAND}/hear-part",
        {"data": {"from_s": "9", "to_s": "3"}},
        "403 403 403 403 403 403 422 403 422",
    ),
    ("GET", "/contests/{slug}/bands/{key}/recorder", f"{BAND}/recorder", {}, "404 404 404 200 404 404 200 404 200"),
    (
        "POST",
        "/contests/{slug}/bands/{key}/recorder",
        f"{BAND}/recorder",
        {"files": {"recording": ("e.wav", b"")}},
        "404 404 404 422 404 404 422 404 422",
    ),
    (
        "POST",
        "/contests/{slug}/bands/{key}/recorder/consent",
        f"{BAND}/recorder/consent",
        {"data": {"consent": "given"}},
        "404 404 404 303 404 404 303 404 303",
    ),
    (
        "POST",
        "/contests/{slug}/bands/{key}/recorder/{take}/{number}",
        f"{BAND}/recorder/{'0' * 32}/0",
        {"content": b""},
        "404 404 404 422 404 404 422 404 422",
    ),
    (
        "POST",
        "/contests/{slug}/bands/{key}/recorder/{take}",
        f"{BAND}/recorder/{'0' * 32}",
        {"data": {"slices": "1"}},
        "404 404 404 409 404 404 409 404 409",
    ),
    ("GET", "/contests/{slug}/day", f"{ADDRESS}/day", {}, "403 403 403 403 403 403 200 403 200"),
    (
        "POST",
        "/contests/{slug}/day",
        f"{ADDRESS}/day",
        {"files": {"recording": ("e.wav", b"")}},
        "403 403 403 403 403 403 422 403 422",
    ),
    ("POST", "/contests/{slug}/day/find", f"{ADDRESS}/day/find", {}, "403 403 403 403 403 403 409 403 409"),
    ("POST", "/contests/{slug}/day/cut", f"{ADDRESS}/day/cut", {}, "403 403 403 403 403 403 409 403 409"),
    ("POST", "/contests/{slug}/day/erase", f"{ADDRESS}/day/erase", {}, "403 403 403 403 403 403 409 403 409"),
    ("POST", "/api/session", "/api/session", {"json": {"link": "x"}}, "409 409 409 409 409 409 409 409 409"),
    ("GET", "/api/contests", "/api/contests", {}, "200 200 200 200 200 200 200 200 200"),
    ("GET", "/api/contests/{slug}", f"/api{ADDRESS}", {}, "200 200 200 200 200 200 200 200 200"),
    ("GET", "/api/contests/{slug}/result", f"/api{ADDRESS}/result", {}, "404 404 404 404 404 404 200 404 200"),
    ("GET", "/api/contests/{slug}/bands/{key}/count", f"/api{BAND}/count", {}, "404 404 404 404 404 404 200 404 200"),
    (
        "POST",
        "/api/contests/{slug}/bands/{key}/strikes",
        f"/api{BAND}/strikes",
        {"json": {"blows": []}},
        "403 403 403 403 403 403 422 403 422",
    ),
    (
        "POST",
        "/api/contests/{slug}/bands/{key}/recording",
        f"/api{BAND}/recording",
        {"content": b""},
        "403 403 403 403 403 403 422 403 422",
    ),
    ("GET", "/api/jobs/{number}", "/api/jobs/1", {}, "404 404 404 404 404 404 200 404 200"),
    ("GET", "/jobs/{number}", "/jobs/1", {}, "404 404 404 404 404 404 200 404 200"),
    (
        "GET",
        "/contests/{slug}/pieces/{piece}",
        f"{ADDRESS}/pieces/bob",
        {},
        "200 200 200 200 200 200 200 200 200",
    ),
    ("GET", "/piece", "/piece", {}, "200 200 200 200 200 200 200 200 200"),
    ("POST", "/piece", "/piece", {"data": {"text": "1234"}}, "200 200 200 200 200 200 200 200 200"),
    ("GET", "/contests/{slug}/test-pieces", f"{ADDRESS}/test-pieces", {}, "403 403 403 403 403 403 200 403 200"),
    (
        "POST",
        "/contests/{slug}/test-pieces",
        f"{ADDRESS}/test-pieces",
        {"data": {"name": "new", "text": "1234", "keep": "yes"}},
        "403 403 403 403 403 403 409 403 409",
    ),
    ("GET", "/contests/{slug}/printing", f"{ADDRESS}/printing", {}, "403 403 403 403 403 403 200 403 200"),
    (
        "GET",
        "/contests/{slug}/printing/everything.zip",
        f"{ADDRESS}/printing/everything.zip",
        {},
        "403 403 403 403 403 403 200 403 200",
    ),
    (
        "GET",
        "/contests/{slug}/printing/archive.zip",
        f"{ADDRESS}/printing/archive.zip",
        {},
        "403 403 403 403 403 403 200 403 200",
    ),
    (
        "GET",
        "/contests/{slug}/printing/{file}",
        f"{ADDRESS}/printing/draw.pdf",
        {},
        "403 403 403 403 403 403 200 403 200",
    ),
    (
        "POST",
        "/contests/{slug}/printing/{file}",
        f"{ADDRESS}/printing/draw.pdf",
        {},
        "403 403 403 403 403 403 303 403 303",
    ),
    (
        "POST",
        "/contests/{slug}/printing/slips",
        f"{ADDRESS}/printing/slips",
        {"data": {"address": "nowhere"}},
        "403 403 403 403 403 403 422 403 422",
    ),
    ("GET", "/contests/{slug}/entries", f"{ADDRESS}/entries", {}, "403 403 403 403 403 403 200 403 200"),
    (
        "POST",
        "/contests/{slug}/entries",
        f"{ADDRESS}/entries",
        {"data": {"band": ""}},
        "403 403 403 403 403 403 422 403 422",
    ),
    ("GET", "/contests/{slug}/bands/{key}/entry", f"{BAND}/entry", {}, "403 403 403 403 403 403 200 403 200"),
    (
        "POST",
        "/contests/{slug}/bands/{key}/entry",
        f"{BAND}/entry",
        {"data": {"band": ""}},
        "403 403 403 403 403 403 422 403 422",
    ),
    ("GET", "/contests/{slug}/ringing", f"{ADDRESS}/ringing", {}, "404 404 404 200 404 404 200 404 200"),
    ("GET", "/contests/{slug}/bands/{key}/report", f"{BAND}/report", {}, "404 404 404 200 404 404 200 404 200"),
    (
        "POST",
        "/contests/{slug}/bands/{key}/report",
        f"{BAND}/report",
        {"data": {"restarts": "x"}},
        "404 404 404 422 404 404 422 404 422",
    ),
    (
        "GET",
        "/contests/{slug}/sections/{number}/announce",
        f"{ADDRESS}/sections/1/announce",
        {},
        "404 404 404 404 404 404 200 404 200",
    ),
    (
        "GET",
        "/contests/{slug}/sections/{number}/lines",
        f"{ADDRESS}/sections/1/lines",
        {},
        "404 404 404 404 404 404 200 404 200",
    ),
    ("GET", "/contests/{slug}/judging", f"{ADDRESS}/judging", {}, "404 404 404 404 200 200 404 404 404"),
    ("GET", "/contests/{slug}/bands/{key}/pad", f"{BAND}/pad", {}, "404 404 404 404 200 200 404 404 404"),
    (
        "POST",
        "/contests/{slug}/bands/{key}/pad",
        f"{BAND}/pad",
        {"json": {"device": "phone", "entry": 0}},
        "404 404 404 404 409 409 404 404 404",
    ),
    (
        "GET",
        "/contests/{slug}/judging/cross-check",
        f"{ADDRESS}/judging/cross-check",
        {},
        "404 404 404 404 200 200 404 404 404",
    ),
    (
        "GET",
        "/contests/{slug}/bands/{key}/cross-check",
        f"{BAND}/cross-check",
        {},
        "404 404 404 404 200 200 404 404 404",
    ),
    (
        "POST",
        "/contests/{slug}/bands/{key}/cross-check",
        f"{BAND}/cross-check",
        {"data": {"revision": "1"}},
        "404 404 404 404 409 422 404 404 404",
    ),
    (
        "GET",
        "/contests/{slug}/bands/{key}/cross-check/recording",
        f"{BAND}/cross-check/recording",
        {},
        "404 404 404 404 404 404 404 404 404",
    ),
    (
        "POST",
        "/contests/{slug}/bands/{key}/cross-check/recording",
        f"{BAND}/cross-check/recording",
        {},
        "404 404 404 404 303 303 404 404 404",
    ),
    ("GET", "/pad-worker.js", "/pad-worker.js", {}, "200 200 200 200 200 200 200 200 200"),
    (
        "GET",
        "/contests/{slug}/judging/compared",
        f"{ADDRESS}/judging/compared",
        {},
        "404 404 404 404 200 200 404 404 404",
    ),
    (
        "GET",
        "/contests/{slug}/bands/{key}/sheets/{judge}",
        f"{BAND}/sheets/ann",
        {},
        "404 404 404 404 200 404 200 404 200",
    ),
    (
        "POST",
        "/contests/{slug}/bands/{key}/sheets/{judge}",
        f"{BAND}/sheets/ann",
        {"data": {"total": "x"}},
        "404 404 404 404 422 404 422 404 422",
    ),
    ("GET", "/contests/{slug}/bands/{key}", BAND, {}, "404 404 404 404 404 404 200 404 200"),
    (
        "POST",
        "/contests/{slug}/bands/{key}/fault-sheet.pdf",
        f"{BAND}/fault-sheet.pdf",
        {},
        "404 404 404 404 404 404 303 404 303",
    ),
    ("GET", "/contests/{slug}/bands/{key}/count.json", f"{BAND}/count.json", {}, "404 404 404 404 404 404 200 404 200"),
    ("GET", "/contests/{slug}/bands/{key}/blows.csv", f"{BAND}/blows.csv", {}, "404 404 404 404 404 404 200 404 200"),
    (
        "GET",
        "/contests/{slug}/bands/{key}/strike-log.mid",
        f"{BAND}/strike-log.mid",
        {},
        "404 404 404 404 404 404 200 404 200",
    ),
    (
        "POST",
        "/contests/{slug}/bands/{key}/sharing",
        f"{BAND}/sharing",
        {"data": {"open": "yes"}},
        "404 404 404 404 404 404 403 404 403",
    ),
    ("GET", "/contests/{slug}/bands/{key}/take-back", f"{BAND}/take-back", {}, "404 404 200 200 404 404 200 404 200"),
    ("POST", "/contests/{slug}/bands/{key}/take-back", f"{BAND}/take-back", {}, "404 404 303 303 404 404 303 404 303"),
    (
        "POST",
        "/contests/{slug}/bands/{key}/links",
        f"{BAND}/links",
        {},
        "404 404 404 404 404 404 403 404 403",
    ),
    (
        "GET",
        "/contests/{slug}/bands/{key}/strike-log.csv",
        f"{BAND}/strike-log.csv",
        {},
        "404 404 404 404 404 404 200 404 200",
    ),
    (
        "GET",
        "/contests/{slug}/bands/{key}/fault-sheet.pdf",
        f"{BAND}/fault-sheet.pdf",
        {},
        "404 404 404 404 404 404 200 404 200",
    ),
    (
        "GET",
        "/contests/{slug}/bands/{key}/sounds/{sound}",
        f"{BAND}/sounds/steady",
        {},
        "404 404 404 404 404 404 404 404 404",
    ),
    (
        "POST",
        "/contests/{slug}/bands/{key}/sounds/{sound}",
        f"{BAND}/sounds/steady",
        {},
        "404 404 404 404 404 404 303 404 303",
    ),
    (
        "GET",
        "/contests/{slug}/bands/{key}/recording",
        f"{BAND}/recording",
        {},
        "404 404 404 404 404 404 200 404 200",
    ),
)

#: What of a finished contest is open once its rules make fault sheets public, and to whom while they do not.
ONLY_WHEN_PUBLIC = (
    BAND,
    f"{BAND}/blows.csv",
    f"{BAND}/count.json",
    f"{BAND}/strike-log.csv",
    f"{BAND}/fault-sheet.pdf",
    f"{BAND}/recording",
)


def paths_of(app: FastAPI) -> set[tuple[str, str]]:
    schema = app.openapi()["paths"]
    return {(method.upper(), path) for path, methods in schema.items() for method in methods}


def first_band(service: Service) -> str:
    """Identifier of the band that rang first."""
    organiser = service.visitor("organiser")
    document = organiser.get(f"{ADDRESS}/result.json").json()
    return str(document["order"][0])


def everybody(service: Service) -> dict[str, TestClient]:
    """One client for each kind of visitor, while the bands ring; a recording waits to be heard."""
    own = first_band(service)
    rival = "gorse" if own != "gorse" else "pinfold"
    service.set_phase("ringing")
    clients = {
        "public": service.visitor(),
        "rival": service.visitor("band", rival),
        "own": service.visitor("band", own),
        "steward": service.visitor("steward"),
        "judge": service.visitor("judge", "ann"),
        "colleague": service.visitor("judge", "ben"),
        "organiser": service.visitor("organiser"),
        "stranger": service.stranger(),
        "service": service.visitor("organiser", anywhere=True),
    }
    wav = {"recording": ("second.wav", WAV)}
    second = f"{ADDRESS}/bands/band-2/recording"
    assert clients["organiser"].post(second, files=wav, data={"agreed": "yes"}).status_code == 303
    return clients


@dataclass(frozen=True, slots=True)
class Ringing:
    """Data folder of a contest into which everybody has come, and their cookies; copied, never served again."""

    data: Path
    cookies: dict[str, str]

    def visitors_of(self, service: Service) -> dict[str, TestClient]:
        """Return everybody's client on a service of a copy."""
        clients = {name: service.visitor() for name in self.cookies}
        for name, cookie in self.cookies.items():
            if cookie:
                clients[name].cookies.set("evenblow", cookie)
        return clients


@pytest.fixture(scope="module")
def ringing(finished_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Ringing:
    data = tmp_path_factory.mktemp("ringing") / "data"
    for running in serve(data, finished_data):
        cookies = {name: client.cookies.get("evenblow") or "" for name, client in everybody(running).items()}
    return Ringing(data, cookies)


@pytest.fixture
def visitors(ringing: Ringing, tmp_path: Path) -> Iterator[dict[str, TestClient]]:
    """For writing: a contest of their own."""
    for running in serve(tmp_path / "data", ringing.data):
        yield ringing.visitors_of(running)


@pytest.fixture(scope="module")
def readers(ringing: Ringing, tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, TestClient]]:
    """For reading: one contest for all."""
    for running in serve(tmp_path_factory.mktemp("readers") / "data", ringing.data):
        yield ringing.visitors_of(running)


def test_every_route_is_in_the_matrix(finished: Service) -> None:
    assert paths_of(finished.app) == {(method, route) for method, route, *_ in MATRIX}


def rows(method: str) -> pytest.MarkDecorator:
    chosen = [row for row in MATRIX if row[0] == method]
    return pytest.mark.parametrize("row", chosen, ids=[route for _, route, *_ in chosen])


def statuses(clients: dict[str, TestClient], row: Row) -> dict[str, str]:
    method, route, address, sent, _ = row
    if route.endswith("/jobs/{number}"):
        kept = clients["organiser"].get(f"{ADDRESS}/bands/band-2/evidence").text
        address = route.removesuffix("/jobs/{number}") + re.findall(r"/jobs/\d+", kept)[0]
    return {name: str(clients[name].request(method, address, **sent).status_code) for name in VISITORS}


@rows("GET")
def test_each_visitor_is_shown_what_is_theirs_and_no_more(readers: dict[str, TestClient], row: Row) -> None:
    assert statuses(readers, row) == dict(zip(VISITORS, row[-1].split(), strict=True))


@rows("POST")
def test_each_visitor_does_what_is_theirs_and_no_more(visitors: dict[str, TestClient], row: Row) -> None:
    assert statuses(visitors, row) == dict(zip(VISITORS, row[-1].split(), strict=True))


@pytest.mark.parametrize("address", ONLY_WHEN_PUBLIC)
def test_without_public_fault_sheets_a_band_opens_its_own_once_final_and_nobody_elses(
    service: Service, address: str
) -> None:
    own = first_band(service)
    rival = "gorse" if own != "gorse" else "pinfold"
    service.keep_fault_sheets_private()

    assert service.visitor("band", own).get(address).status_code == 200
    assert service.visitor("band", rival).get(address).status_code == 404
    assert service.visitor().get(address).status_code == 404
    assert service.visitor("judge", "ann").get(address).status_code == 404


def test_what_is_not_there_and_what_is_not_yours_look_the_same(readers: dict[str, TestClient]) -> None:
    for address in (f"{ADDRESS}/bands/band-9", f"{ADDRESS}/bands/saltmarsh", "/contests/no-such", "/jobs/999"):
        assert readers["public"].get(address).status_code == 404


def test_a_cookie_that_was_made_up_is_nobodys(finished: Service) -> None:
    client = finished.visitor()
    client.cookies.set("evenblow", "x" * 43)

    assert client.get(f"{ADDRESS}/desk").status_code == 403


def test_leaving_ends_the_session_on_the_server(service: Service) -> None:
    organiser = service.visitor("organiser")
    token = organiser.cookies["evenblow"]
    organiser.post("/leave")
    thief = service.visitor()
    thief.cookies.set("evenblow", token)

    assert thief.get(f"{ADDRESS}/desk").status_code == 403
