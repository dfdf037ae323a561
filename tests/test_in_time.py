"""What a call says of its own accord is said when it is due, and never holds against the caller what he didn't say.

What is due when is common practice, no source.
"""

import re

from calls import shop

from advisor.consultation import consult
from advisor.dialogue.call import Call
from advisor.dialogue.turn import Turn
from advisor.inference.engines import agenda
from advisor.journal import Record

OPENED = {"call kind": "new turbo", "request": "a 64", "request reason": "a guess"}
CAMPER = {**OPENED, "today's trouble": "it crawls and the exhaust gets hot", "duties": "daily", "displacement": "3 L"}


def shown(turn: Turn) -> str:
    return " ".join(line.strip() for _, line in turn.lines(1000))


def live(answers: dict[str, str] = OPENED) -> tuple[Call, str]:
    """A call in the demo shop with these answers, and what it shows as it goes on."""
    call = Call(lambda told: consult(told, shop(), agenda("reference"), bands=False), shop(), Record(answers=answers))
    return call, shown(call.open())


def changed(call: Call, fact: str, words: str) -> str:
    return shown(call.hear(f"change {fact} = {words}"))


REPROACH = "It makes that already"


def test_who_named_no_goal_is_not_told_that_he_has_it_already() -> None:
    call, _ = live(CAMPER)
    seen = changed(call, "power now", "190 hp")
    assert REPROACH not in seen
    assert all(REPROACH not in line.text for line in call.consultation.say)
    assert "that's a lot of power" not in seen.lower()
    assert REPROACH in changed(call, "power goal", "190 hp")


def test_a_goal_past_what_it_makes_is_no_reproach_either() -> None:
    call, _ = live({**CAMPER, "power now": "190 hp"})
    assert REPROACH not in changed(call, "power goal", "230 hp")


def test_what_rests_on_an_assumption_waits_for_the_advice() -> None:
    call, _ = live({**OPENED, "displacement": "5.9 L"})
    seen = changed(call, "power now", "600 hp")  # a quarter more is aimed at until he says
    assert "power for its size" not in seen
    assert "power goal" in {name for name, fact in call.consultation.facts.items() if fact.origin.kind == "assumed"}


FLANGE, GASKETS = "a picture with a rule across it settles it", "New gaskets, fresh oil and filter"


def test_flange_and_gaskets_are_no_matter_for_the_first_minute() -> None:
    call, _ = live({})
    assert FLANGE not in shown(call.hear("new turbo"))
    call, _ = live({})
    seen = shown(call.hear("replacement"))
    assert FLANGE not in seen
    assert GASKETS not in seen
    assert "For the same again I need little" in seen


def test_flange_and_gaskets_are_told_with_the_advice() -> None:
    replaced = {"call kind": "replacement", "replacement wish": "same", "displacement": "5.9 L", "cylinders": "6"}
    replaced |= {"duties": "towing", "power now": "300 hp", "tune": "stock"}
    call, _ = live(replaced)
    call.hear("enough")
    assert re.search(r"steps \(\d+ more\)", shown(call.hear("yes")))
    seen = shown(call.hear("in full steps"))
    assert "manifold flange with a rule laid across it" in seen
    assert "new gaskets, and bolts to the maker's torque" in seen
