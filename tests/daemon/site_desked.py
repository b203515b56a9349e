"""A desk for changes of the site file, over a real folder and journal."""

from pathlib import Path

from config.site_edit import NewChannel, NewProbe, add_probe
from config.words import Quantity
from daemon.site_desk import Changed, NotChanged, SiteDesk
from daemon.storage import audit
from daemon.storage.audit import AuditEvent
from daemon.storage.journal import Journal
from tests.support.household import write_site

NOW_MS = 1_780_000_000_000
TOKEN = "TOKEN-4711"
ADDRESS = f"https://alerts.example.org/{TOKEN}"
BOX = NewProbe("box-n1", "north/upper/N1", 60.0, (NewChannel("t", Quantity.AIR_TEMPERATURE),))


class Desked:
    """A desk over a real folder and journal."""

    def __init__(self, folder: Path, journal: Journal, refusal: str = "") -> None:
        self.folder = write_site(folder, 1883, f"https://alerts.example.org/in-the-file-{TOKEN}")
        self.journal = journal
        self.starts = 0
        self.desk = SiteDesk(self.folder, journal, lambda: NOW_MS, self._start, refusal)

    def _start(self) -> None:
        self.starts += 1

    @property
    def text(self) -> str:
        return (self.folder / "site.toml").read_text(encoding="utf-8")

    def add(self, mark: str | None = None, probe: NewProbe = BOX) -> Changed | NotChanged:
        seen = self.desk.mark() if mark is None else mark
        return self.desk.change(
            "mara", "192.0.2.7", "probe added", lambda text: add_probe(text, probe), "new box", seen
        )

    def record(self) -> list[AuditEvent]:
        with self.journal.read() as conn:
            return audit.newest(conn, 10)

    def left_over(self) -> list[str]:
        return [path.name for path in self.folder.iterdir() if path.name.startswith(".site")]


def reasons(done: Changed | NotChanged) -> str:
    assert isinstance(done, NotChanged)
    return " ".join(f"{each.reason} {each.hint}" for each in done.mistakes)
