"""`python -m sensors.agent`: the agent as a process of its own, with as little in it as it needs."""

import argparse
import logging
import os
import signal
import sys
import threading
from collections.abc import Sequence
from pathlib import Path
from types import FrameType

from config.errors import ConfigError
from config.notify import Notifier, say_where_it_stands_when_aborted
from sensors.agent.attached import as_file, as_json, told
from sensors.agent.clocks import SystemClocks
from sensors.agent.process import Agent, AgentError
from sensors.agent.stated import load_plan, look_at
from sensors.linux.reading import find

log = logging.getLogger("clutchwarden.probe")

EXIT_BAD_INPUT = 2


def main(arguments: Sequence[str]) -> int:
    """Run, or do what is asked; 2 for what a keeper can mend."""
    asked = _asked(arguments)
    try:
        if asked.list:
            found = list(find(asked.sysfs))
            _say(as_json(found) if asked.json else told(found))
        elif asked.write_config is not None:
            return _write(asked.write_config, asked.sysfs)
        elif asked.file is None:
            _complain("Name the agent's file, or find out what is attached: clutchwarden probe --list")
            return EXIT_BAD_INPUT
        elif asked.check:
            plan, warnings = look_at(asked.file)
            for warning in warnings:
                _say(str(warning))
            for caution in plan.cautions():
                _say(f"Caution: {caution}")
            _say(f"{asked.file}: {', '.join(probe.id for probe in plan.probes)}. No mistakes.")
        else:
            _run(asked.file)
    except (ConfigError, AgentError) as error:
        _complain(str(error))
        return EXIT_BAD_INPUT
    return 0


def _asked(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser("clutchwarden probe", description="Read the sensors of this board and send them.")
    parser.add_argument("file", nargs="?", type=Path, metavar="FILE.toml", help="the agent's file")
    parser.add_argument("--check", action="store_true", help="say what is wrong in the file, and end")
    parser.add_argument("--list", action="store_true", help="say what is attached, and end")
    parser.add_argument("--json", action="store_true", help="with --list: as JSON")
    parser.add_argument("--write-config", type=Path, metavar="FILE", help="write a file with what is attached, and end")
    parser.add_argument("--sysfs", type=Path, default=Path("/sys"), help="where the kernel's files are")
    return parser.parse_args(arguments)


def _run(file: Path) -> None:
    logging.basicConfig(stream=sys.stderr, level=logging.INFO, format="%(asctime)s %(levelname)s %(name)s: %(message)s")
    say_where_it_stands_when_aborted()
    plan = load_plan(file)
    agent = Agent(plan, SystemClocks(), manager=Notifier())
    for caution in plan.cautions():
        log.warning("%s", caution)

    def end(_number: int, _frame: FrameType | None) -> None:
        # In a thread of its own: the main one may hold the very lock that this needs.
        threading.Thread(target=agent.stop).start()

    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, end)
    log.info("Measuring.")
    agent.run()


def _write(file: Path, sysfs: Path) -> int:
    """Write a file to begin with, and an empty one for the password that only this user may read."""
    password = file.with_name("broker-password")
    found = list(find(sysfs))
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with file.open("x", encoding="utf-8") as new:
            new.write(as_file(found, file.name, password.name, str(sysfs.absolute())))
        if not password.exists():
            os.close(os.open(password, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    except FileExistsError:
        _complain(f"{file} is there already; nothing was written. Name another file.")
        return EXIT_BAD_INPUT
    except OSError as error:
        _complain(f"{file} cannot be written: {(error.strerror or str(error)).lower()}.")
        return EXIT_BAD_INPUT
    _say(f"Written: {file}, with {len(found)} sensors. Change it to what you have, then: clutchwarden probe {file}")
    return 0


def _say(text: str) -> None:
    print(text)  # noqa: T201 - the command line prints


def _complain(text: str) -> None:
    print(text, file=sys.stderr)  # noqa: T201 - the command line prints


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
