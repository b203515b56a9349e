"""What the pages of the register stand before: the desk, species and places of the site, and what every page has."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from fastapi.responses import HTMLResponse, RedirectResponse

from config.places import Places
from config.site import Site
from config.species import SpeciesProfile
from daemon.clutches.desk import Refusal, RegisterDesk
from daemon.clutches.file import ClutchFile
from daemon.clutches.sheet_desk import SheetDesk
from daemon.clutches.values import Clutch, is_venomous
from daemon.storage.journal import Journal
from daemon.thermometers import AirChannels
from dashboards import figures
from dashboards.alarm_answer import asked
from dashboards.register_entry import Ground, species_names
from dashboards.register_paths import clutch_path, number_of
from dashboards.register_places import Cabinet, cabinets, counter
from dashboards.register_reading import is_outdated, left_over
from dashboards.rendering import render
from dashboards.setup_forms import FormView, Typed

_HOUR_MS = 3_600_000
MAY_NOT = "You may read. Clutches are changed by those who are responders or keepers here."
MAY_NOT_MEND = "Only a keeper takes back that a clutch was closed, or says that it was entered by mistake."


@dataclass(frozen=True, slots=True)
class Head:
    """What stands at the head of every page."""

    site_name: str
    clock: str
    zone: str


@dataclass(frozen=True, slots=True)
class OneClutch:
    """A clutch as a page found it, and the number of its last change then."""

    file: ClutchFile
    mark: int

    @property
    def clutch(self) -> Clutch:
        """The clutch itself."""
        return self.file.clutch

    @property
    def path(self) -> str:
        """The address of its page."""
        return clutch_path(self.clutch.clutch_id)


class RegisterPages:
    """Reads for the pages and makes them. Its methods raise NothingToShowError where the journal cannot be read."""

    def __init__(
        self, journal: Journal, site: Site, profiles: Mapping[str, SpeciesProfile], now_ms: Callable[[], int]
    ) -> None:
        self.desk = RegisterDesk(journal, site, profiles, now_ms)
        self.sheets = SheetDesk(journal, site, profiles, now_ms)
        self.places = Places(site)
        self.zone = ZoneInfo(site.time_zone)
        self.now_ms = now_ms
        self.site = site
        self._profiles = profiles
        self._species = species_names(profiles.values())
        self.place_names = {each: self.places.name(each) for each in self.places.all}
        self._counted = counter(self.places, AirChannels(site).channel_at)

    def ground(self) -> Ground:
        """What forms need of the site, at this moment."""
        return Ground(self.zone, self.site.temperature_unit == "F", self._species, self.now_ms())

    def head(self) -> Head:
        """What stands at the head of a page."""
        clock = figures.moment_text(figures.local(self.now_ms(), self.zone))
        return Head(self.site.name, clock, self.site.time_zone)

    def one(self, text: str) -> OneClutch | None:
        """Give a clutch by the number in an address; None where there is none."""
        number = number_of(text)
        if number is None:
            return None
        # The mark first: what happens in between makes a form refused, and never unnoticed.
        mark = asked(lambda: self.desk.last_change(number))
        found = asked(lambda: self.desk.file(number))
        return None if found is None else OneClutch(found, mark)

    def lying(self) -> list[Clutch]:
        """Give the open clutches."""
        return [clutch for clutch, _ in asked(self.desk.all)]

    def cabinets(self, mine: int | None = None) -> tuple[Cabinet, ...]:
        """Give all places as they are to be chosen from; the box of `mine` counts as free."""
        return cabinets(self.site, self.lying(), self._counted, mine)

    def counted(self, place: str) -> str:
        """Say by what heat is counted in a place."""
        return self._counted(place) if self.places.exists(place) else "its place is not in the site file any more"

    def place_name(self, place: str) -> str:
        """Give the name of a place for people."""
        return self.places.name(place) if self.places.exists(place) else place

    def is_venomous(self, clutch: Clutch) -> bool:
        """True where trained handlers alone may go near it."""
        profile = self._profiles.get(clutch.species_id)
        return is_venomous(clutch, profile is not None and profile.venomous)

    def earliest_hatching_ms(self, clutch: Clutch) -> int | None:
        """Give before when no egg of its species hatches: laid as early as may be, as warm as still speeds it up.

        None where its profile has no line of development. UTC ms.
        """
        profile = self._profiles.get(clutch.species_id)
        line = None if profile is None else profile.development
        if line is None:
            return None
        hours = line.thermal_constant_ch / (line.cap_c - line.developmental_zero_c)
        return clutch.laid_from_ms + round(hours * _HOUR_MS)

    def species_name(self, species_id: str) -> str:
        """Give what is shown of a species."""
        return self._species.get(species_id, species_id)

    def scientific_name(self, species_id: str) -> str:
        """Give the scientific name of a species; its id where nothing is known of it."""
        profile = self._profiles.get(species_id)
        return species_id if profile is None else profile.scientific_name

    def form_page(
        self,
        here: str,
        heading: str,
        forms: Sequence[FormView],
        *,
        back: tuple[str, str],
        lines: Sequence[str] = (),
        places: Sequence[Cabinet] = (),
        venomous: bool = False,
        may_not: str = "",
        typed: Typed | None = None,
        status: int = 200,
    ) -> HTMLResponse:
        """Make a page of forms. `back`: address and name of where people come from; `typed`: what was refused."""
        error = left_over(typed, forms)
        values = {"error": error, "heading": heading, "forms": forms, "back": back, "lines": lines, "cabinets": places}
        more = {"venomous": venomous, "may_not": may_not, "species": tuple(self._species.values())}
        return HTMLResponse(render("register_form.html", view=self.head(), here=here, **values, **more), status)


def status_of(refusal: Refusal) -> int:
    """Give the HTTP status of a refusal: 409 (RFC 9110) where the clutch has changed since the page was made."""
    return 409 if is_outdated(refusal) else 422


def done(path: str) -> RedirectResponse:
    """Go on to a page, so that loading it again sends nothing twice."""
    return RedirectResponse(path, 303)


def typed_mark(typed: Mapping[str, str]) -> int:
    """Give the mark that a form was sent with; one that is none is older than every change."""
    return number_of(typed.get("mark", "")) or 0


def unknown_button(form: Mapping[str, str], wanted: str) -> Typed:
    """Say that nothing was pressed that is known."""
    return Typed(wanted, form, error="Nothing was done: press one of the buttons of this page.")
