"""Machines of a network in one: namespaces of the kernel, each on a cable to a router, which can be cut without a word.

A link that is taken down tells both ends at once, and a process that is stopped still has its kernel acknowledge. Here
the router throws packets away and says nothing, as a wireless network out of reach does. Needs root and Debian's
iproute2. Source of "says nothing": ip-rule(8), type blackhole.
"""

import os
import subprocess
from collections.abc import Sequence

import pytest

_IP = "/usr/sbin/ip"
HERE, STORE = "here", "store"
"""The namespace of the test itself, with the services that it starts; it has two addresses, to be cut one by one."""


class Network:
    """A router between `here` and other namespaces. Addresses are 10.213.N.0/24 with a number that is free."""

    def __init__(self, names: Sequence[str]) -> None:
        self._names = tuple(names)
        self._tag = f"cw{os.getpid()}"
        self._number = os.getpid() % 250 + 1

    def start(self) -> None:
        """Lay all cables. Skips where the kernel does not permit it, or fails where all services are asked for."""
        try:
            self._run(f"netns add {self._router}")
            for name in self._names:
                self._run(f"netns add {self._space(name)}")
        except (OSError, subprocess.CalledProcessError) as error:
            self.stop()
            said = getattr(error, "stderr", "") or str(error)
            sentence = f"namespaces are not permitted here (root and iproute2 are needed): {said}"
            if os.environ.get("CLUTCHWARDEN_REQUIRE_SERVICES") == "1":
                pytest.fail(sentence)
            pytest.skip(sentence)
        self._inside(self._router, "link set lo up")
        subprocess.run(
            [_IP, "netns", "exec", self._router, "sh", "-c", "echo 1 > /proc/sys/net/ipv4/ip_forward"], check=True
        )
        for place, name in enumerate((HERE, *self._names)):
            near, far = f"{self._tag}n{place}", f"{self._tag}f{place}"
            self._run(f"link add {near} type veth peer name {far} netns {self._router}")
            if name != HERE:
                self._run(f"link set {near} netns {self._space(name)}")
            self._inside(self._router, f"address add {self._gateway(name)}/30 dev {far}", f"link set {far} up")
            own = (f"address add {self.address(name)}/30 dev {near}", f"link set {near} up")
            route = f"route add 10.213.{self._number}.0/24 via {self._gateway(name)}"
            if name == HERE:
                self._run(*own, f"address add {self.address(STORE)}/32 dev {near}", route)
                self._inside(self._router, f"route add {self.address(STORE)}/32 via {self.address(HERE)}")
            else:
                self._inside(self._space(name), "link set lo up", *own, route)

    def stop(self) -> None:
        """Take all of it away; whatever runs in a namespace has to have ended."""
        for space in (self._router, *map(self._space, self._names)):
            subprocess.run([_IP, "netns", "del", space], check=False, capture_output=True)

    def address(self, name: str) -> str:
        """The address of a namespace."""
        return f"10.213.{self._number}.{254 if name == STORE else 4 * self._place(name) + 1}"

    def command(self, name: str, command: Sequence[str]) -> list[str]:
        """A command, to run there; it keeps its number as a process."""
        return [_IP, "netns", "exec", self._space(name), *command]

    def cut(self, *names: str) -> None:
        """Let everything to and from these vanish."""
        for name in names:
            self._inside(
                self._router,
                *(f"rule add {way} {self.address(name)} priority 10 blackhole" for way in ("to", "from")),
            )

    def heal(self, *names: str) -> None:
        """Let everything through again."""
        for name in names:
            self._inside(self._router, *(f"rule del {way} {self.address(name)} priority 10" for way in ("to", "from")))

    @property
    def _router(self) -> str:
        return f"{self._tag}-router"

    def _space(self, name: str) -> str:
        return f"{self._tag}-{name}"

    def _place(self, name: str) -> int:
        return (HERE, *self._names).index(name)

    def _gateway(self, name: str) -> str:
        return f"10.213.{self._number}.{4 * self._place(name) + 2}"

    def _inside(self, space: str, *lines: str) -> None:
        self._run(*lines, space=space)

    @staticmethod
    def _run(*lines: str, space: str = "") -> None:
        where = ["-n", space] if space else []
        subprocess.run([_IP, *where, "-batch", "-"], input="\n".join(lines), text=True, check=True, capture_output=True)
