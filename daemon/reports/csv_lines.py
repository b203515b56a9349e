"""Pure: readings as lines of a CSV table (RFC 4180, UTF-8), many at once.

A season of readings is some millions of lines, so times are written by the column. Each line has the moment in UTC and
on the clock of the site with its offset, so that the hour that comes twice in autumn is told apart. The only texts are
the channel and words of this program, and the channel is guarded as the tables of the register are: nothing in the file
is run as a formula by opening it. A negative number stays a number.
"""

from collections.abc import Sequence
from datetime import UTC, datetime, tzinfo
from typing import NamedTuple

from config.words import CONTACT_WORDS, Quantity
from sensors.calibration import Piece
from sensors.reading import Quality

HEAD = ("channel", "quantity", "unit", "time_utc", "time_local", "value_raw", "value_calibrated", "quality")
LINE_END = "\r\n"
CALIBRATED_DIGITS = 4
"""A tenth of a thousandth of a unit: far below what any probe can tell apart. Project choice."""
_QUARTER_MS = 900_000
"""Offsets of zones change on quarters of an hour of UTC."""
_MINUTE = 60
_FORMULAS = frozenset("=+-@\t\r\n'")


class Row(NamedTuple):
    """A stored reading: UTC ms, the value as the probe said it, and why it is suspect (0: it is not)."""

    at_ms: int
    value: float
    quality: int


def head_line() -> str:
    """The first line."""
    return ",".join(HEAD) + LINE_END


def cell(text: str) -> str:
    """Write a text so that it is one cell, and no formula."""
    guarded = f"'{text}" if text[:1] in _FORMULAS else text
    return '"' + guarded.replace('"', '""') + '"' if any(each in guarded for each in ',"\r\n') else guarded


def unit_word(quantity: str) -> str:
    """The unit of a quantity: °C and % as the journal keeps them whatever the site shows; of a contact its words."""
    try:
        known = Quantity(quantity)
    except ValueError:
        return ""
    if known in CONTACT_WORDS:
        return " ".join(f"{number}={word}" for number, word in enumerate(CONTACT_WORDS[known]))
    return "Cel" if known.is_temperature else "%RH"


def quality_word(quality: int) -> str:
    """`good`, or why a reading is suspect."""
    found = [str(each.name).lower().replace("_", " ") for each in Quality if each and quality & each]
    return "; ".join(found) if found else "good" if not quality else f"suspect ({quality})"


class Lines:
    """Writes the readings of one channel. `pieces` are its calibrations in order of time, empty for a contact."""

    def __init__(self, channel: str, quantity: str, pieces: Sequence[Piece], zone: tzinfo) -> None:
        self._begin = f"{cell(channel)},{cell(quantity)},{cell(unit_word(quantity))},"
        self._pieces, self._zone = tuple(pieces), zone
        self._corrects = any(piece.gain != 1.0 or piece.shift != 0.0 for piece in self._pieces)
        self._offsets: dict[int, tuple[int, str]] = {}
        self._words: dict[int, str] = {}

    def of(self, rows: Sequence[Row] | Sequence[tuple[int, float, int]]) -> str:
        """Give the lines of readings in order of time; empty for none."""
        if not rows:
            return ""
        at_ms, raw, quality = zip(*rows, strict=True)
        utc, local, offsets = self._times(at_ms)
        begin, words = self._begin, [self._word(each) for each in quality]
        raw_texts = list(map(repr, raw))
        calibrated = self._calibrated(at_ms, raw) if self._corrects else raw_texts if self._pieces else [""] * len(raw)
        columns = zip(utc, local, offsets, raw_texts, calibrated, words, strict=True)
        return "".join([f"{begin}{u}Z,{at}{offset},{r},{c},{q}\r\n" for u, at, offset, r, c, q in columns])

    def _word(self, quality: int) -> str:
        found = self._words.get(quality)
        if found is None:
            found = self._words[quality] = cell(quality_word(quality))
        return found

    def _times(self, at_ms: Sequence[int]) -> tuple[list[str], list[str], list[str]]:
        import numpy as np

        moments = np.array(at_ms, dtype=np.int64)
        quarters, inverse = np.unique(moments // _QUARTER_MS, return_inverse=True)
        offsets = [self._offset(int(each)) for each in quarters]
        shift = np.array([ms for ms, _ in offsets], dtype=np.int64)[inverse]
        texts = np.array([text for _, text in offsets], dtype=object)[inverse]
        utc, local = (
            np.datetime_as_string(each.astype("datetime64[ms]")).tolist() for each in (moments, moments + shift)
        )
        return utc, local, texts.tolist()

    def _offset(self, quarter: int) -> tuple[int, str]:
        """How far the clock of the site is ahead of UTC, ms, and as ISO 8601 writes it."""
        found = self._offsets.get(quarter)
        if found is None:
            ahead = datetime.fromtimestamp(quarter * _QUARTER_MS / 1000, UTC).astimezone(self._zone).utcoffset()
            seconds = 0 if ahead is None else round(ahead.total_seconds())
            hours, minutes = divmod(abs(seconds) // _MINUTE, _MINUTE)
            found = seconds * 1000, f"{'-' if seconds < 0 else '+'}{hours:02d}:{minutes:02d}"
            self._offsets[quarter] = found
        return found

    def _calibrated(self, at_ms: Sequence[int], raw: Sequence[float]) -> Sequence[str]:
        """What the readings mean by the calibrations of their times."""
        import numpy as np

        starts = np.array([piece.from_ms for piece in self._pieces], dtype=np.int64)
        at = np.maximum(np.searchsorted(starts, np.array(at_ms, dtype=np.int64), side="right") - 1, 0)
        gain, shift = (np.array([getattr(piece, name) for piece in self._pieces])[at] for name in ("gain", "shift"))
        return list(map(repr, np.round(gain * np.array(raw) + shift, CALIBRATED_DIGITS).tolist()))
