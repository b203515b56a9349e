"""The pages by which people keep the register: clutches, eggs, tables, boxes and their labels."""

from collections.abc import Callable
from dataclasses import dataclass

from fastapi import FastAPI

from daemon.overview import Overview
from daemon.round_desk import RoundDesk
from dashboards.boxes_routes import boxes_router
from dashboards.labels_routes import labels_router
from dashboards.register_egg_routes import register_egg_router
from dashboards.register_log_routes import register_log_router
from dashboards.register_pages import RegisterPages
from dashboards.register_routes import register_router
from dashboards.register_table_routes import register_table_router


@dataclass(frozen=True, slots=True)
class Registering:
    """What these pages need. `public_url`: the start of the addresses on labels, where it is stated."""

    pages: RegisterPages
    rounds: RoundDesk
    public_url: str | None = None


def add_register(app: FastAPI, overview: Callable[[], Overview], register: Registering) -> None:
    """Give an app these pages; before those of single clutches, whose address takes every name."""
    pages = register.pages
    for router in (register_router, register_egg_router, register_log_router, register_table_router):
        app.include_router(router(pages))
    app.include_router(boxes_router(pages, register.rounds, overview))
    app.include_router(labels_router(pages, overview, register.public_url))
