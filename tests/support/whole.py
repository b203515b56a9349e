"""A site with something on every page: readings, clutches, alarms and their journal, messages, an inbox."""

import json
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

from config.check import check_site
from daemon.access.values import Role
from daemon.access_desk import AccessDesk
from daemon.alarms.classes import HOUR_MS
from daemon.alarms.courier import Courier
from daemon.alarms.delivery import MessageStatus
from daemon.alarms.events import RemoveFromService, Shelve
from daemon.kept import Kept
from daemon.queries import Queries
from daemon.review_keeper import IncidentKeeper
from daemon.rollups import RollUps
from daemon.service_pages import Behind, app_of
from daemon.standing.machine import DiskRoom
from daemon.stated import Stated
from daemon.storage import messages, rounds, runs
from daemon.storage.audit import HOST
from daemon.storage.messages import KeptMessage
from dashboards.inbox import Inbox, ReceivedMessage
from sensors.decoder import Decoder
from sensors.reading import Outcome
from tests.dashboards.asking import ask
from tests.dashboards.samples import message_fields
from tests.support.called import HIGH, CalledHouse, called_house
from tests.support.household import MINUTE_MS

BRIDGE_S = 1800.0
ODD = "a <b>new</b> thermostat\u2028 settles"


@dataclass(frozen=True, slots=True)
class HouseClock:
    """The time of the house."""

    house: CalledHouse
    rate: float = 1.0

    def now_ms(self) -> int:
        return self.house.now_ms


class WholeHouse:
    """A called house with all pages of a daemon behind their real door.

    `viewer` are the headers of a program that may read, `keeper` those of one that may do everything.
    """

    def __init__(self, house: CalledHouse, folder: Path, ending: ExitStack) -> None:
        self.house = house
        checked = check_site(folder)
        assert checked.site is not None
        assert checked.settings is not None
        self.stated = Stated(folder, checked.site, checked.settings, dict(checked.profiles))
        self.inbox = Inbox(checked.site.time_zone)
        self._fill()
        access = AccessDesk(house.journal, checked.site, lambda: house.now_ms)
        self.viewer, self.keeper = (_headers(access, role) for role in (Role.VIEWER, Role.KEEPER))
        self.app = app_of(self._behind(access), ending)

    def _behind(self, access: AccessDesk) -> Behind:
        house, stated = self.house, self.stated
        channels = dict(Decoder(stated.site).channels)
        return Behind(
            journal=house.journal,
            stated=stated,
            clock=HouseClock(house),
            status=MessageStatus.ACTUAL,
            courier=Courier(house.journal, {}, lambda: house.now_ms),
            queries=Queries(house.journal, stated.site, stated.profiles, channels, BRIDGE_S),
            overview=house.overview,
            disk=lambda: DiskRoom(free_bytes=12_345_678_900, total_bytes=64_000_000_000),
            inbox=self.inbox,
            restart=None,
            is_demo=False,
            kept=Kept(),
            remark=lambda: "",
            access=access,
            asks_to_sign_in=True,
        )

    def look(self, path: str) -> httpx.Response:
        """Ask as a program that may do everything."""
        return self.ask(path, self.keeper)

    def ask(self, path: str, headers: Mapping[str, str]) -> httpx.Response:
        """Ask with these headers."""
        return ask(self.app, path, headers=dict(headers))

    def _fill(self) -> None:
        """A drift, a shelf, an alarm out of service, a round, rejected messages, two messages in the inbox."""
        house = self.house
        house.minutes(5, 28.0)
        house.minutes(15, 31.0)
        shelve = Shelve("ben", ODD, house.now_ms + 2 * HOUR_MS)
        house.journal.write(lambda conn: house.work.do(conn, {HIGH: shelve}, house.now_ms))
        house.minutes(12, 41.0)
        house.minutes(3, 41.0)
        out = RemoveFromService("ana", "it is mended", "a thermometer of glass", house.now_ms + 24 * HOUR_MS, False)
        house.journal.write(lambda conn: house.work.do(conn, {f"no-data:{HIGH.partition(':')[2]}": out}, house.now_ms))
        house.journal.write(lambda conn: rounds.start(conn, "north", "ana", house.now_ms, 20 * MINUTE_MS))
        house.minutes(1, 41.0)
        kept = KeptMessage("clutchwarden/x/\udcff", b"\xff\x00{", True, house.now_ms, Outcome.MALFORMED, "not JSON")
        house.journal.write(lambda conn: messages.record(conn, {Outcome.MALFORMED: 1, Outcome.STORED: 36}, [kept]))
        RollUps(house.journal).run()
        house.journal.write(lambda conn: runs.begin_run(conn, house.now_ms - HOUR_MS, "test"))
        keeper = IncidentKeeper(house.journal, house.site, lambda: house.now_ms)
        while keeper.look():
            pass
        for number in range(2):
            self.inbox.receive(ReceivedMessage.model_validate_json(_sent(number)))


def _headers(access: AccessDesk, role: Role) -> dict[str, str]:
    key = access.add_key(None, f"a-{role}", role, HOST)
    assert isinstance(key, str)
    return {"Authorization": f"Bearer {key}", "Host": "127.0.0.1"}


def _sent(number: int) -> str:
    return json.dumps({**message_fields(), "message_id": f"m-{number}"})


@contextmanager
def whole_house(folder: Path) -> Iterator[WholeHouse]:
    """Make one in a folder of its own."""
    with called_house(folder) as house, ExitStack() as ending:
        yield WholeHouse(house, folder / "site", ending)
