"""What 20 open phones cost the server: real connections, each with the page open and hearing of every change.

The server is a process of its own, with a new reading every two seconds. The phones are another one, each signed in
with a session of its own, and do what the script of the page does: keep a stream of events open, and fetch the page
whenever its version is another one. Counted is the processor time of the server, with the phones and without them.
"""

import asyncio
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import httpx

from daemon.access.values import Refused
from daemon.access_desk import AccessDesk
from daemon.storage import samples
from daemon.storage.journal import Journal
from dashboards.access.cookies import PLAIN_NAME
from dashboards.access.door import Door
from dashboards.server import PageServer
from dashboards.source import KEPT_S
from sensors.reading import Quality, Reading
from tests.bench import big_site
from tests.support.accounts import DEVICE, PASSWORD, make_account

PHONES = 20
SECONDS = 30.0
CHANGE_EVERY_S = 2.0
GOAL_SHARE = 0.1
LONGEST_WAIT_S = 60.0
"""for the slowest phone, on a machine that is busy with something else"""


class PhoneCost(NamedTuple):
    """Share of one core with all phones open, and with none; and how many pages they fetched meanwhile in all.

    `fewest`: how many the phone fetched that fetched least, after a wait for it where a second one had not come yet.
    """

    with_phones: float
    without: float
    fetched: int
    fewest: int


def phone_cost(folder: Path, phones: int = PHONES, seconds: float = SECONDS) -> PhoneCost:
    """Serve a site that was made in this folder, and open so many phones on it."""
    command = [sys.executable, "-m", "tests.bench.phones"]
    server = _started([*command, "serve", str(folder), str(phones)])
    try:
        url, sessions = _said(server), _said(server)
        without = _share(server, seconds / 3)
        crowd = _started([*command, "open", url])
        try:
            _asked(crowd, sessions)
            with_phones = _share(server, seconds)
            fetched, fewest = _fetched(crowd)
            deadline_s = time.monotonic() + LONGEST_WAIT_S
            while fewest < 2 and time.monotonic() < deadline_s:
                time.sleep(CHANGE_EVERY_S / 10)
                fewest = _fetched(crowd)[1]
        finally:
            _end(crowd)
    finally:
        _end(server)
    return PhoneCost(with_phones, without, fetched, fewest)


def _started(command: list[str]) -> "subprocess.Popen[str]":
    return subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def _share(server: "subprocess.Popen[str]", seconds: float) -> float:
    """Share of one core that the server takes over so many seconds."""
    began_s, before_s = time.monotonic(), float(_asked(server))
    time.sleep(seconds)
    return (float(_asked(server)) - before_s) / (time.monotonic() - began_s)


def _fetched(crowd: "subprocess.Popen[str]") -> tuple[int, int]:
    """How many pages the phones fetched in all, and the one that fetched least."""
    in_all, fewest = _asked(crowd).split()
    return int(in_all), int(fewest)


def _asked(process: "subprocess.Popen[str]", line: str = "now") -> str:
    if process.stdin is None:
        raise RuntimeError("the process cannot be asked")
    process.stdin.write(f"{line}\n")
    process.stdin.flush()
    return _said(process)


def _said(process: "subprocess.Popen[str]") -> str:
    line = "" if process.stdout is None else process.stdout.readline().strip()
    if not line:
        raise RuntimeError("the process has ended; what it said stands above")
    return line


def _end(process: "subprocess.Popen[str]") -> None:
    process.terminate()
    process.communicate()


def _serve(folder: Path, phones: int) -> None:
    """Serve the pages; say the address and the sessions, and then the processor time whenever a line comes in."""
    with Journal.open(folder / "journal.sqlite3") as journal:
        site = big_site.opened(folder, journal)
        for _ in range(60):
            site.overview()
        desk = AccessDesk(journal, site.site, lambda: time.time_ns() // 1_000_000)
        server = PageServer(site.app(KEPT_S, Door(desk)), "127.0.0.1", 0)
        print(server.start(), flush=True)
        print(" ".join(_sessions(desk, phones)), flush=True)
        threading.Thread(target=_go_on, args=(site,), daemon=True).start()
        for _ in sys.stdin:
            print(time.process_time(), flush=True)
        server.stop()


def _sessions(desk: AccessDesk, phones: int) -> Iterator[str]:
    """Sign in so many phones of one keeper, whom another run on the same journal does not know."""
    name = f"keeper-{time.time_ns()}"
    make_account(desk, name)
    for _ in range(phones):
        found = desk.sign_in(name, PASSWORD, "", "127.0.0.1", DEVICE)
        if isinstance(found, Refused):
            raise SystemExit(found.reason)
        yield found.token


def _go_on(site: big_site.BigSite) -> None:
    """Store a new reading every two seconds, each of another channel."""
    ids = site.journal.write(lambda conn: samples.channel_ids(conn, site.channels.values()))
    at_ms, turn = big_site.newest_ms(site.journal), 0
    while True:
        for channel in site.channels:
            at_ms, turn = at_ms + round(CHANGE_EVERY_S * 1000), turn + 1
            value = (28.0 if channel.endswith("/t") else 85.0) + turn % 9 / 10
            reading = Reading(channel, at_ms, at_ms, value, Quality.GOOD)
            site.journal.write(lambda conn, reading=reading: samples.append(conn, ids, [reading]))  # type: ignore[misc]
            time.sleep(CHANGE_EVERY_S)


async def _open(url: str) -> None:
    """Open a phone for each session that is said; say so once all have a page, and then whenever asked how many."""
    sessions = sys.stdin.readline().split()
    counts, ready = [0] * len(sessions), [asyncio.Event() for _ in sessions]
    async with httpx.AsyncClient(base_url=url, timeout=None, limits=httpx.Limits(max_connections=None)) as client:
        all_of_them = [
            asyncio.create_task(_phone(client, {"Cookie": f"{PLAIN_NAME}={token}"}, counts, number, ready[number]))
            for number, token in enumerate(sessions)
        ]
        for each in ready:
            await each.wait()
        print("open", flush=True)
        loop = asyncio.get_running_loop()
        while await loop.run_in_executor(None, sys.stdin.readline):
            print(sum(counts), min(counts), flush=True)
        for phone in all_of_them:
            phone.cancel()


async def _phone(
    client: httpx.AsyncClient, cookie: dict[str, str], counts: list[int], number: int, has_page: asyncio.Event
) -> None:
    shown = ""
    async with client.stream("GET", "events", headers=cookie) as stream:
        async for line in stream.aiter_lines():
            if line.startswith("data: ") and line != shown:
                shown = line
                (await client.get("/", headers=cookie)).raise_for_status()
                counts[number] += 1
                has_page.set()


def line_of(cost: PhoneCost) -> str:
    """The figures in words, with the goal and whether it is met."""
    share = cost.with_phones - cost.without
    met = "ok" if cost.with_phones < GOAL_SHARE else "MISSED"
    return (
        f"{PHONES} open phones, a change every {CHANGE_EVERY_S:g} s: {cost.with_phones:.1%} of one core"
        f" (goal under {GOAL_SHARE:.0%}, {met}), {share:.1%} more than with none; {cost.fetched} pages fetched"
    )


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        big_site.make(Path(folder))
        print(line_of(phone_cost(Path(folder))))


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["serve", folder, phones]:
            _serve(Path(folder), int(phones))
        case ["open", url]:
            asyncio.run(_open(url))
        case _:
            main()
