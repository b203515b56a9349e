"""The pages of a daemon: every desk and reader that they stand before."""

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any
from zoneinfo import ZoneInfo

from fastapi import FastAPI

from daemon.access.values import AT_THE_DEMO, Role, Visitor
from daemon.access_desk import AccessDesk
from daemon.alarm_board import AlarmBoard
from daemon.alarms.courier import Courier
from daemon.alarms.delivery import MessageStatus
from daemon.answer_desk import AnswerDesk
from daemon.backup_reader import BackupReader
from daemon.calendar_feed_desk import FeedDesk
from daemon.calibration_desk import CalibrationDesk
from daemon.chart_reader import ChartReader
from daemon.clock import Clock
from daemon.clutch_record import ClutchRecords
from daemon.desk_work import DeskWork
from daemon.duty_work import DutyWork
from daemon.hand_over_sheet_desk import HandOverDesk
from daemon.inside import Inside, InsideReader
from daemon.kept import Kept
from daemon.listen_around import ListenAround
from daemon.mirror.target import target_of
from daemon.people_desk import PeopleDesk
from daemon.placement_desk import PlacementDesk
from daemon.probe_reader import ProbeReader
from daemon.queries import Queries
from daemon.report_desk import ReportDesk
from daemon.review_desk import ReviewDesk
from daemon.review_incidents import IncidentDesk
from daemon.rota import Rotas
from daemon.round_desk import RoundDesk
from daemon.site_desk import NOTHING_IN_THE_DEMO, SiteDesk
from daemon.species_shelf import SpeciesShelf
from daemon.stated import Stated
from daemon.storage import audit
from daemon.storage.audit import AuditEvent
from daemon.storage.journal import Journal
from daemon.trial_desk import TrialDesk
from dashboards.access.door import Door
from dashboards.access.hosts import KnownHosts
from dashboards.ahead import AheadPages
from dashboards.app import create_app
from dashboards.clutch_routes import ClutchPages
from dashboards.forms import new_guard
from dashboards.register_app import Registering
from dashboards.register_pages import RegisterPages
from dashboards.review_pages import ReviewPages
from dashboards.rounds_pages import RoundPages
from dashboards.source import KEPT_S
from dashboards.upkeep_routes import UpkeepPages


@dataclass(frozen=True, slots=True)
class Behind:
    """The parts of a daemon that its pages ask. `disk`: what is known of the disk of the journal.

    `restart` is called where a page has changed what is stated; in the demo nothing can be.
    """

    journal: Journal
    stated: Stated
    clock: Clock
    status: MessageStatus
    courier: Courier
    queries: Queries
    overview: Callable[[], Any]
    disk: Callable[[], Any]
    inbox: Any
    restart: Callable[[], None] | None
    is_demo: bool
    kept: Kept
    remark: Callable[[], str]
    access: AccessDesk
    asks_to_sign_in: bool
    backup_trouble: Callable[[], str | None] = lambda: None


def app_of(behind: Behind, ending: ExitStack) -> FastAPI:
    """Build the pages; what has to end with them is left to `ending`."""
    journal, stated, now_ms, web = behind.journal, behind.stated, behind.clock.now_ms, behind.stated.settings.web
    site, profiles, bridge_s = stated.site, stated.profiles, stated.settings.heat.longest_bridge_s
    work = DeskWork(site, profiles, behind.status, web.public_url)
    desk = AnswerDesk(journal, work, site, profiles, now_ms, behind.courier.wake)
    demo_rate = (lambda: behind.clock.rate) if behind.is_demo else None
    board = AlarmBoard(journal, work, site, profiles, now_ms, behind.courier.wake, demo_rate)
    sooner = behind.queries.sooner
    rounds = RoundDesk(journal, site, profiles, work, bridge_s, now_ms, sooner.sheets)
    charts = ChartReader(journal, site, bridge_s, now_ms)
    reviews = ReviewDesk(journal, site, profiles, bridge_s, now_ms)
    register = RegisterPages(journal, site, profiles, now_ms)
    refusal = NOTHING_IN_THE_DEMO if behind.is_demo else ""
    site_desk = SiteDesk(stated.folder, journal, now_ms, behind.restart or (lambda: None), refusal)
    upkeep = _upkeep(behind, site_desk)
    return create_app(
        behind.overview,
        behind.inbox,
        behind.queries.messages,
        answers=desk,
        arrivals=TrialDesk(journal, site, now_ms),
        alarms=board,
        charts=charts,
        clutches=ClutchPages.of(ClutchRecords(journal, site, profiles, bridge_s, sooner), now_ms),
        inside=_inside(behind),
        door=_door(behind),
        probes=_probes(behind, site_desk, ending),
        upkeep=upkeep,
        rounds=RoundPages.of(rounds, register.desk, site, now_ms, is_demo=behind.is_demo),
        register=Registering(register, rounds, web.public_url),
        ahead=_ahead(behind, board, upkeep),
        changes=lambda limit, before, about: _changes(journal, limit, before, about),
        keep_s=KEPT_S,
        backups=BackupReader(journal, stated.settings.backup, ZoneInfo(site.time_zone), now_ms, behind.backup_trouble),
        reports=ReportDesk(journal, site, profiles, bridge_s, now_ms),
        reviews=ReviewPages(reviews, IncidentDesk(journal, now_ms), charts, site),
    )


def _inside(behind: Behind) -> Callable[[], Inside]:
    mirror = behind.stated.settings.mirror
    target = target_of(mirror).key if mirror.enabled else ""
    boards, probes = behind.kept.boards, behind.stated.site.probes
    return InsideReader(
        behind.journal,
        version("clutchwarden"),
        behind.clock.now_ms,
        behind.disk,
        target,
        lambda: {probe.id: heard.state for probe in probes if (heard := boards.of(probe.id)) is not None},
    ).look


def _probes(behind: Behind, site_desk: SiteDesk, ending: ExitStack) -> ProbeReader:
    broker, now_ms = behind.stated.settings.broker, behind.clock.now_ms
    around = ListenAround(broker, broker.reveal_password(), now_ms, behind.kept.heard)
    ending.callback(around.stop)
    kept, site = behind.kept, behind.stated.site
    return ProbeReader(behind.journal, site, now_ms, kept.recent, around, site_desk, behind.remark, kept.boards)


def _upkeep(behind: Behind, site_desk: SiteDesk) -> UpkeepPages:
    journal, stated, now_ms = behind.journal, behind.stated, behind.clock.now_ms
    work = DutyWork(stated.site, Rotas(stated.site), behind.status)
    wake, public_url = behind.courier.wake, stated.settings.web.public_url
    return UpkeepPages(
        PeopleDesk(journal, stated.site, work, now_ms, wake, public_url),
        CalibrationDesk(journal, stated.site, now_ms),
        SpeciesShelf(stated.profiles, stated.folder),
        site_desk,
    )


def _ahead(behind: Behind, board: AlarmBoard, upkeep: UpkeepPages) -> AheadPages:
    journal, site, profiles, now_ms = behind.journal, behind.stated.site, behind.stated.profiles, behind.clock.now_ms
    bridge_s, public_url = behind.stated.settings.heat.longest_bridge_s, behind.stated.settings.web.public_url
    people = upkeep.people.look
    about = behind.overview, board.look, people, public_url, behind.queries.sooner
    sheet = HandOverDesk(journal, site, profiles, bridge_s, now_ms, *about)
    feeds = FeedDesk(journal, site, now_ms)
    return AheadPages(sheet, feeds, PlacementDesk(journal, site, profiles, bridge_s, now_ms), public_url)


def _changes(journal: Journal, limit: int, before: int | None, about: str) -> list[AuditEvent]:
    with journal.read() as conn:
        return audit.newest(conn, limit, before, about)


def _door(behind: Behind) -> Door:
    """Who is let in: whoever has signed in; where nobody is asked to, a browser on the machine itself as well."""
    web = behind.stated.settings.web
    somebody = None if behind.asks_to_sign_in else Visitor(AT_THE_DEMO, Role.KEEPER, new_guard())
    return Door(
        behind.access,
        open_to=somebody,
        here_alone=True,
        hosts=KnownHosts.of(web.host, web.public_url),
        public_url=web.public_url,
        behind_proxy=web.behind_proxy,
        time_zone=behind.stated.site.time_zone,
        now_ms=behind.access.now_ms,
    )
