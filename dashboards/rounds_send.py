"""Addresses that the script of a round sends to: entries one by one, and photos. What was sent twice counts once."""

from collections.abc import AsyncIterable
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import FileResponse, HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool

from config.errors import StatedError
from daemon.answer_values import AT_THE_PAGE
from daemon.photo_image import MOST_SENT_BYTES, thumbnail
from daemon.rounds.values import Already, Photo, Refused
from dashboards.alarm_answer import asked, nothing
from dashboards.forms import Guarded, Upload
from dashboards.rendering import render
from dashboards.rounds_answer import box_answer, order_of
from dashboards.rounds_box import Typed
from dashboards.rounds_entry import EntrySent, clutch_of_form, refused_fields
from dashboards.rounds_pages import RoundPages
from dashboards.rounds_paths import ENTRIES_PATH, PHOTOS_PATH, ROUNDS_PATH, box_path, numbers_in
from dashboards.visiting import visitor_name

_LONGEST = 200
_KEEP = {"Cache-Control": "private, max-age=86400"}
"""A photo never changes; the browser of somebody who has signed in keeps it for a day."""
_Text = Annotated[str, Query(max_length=_LONGEST)]
_Number = Annotated[int, Query(ge=0, lt=10**12)]
_MOST_HEARD_BYTES = 5 * MOST_SENT_BYTES
"""So much of what is too large is taken in and thrown away: a browser hears an answer only when it has sent all."""


def add_sending(router: APIRouter, pages: RoundPages) -> None:
    """Make the routes."""

    @router.post(ENTRIES_PATH, dependencies=[Guarded])
    def take(sent: EntrySent) -> JSONResponse:
        who = visitor_name(AT_THE_PAGE)
        if sent.who != who:
            refused = Refused(f"this was made by {sent.who}", f"It waits for {sent.who} to sign in.", "who")
            return _refused(refused, 409)
        if sent.seen_by and _is_there(pages, sent):
            return JSONResponse({"result": "already", "said": []})
        done = asked(lambda: pages.desk.enter(sent.round, sent.entry(), queued=sent.waited, clutch_id=sent.clutch_id))
        if isinstance(done, Refused):
            return _refused(done, 422)
        said = [] if isinstance(done, Already) else list(done.said)
        return JSONResponse({"result": "already" if isinstance(done, Already) else "stored", "said": said})

    @router.post(PHOTOS_PATH, dependencies=[Guarded])
    async def take_photo(
        request: Request,
        id: _Text,  # noqa: A002 - as it stands in the address
        round: _Number,  # noqa: A002
        box: _Text,
        who: _Text = "",
        made_ms: Annotated[int | None, Query(ge=0, lt=10**14)] = None,
        clutch_id: Annotated[int | None, Query(ge=0, lt=10**12)] = None,
    ) -> JSONResponse:
        here = visitor_name(AT_THE_PAGE)
        if who != here:
            return _refused(Refused(f"this was made by {who}", f"It waits for {who} to sign in.", "who"), 409)
        data = await read_photo(request.stream())
        if isinstance(data, Refused):
            return _refused(data, 413)
        done = await run_in_threadpool(
            lambda: asked(lambda: pages.desk.add_photo(round, box, id, data, here, made_ms=made_ms, shown=clutch_id))
        )
        if isinstance(done, Refused):
            return _refused(done, 422)
        return JSONResponse({"result": "already" if isinstance(done, Already) else "stored", "said": []})

    _add_photos(router, pages)


def _add_photos(router: APIRouter, pages: RoundPages) -> None:
    @router.get(f"{PHOTOS_PATH}/{{photo_id}}")
    def photo(photo_id: str, small: Annotated[str, Query(max_length=1)] = "") -> Response:
        found = asked(lambda: pages.desk.photo(photo_id))
        if found is None or not found[1].is_file():
            return nothing("photo", ROUNDS_PATH, "All rounds")
        if small:
            picture = _small(found[1])
            if picture is not None:
                return Response(picture, media_type="image/jpeg", headers=_KEEP)
        return FileResponse(found[1], media_type="image/jpeg", headers=_KEEP)

    @router.api_route(f"{PHOTOS_PATH}/{{photo_id}}/page", methods=["GET", "HEAD"])
    def photo_page(request: Request, photo_id: str) -> Response:
        found = asked(lambda: pages.desk.photo(photo_id))
        if found is None:
            return nothing("photo", ROUNDS_PATH, "All rounds")
        return HTMLResponse(render("photo.html", view=pages.photo(found[0]), here=request.url.path))

    @router.post(f"{ROUNDS_PATH}/{{walk}}/box/{{key:path}}/photo")
    def plain_photo(walk: str, key: str, form: Upload, order: str = "") -> Response:
        found = pages.walk(walk)
        box = None if found is None else pages.box(found, key)
        if found is None or box is None:
            return nothing("round", ROUNDS_PATH, "All rounds")
        number, who = box[1].number, visitor_name(AT_THE_PAGE)
        photo_id = form.fields.get("photo_id", "")
        shown = clutch_of_form({name: [text] for name, text in form.fields.items()})
        done = (
            _too_large()
            if len(form.data) > MOST_SENT_BYTES
            else asked(lambda: pages.desk.add_photo(number, key, photo_id, form.data, who, shown=shown))
        )
        if isinstance(done, Photo | Already):
            wanted = f"?order={order_of(order)}" if order else ""
            return RedirectResponse(box_path(numbers_in(walk), key) + wanted, 303)
        typed = Typed({}, {"photo": refused_fields(done)[done.field]})
        return box_answer(pages, found, key, order_of(order), typed, 422)


def _small(file: Path) -> bytes | None:
    """Give the small picture of a photo; None where it cannot be read, and the whole one has to say so."""
    try:
        return thumbnail(file.read_bytes())
    except (OSError, StatedError):
        return None


async def read_photo(stream: AsyncIterable[bytes]) -> bytes | Refused:
    """Read what is sent for a photo; no more than one that is just too large is ever held."""
    held, heard = bytearray(), 0
    async for piece in stream:
        heard += len(piece)
        if heard <= MOST_SENT_BYTES:
            held += piece
        else:
            held.clear()
        if heard > _MOST_HEARD_BYTES:
            break
    if heard <= MOST_SENT_BYTES:
        return bytes(held)
    return _too_large()


def _too_large() -> Refused:
    reason = f"the photo has more than {MOST_SENT_BYTES / 1e6:.0f} MB"
    return Refused(reason, "Send it in a smaller size, or take it anew. What was entered for the box is kept.", "photo")


def _is_there(pages: RoundPages, sent: EntrySent) -> bool:
    """True where an entry that is taken over had arrived from whoever saw it."""
    view = asked(lambda: pages.desk.sheet(sent.box, sent.round))
    said = () if view is None or view.state is None else view.state.findings
    return any(each.entry.entry_id == sent.id and each.entry.who == sent.seen_by for each in said)


def _refused(refused: Refused, status: int) -> JSONResponse:
    said = {"result": "refused", "reason": refused.reason, "hint": refused.hint, "field": refused.field}
    return JSONResponse(said, status)
