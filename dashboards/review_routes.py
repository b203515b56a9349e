"""Addresses of incidents and of the account of any period. A GET changes nothing."""

from collections.abc import Mapping

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from config.errors import StatedError
from daemon.answer_values import AT_THE_PAGE
from daemon.review.account import Review
from daemon.review_incidents import UnknownIncidentError
from dashboards import review_paths as paths
from dashboards.alarm_answer import asked, nothing
from dashboards.chart_request import AskedError, moment
from dashboards.forms import Form
from dashboards.rendering import render
from dashboards.review_form import SEEN_FIELD, TypedNotes, note_fields, wishes_of
from dashboards.review_list_view import incidents_view
from dashboards.review_pages import ReviewPages
from dashboards.review_print import html_of, made_of, measured_of
from dashboards.review_view import account_view
from dashboards.said import say
from dashboards.setup_forms import moment_value, sentence
from dashboards.source import Source
from dashboards.visiting import may, visitor, visitor_name

SHOWN = 50
SHEET = "sheet.html"
_ALL = (paths.INCIDENTS_PATH, "All incidents")
_READ = ["GET", "HEAD"]
DAY_MS = 86_400_000


def review_router(pages: ReviewPages) -> APIRouter:
    """Make the routes."""
    router = APIRouter(include_in_schema=False)
    accounts = _Accounts(pages)

    @router.api_route(paths.INCIDENTS_PATH, methods=_READ)
    def listed(before: str = "") -> Response:
        return accounts.listed(before)

    @router.api_route(f"{paths.INCIDENTS_PATH}/{{number}}", methods=_READ)
    def incident(number: str) -> Response:
        return accounts.page(number)

    @router.post(f"{paths.INCIDENTS_PATH}/{{number}}/notes")
    def note(number: str, form: Form) -> Response:
        return accounts.note(number, form)

    @router.api_route(f"{paths.INCIDENTS_PATH}/{{number}}/{SHEET}", methods=_READ)
    def sheet(number: str) -> Response:
        return accounts.sheet(number)

    @router.api_route(paths.PERIOD_PATH, methods=_READ)
    def period(since: str = "", until: str = "") -> Response:
        return accounts.period(since, until)

    @router.api_route(f"{paths.PERIOD_PATH}/{SHEET}", methods=_READ)
    def period_sheet(since: str = "", until: str = "") -> Response:
        return accounts.period(since, until, as_file=True)

    return router


def period_of(pages: ReviewPages, since: str, until: str) -> Review:
    """Give the account of a period as it was asked for; without an end until now. Raises AskedError."""
    from_ms = moment(since, pages.zone, "since")
    until_ms = moment(until, pages.zone, "until") if until.strip() else pages.now_ms()
    try:
        return asked(lambda: pages.reviews.review(from_ms, until_ms))
    except StatedError as error:
        field = "until" if from_ms >= until_ms else "since"
        raise AskedError(field, sentence(error)) from error


class _Accounts:
    def __init__(self, pages: ReviewPages) -> None:
        self._pages = pages

    def listed(self, before: str) -> Response:
        pages, number = self._pages, paths.number_of(before)
        if before and number is None:
            return nothing("page of incidents", *_ALL)
        found = asked(lambda: pages.incidents.newest(SHOWN + 1, number))
        waiting = frozenset(each.incident_id for each in pages.waiting())
        view = incidents_view(found, waiting, pages.site, SHOWN, pages.now_ms())
        return HTMLResponse(
            render("review_list.html", view=view, here=paths.INCIDENTS_PATH, **_period(view.since, view.until))
        )

    def page(self, number: str, typed: TypedNotes | None = None, status: int = 200) -> Response:
        review = self._one(number)
        if review is None:
            return nothing("incident", *_ALL)
        incident = 0 if review.incident is None else review.incident.incident_id
        return self._shown(
            review,
            status,
            here=paths.incident_path(incident),
            sheet_path=paths.incident_path(incident, SHEET),
            notes_path=paths.incident_path(incident, "notes"),
            fields=note_fields(review.notes, typed),
            seen=len(review.notes),
            error_count=0 if typed is None else len(typed.errors),
            period_form=False,
        )

    def note(self, number: str, form: Mapping[str, str]) -> Response:
        """Write what was typed; older words stay. Raises NothingToShowError."""
        pages, review = self._pages, self._one(number)
        if review is None or review.incident is None:
            return nothing("incident", *_ALL)
        wanted, incident = wishes_of(form, review.notes), review.incident.incident_id
        if isinstance(wanted, TypedNotes):
            is_older = form.get(SEEN_FIELD, "") != str(len(review.notes))
            return self.page(number, wanted, 409 if is_older else 422)
        who = visitor_name(AT_THE_PAGE)
        for field, text in wanted.items():
            asked(lambda field=field, text=text: pages.incidents.note(incident, who, field, text))  # type: ignore[misc]
        pages.waiting.forget()
        say("Saved, and on record." if wanted else "Nothing was changed.", paths.incident_path(incident))
        return RedirectResponse(f"{paths.incident_path(incident)}#written", 303)

    def sheet(self, number: str) -> Response:
        review = self._one(number)
        if review is None or review.incident is None:
            return nothing("incident", *_ALL)
        return self._file(review, f"incident-{review.incident.incident_id}.html")

    def period(self, since: str, until: str, *, as_file: bool = False) -> Response:
        """The account of a period, or the form with what is wrong with it. Raises NothingToShowError."""
        pages = self._pages
        if not since.strip() and not until.strip():
            now_ms = pages.now_ms()
            return self._form(moment_value(now_ms - DAY_MS, pages.zone), moment_value(now_ms, pages.zone))
        try:
            review = period_of(pages, since, until)
        except AskedError as error:
            return self._form(since, until, error)
        if as_file:
            return self._file(review, "review.html")
        since, until = (moment_value(each, pages.zone) for each in (review.period.from_ms, review.period.until(0)))
        return self._shown(
            review,
            200,
            here=paths.period_path(since, until),
            sheet_path=paths.period_path(since, until, SHEET),
            notes_path="",
            fields=(),
            seen=0,
            error_count=0,
            period_form=True,
            **_period(since, until),
        )

    def _one(self, number: str) -> Review | None:
        known = paths.number_of(number)
        if known is None:
            return None
        try:
            return asked(lambda: self._pages.reviews.review_of(known))
        except UnknownIncidentError:
            return None

    def _shown(self, review: Review, status: int, **values: object) -> Response:
        measured = Source(lambda: measured_of(self._pages.reader, review))()
        return HTMLResponse(
            render(
                "review.html",
                view=account_view(review, measured),
                made=made_of(review, _for_whom()),
                may_write=may("responder"),
                list_path=paths.INCIDENTS_PATH,
                **values,
            ),
            status,
        )

    def _file(self, review: Review, name: str) -> Response:
        """A file to be kept: with its style inside, it would be bare if a browser opened it from here."""
        measured = Source(lambda: measured_of(self._pages.reader, review))()
        text = html_of(review, measured, _for_whom())
        return HTMLResponse(text, headers={"Content-Disposition": f'attachment; filename="{name}"'})

    def _form(self, since: str, until: str, error: AskedError | None = None) -> Response:
        view = incidents_view((), (), self._pages.site, SHOWN, self._pages.now_ms())
        values = _period(since, until, error)
        html = render("review_wrong.html", view=view, here=paths.PERIOD_PATH, list_path=paths.INCIDENTS_PATH, **values)
        return HTMLResponse(html, 200 if error is None else 422)


def _for_whom() -> str:
    """Give who has signed in; nobody where nobody does."""
    here = visitor()
    return here.who if here is not None and here.session is not None else ""


def _period(since: str, until: str, error: AskedError | None = None) -> dict[str, str]:
    return {
        "since": since,
        "until": until,
        "wrong": "" if error is None else error.field,
        "said": "" if error is None else str(error),
        "period_path": paths.PERIOD_PATH,
    }
