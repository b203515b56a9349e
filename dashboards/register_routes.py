"""Addresses at which a clutch is entered, corrected, moved, closed, reopened, withdrawn. A GET changes nothing."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response

from daemon.answer_values import AT_THE_PAGE
from daemon.clutches.desk import Refusal, RegisterDesk
from daemon.clutches.values import NewClutch
from dashboards import register_acts as acts
from dashboards.alarm_answer import asked, nothing
from dashboards.forms import Form
from dashboards.register_entry import EDIT, ENTER, brought_up, correction_of, edit_form, new_clutch_of, new_form
from dashboards.register_pages import (
    MAY_NOT,
    MAY_NOT_MEND,
    OneClutch,
    RegisterPages,
    done,
    status_of,
    typed_mark,
    unknown_button,
)
from dashboards.register_paths import CLUTCHES_PATH, NEW_PATH, clutch_path
from dashboards.register_reading import is_outdated, refused
from dashboards.setup_forms import FormView, Typed, chosen
from dashboards.visiting import may, visitor_name

READ = ["GET", "HEAD"]
ALL = (CLUTCHES_PATH, "All clutches")
_NEW_FIELDS = {"set_up_ms": "set_up", "at": "set_up"}
_SURE = "Tick this, and it is withdrawn."


@dataclass(frozen=True, slots=True)
class Act:
    """One page of forms of a clutch: what it shows, and what becomes of what is sent: a way on, or what is wrong.

    `role`: who may do it. `shows_places`: the forms ask where a clutch is to lie.
    """

    what: str
    heading: str
    forms: Callable[[OneClutch, Typed | None], Sequence[FormView]]
    send: Callable[[OneClutch, Mapping[str, str]], Response | tuple[Typed, int]]
    lines: Callable[[OneClutch], Sequence[str]] = lambda _: ()
    role: str = "responder"
    shows_places: bool = False


def register_router(pages: RegisterPages) -> APIRouter:
    """Make the routes."""
    router, changes = APIRouter(include_in_schema=False), _Changes(pages)
    _add_new(router, pages)
    for act in (
        Act("edit", "Correct", changes.edit_forms, changes.edit),
        Act("move", "Move", changes.move_forms, changes.move, changes.lies, shows_places=True),
        Act("close", "Close", changes.close_forms, changes.close),
        Act("reopen", "Open again", changes.reopen_forms, changes.reopen, changes.ended, "keeper"),
        Act("withdraw", "Withdraw", changes.withdraw_forms, changes.withdraw, role="keeper"),
    ):
        add_act(router, pages, act)
    return router


def look(pages: RegisterPages, number: str, what: str) -> OneClutch | Response:
    """Give the clutch of an address, or the answer where it is not there or was withdrawn."""
    found = pages.one(number)
    if found is None:
        return nothing("clutch", *ALL)
    was_withdrawn = found.clutch.withdrawn_at_ms is not None and what != "reopen"
    return done(clutch_path(found.clutch.clutch_id, "reopen")) if was_withdrawn else found


def add_act(router: APIRouter, pages: RegisterPages, act: Act) -> None:
    """Give a clutch one page of forms."""
    path = f"{CLUTCHES_PATH}/{{number}}/{act.what}"

    def page(found: OneClutch, typed: Typed | None = None, status: int = 200, place: str = "") -> HTMLResponse:
        here, is_allowed = clutch_path(found.clutch.clutch_id, act.what), may(act.role)
        was_withdrawn = found.clutch.withdrawn_at_ms is not None
        return pages.form_page(
            here,
            f"{act.heading}: {found.clutch.label}",
            [chosen(each, {"place": place}) for each in act.forms(found, typed)] if is_allowed else (),
            back=ALL if was_withdrawn else (found.path, found.clutch.label),
            lines=act.lines(found),
            places=pages.cabinets(found.clutch.clutch_id) if act.shows_places and is_allowed else (),
            venomous=pages.is_venomous(found.clutch),
            may_not="" if is_allowed else (MAY_NOT_MEND if act.role == "keeper" else MAY_NOT),
            typed=typed,
            status=status,
        )

    @router.api_route(path, methods=READ, name=f"{act.what} form")
    def shown(number: str, place: str = "") -> Response:
        found = look(pages, number, act.what)
        # Another page has proposed a place: it is chosen already, and moved is by the button alone.
        return found if isinstance(found, Response) else page(found, place=place if pages.places.exists(place) else "")

    @router.post(path, name=f"{act.what} sent")
    def sent(number: str, form: Form) -> Response:
        found = pages.one(number)
        if found is None:
            return nothing("clutch", *ALL)
        answer = act.send(found, form)
        if isinstance(answer, Response):
            return answer
        # What is wrong is told on the page as it is now, with the mark of now.
        return page(pages.one(number) or found, *answer)


def _add_new(router: APIRouter, pages: RegisterPages) -> None:
    def page(place: str, typed: Typed | None = None, status: int = 200, species: str = "") -> HTMLResponse:
        ground = pages.ground()
        known = {"species": ground.species.get(species, "")}
        forms = (chosen(new_form(ground, place, typed), known),) if may("responder") else ()
        heading, may_not = "Enter a clutch", "" if forms else MAY_NOT
        places = pages.cabinets()
        return pages.form_page(NEW_PATH, heading, forms, back=ALL, places=places, may_not=may_not, status=status)

    @router.api_route(NEW_PATH, methods=READ)
    def new_page(place: str = "", species: str = "") -> HTMLResponse:
        return page(place if pages.places.exists(place) else "", species=species)

    @router.post(NEW_PATH)
    def enter(form: Form) -> Response:
        wish = new_clutch_of(pages.ground(), form, pages.places.all)
        if not isinstance(wish, NewClutch):
            return page("", wish, 422)
        answer = asked(lambda: pages.desk.add(wish, visitor_name(AT_THE_PAGE)))
        if isinstance(answer, Refusal):
            return page("", refused(ENTER, form, answer, _NEW_FIELDS, pages.place_names), status_of(answer))
        return done(clutch_path(answer))


class _Changes:
    """The forms of one clutch, and what is done by them."""

    def __init__(self, pages: RegisterPages) -> None:
        self._pages = pages

    def edit_forms(self, found: OneClutch, typed: Typed | None) -> Sequence[FormView]:
        return (edit_form(self._pages.ground(), found.clutch, found.mark, typed),)

    def edit(self, found: OneClutch, form: Mapping[str, str]) -> Response | tuple[Typed, int]:
        pages, number = self._pages, found.clutch.clutch_id
        whole, beside = brought_up(pages.ground(), found.clutch, form)
        wish = correction_of(pages.ground(), found.clutch, whole)
        if isinstance(wish, Typed):
            return replace(wish, errors={**beside, **wish.errors}), 422
        desk = desk_of(pages, found, form)
        answer = asked(lambda: desk.edit(number, wish.changes, visitor_name(AT_THE_PAGE), wish.why))
        if isinstance(answer, Refusal) and is_outdated(answer):
            # It may have been changed since it was looked for: what is told and filled in is that of now.
            now = pages.one(str(number)) or found
            whole, beside = brought_up(pages.ground(), now.clutch, form)
            told = refused(EDIT, whole, answer, places=pages.place_names)
            return replace(told, errors={**beside, **told.errors}), status_of(answer)
        return answered(answer, EDIT, whole, found.path, places=pages.place_names)

    def lies(self, found: OneClutch) -> Sequence[str]:
        stay = found.clutch.placements[-1]
        return (f"It lies in {self._pages.place_name(stay.place)}: {self._pages.counted(stay.place)}.",)

    def move_forms(self, found: OneClutch, typed: Typed | None) -> Sequence[FormView]:
        move, others = acts.move_form(found.clutch, found.mark, typed), self._others(found)
        return (move, acts.swap_form(found.clutch, others, found.mark, typed)) if others else (move,)

    def move(self, found: OneClutch, form: Mapping[str, str]) -> Response | tuple[Typed, int]:
        pages, number, who = self._pages, found.clutch.clutch_id, visitor_name(AT_THE_PAGE)
        desk = desk_of(pages, found, form)
        if form.get("wanted", "") == acts.SWAP:
            pair = acts.swapping_of(form, self._others(found), pages.zone)
            if isinstance(pair, Typed):
                return pair, 422
            other, swap = pair
            swapped = asked(lambda: desk.swap(number, other, who, swap.why, swap.at_ms))
            return answered(swapped, acts.SWAP, form, f"{found.path}#lay", {"place": "other"}, pages.place_names)
        wish = acts.moving_of(form, pages.places.all, pages.zone)
        if isinstance(wish, Typed):
            return wish, 422
        moved = asked(lambda: desk.move(number, wish.place, who, wish.why, wish.at_ms))
        return answered(moved, acts.MOVE, form, f"{found.path}#lay", places=pages.place_names)

    def _others(self, found: OneClutch) -> tuple[tuple[str, str], ...]:
        return tuple(
            (str(each.clutch_id), f"{each.label}, {self._pages.place_name(each.placements[-1].place)}")
            for each in self._pages.lying()
            if each.clutch_id != found.clutch.clutch_id
        )

    def close_forms(self, found: OneClutch, typed: Typed | None) -> Sequence[FormView]:
        return (acts.close_form(found.clutch, found.file.counts, found.mark, typed),)

    def close(self, found: OneClutch, form: Mapping[str, str]) -> Response | tuple[Typed, int]:
        wish = acts.closing_of(form, self._pages.zone, self._pages.now_ms())
        if isinstance(wish, Typed):
            return wish, 422
        desk, number = desk_of(self._pages, found, form), found.clutch.clutch_id
        answer = asked(lambda: desk.close(number, wish, visitor_name(AT_THE_PAGE)))
        return answered(answer, acts.CLOSE, form, found.path, {"note": "note"})

    def ended(self, found: OneClutch) -> Sequence[str]:
        clutch = found.clutch
        if clutch.withdrawn_at_ms is not None:
            last = next((each for each in reversed(found.file.changes) if each.what == "withdraw"), None)
            by = f" by {last.who}: {last.why}" if last is not None else ""
            return (f"It was withdrawn{by}. Nothing is counted or watched for it; it stays on record.",)
        return () if clutch.closed_at_ms is not None else ("It is open: there is nothing to take back.",)

    def reopen_forms(self, found: OneClutch, typed: Typed | None) -> Sequence[FormView]:
        return () if found.clutch.is_open else (acts.reopen_form(found.clutch, found.mark, typed),)

    def reopen(self, found: OneClutch, form: Mapping[str, str]) -> Response | tuple[Typed, int]:
        desk, number = desk_of(self._pages, found, form), found.clutch.clutch_id
        answer = asked(lambda: desk.reopen(number, visitor_name(AT_THE_PAGE), form.get("why", "")))
        return answered(answer, acts.REOPEN, form, found.path)

    def withdraw_forms(self, found: OneClutch, typed: Typed | None) -> Sequence[FormView]:
        return (acts.withdraw_form(found.clutch, found.mark, typed),)

    def withdraw(self, found: OneClutch, form: Mapping[str, str]) -> Response | tuple[Typed, int]:
        why = acts.sure_of(form, _SURE)
        if isinstance(why, Typed):
            return why, 422
        desk, number = desk_of(self._pages, found, form), found.clutch.clutch_id
        answer = asked(lambda: desk.withdraw(number, visitor_name(AT_THE_PAGE), why))
        return answered(answer, acts.WITHDRAW, form, clutch_path(number, "reopen"))


def desk_of(pages: RegisterPages, found: OneClutch, form: Mapping[str, str]) -> RegisterDesk:
    """Give a desk that refuses what comes from an older page."""
    return pages.desk.unchanged_since(found.clutch.clutch_id, typed_mark(form))


def answered(
    answer: object,
    wanted: str,
    form: Mapping[str, str],
    path: str,
    others: Mapping[str, str] | None = None,
    places: Mapping[str, str] | None = None,
) -> Response | tuple[Typed, int]:
    """Go on where it was done; else say what the register refuses, beside the field."""
    if isinstance(answer, Refusal):
        return refused(wanted, form, answer, others or {}, places or {}), status_of(answer)
    return done(path)


def not_pressed(form: Mapping[str, str], wanted: str) -> tuple[Typed, int]:
    """Answer to a button that no form has."""
    return unknown_button(form, wanted), 400
