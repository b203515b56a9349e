"""The buffered socket is a plain byte stream in both directions, on a real pair of sockets."""

import contextlib
import random
import socket
from collections.abc import Iterator

import pytest

from daemon.buffered_client import BufferedSocket


@pytest.fixture
def pair() -> Iterator[tuple[BufferedSocket, socket.socket]]:
    mine, other = socket.socketpair()
    mine.setblocking(False)
    with mine, other:
        yield BufferedSocket(mine), other


def test_gives_the_bytes_in_order_whatever_sizes_are_asked_for(pair: tuple[BufferedSocket, socket.socket]) -> None:
    buffered, other = pair
    sent = random.Random(4).randbytes(30_000)
    other.sendall(sent)
    sizes, got = random.Random(5), b""
    while len(got) < len(sent):
        got += buffered.recv(sizes.choice([1, 1, 2, 900]))
    assert got == sent
    assert buffered.pending() == 0


def test_says_what_is_read_ahead_and_that_nothing_has_arrived(pair: tuple[BufferedSocket, socket.socket]) -> None:
    buffered, other = pair
    with pytest.raises(BlockingIOError):
        buffered.recv(1)
    other.sendall(b"abcdef")
    assert buffered.recv(2) == b"ab"
    assert buffered.pending() == 4


def test_the_end_of_the_connection_is_an_empty_read(pair: tuple[BufferedSocket, socket.socket]) -> None:
    buffered, other = pair
    other.sendall(b"last")
    other.close()
    assert buffered.recv(10) == b"last"
    assert buffered.recv(10) == b""


def test_what_is_sent_together_arrives_in_order_between_the_rest(pair: tuple[BufferedSocket, socket.socket]) -> None:
    buffered, other = pair
    buffered.send(b"1")
    with buffered.together():
        for part in (b"2", b"3", b"4"):
            assert buffered.send(part) == 1
        other.setblocking(False)
        assert other.recv(10) == b"1"
    buffered.send(b"5")
    assert other.recv(10) == b"2345"


def test_a_full_send_buffer_loses_nothing_and_keeps_the_order(pair: tuple[BufferedSocket, socket.socket]) -> None:
    buffered, other = pair
    block = random.Random(6).randbytes(3_000_000)
    with buffered.together():
        buffered.send(block)
    with pytest.raises(BlockingIOError):
        buffered.send(b"later")  # not taken: the caller keeps it and comes again
    got = b""
    while len(got) < len(block):
        got += other.recv(1_000_000)
        buffered.settle()
    with contextlib.suppress(BlockingIOError):
        buffered.send(b"later")
    assert got == block
    assert other.recv(10) == b"later"
