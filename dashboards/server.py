"""Runs the pages in a thread of their own beside the rest of the daemon."""

import asyncio
import errno
import logging
import socket
import threading
import time
from pathlib import Path
from typing import Any, cast

import uvicorn
from fastapi import FastAPI
from fastapi.dependencies import models
from starlette.types import ASGIApp
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from daemon.bounded_loop import BACKLOG, BoundedLoop
from daemon.descriptors import descriptors
from daemon.kept_port import KeptPort
from daemon.places import bounds_within
from dashboards.access.proxies import ProxiesAlone
from dashboards.patience import PatientProtocol

log = logging.getLogger("clutchwarden.pages")

_START_S = 15.0
_STOP_S = 5.0
_GRACE_S = 2
_PAUSE_S = 0.01
_EVERYWHERE = {"0.0.0.0": "127.0.0.1", "::": "[::1]"}  # noqa: S104  an address to show, nothing is bound by this


class PageServerError(Exception):
    """The pages cannot be served; the text says why and what to do."""


class PageServer:
    """One web server for one app. `port` 0 takes any free port; a `kept` one stays open over a new start.

    With a `certificate`, PEM files of it and of its key, it speaks https alone. `trusted_proxies`: addresses and
    networks whose word about who asks, and how, is taken; with a `public_url` nobody else is answered.
    """

    def __init__(
        self,
        app: FastAPI,
        host: str,
        port: int,
        kept: KeptPort | None = None,
        certificate: tuple[Path, Path] | None = None,
        trusted_proxies: tuple[str, ...] = (),
        public_url: str | None = None,
    ) -> None:
        self._app = app
        self._host = host
        self._port = port
        self._kept = kept
        self._certificate = certificate
        self._trusted_proxies = trusted_proxies
        self._public_url = public_url
        self._server: uvicorn.Server | None = None
        self._thread: threading.Thread | None = None

    def start(self) -> str:
        """Serve, and give the address for a browser on this machine.

        Raises PageServerError where the port cannot be had or the server does not come up.
        """
        if self._thread is not None:
            raise PageServerError("The pages are being served already; stop them before starting again.")
        listener = self._bind() if self._kept is None else self._kept.lend(self._host, self._port, self._bind)
        port: int = listener.getsockname()[1]
        # No log set-up of its own, no line for each request. In a thread other than the main one uvicorn leaves the
        # signal handlers alone.
        certificate_file, key_file = self._certificate or (None, None)
        config = uvicorn.Config(
            self._behind_proxies(),
            http=PatientProtocol,
            ws="none",
            backlog=BACKLOG,
            log_config=None,
            log_level="warning",
            access_log=False,
            lifespan="off",
            server_header=False,
            timeout_graceful_shutdown=_GRACE_S,
            proxy_headers=False,
            ssl_certfile=certificate_file,
            ssl_keyfile=key_file,
        )
        self._app.state.closing.clear()
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._serve, args=(self._server, listener), name="pages", daemon=True)
        self._thread.start()
        self._wait_until_started()
        return f"{'http' if self._certificate is None else 'https'}://{self._shown_host()}:{port}/"

    def stop(self) -> None:
        """End: open event streams are told to finish first, so nothing waits for a page that stays open."""
        if self._server is None or self._thread is None:
            return
        self._app.state.closing.set()
        self._server.should_exit = True
        self._thread.join(_GRACE_S + _STOP_S)
        if self._thread.is_alive():
            log.warning("The pages did not end in time; they end with the program")
        self._server, self._thread = None, None
        _forget_routes()

    def _behind_proxies(self) -> ASGIApp:
        if not self._trusted_proxies:
            # Else everybody could say that they are somebody else, and never wait after wrong passwords.
            return self._app
        told = cast("ASGIApp", ProxyHeadersMiddleware(cast("Any", self._app), list(self._trusted_proxies)))
        return told if self._public_url is None else ProxiesAlone(told, self._trusted_proxies, self._public_url)

    def _bind(self) -> socket.socket:
        try:
            family, kind, protocol, _, address = socket.getaddrinfo(self._host, self._port, type=socket.SOCK_STREAM)[0]
            # With the protocol named, the event loop sends small answers at once; else each one waits for some 40 ms.
            listener = socket.socket(family, kind, protocol)
        except OSError as error:
            raise PageServerError(_refusal(self._host, self._port, error)) from error
        try:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listener.bind(address)
            # Listening shows a taken port at once; a second program may have been let bind until now.
            listener.listen()
        except OSError as error:
            listener.close()
            raise PageServerError(_refusal(self._host, self._port, error)) from error
        return listener

    def _serve(self, server: uvicorn.Server, listener: socket.socket) -> None:
        bounds = bounds_within(descriptors(), self._trusted_proxies)
        try:
            with asyncio.Runner(loop_factory=lambda: BoundedLoop(bounds, "Pages", makes_room=True)) as runner:
                runner.run(server.serve(sockets=[listener]))
        except Exception:
            log.exception("The pages ended because of an error; the watch goes on without them")
        finally:
            listener.close()

    def _wait_until_started(self) -> None:
        deadline = time.monotonic() + _START_S
        while self._server is not None and not self._server.started:
            if self._thread is None or not self._thread.is_alive() or time.monotonic() > deadline:
                self.stop()
                raise PageServerError("The pages did not come up; the log says why.")
            time.sleep(_PAUSE_S)

    def _shown_host(self) -> str:
        bracketed = f"[{self._host}]" if ":" in self._host else self._host
        return _EVERYWHERE.get(self._host, bracketed)


def _forget_routes() -> None:
    """Let go of an ended app: the library remembers functions of routes, and with them all that they stand before."""
    for remembered in vars(models).values():
        if callable(clear := getattr(remembered, "cache_clear", None)):
            clear()


def _refusal(host: str, port: int, error: OSError) -> str:
    """Why an address cannot be had, and what to do."""
    change = "or set another port under [web] in settings.toml"
    if error.errno == errno.EADDRINUSE:
        return f"port {port} is taken by another program on {host}: end that program, {change}."
    if error.errno == errno.EACCES:
        return f"port {port} may not be used by this user (ports below 1024 are kept for the system): {change[3:]}."
    if isinstance(error, socket.gaierror) or error.errno == errno.EADDRNOTAVAIL:
        return (
            f"{host} is not an address of this machine ({error.strerror}): correct host under [web] in settings.toml."
        )
    return f"port {port} on {host} cannot be opened ({error.strerror}): free it, {change}."
