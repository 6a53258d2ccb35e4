"""A judge's pad: the page to count on, what it sends, and what makes a browser keep it for a place without signal."""

from typing import Annotated, Any, cast

from fastapi import APIRouter, Body, Depends, HTTPException, Request
from fastapi.responses import FileResponse, HTMLResponse, JSONResponse

from judging.web.access import Database, StoreHere
from judging.web.pad_page import PadHere, areas_in_words, pad_document, pad_of
from judging.web.pad_sync import Batch, take_batch
from judging.web.pages import page, pages_folder
from judging.web.turnstile import Turnstile

router = APIRouter()
of_band = APIRouter(prefix="/contests/{slug}/bands/{key}/pad")

#: A batch of two hundred events with a long comment, and to spare.
MOST_BATCH_BYTES = 512 * 1024


def turnstile_of(request: Request) -> Turnstile:
    """Return what keeps one stuck pad from stopping all others."""
    return cast(Turnstile, request.app.state.turnstile)


@of_band.get("")
def pad(held: PadHere, session: Database) -> HTMLResponse:
    """Show the pad."""
    shape, title = pad_of(held, session)
    return page(
        "pad.html",
        viewer=held.visitor,
        held=held,
        pad=shape,
        title=title,
        words=areas_in_words(shape),
        told=pad_document(held, shape),
        next=held.next_address,
    )


@of_band.post(
    "", response_class=JSONResponse, responses={404: {}, 409: {}, 422: {}, 429: {}}, max_body_size=MOST_BATCH_BYTES
)
def take(
    held: PadHere,
    batch: Annotated[Batch, Body()],
    store: StoreHere,
    turnstile: Annotated[Turnstile, Depends(turnstile_of)],
) -> dict[str, Any]:
    """Keep what a pad sent; whatever the answer does not name is sent again."""
    if not turnstile.admits(held.judge.id):
        raise HTTPException(
            429,
            "Faster than any thumb: is a key stuck, or is this open many times? It is kept here and sent later.",
            headers={"retry-after": "1"},
        )
    return take_batch(held, batch, store)


@router.get("/pad-worker.js", response_class=FileResponse)
def worker() -> FileResponse:
    """Give the script that opens pads without signal; at the root, since it may only keep what is below it."""
    return FileResponse(pages_folder() / "static" / "pad_worker.js", media_type="text/javascript")


router.include_router(of_band)
