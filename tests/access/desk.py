"""A desk of an invented site, and what tests do at it again and again."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from config.site import Site, load_site
from daemon.access.values import Refused, Role, SignedIn, Visitor
from daemon.access_desk import AccessDesk
from daemon.storage import audit
from daemon.storage.audit import HOST, Change
from daemon.storage.journal import Journal
from tests.support.household import write_site
from tests.support.journals import new_journal

START_MS = 1_780_000_000_000
SECOND_MS, MINUTE_MS, HOUR_MS, DAY_MS = 1_000, 60_000, 3_600_000, 86_400_000
GOOD = "heat lamp over wet moss"
OTHER = "seven boxes on a slow cart"
HOME, AWAY = "192.0.2.7", "198.51.100.9"
PHONE = "Mozilla/5.0 (Android 15; Mobile; rv:140.0) Gecko/140.0 Firefox/140.0"


@dataclass
class AtDesk:
    """The desk, its journal and its clock."""

    journal: Journal
    site: Site
    desk: AccessDesk = field(init=False)
    now_ms: int = START_MS

    def __post_init__(self) -> None:
        self.again()

    def first_keeper(self, name: str = "mara", password: str = GOOD) -> SignedIn:
        """Make the first keeper, and end the session that comes with it."""
        made = self.desk.first_code(None, HOST)
        assert not isinstance(made, Refused), made
        done = self.desk.accept(made[0], name, password, HOME, PHONE)
        assert isinstance(done, SignedIn), done
        self.desk.sign_out(done.token)
        return done

    def sign_in(self, name: str = "mara", password: str = GOOD, address: str = HOME, code: str = "") -> SignedIn:
        """Sign in, and expect that it works."""
        done = self.desk.sign_in(name, password, code, address, PHONE)
        assert isinstance(done, SignedIn), done
        return done

    def refused(self, name: str = "mara", password: str = "wrong", address: str = HOME, code: str = "") -> Refused:
        """Sign in, and expect that it does not work."""
        done = self.desk.sign_in(name, password, code, address, PHONE)
        assert isinstance(done, Refused), done
        return done

    def keeper(self) -> Visitor:
        """The keeper, just signed in."""
        return self.sign_in().visitor

    def invited(self, name: str, role: Role, password: str = OTHER) -> SignedIn:
        """Somebody who was invited and has come."""
        made = self.desk.invite(None, name, role, HOST)
        assert not isinstance(made, Refused), made
        done = self.desk.accept(made[0], name, password, AWAY, PHONE)
        assert isinstance(done, SignedIn), done
        return done

    def audit(self) -> list[Change]:
        """What is on record, oldest first."""
        with self.journal.read() as conn:
            return [each.change for each in reversed(audit.newest(conn, 1000))]

    def words(self) -> list[tuple[str, str, str]]:
        """Who did what to whom."""
        return [(each.who, each.what, each.about) for each in self.audit()]

    def again(self) -> None:
        """Begin anew on the same journal, as after a restart."""
        self.desk = AccessDesk(self.journal, self.site, lambda: self.now_ms)

    def all_written(self) -> None:
        """Wait for what was queued before."""
        self.journal.write(lambda _conn: None)

    def everything(self) -> bytes:
        """All bytes of the journal's files."""
        folder = self.journal.path.parent
        return b"".join(path.read_bytes() for path in sorted(folder.glob(f"{self.journal.path.name}*")))


@contextmanager
def at_desk(folder: Path) -> Iterator[AtDesk]:
    """Build one in a folder."""
    site = load_site(write_site(folder / "site", 1))
    with new_journal(folder / "journal.sqlite3") as journal:
        yield AtDesk(journal, site)
