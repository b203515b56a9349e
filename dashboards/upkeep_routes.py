"""The pages by which people keep the watch itself in order: people and duty, calibrations, species."""

import threading
from collections.abc import Callable
from dataclasses import dataclass

from fastapi import FastAPI

from daemon.overview import Overview
from daemon.species_shelf import SpeciesShelf
from dashboards.people_routes import People, people_router
from dashboards.setup_calibration_routes import Calibrating, calibration_router
from dashboards.setup_people_routes import ChangesSite, people_setup_router
from dashboards.species_routes import species_router


@dataclass(frozen=True, slots=True)
class UpkeepPages:
    """What these pages need. Without a `site` people can be looked at, and not changed."""

    people: People
    calibrations: Calibrating
    species: SpeciesShelf
    site: ChangesSite | None = None


def add_upkeep(app: FastAPI, overview: Callable[[], Overview], pages: UpkeepPages, closing: threading.Event) -> None:
    """Give an app these pages."""
    app.include_router(people_router(pages.people, closing))
    if pages.site is not None:
        app.include_router(people_setup_router(pages.people.look, pages.site))
    app.include_router(calibration_router(pages.calibrations, closing))
    app.include_router(species_router(overview, pages.species))
