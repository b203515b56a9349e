"""Runs the pages in a thread of their own beside the rest of the daemon."""

import errno
import logging
import socket
import threading
import time

import uvicorn
from fastapi import FastAPI

log = logging.getLogger("clutchwarden.pages")

_START_S = 15.0
_STOP_S = 5.0
_GRACE_S = 2
_PAUSE_S = 0.01
_EVERYWHERE = {"0.0.0.0": "127.0.0.1", "::": "[::1]"}  # noqa: S104  an address to show, nothing is bound by this


class PageServerError(Exception):
    """The pages cannot be served; the text says why and what to do."""


class PageServer:
    """One web server for one app. `port` 0 takes any free port."""

    def __init__(self, app: FastAPI, host: str, port: int) -> None:
        self._app = app
        self._host = host
        self._port = port
        self._server: uvicorn.Server | None = None
        self._thread: threading.Thread | None = None

    def start(self) -> str:
        """Serve, and give the address for a browser on this machine.

        Raises PageServerError where the port cannot be had or the server does not come up.
        """
        if self._thread is not None:
            raise PageServerError("The pages are being served already; stop them before starting again.")
        listener = self._bind()
        port: int = listener.getsockname()[1]
        # No log set-up of its own, no line for each request. In a thread other than the main one uvicorn leaves the
        # signal handlers alone.
        config = uvicorn.Config(
            self._app,
            log_config=None,
            log_level="warning",
            access_log=False,
            lifespan="off",
            server_header=False,
            timeout_graceful_shutdown=_GRACE_S,
        )
        self._app.state.closing.clear()
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._serve, args=(self._server, listener), name="pages", daemon=True)
        self._thread.start()
        self._wait_until_started()
        return f"http://{self._shown_host()}:{port}/"

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

    def _bind(self) -> socket.socket:
        try:
            family, _, _, _, address = socket.getaddrinfo(self._host, self._port, type=socket.SOCK_STREAM)[0]
            listener = socket.socket(family, socket.SOCK_STREAM)
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

    @staticmethod
    def _serve(server: uvicorn.Server, listener: socket.socket) -> None:
        try:
            server.run(sockets=[listener])
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
