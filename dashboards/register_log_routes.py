"""Addresses of the notes and the sizes of a clutch. A GET changes nothing."""

from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response

from daemon.answer_values import AT_THE_PAGE
from daemon.clutches.measures import Measure, swelling
from daemon.clutches.remarks import Note
from dashboards import figures
from dashboards import register_acts as acts
from dashboards.alarm_answer import asked, nothing
from dashboards.forms import Form
from dashboards.register_pages import MAY_NOT, OneClutch, RegisterPages
from dashboards.register_paths import CLUTCHES_PATH, clutch_path, number_of
from dashboards.register_reading import Reads, left_over
from dashboards.register_routes import ALL, READ, answered, desk_of, look
from dashboards.rendering import render
from dashboards.setup_forms import FormView, Typed, moment_value
from dashboards.visiting import may, visitor_name


@dataclass(frozen=True, slots=True)
class Line:
    """A note or a size on record: when, what, by whom; `forms` correct it or take it back."""

    number: int
    when: str
    text: str
    who: str
    gone: bool
    forms: tuple[FormView, ...]


def register_log_router(pages: RegisterPages) -> APIRouter:
    """Make the routes."""
    router = APIRouter(include_in_schema=False)
    log = _Log(pages)
    notes, sizes = f"{CLUTCHES_PATH}/{{number}}/notes", f"{CLUTCHES_PATH}/{{number}}/sizes"

    @router.api_route(notes, methods=READ)
    def notes_page(number: str) -> Response:
        return log.page(number, "notes")

    @router.post(notes)
    def note(number: str, form: Form) -> Response:
        return log.note(number, form)

    @router.api_route(sizes, methods=READ)
    def sizes_page(number: str) -> Response:
        return log.page(number, "sizes")

    @router.post(sizes)
    def size(number: str, form: Form) -> Response:
        return log.size(number, form)

    return router


class _Log:
    def __init__(self, pages: RegisterPages) -> None:
        self._pages = pages

    def page(self, number: str, what: str, typed: Typed | None = None, status: int = 200) -> Response:
        found = look(self._pages, number, what)
        if isinstance(found, Response):
            return found
        is_notes, may_change = what == "notes", may("responder")
        lines = self._notes(found, typed) if is_notes else self._sizes(found, typed)
        form = self._note_form(found, typed) if is_notes else self._size_form(found, typed)
        return HTMLResponse(
            render(
                "register_log.html",
                view=self._pages.head(),
                here=clutch_path(found.clutch.clutch_id, what),
                heading=f"{'Notes' if is_notes else 'Sizes'}: {found.clutch.label}",
                back=(found.path, found.clutch.label),
                lines=lines,
                told=() if is_notes else self._swollen(found),
                none="No note yet." if is_notes else "No size yet. Sizes are optional.",
                form=form,
                error=left_over(typed, (form, *(each for line in lines for each in line.forms))),
                may_not="" if may_change else MAY_NOT,
                venomous=self._pages.is_venomous(found.clutch),
            ),
            status,
        )

    def note(self, number: str, form: Mapping[str, str]) -> Response:
        pages, found = self._pages, self._pages.one(number)
        if found is None:
            return nothing("clutch", *ALL)
        corrected, read = number_of(form.get("number", "")), Reads(form)
        wanted = acts.NOTE if corrected is None else acts.numbered(acts.CORRECT, corrected)
        text, at_ms = read.long("text"), read.moment("at", pages.zone)
        if read.errors:
            return self.page(number, "notes", Typed(wanted, form, read.errors), 422)
        before = next((each for each in found.file.notes if each.number == corrected), None)
        if before is not None and form.get("at", "") == moment_value(before.at_ms, pages.zone):
            # A field shows minutes; what nobody changed stays as exact as it is.
            at_ms = before.at_ms
        desk, clutch_id = desk_of(pages, found, form), found.clutch.clutch_id
        answer = asked(lambda: desk.note(clutch_id, text, visitor_name(AT_THE_PAGE), at_ms, corrected))
        return self._answered(number, "notes", answered(answer, wanted, form, clutch_path(clutch_id, "notes")))

    def size(self, number: str, form: Mapping[str, str]) -> Response:
        pages, found = self._pages, self._pages.one(number)
        if found is None:
            return nothing("clutch", *ALL)
        desk, clutch_id, who = desk_of(pages, found, form), found.clutch.clutch_id, visitor_name(AT_THE_PAGE)
        path, taken_back = clutch_path(clutch_id, "sizes"), number_of(form.get("number", ""))
        if taken_back is not None:
            wanted = acts.numbered(acts.TAKE_BACK, taken_back)
            answer = asked(lambda: desk.withdraw_measure(clutch_id, taken_back, who, form.get("why", "")))
            return self._answered(number, "sizes", answered(answer, wanted, form, path))
        wish = acts.size_of(form, pages.zone, pages.now_ms())
        if isinstance(wish, Typed):
            return self.page(number, "sizes", wish, 422)
        new, egg = wish
        kept = asked(lambda: desk.measure(clutch_id, new, who, egg))
        others = {"eggs": "egg" if egg else "eggs"}
        return self._answered(number, "sizes", answered(kept, acts.SIZE, form, path, others))

    def _answered(self, number: str, what: str, answer: Response | tuple[Typed, int]) -> Response:
        return answer if isinstance(answer, Response) else self.page(number, what, *answer)

    def _note_form(self, found: OneClutch, typed: Typed | None) -> FormView:
        return acts.note_form(found.clutch, found.mark, typed)

    def _size_form(self, found: OneClutch, typed: Typed | None) -> FormView:
        eggs = tuple((str(egg.number), f"egg {egg.name}") for egg in found.file.eggs)
        return acts.size_form(found.clutch, eggs, found.mark, typed)

    def _notes(self, found: OneClutch, typed: Typed | None) -> tuple[Line, ...]:
        return tuple(self._note_line(found, each, typed) for each in reversed(found.file.notes))

    def _note_line(self, found: OneClutch, note: Note, typed: Typed | None) -> Line:
        at = moment_value(note.at_ms, self._pages.zone)
        form = acts.correct_form(found.clutch, note.number, note.text, at, found.mark, typed)
        return Line(note.number, self._when(note.at_ms), note.text, note.who, gone=False, forms=(form,))

    def _sizes(self, found: OneClutch, typed: Typed | None) -> tuple[Line, ...]:
        return tuple(self._size_line(found, each, typed) for each in reversed(found.file.measures))

    def _size_line(self, found: OneClutch, one: Measure, typed: Typed | None) -> Line:
        form = acts.take_back_form(found.clutch, "sizes", one.number, found.mark, typed)
        names = {egg.number: egg.name for egg in found.file.eggs}
        text = size_text(one, names)
        forms = () if one.withdrawn else (form,)
        return Line(one.number, self._when(one.measured.at_ms), text, one.who, one.withdrawn, forms)

    def _swollen(self, found: OneClutch) -> tuple[str, ...]:
        eggs = {one.measured.egg for one in found.file.measures}
        told = []
        for egg in sorted(eggs, key=lambda each: each or 0):
            swollen = swelling(found.file.measures, egg)
            if swollen is not None:
                whose = "The clutch" if egg is None else f"Egg {egg}"
                told.append(f"{whose} has {swollen.ratio:.2f} times its first {swollen.of}. {swollen.hint}")
        return tuple(told)

    def _when(self, at_ms: int) -> str:
        return figures.moment_text(figures.local(at_ms, self._pages.zone))


def size_text(one: Measure, names: Mapping[int, str]) -> str:
    """Write a size: `egg 3: 12.4 g, 31 mm`."""
    new = one.measured
    whose = f"egg {names.get(new.egg, new.egg)}" if new.egg is not None else ""
    weighed = f" for {new.eggs} eggs together" if new.eggs > 1 else ""
    parts = [
        "" if new.mass_g is None else f"{new.mass_g:g} g{weighed}",
        "" if new.length_mm is None else f"{new.length_mm:g} mm long",
    ]
    size = ", ".join(part for part in parts if part)
    text = f"{whose}: {size}" if whose else size
    return f"{text}. {new.note}" if new.note else text
