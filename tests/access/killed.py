"""A process that signs in, says the token and dies at once, as in a power cut.

`python -m tests.access.killed FOLDER NOW_MS`
"""

import os
import signal
import sys
from pathlib import Path

from config.site import load_site
from daemon.access.values import SignedIn
from daemon.access_desk import AccessDesk
from daemon.storage.journal import Journal
from tests.access.desk import GOOD, HOME, PHONE


def main() -> None:
    """Sign in, and end without any end."""
    folder, now_ms = Path(sys.argv[1]), int(sys.argv[2])
    desk = AccessDesk(Journal.open(folder / "journal.sqlite3"), load_site(folder / "site"), lambda: now_ms)
    done = desk.sign_in("mara", GOOD, "", HOME, PHONE)
    assert isinstance(done, SignedIn)
    desk.sign_in("mara", "wrong", "", "198.51.100.9", PHONE)
    sys.stdout.write(done.token)
    sys.stdout.flush()
    os.kill(os.getpid(), signal.SIGKILL)


if __name__ == "__main__":
    main()
