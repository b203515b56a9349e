"""`python -m daemon.watcher FILE.toml`: the watcher as a process of its own, with as little in it as it needs."""

import logging
import signal
import sys
from pathlib import Path
from types import FrameType

from config.errors import ConfigError
from config.notify import Notifier, say_where_it_stands_when_aborted
from config.watch import load_watch
from daemon.watcher.process import Watcher, WatchError

log = logging.getLogger("clutchwarden.watcher")


def main(path: Path) -> int:
    """Watch until told to end; 2 for what a keeper can mend."""
    logging.basicConfig(stream=sys.stderr, level=logging.INFO, format="%(asctime)s %(levelname)s %(name)s: %(message)s")
    say_where_it_stands_when_aborted()
    for noisy in ("urllib3", "requests"):
        # Their lines can hold addresses with tokens in them.
        logging.getLogger(noisy).setLevel(logging.CRITICAL)
    try:
        manager = Notifier()
        watcher = Watcher(load_watch(path), manager)
        watcher.start()
    except (ConfigError, WatchError) as error:
        print(error, file=sys.stderr)  # noqa: T201 - the command line prints
        return 2

    def end(_number: int, _frame: FrameType | None) -> None:
        watcher.stop()

    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, end)
    log.info("Watching.")
    manager.ready("Watching.")
    watcher.run()
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
