"""Changes to site.toml from a page: one at a time, checked before anything is written, whole or not at all."""

import hashlib
import sqlite3
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from config.check import check_site
from config.errors import Mistake, StatedError
from config.rules import FILE
from config.site import Site
from config.site_edit import Edit
from config.site_mask import without_addresses
from daemon.contacts import address_mistakes
from daemon.duty_check import duty_mistakes
from daemon.site_files import (
    Replacement,
    SiteFileChangedError,
    SiteFileError,
    free_secret,
    keep_secret,
    read_site_file,
    remove_secret,
)
from daemon.stated_follower import follow_stated, site_as_stated
from daemon.storage import audit, duties, samples, stated_files
from daemon.storage.audit import Change
from daemon.storage.journal import Journal, JournalError

NOTHING_IN_THE_DEMO = "This is the demo: it shows the forms, and nothing is changed."


@dataclass(frozen=True, slots=True)
class SiteText:
    """The file as it stands, and a mark by which a later change is seen."""

    text: str
    mark: str


@dataclass(frozen=True, slots=True)
class Changed:
    """It was changed; what deserves a warning and did not before. The daemon starts anew with it in a moment."""

    mark: str
    warnings: tuple[Mistake, ...] = ()


@dataclass(frozen=True, slots=True)
class NotChanged:
    """Nothing was changed, and why. `outdated`: the file is another one than the form was made for."""

    mistakes: tuple[Mistake, ...]
    outdated: bool = False


class SiteDesk:
    """Changes the file of one site folder. Safe to use from several threads.

    `refusal`: why nothing may be changed here; empty where it may. `restart` is called once after each change.
    """

    def __init__(
        self,
        folder: Path,
        journal: Journal,
        now_ms: Callable[[], int],
        restart: Callable[[], None],
        refusal: str = "",
    ) -> None:
        self.refusal = refusal
        self._folder = folder
        self._journal = journal
        self._now_ms = now_ms
        self._restart = restart
        self._lock = threading.Lock()

    def now(self) -> SiteText:
        """Give the file as it stands. Raises SiteFileError."""
        text = read_site_file(self._folder)
        return SiteText(text, hashlib.sha256(text.encode()).hexdigest()[:16])

    def mark(self) -> str:
        """Give the mark for a form; an empty one where the file cannot be read, which no change is made for."""
        try:
            return self.now().mark
        except SiteFileError:
            return ""

    def free_secret(self, person_id: str) -> str:
        """Give a name for a file with an address that is not taken, as it is written in site.toml."""
        return free_secret(self._folder, person_id)

    def change(
        self,
        who: str,
        from_where: str,
        what: str,
        edit: Edit,
        why: str,
        seen_mark: str,
        secrets: Mapping[str, str] | None = None,
    ) -> Changed | NotChanged:
        """Make one change, put it on record and ask for a new start.

        `what` says in a few words what is changed, `edit` makes the new text of the old one, `seen_mark` is that of
        the file when the form was made. `secrets`: addresses by the names that `free_secret` gave; they go into files
        of their own and nowhere else.
        """
        if self.refusal:
            return NotChanged((Mistake(FILE, "", self.refusal, "Run clutchwarden with a site of your own for this."),))
        with self._lock:
            try:
                done = self._made(edit, Change(who, from_where, "site", what, why=why), seen_mark, secrets or {})
            except StatedError as error:
                done = NotChanged((Mistake(FILE, "", error.reason, error.hint),))
            except SiteFileError as error:
                done = NotChanged((error.mistake,), outdated=isinstance(error, SiteFileChangedError))
            except JournalError as error:
                done = NotChanged((Mistake("journal", "", f"{error.what}: {error.why}", error.hint),))
        if isinstance(done, Changed) and done.mark != seen_mark:
            self._restart()
        return done

    def _made(self, edit: Edit, change: Change, seen_mark: str, secrets: Mapping[str, str]) -> Changed | NotChanged:
        before, written, done = self.now(), [], None
        if seen_mark != before.mark:
            raise SiteFileChangedError
        after = edit(before.text)
        if after == before.text:
            # Saved as it was: nothing to put on record, and no reason to interrupt the watch.
            return Changed(before.mark)
        try:
            # The addresses come first: the check reads them where they will be.
            for name, secret in secrets.items():
                keep_secret(self._folder, name, secret)
                written.append(name)
            done = self._replaced(before.text, after, change)
        finally:
            if not isinstance(done, Changed):
                for name in written:
                    remove_secret(self._folder, name)
        return done

    def _replaced(self, before: str, after: str, change: Change) -> Changed | NotChanged:
        checked = check_site(self._folder, after)
        wrong = [mistake for mistake in checked.mistakes if mistake.severity == "mistake"]
        if not wrong and checked.site is not None:
            wrong = [*address_mistakes(checked.site, self._folder), *self._kept_otherwise(checked.site)]
        if wrong or checked.site is None:
            return NotChanged(tuple(wrong))
        known = check_site(self._folder, before)
        old = {*known.mistakes, *(() if known.site is None else self._duties(known.site))}
        warnings = tuple(each for each in (*checked.mistakes, *self._duties(checked.site)) if each not in old)
        now_ms = self._now_ms()
        whole = replace(change, old={"text": without_addresses(before)}, new={"text": without_addresses(after)})
        # What somebody did by hand meanwhile is theirs and not part of this change; and this change, on record by who
        # made it, is not told again at the next start as one by hand.
        follow_stated(self._journal, self._folder, self._now_ms(), begin=False)
        stated = site_as_stated(self._folder, after)
        with Replacement(self._folder, before, after) as replacement:

            def work(conn: sqlite3.Connection) -> None:
                audit.record(conn, whole, now_ms)
                stated_files.keep(conn, [stated])
                # The last thing before the commit: on record and in the file, or neither.
                replacement.put()

            self._journal.write(work)
            replacement.keep()
        return Changed(hashlib.sha256(after.encode()).hexdigest()[:16], warnings)

    def _kept_otherwise(self, site: Site) -> list[Mistake]:
        """Channels of which the journal holds another quantity: the daemon would not start with them."""
        with self._journal.read() as conn:
            kept = samples.quantities(conn)
        return [
            Mistake(
                FILE,
                f"probe.{probe.id}.channel.{channel.name}",
                f"the journal holds {probe.id}/{channel.name} as {kept[name]}, not as {channel.quantity}",
                "Give the channel or the probe a new name; the old readings stay under the old one.",
            )
            for probe in site.probes
            for channel in probe.channels
            if kept.get(name := f"{probe.id}/{channel.name}", channel.quantity) != channel.quantity
        ]

    def _duties(self, site: Site) -> tuple[Mistake, ...]:
        with self._journal.read() as conn:
            return tuple(duty_mistakes(duties.entries(conn), site, self._now_ms()))
