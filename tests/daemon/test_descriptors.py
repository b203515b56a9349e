"""How many files a process may have open: what the system gives is taken (setrlimit(2))."""

import subprocess
import sys

PROGRAM = """
import resource
from daemon.descriptors import raise_descriptors
print(raise_descriptors(), *resource.getrlimit(resource.RLIMIT_NOFILE))
"""


def raised(limits: str) -> list[int]:
    command = ["sh", "-c", f'{limits} && exec "$@"', "sh", sys.executable, "-c", PROGRAM]
    found = subprocess.run(command, capture_output=True, text=True, check=True)
    return [int(each) for each in found.stdout.split()]


def test_the_soft_limit_is_raised_to_the_hard_one() -> None:
    assert raised("ulimit -Sn 256 && ulimit -Hn 900") == [900, 900, 900]


def test_where_no_more_is_given_what_there_is_stays() -> None:
    assert raised("ulimit -n 256") == [256, 256, 256]
