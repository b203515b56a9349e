"""Eggs against a plain model that knows nothing of dates, marks or SQL: what each egg is, in the order of the days.

Whatever people say and take back, in whatever order: every word that the rules take is on record, the counts add up,
and no egg ever is what it could not have become.
"""

import sqlite3
from collections import Counter
from itertools import pairwise
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from daemon.clutches import egg_changes
from daemon.clutches.egg_records import egg_counts, eggs, events
from daemon.clutches.eggs import course
from daemon.clutches.errors import RegisterError
from daemon.storage.connections import connect
from daemon.storage.migrations import migrate
from tests.clutches.house import NOW, day, enter, say

EGGS = 4
STATES = ("sound", "watch", "removed:mould", "removed:stuck", "pipped", "hatched", "given-away")
# By hand, as in the table of the other test: which state may stand directly before which.
POSSIBLE = {
    **{(one, other): True for one in ("sound", "watch") for other in STATES},
    ("pipped", "removed:mould"): True,
    ("pipped", "removed:stuck"): True,
    ("pipped", "pipped"): True,
    ("pipped", "hatched"): True,
    ("pipped", "given-away"): True,
    ("removed:stuck", "removed:mould"): True,
}


class Eggs(RuleBasedStateMachine):
    """Says and takes back; the model is a list of (day, order, state) for each egg."""

    @initialize()
    def begin(self) -> None:
        self.conn: sqlite3.Connection = connect(Path(":memory:"), 1)
        migrate(self.conn, "memory")
        self.clutch = enter(self.conn, egg_count=EGGS)
        self.model: dict[int, dict[int, tuple[int, str]]] = {egg: {} for egg in range(1, EGGS + 1)}

    def chain(self, egg: int) -> list[str]:
        ordered = sorted((at, number, state) for number, (at, state) in self.model[egg].items())
        return [state for _, _, state in ordered]

    def was(self, egg: int, at_ms: int) -> str:
        before = [(at, number, state) for number, (at, state) in self.model[egg].items() if at <= at_ms]
        return max(before)[2] if before else "sound"

    def could(self, egg: int, at_ms: int, state: str) -> bool:
        """Whether the model takes it: put in its place, every step is possible, and it is no repetition."""
        with_it = {**self.model[egg], 10**9: (at_ms, state)}
        ordered = sorted((at, number, what) for number, (at, what) in with_it.items())
        words = ["sound", *(what for _, _, what in ordered)]
        place = ordered.index((at_ms, 10**9, state)) + 1
        return words[place - 1] != state and all((a, b) in POSSIBLE for a, b in pairwise(words))

    @rule(egg=st.integers(1, EGGS), state=st.sampled_from(STATES), on=st.integers(1, 8))
    def say_it(self, egg: int, state: str, on: int) -> None:
        could = self.could(egg, day(on), state)
        try:
            (number,) = say(self.conn, self.clutch, state, [str(egg)], day(on))
        except RegisterError:
            assert not could
            return
        assert could
        self.model[egg][number] = (day(on), state)

    @rule(count=st.integers(1, EGGS), state=st.sampled_from(STATES), on=st.integers(1, 8))
    def say_how_many(self, count: int, state: str, on: int) -> None:
        able = sum(self.could(egg, day(on), state) and self.was(egg, day(on)) != "removed:stuck" for egg in self.model)
        before = {one.number for one in events(self.conn, self.clutch)}
        try:
            said = say(self.conn, self.clutch, state, count, day(on))
        except RegisterError:
            assert able < count
            return
        assert able >= count == len(said)
        for one in events(self.conn, self.clutch):
            if one.number not in before:
                assert self.could(one.egg, day(on), state)
                self.model[one.egg][one.number] = (day(on), state)

    @rule(data=st.data())
    def take_back(self, data: st.DataObject) -> None:
        standing = [(egg, number) for egg, said in self.model.items() for number in said]
        if not standing:
            return
        egg, number = data.draw(st.sampled_from(standing))
        # Taking back is never refused: no order of states can become impossible by it.
        egg_changes.withdraw_event(self.conn, self.clutch, number, "kim", "", NOW)
        del self.model[egg][number]

    @rule(data=st.data(), egg=st.integers(1, EGGS))
    def say_which(self, data: st.DataObject, egg: int) -> None:
        standing = [(one, number) for one, said in self.model.items() for number in said if one != egg]
        if not standing:
            return
        other, number = data.draw(st.sampled_from(standing))
        at_ms, state = self.model[other][number]
        could = self.could(egg, at_ms, state)
        try:
            said = egg_changes.say_which(self.conn, self.clutch, number, str(egg), "kim", NOW)
        except RegisterError:
            assert not could
            return
        assert could
        del self.model[other][number]
        self.model[egg][said.events[0]] = (at_ms, state)

    @invariant()
    def every_egg_is_what_the_model_says(self) -> None:
        here = eggs(self.conn, self.clutch, EGGS)
        last = {egg: (self.chain(egg) or ["sound"])[-1] for egg in self.model}
        assert {egg.number: _word(egg.stated.state, egg.stated.reason) for egg in here} == last
        by_state = Counter(state.partition(":")[0] for state in last.values())
        found = egg_counts(self.conn)[self.clutch]
        assert (found.sound, found.watch, found.lost, found.pipped, found.hatched, found.given_away) == tuple(
            by_state[word] for word in ("sound", "watch", "removed", "pipped", "hatched", "given-away")
        )
        assert found.total == EGGS == sum(by_state.values())
        assert found.left_in_place == list(last.values()).count("removed:stuck")

    @invariant()
    def what_stands_is_in_an_order_that_can_be(self) -> None:
        said = events(self.conn, self.clutch)
        for egg in self.model:
            words = ["sound", *(_word(one.stated.state, one.stated.reason) for one in course(said, egg))]
            assert all((a, b) in POSSIBLE for a, b in pairwise(words)), words


def _word(state: str, reason: str | None) -> str:
    return str(state) if reason is None else f"{state}:{reason}"


TestEggs = Eggs.TestCase
TestEggs.settings = settings(max_examples=60, stateful_step_count=25, deadline=None)
