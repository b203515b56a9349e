"""What the tests of the page of people send, and what they look at."""

from datetime import datetime
from zoneinfo import ZoneInfo

from daemon.access.values import Role, Visitor
from daemon.alarms.delivery import OutgoingMessage
from tests.support.household import MINUTE_MS
from tests.support.upkept import KEEPER, UpkeptHouse

MADRID = ZoneInfo("Europe/Madrid")
HOUR_MS = 60 * MINUTE_MS
SECRETS = ("ana-secret-token", "ben-secret-token", "ben-other-token", "vet-secret-token")
ANA = Visitor("ana", Role.RESPONDER, KEEPER.guard, session=2)
TABLET = Visitor("tablet", Role.RESPONDER, KEEPER.guard, session=3)
VIEWER = Visitor("guest", Role.VIEWER, KEEPER.guard, session=4)


def at(house: UpkeptHouse, hours: float) -> str:
    moment = datetime.fromtimestamp((house.now_ms + hours * HOUR_MS) / 1000, MADRID)
    return f"{moment:%Y-%m-%dT%H:%M}"


def press(house: UpkeptHouse, wanted: str, visitor: Visitor = KEEPER, /, **fields: str) -> tuple[int, str]:
    """Send a form of the page; `start` stands for its field `from`, which is no name here."""
    sent = {"from" if name == "start" else name: text for name, text in fields.items()}
    answer = house.send("/people", {"wanted": wanted, **sent}, house.pages(visitor))
    return answer.status_code, answer.text


def waiting(house: UpkeptHouse) -> list[tuple[str, OutgoingMessage]]:
    with house.journal.read() as conn:
        rows = conn.execute("SELECT contact, body FROM outbox ORDER BY rowid").fetchall()
    return [(contact, OutgoingMessage.from_json(body)) for contact, body in rows]
