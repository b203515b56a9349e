"""The page on which a keeper changes people, their contacts and quiet hours. Pure."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from daemon.people_values import PeopleNow, PersonNow
from dashboards import figures
from dashboards.setup_forms import FormView, Typed
from dashboards.setup_paths import KIND_WORDS, PEOPLE_PATH
from dashboards.setup_people_forms import add_form, person_forms, quiet_form


@dataclass(frozen=True, slots=True)
class StatedPerson:
    """One person as the site file states them."""

    key: str
    name: str
    short_name: str
    lines: tuple[str, ...]
    forms: tuple[FormView, ...]

    @property
    def is_open(self) -> bool:
        """True where one of the forms was refused."""
        return any(form.is_open for form in self.forms)


@dataclass(frozen=True, slots=True)
class PeopleSetupView:
    """The whole page. `refusal` says why nothing can be changed here; `error` what became of what was sent."""

    site_name: str
    clock: str
    zone: str
    people: tuple[StatedPerson, ...]
    quiet: str
    forms: tuple[FormView, ...]
    refusal: str
    error: str
    rota_path: str


def people_setup_view(
    found: PeopleNow, mark: str, *, may_change: bool, refusal: str = "", typed: Typed | None = None
) -> PeopleSetupView:
    """Turn what is stated into the page; without forms for who may not change it."""
    zone = ZoneInfo(found.time_zone)
    open_forms = may_change and not refusal
    people = tuple(_stated(each, mark, typed if open_forms else None, open_forms) for each in found.people)
    forms = (quiet_form(found, mark, typed), add_form(mark, typed)) if open_forms else ()
    shown = {form.wanted for form in (*forms, *(form for person in people for form in person.forms))}
    lost = typed is not None and typed.wanted not in shown
    return PeopleSetupView(
        site_name=found.site_name,
        clock=figures.moment_text(figures.local(found.now_ms, zone)),
        zone=found.time_zone,
        people=people,
        quiet=_quiet(found),
        forms=forms,
        refusal=refusal or ("" if may_change else "A keeper may change this."),
        error=typed.error if typed is not None and lost else "",
        rota_path=PEOPLE_PATH,
    )


def _stated(person: PersonNow, mark: str, typed: Typed | None, open_forms: bool) -> StatedPerson:
    lines = ["Only for emergencies: when nobody answers a critical alarm."] if person.emergency else []
    if not person.contacts:
        lines.append("No contact: no alert reaches this person.")
    lines += [
        f"Contact {way.number}: {KIND_WORDS.get(way.kind, way.kind)}{', signed' if way.signed else ''}."
        for way in person.contacts
    ]
    forms = person_forms(person, mark, typed) if open_forms else ()
    return StatedPerson(f"person-{person.person}", person.name, person.person, tuple(lines), forms)


def _quiet(found: PeopleNow) -> str:
    if found.quiet is None:
        return "No quiet hours: every alarm comes at once."
    start, end = found.quiet
    return f"Quiet hours {start:%H:%M} to {end:%H:%M}: alarms of the lowest priority wait."
