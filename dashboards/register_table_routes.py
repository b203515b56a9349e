"""Addresses at which the whole register goes out and comes in as a table. A GET changes nothing.

A table that was tried is held here until somebody takes it in, so that exactly what was shown is kept.
"""

import secrets
import threading
from collections import Counter, OrderedDict
from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response

from daemon.answer_values import AT_THE_PAGE
from daemon.clutches.desk import Refusal
from daemon.clutches.sheet_cells import COLUMNS
from daemon.clutches.sheet_desk import Tried
from daemon.clutches.sheet_eggs import ADDED, SAME
from daemon.clutches.sheet_import import CHANGED, REFUSED
from dashboards.alarm_answer import asked
from dashboards.forms import Form, Upload
from dashboards.register_pages import MAY_NOT, RegisterPages
from dashboards.register_paths import EMPTY_PATH, EXPORT_EGGS_PATH, EXPORT_PATH, TABLE_PATH, TAKE_IN_PATH, clutch_path
from dashboards.register_reading import told_at_a_page
from dashboards.register_routes import ALL, READ
from dashboards.rendering import render
from dashboards.visiting import may, visitor_name

LARGEST_BYTES = 2_000_000
MOST_SHOWN = 300
_MOST_HELD = 8
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")
"""How a table begins that a spreadsheet saved as text of another kind (Unicode Standard, section 23.8)."""
_NOT_HELD = "This table is not held here any more, or was taken in already. Choose the file again."
_CHANGED = "Nothing is kept: the register was changed meanwhile. This is what the table would do now."
_MARKS = {ADDED: "ring", CHANGED: "apart", REFUSED: "fault", SAME: "egg"}


@dataclass(frozen=True, slots=True)
class Held:
    """A table that was tried: whose it is, its text, and what it would do."""

    who: str
    text: str
    tried: Tried


@dataclass(frozen=True, slots=True)
class TriedView:
    """What a table would do, or did: rows that say something, and how many there are of each kind."""

    rows: tuple[tuple[int, str, str, str, str], ...]
    left_out: int
    totals: str
    left_open: tuple[str, ...]
    kept: bool
    refused: bool
    held: str
    changes: bool


class HeldTables:
    """The tables that were tried last. Safe to use from several threads; a restart forgets them."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._tables: OrderedDict[str, Held] = OrderedDict()

    def hold(self, held: Held) -> str:
        """Keep one; gives the word that it is asked for by."""
        word = secrets.token_urlsafe(16)
        with self._lock:
            while len(self._tables) >= _MOST_HELD:
                self._tables.popitem(last=False)
            self._tables[word] = held
        return word

    def take(self, word: str, who: str) -> Held | None:
        """Give one to whoever tried it, and forget it; None where it is not there any more."""
        with self._lock:
            held = self._tables.get(word)
            return self._tables.pop(word) if held is not None and held.who == who else None


def register_table_router(pages: RegisterPages) -> APIRouter:
    """Make the routes."""
    router, tables = APIRouter(include_in_schema=False), _Tables(pages)

    @router.api_route(TABLE_PATH, methods=READ)
    def table_page() -> HTMLResponse:
        return tables.page()

    @router.post(TABLE_PATH)
    def try_table(form: Upload) -> HTMLResponse:
        return tables.look(form.data)

    @router.post(TAKE_IN_PATH)
    def take_in(form: Form) -> HTMLResponse:
        return tables.take_in(form.get("held", ""))

    _add_export(router, pages)
    return router


class _Tables:
    """Tries tables and takes them in."""

    def __init__(self, pages: RegisterPages) -> None:
        self._pages = pages
        self._held = HeldTables()

    def page(self, view: TriedView | None = None, error: str = "", status: int = 200) -> HTMLResponse:
        withdrawn = [(clutch_path(each.clutch_id, "reopen"), each.label) for each in asked(self._pages.desk.withdrawn)]
        values = {"view": self._pages.head(), "tried": view, "error": error, "withdrawn": withdrawn, "back": ALL}
        may_not = "" if may("responder") else MAY_NOT
        return HTMLResponse(render("register_table.html", **values, here=TABLE_PATH, may_not=may_not), status)

    def look(self, data: bytes) -> HTMLResponse:
        """Say what a file would do, and hold it."""
        text, who = text_of(data), visitor_name(AT_THE_PAGE)
        if isinstance(text, Refusal):
            return self.page(error=str(text), status=422)
        return self._told(text, who, asked(lambda: self._pages.sheets.take(text, who)))

    def take_in(self, word: str) -> HTMLResponse:
        """Keep what is held, where the register still is as it was when it was tried."""
        who = visitor_name(AT_THE_PAGE)
        held = self._held.take(word, who)
        if held is None:
            return self.page(error=_NOT_HELD, status=409)
        return self._told(
            held.text, who, asked(lambda: self._pages.sheets.take(held.text, who, held.tried.mark)), wanted=True
        )

    def _told(self, text: str, who: str, tried: Tried | Refusal, *, wanted: bool = False) -> HTMLResponse:
        if isinstance(tried, Refusal):
            return self.page(error=told_at_a_page(tried), status=422)
        word = "" if tried.kept or tried.refused else self._held.hold(Held(who, text, tried))
        changed = wanted and not tried.kept
        status = 409 if changed else 422 if tried.refused else 200
        return self.page(tried_view(tried, word), _CHANGED if changed else "", status)


def _add_export(router: APIRouter, pages: RegisterPages) -> None:
    def table(name: str, *, with_eggs: bool) -> Response:
        text = asked(lambda: pages.sheets.text(with_eggs))
        headers = {"Content-Disposition": f'attachment; filename="{name}"'}
        return Response(text.encode(), media_type="text/csv; charset=utf-8; header=present", headers=headers)

    @router.get(EMPTY_PATH)
    def empty_table() -> Response:
        headers = {"Content-Disposition": 'attachment; filename="clutches-to-fill-in.csv"'}
        text = f"{','.join(COLUMNS)}\r\n"
        return Response(text.encode(), media_type="text/csv; charset=utf-8; header=present", headers=headers)

    @router.get(EXPORT_PATH)
    def clutches_table() -> Response:
        return table("clutches.csv", with_eggs=False)

    @router.get(EXPORT_EGGS_PATH)
    def eggs_table() -> Response:
        return table("clutches-with-eggs.csv", with_eggs=True)


def text_of(data: bytes) -> str | Refusal:
    """Read a file as text; refused where it is none, or too large for a page."""
    if not data:
        return Refusal("No file was chosen, or it is empty", "Choose a table that was saved as CSV.", "file")
    if len(data) > LARGEST_BYTES:
        limit = f"{LARGEST_BYTES // 1_000_000} MB"
        hint = "Take a smaller table, or on the machine itself: clutchwarden clutch import FILE.csv"
        return Refusal(f"The file is larger than {limit}", hint, "file")
    if b"\x00" in data and not data.startswith(_UTF_16):
        return Refusal("This is no CSV table", "Choose a table that was saved as CSV in UTF-8.", "file")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        reason = f"The file is not UTF-8 text (byte {error.start + 1})"
        return Refusal(reason, "Save the table again as CSV in UTF-8.", "file")


def tried_view(tried: Tried, held: str) -> TriedView:
    """Put what a table does into rows; refused ones first, and those that change nothing are only counted."""
    said = sorted((each for each in tried.said if each.what != SAME), key=lambda each: each.what != REFUSED)
    counts = Counter(each.what for each in tried.said)
    totals = ", ".join(f"{counts[what]} {what}" for what in (ADDED, CHANGED, SAME, REFUSED) if counts[what])
    left_open = [
        f"{label} is closed, and nobody has said what became of {number} of its eggs."
        for label, number in tried.left_open
    ]
    return TriedView(
        rows=tuple(
            (each.line, f"{each.kind} {each.label}", each.what, _MARKS[each.what], each.detail)
            for each in said[:MOST_SHOWN]
        ),
        left_out=max(0, len(said) - MOST_SHOWN),
        totals=totals or "no row",
        left_open=tuple(left_open),
        kept=tried.kept,
        refused=tried.refused,
        held=held,
        changes=bool(said),
    )
