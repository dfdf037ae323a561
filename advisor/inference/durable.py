"""The agenda on durable-rules 2.0.28, given little that it could get wrong.

The engine's own conditions compare across types, go stale and crash on ordinary content. So it sees only
small integers: each condition that holds is one fact, each rule a join of such facts, and an action does no
more than note its rule. Known limits, and how they are kept (found by trial on Linux, Python 3.11 and 3.12):

- at most 15 patterns a rule: a longer rule gets its further conditions as one joint condition;
- at most 200 rules sharing a condition (256 overflow its heap): it is asserted under further numbers;
- at most 400 tests below one node: conditions are grouped;
- at most 4,000 rules a set: several sets, fired one after the other;
- one live session, deleted before its set is; a session in which no action ran may not be deleted, so that a
  sentinel rule fires in each;
- errors inside an action are swallowed: they are kept here and raised after the session;
- an action that takes over 10 s (a machine suspended meanwhile) is dropped: the engine's clock, needed for
  nothing else here, is stopped.
"""

import logging
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable
from functools import lru_cache
from importlib.metadata import version
from itertools import count
from typing import Any

import durable.engine
from durable.engine import MessageNotHandledException, MessageObservedException, Ruleset

from .agenda import FiringError, Joins

PATTERNS_A_RULE = 15
RULES_A_CONDITION = 200
CONDITIONS_A_GROUP = 400
RULES_A_SET = 4_000
_SETS_KEPT = 256
_SENTINEL = 0

durable.engine._unix_now = lambda: 0.0
logging.getLogger("durable").addHandler(logging.NullHandler())

_serial = count(1)  # names of rulesets and sessions, unique in this process
_lock = threading.RLock()  # the engine is not known to be thread-safe: one session at a time


class _Set:
    """Up to RULES_A_SET rules, compiled. `numbers` are the caller's numbers of the rules."""

    def __init__(self, rules: list[tuple[int, tuple[int, ...]]]) -> None:
        self._noted: list[int] = []
        self._trouble: list[BaseException] = []
        self._joint: list[tuple[frozenset[int], int]] = []  # conditions that hold together, and their number
        self._facts: dict[int, list[int]] = {}  # the numbers of each condition in here
        self._uses: dict[int, int] = {}  # how many rules read the last number of a condition
        self._numbers = count(_SENTINEL + 1)
        definition: dict[str, dict[str, Any]] = {"sentinel": self._rule([_SENTINEL], -1)}
        for number, needs in rules:
            definition[f"r{number}"] = self._rule(self._patterns(needs), number)
        self._ruleset = Ruleset(f"advice{next(_serial)}", None, definition)

    def _patterns(self, needs: tuple[int, ...]) -> list[int]:
        if not needs:
            return [self._shared(-1)]
        if len(needs) <= PATTERNS_A_RULE:
            return [self._shared(condition) for condition in needs]
        joint = next(self._numbers)
        self._joint.append((frozenset(needs[PATTERNS_A_RULE - 1 :]), joint))
        return [*(self._shared(condition) for condition in needs[: PATTERNS_A_RULE - 1]), joint]

    def _shared(self, condition: int) -> int:
        """The number under which one more rule may read the condition; -1 is one that always holds."""
        uses = self._uses.get(condition, 0)
        if uses % RULES_A_CONDITION == 0:
            self._facts.setdefault(condition, []).append(next(self._numbers))
        self._uses[condition] = uses + 1
        return self._facts[condition][-1]

    def _rule(self, patterns: list[int], number: int) -> dict[str, Any]:
        tests = [{"$and": [{"g": n // CONDITIONS_A_GROUP}, {"n": n}]} for n in patterns]
        return {
            "all": [{f"c{place}": test} for place, test in enumerate(tests)],
            "run": self._noting(number),
        }

    def _noting(self, number: int) -> Callable[[object], None]:
        def note(_closure: object) -> None:
            try:
                self._noted.append(number)
            except BaseException as error:  # the engine would swallow it, an interrupt included
                self._trouble.append(error)

        return note

    def fire(self, held: frozenset[int]) -> list[int]:
        """The rules of this set that fire, in the engine's order."""
        holding = [_SENTINEL, *self._facts.get(-1, ())]
        for condition in sorted(held):
            holding.extend(self._facts.get(condition, ()))
        holding.extend(number for conditions, number in self._joint if conditions <= held)
        self._noted.clear()
        self._trouble.clear()
        session = f"s{next(_serial)}"
        ended: list[object] = []
        handle = 0
        try:
            for number in holding:
                fact = {"id": str(number), "sid": session, "g": number // CONDITIONS_A_GROUP, "n": number}
                try:
                    handle = self._ruleset.assert_fact(fact)
                except (MessageNotHandledException, MessageObservedException):
                    continue  # a fact that no rule reads, or one that was folded into another
            self._ruleset.do_actions(handle, lambda error, _state: ended.append(error))
        finally:
            if self._noted:
                self._ruleset.delete_state(session)
        for trouble in (*self._trouble, *ended):
            if isinstance(trouble, BaseException):
                raise trouble
        if ended != [None]:
            raise RuntimeError("the session did not run to its end")
        if self._noted.count(-1) != 1 or len(set(self._noted)) != len(self._noted):
            raise RuntimeError("a rule fired twice, or the sentinel did not fire once")
        return [number for number in self._noted if number >= 0]

    def close(self) -> None:
        durable.engine.durable_rules_engine.delete_ruleset(self._ruleset._handle)


_sets: OrderedDict[Joins, list[_Set]] = OrderedDict()  # compiled, the latest used last


class DurableAgenda:
    """Fires with durable-rules. Compiled sets are kept by their content, in each process for itself."""

    name = "durable"

    def describe(self) -> str:
        return f"durable-rules {version('durable_rules')}"

    def fire(self, joins: Joins, holding: Iterable[int]) -> tuple[int, ...]:
        """The numbers of the rules all of whose conditions hold, ascending. Raises FiringError."""
        try:
            return _fired(joins, frozenset(holding))
        except Exception as error:
            raise FiringError(
                f"durable-rules failed ({type(error).__name__}: {error}), so nothing is concluded; "
                "choose the reference engine, which gives the same results"
            ) from error


@lru_cache(maxsize=8_192)
def _fired(joins: Joins, held: frozenset[int]) -> tuple[int, ...]:
    """One firing; the same one again is remembered."""
    with _lock:
        return tuple(sorted(number for part in _compiled(joins) for number in part.fire(held)))


def _compiled(joins: Joins) -> list[_Set]:
    sets = _sets.get(joins)
    if sets is None:
        rules = list(enumerate(joins.rules))
        sets = [_Set(rules[at : at + RULES_A_SET]) for at in range(0, len(rules), RULES_A_SET)]
        _sets[joins] = sets
        while len(_sets) > _SETS_KEPT:
            for old in _sets.popitem(last=False)[1]:
                old.close()
    _sets.move_to_end(joins)
    return sets
