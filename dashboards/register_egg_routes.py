"""Addresses of the eggs of a clutch: all, one, and the marks on their shells. A GET changes nothing."""

from collections.abc import Mapping

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response

from daemon.answer_values import AT_THE_PAGE
from daemon.clutches.eggs import Egg
from dashboards import register_acts as acts
from dashboards import register_eggs as eggs
from dashboards.alarm_answer import asked, nothing
from dashboards.clutch_eggs import eggs_text
from dashboards.forms import Form
from dashboards.register_pages import MAY_NOT, OneClutch, RegisterPages, done
from dashboards.register_paths import CLUTCHES_PATH, clutch_path, number_of
from dashboards.register_reading import left_over
from dashboards.register_routes import ALL, READ, answered, desk_of, look, not_pressed
from dashboards.rendering import render
from dashboards.setup_forms import FormView, Typed
from dashboards.visiting import may, visitor_name

_EGGS = f"{CLUTCHES_PATH}/{{number}}/eggs"
_IS_CLOSED = "It is closed, with all its eggs accounted for. What is wrong is mended after opening it again."


def register_egg_router(pages: RegisterPages) -> APIRouter:
    """Make the routes."""
    router, shown = APIRouter(include_in_schema=False), _Eggs(pages)
    _add_all(router, shown)

    @router.api_route(f"{_EGGS}/{{egg}}", methods=READ)
    def egg_page(number: str, egg: str) -> Response:
        return shown.one(number, egg)

    @router.post(f"{_EGGS}/{{egg}}")
    def egg_said(number: str, egg: str, form: Form) -> Response:
        return shown.say_of_one(number, egg, form)

    return router


def _add_all(router: APIRouter, shown: "_Eggs") -> None:
    marks = f"{CLUTCHES_PATH}/{{number}}/marks"

    @router.api_route(_EGGS, methods=READ)
    def eggs_page(number: str) -> Response:
        return shown.all(number)

    @router.post(_EGGS)
    def eggs_said(number: str, form: Form) -> Response:
        return shown.say_of_several(number, form)

    @router.api_route(marks, methods=READ)
    def marks_page(number: str, first: str = "") -> Response:
        return shown.marks(number, number_of(first) or 1)

    @router.post(marks)
    def marked(number: str, form: Form, first: str = "") -> Response:
        return shown.mark(number, number_of(first) or 1, form)


class _Eggs:
    """Shows the eggs of a clutch, and does what is sent."""

    def __init__(self, pages: RegisterPages) -> None:
        self._pages = pages

    def all(self, number: str, typed: Typed | None = None, status: int = 200) -> Response:
        found = look(self._pages, number, "eggs")
        if isinstance(found, Response):
            return found
        number_, is_open = found.clutch.clutch_id, found.clutch.is_open
        forms = (eggs.several_form(number_, found.mark, typed),) if is_open and may("responder") else ()
        chips = [eggs.chip(each, number_, self._pages.zone) for each in found.file.eggs]
        values = {
            "error": left_over(typed, forms),
            "chips": chips,
            "counts": eggs_text(found.file.counts),
            "total": found.clutch.egg_count,
        }
        marks_path = clutch_path(number_, "marks")
        return self._answer("eggs.html", found, "eggs", "Eggs", forms, status, **values, marks_path=marks_path)

    def one(self, number: str, name: str, typed: Typed | None = None, status: int = 200) -> Response:
        found = look(self._pages, number, "eggs")
        if isinstance(found, Response):
            return found
        egg = egg_of(found, name)
        if egg is None:
            return nothing("egg", clutch_path(found.clutch.clutch_id, "eggs"), f"Eggs of {found.clutch.label}")
        number_, zone = found.clutch.clutch_id, self._pages.zone
        forms: tuple[FormView, ...] = ()
        if found.clutch.is_open and may("responder"):
            say = eggs.say_form(number_, egg, found.mark, typed)
            forms = (say, eggs.mark_form(number_, egg, found.mark, typed))
        told = eggs.course_of(found.file, egg, found.mark, zone, typed)
        error = left_over(typed, (*forms, *(form for each in told for form in each.forms)))
        values = {"chip": eggs.chip(egg, number_, zone), "told": told, "error": error, "egg": egg}
        return self._answer("egg.html", found, f"eggs/{egg.number}", f"Egg {egg.name}", forms, status, **values)

    def marks(self, number: str, first: int, typed: Typed | None = None, status: int = 200) -> Response:
        found = look(self._pages, number, "eggs")
        if isinstance(found, Response):
            return found
        starts = range(1, found.clutch.egg_count + 1, eggs.MARKS_AT_ONCE)
        start = first if first in starts else 1
        is_open = found.clutch.is_open
        form = (eggs.marks_form(found.file, start, found.mark, typed),) if is_open and may("responder") else ()
        others = [(each, min(each + eggs.MARKS_AT_ONCE - 1, found.clutch.egg_count)) for each in starts]
        values = {"others": others if len(others) > 1 else [], "start": start, "error": left_over(typed, form)}
        return self._answer("egg_marks.html", found, "marks", "Marks", form, status, **values)

    def say_of_several(self, number: str, form: Mapping[str, str]) -> Response:
        found, zone = self._pages.one(number), self._pages.zone
        if found is None:
            return nothing("clutch", *ALL)
        wish = eggs.saying_of(eggs.SEVERAL, form, None, zone)
        if isinstance(wish, Typed):
            return self.all(number, wish, 422)
        early = self._early(found, eggs.SEVERAL, form, wish)
        if early is not None:
            return self.all(number, early, 422)
        answer = self._say(found, form, wish)
        path = clutch_path(found.clutch.clutch_id, "eggs")
        outcome = answered(answer, eggs.SEVERAL, form, path)
        return outcome if isinstance(outcome, Response) else self.all(number, *outcome)

    def say_of_one(self, number: str, name: str, form: Mapping[str, str]) -> Response:
        found = self._pages.one(number)
        egg = None if found is None else egg_of(found, name)
        if found is None or egg is None:
            return self.one(number, name)
        outcome = self._of_one(found, egg, form)
        return outcome if isinstance(outcome, Response) else self.one(number, name, *outcome)

    def mark(self, number: str, first: int, form: Mapping[str, str]) -> Response:
        found = self._pages.one(number)
        if found is None:
            return nothing("clutch", *ALL)
        wish, path = eggs.marks_of(form, found.file), clutch_path(found.clutch.clutch_id, "eggs")
        if not wish:
            return done(path)
        desk, number_ = desk_of(self._pages, found, form), found.clutch.clutch_id
        answer = asked(lambda: desk.mark(number_, wish, visitor_name(AT_THE_PAGE)))
        outcome = answered(answer, eggs.MARKS, form, path, {"mark": ""})
        return outcome if isinstance(outcome, Response) else self.marks(number, first, *outcome)

    def _of_one(self, found: OneClutch, egg: Egg, form: Mapping[str, str]) -> Response | tuple[Typed, int]:
        wanted, number = form.get("wanted", ""), found.clutch.clutch_id
        if wanted == eggs.SAY:
            wish = eggs.saying_of(wanted, form, egg, self._pages.zone)
            if isinstance(wish, Typed):
                return wish, 422
            early = self._early(found, wanted, form, wish)
            if early is not None:
                return early, 422
            return answered(self._say(found, form, wish), wanted, form, clutch_path(number, "eggs"))
        path = clutch_path(number, f"eggs/{egg.number}")
        if wanted == eggs.MARK:
            desk, mark = desk_of(self._pages, found, form), {str(egg.number): form.get("mark_on_shell", "")}
            marked = asked(lambda: desk.mark(number, mark, visitor_name(AT_THE_PAGE)))
            return answered(marked, wanted, form, path, {"mark": "mark_on_shell"})
        return self._of_event(found, form, path)

    def _of_event(self, found: OneClutch, form: Mapping[str, str], path: str) -> Response | tuple[Typed, int]:
        desk, number, who = desk_of(self._pages, found, form), found.clutch.clutch_id, visitor_name(AT_THE_PAGE)
        wanted, event = form.get("wanted", ""), number_of(form.get("number", "")) or 0
        if wanted == acts.numbered(acts.TAKE_BACK, event):
            taken = asked(lambda: desk.withdraw_event(number, event, who, form.get("why", "")))
            return answered(taken, wanted, form, path)
        if wanted != acts.numbered(eggs.OTHER_EGG, event):
            return not_pressed(form, eggs.SAY)
        if not form.get("which"):
            return Typed(wanted, form, {"which": "Choose the other egg."}), 422
        return answered(asked(lambda: desk.say_which(number, event, form["which"], who)), wanted, form, path)

    def _early(self, found: OneClutch, wanted: str, form: Mapping[str, str], wish: eggs.Saying) -> Typed | None:
        now_ms = self._pages.now_ms()
        at_ms = now_ms if wish.at_ms is None else wish.at_ms
        if not found.clutch.laid_from_ms <= at_ms <= now_ms:
            # The register refuses that, and says why.
            return None
        asked_of = eggs.ask_of_early(form, wish.state, at_ms, self._pages.earliest_hatching_ms(found.clutch))
        return Typed(wanted, form, {eggs.SURE: asked_of}) if asked_of else None

    def _say(self, found: OneClutch, form: Mapping[str, str], wish: eggs.Saying) -> object:
        desk, number, who = desk_of(self._pages, found, form), found.clutch.clutch_id, visitor_name(AT_THE_PAGE)
        return asked(lambda: desk.say_of_eggs(number, wish.state, wish.which, who, wish.note, wish.at_ms))

    def _answer(
        self,
        template: str,
        found: OneClutch,
        what: str,
        heading: str,
        forms: tuple[FormView, ...],
        status: int,
        **values: object,
    ) -> HTMLResponse:
        number = found.clutch.clutch_id
        is_eggs = what == "eggs"
        back = (found.path, found.clutch.label) if is_eggs else (clutch_path(number, "eggs"), "All its eggs")
        may_not = _IS_CLOSED if not found.clutch.is_open else "" if may("responder") else MAY_NOT
        page = render(
            template,
            view=self._pages.head(),
            here=clutch_path(number, what),
            heading=f"{heading}: {found.clutch.label}",
            back=back,
            forms=forms,
            may_not=may_not,
            venomous=self._pages.is_venomous(found.clutch),
            **values,
        )
        return HTMLResponse(page, status)


def egg_of(found: OneClutch, name: str) -> Egg | None:
    """Give an egg by the number in an address; None where there is none."""
    number = number_of(name)
    return found.file.eggs[number - 1] if number and number <= len(found.file.eggs) else None
