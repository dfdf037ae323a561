"""A small invented desk for tests of the conversation: six facts, two rules, and a consultation by hand.

The conversation reads only what a consultation says; here that is short enough to foresee every line of it.
"""

from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np

from advisor.hearing import understand
from advisor.inference.agenda import Firing, Taken
from advisor.inference.facts import Fact, FactBase, Origin
from advisor.knowledge import Choice, FactDef, Knowledge, Place
from advisor.knowledge.conditions import All
from advisor.knowledge.rules import Caution as CautionAction
from advisor.knowledge.rules import Penalise, Rule, Say
from advisor.outcome import (
    Answer,
    Caution,
    Consultation,
    Figure,
    Line,
    OpenQuestion,
    Option,
    PartLine,
    Resting,
    RuledOut,
)
from advisor.units import Range, to_si

HERE = Place("facts.yaml", 1, 1)


def fact(name: str, kind: str, order: int, **more: Any) -> FactDef:
    """A fact definition with the rest filled in."""
    quantity, unit = more.pop("quantity", ""), more.pop("unit", "")
    for key in ("plausible", "prior"):
        if key in more:
            low, high = more[key]
            more[key] = Range(to_si(low, unit, quantity), to_si(high, unit, quantity))
    if "typical" in more:
        more["typical"] = to_si(more["typical"], unit, quantity)
    rest = {
        "topic": "engine",
        "source": "asked",
        "plausible": None,
        "prior": None,
        "typical": None,
        "choices": (),
        "ask": f"What about the {name}?",
        "listen_for": f"anything on the {name}",
        "why": f"The {name} matters.",
        "seconds": 8.0,
        "known": 0.8,
        "ask_when": None,
        "place": HERE,
    }
    return FactDef(name=name, kind=kind, quantity=quantity, unit=unit, order=order, **(rest | more))


def choice(name: str, *words: str, means: str = "") -> Choice:
    return Choice(name, words, 1.0, means or f"means {name}")


FACTS = (
    fact("request", "text", 1, topic="call"),
    fact(
        "duties",
        "several",
        2,
        topic="duty",
        choices=(choice("daily", "street"), choice("towing", "tow"), choice("strip", "drag")),
    ),
    fact(
        "displacement", "number", 3, quantity="volume", unit="L", plausible=(2, 20), prior=(5, 8), typical=6.6
    ),
    fact(
        "present boost",
        "number",
        4,
        quantity="pressure",
        unit="psi",
        plausible=(3, 120),
        prior=(20, 40),
        typical=30,
    ),
    fact(
        "trailer weight",
        "number",
        5,
        topic="towing",
        quantity="mass",
        unit="lb",
        plausible=(500, 80_000),
        prior=(6_000, 18_000),
        typical=12_000,
    ),
    fact(
        "transmission",
        "choice",
        6,
        topic="driveline",
        choices=(choice("manual", "stick"), choice("automatic", "auto")),
        mentioned=("manual", "automatic", "auto"),
    ),
    fact("road use", "yes/no", 7, topic="law"),
    fact(
        "request answer",
        "choice",
        90,
        topic="shop",
        choices=(choice("accepted", "fine"), choice("insists", "still want it")),
    ),
    fact(
        "altitude",
        "number",
        8,
        topic="place",
        quantity="altitude",
        unit="ft",
        plausible=(-300, 14_000),
        prior=(0, 7_000),
        typical=1_000,
    ),
    fact("thrust need", "choice", 99, source="rule", choices=(choice("270"), choice("360"))),
)
VOCABULARY = {definition.name: definition for definition in FACTS}


def rule(name: str, line: int, *then: Any) -> Rule:
    place = Place("towing.yaml", line, 5)
    when = All((), place=place, text="")
    return Rule(
        name,
        "advise",
        when,
        then,
        f"Because of {name}.",
        "common practice, no source",
        "R. Aldous, 2026-11",
        place,
    )


PLACE = Place("towing.yaml", 3, 9)
TAKEN = Taken(np.array([0.0, 10.0, 0.0]), np.array([0.0, 10.0, 0.0]))
RULES = (
    rule(
        "heavy-trailer-needs-gauge",
        3,
        CautionAction("danger", "Never tow it without a pyrometer.", place=PLACE),
    ),
    rule("long-call-say-thanks", 9, Say("Thanks.", place=PLACE)),
    rule("short-of-air", 15, Penalise(10, place=PLACE)),
)
EMPTY = SimpleNamespace(codes=(), combinations=(), facts={"compressor inducer": np.array([])})
CATALOGUE = SimpleNamespace(fittings={}, turbos={}, candidates=lambda: EMPTY)
KNOWLEDGE: Any = Knowledge(VOCABULARY, RULES, CATALOGUE, {}, {}, "d1")  # type: ignore[arg-type]


def figure(name: str, low: float, high: float, unit: str, quantity: str, assumption: str = "") -> Figure:
    value = Range(to_si(low, unit, quantity), to_si(high, unit, quantity))
    return Figure(name, value, quantity, unit, "computed", assumption, f"what {name} is", "the match")


BIG = Option(
    "recommended",
    "Q-64-T4",
    "64 mm wheel, divided T4 housing",
    81.0,
    1850.0,
    (
        figure("power made", 480, 505, "hp", "power"),
        figure("spool rpm", 1650, 1700, "rpm", "rotation", "usual converter"),
    ),
    (),
    (),
    (),
)
SMALL = replace(
    BIG,
    role="alternative",
    code="Q-58-T3",
    title="58 mm wheel, open T3 housing",
    points=74.0,
    price=1420.0,
    figures=(
        figure("power made", 410, 420, "hp", "power"),
        figure("spool rpm", 1350, 1390, "rpm", "rotation"),
    ),
    gains=("lights 300 rpm sooner", "$430 cheaper"),
    loses=("makes 75 hp less",),
)
ASKED_FOR = replace(
    BIG,
    role="requested",
    code="Q-72-T6",
    title="72 mm wheel, T6 housing",
    points=20.0,
    price=2300.0,
    gains=(),
    loses=("lights 900 rpm later",),
    ruled_out_by=("foot-does-not-fit",),
    out_words=("That foot goes on no manifold of yours.",),
    closest_because="closest to “a 72”",
)


def consult(answers: Sequence[Answer]) -> Consultation:
    """A consultation by hand: the big one is best, but for a trailer of up to 13,000 lb."""
    heard = tuple(understand(VOCABULARY[answer.fact], answer.words) for answer in answers)
    facts = {u.fact.name: u.fact for u in heard if u.fact is not None}
    known = {u.answer.fact for u in heard}
    trailer = facts.get("trailer weight")
    heavy = (
        trailer is not None
        and isinstance(trailer.value, Range)
        and trailer.value.mid > to_si(13_000, "lb", "mass")
    )
    if "altitude" not in known:
        facts["altitude"] = Fact(
            "altitude", Range(304.8, 304.8), Origin("assumed", "near sea level is usual")
        )
    firings = ()
    if heavy and trailer is not None:
        facts["thrust need"] = Fact("thrust need", "360", Origin("rule", "heavy-trailer-needs-gauge", PLACE))
        firings = (
            Firing("heavy-trailer-needs-gauge", PLACE, (), (trailer,)),
            Firing("short-of-air", PLACE, (), (), mask=np.array([False, True, False]), points=TAKEN),
        )
    order = [d for d in sorted(FACTS, key=lambda d: d.order) if d.source == "asked" and d.name != "altitude"]
    questions = tuple(
        OpenQuestion(
            d.name,
            d.ask,
            d.listen_for,
            d.why,
            f"The {d.name} decides.",
            d.name == "road use",
            ("long-call-say-thanks",),
            tuple((c.name, c.means) for c in d.choices),
        )
        for d in order
        if d.name not in known and (d.name != "trailer weight" or _tows(facts))
    )
    best, other = (
        (BIG, SMALL)
        if heavy or trailer is None
        else (replace(SMALL, role="recommended"), replace(BIG, role="alternative"))
    )
    enough = "displacement" in known
    return Consultation(
        verdict="recommended" if enough else "not enough known",
        verdict_words=f"The {best.title}." if enough else "Not enough is known yet.",
        understood=heard,
        request_fixes=(("wheel", "72 mm"),) if "request" in known else (),
        request_leaves_open=("housing", "foot") if "request" in known else (),
        request_doubts=(),
        facts=facts,
        firings=firings,
        conflicts=(),
        questions=questions,
        figures=(figure("air flow needed", 52, 56, "lb/min", "mass flow", "engine breathes as stock"),),
        recommended=best if enough else None,
        alternatives=(other,) if enough else (),
        two_stage=None,
        requested=ASKED_FOR if "request" in known else None,
        requested_words=(
            "It is a strong turbo.",
            "On this engine it lights late.",
            "Here is what suits better.",
        )
        if "request" in known
        else (),
        kept=((best.code, best.title, 81.0), (other.code, other.title, 74.0)),
        ruled_out=(
            RuledOut(
                "Q-72-T6", "72 mm wheel, T6 housing", ("foot-does-not-fit",), ("The foot is another one.",)
            ),
        ),
        trade=(),
        trade_words="",
        advice=(Line("Break it in gently.", "long-call-say-thanks"),),
        say=(Line("Thanks for calling.", "long-call-say-thanks", stage="advise"),),
        cautions=(Caution("note", "Keep the receipt.", "long-call-say-thanks"),)
        + (
            (Caution("danger", "Never tow it without a pyrometer.", "heavy-trailer-needs-gauge"),)
            if heavy
            else ()
        ),
        parts=(
            PartLine("G-01", "foot gasket", 2, 12.5, 0, "the joint"),
            PartLine("A-07", "outlet adapter", 1, 90.0, 6, "his pipe is 3 in"),
            PartLine("", "exhaust joint", 1, None, None, "nobody said what is there", open=True),
        ),
        next_steps=(Line("Measure the foot.", "long-call-say-thanks"),),
        rests_on=(Resting("altitude", "1,000 ft", "near sea level is usual"),),
        separated="",
        fired_by="reference evaluation (built in)",
        knowledge_digest="d1",
        candidate_facts=FactBase(facts).with_columns(
            {
                "candidate code": [o.code for o in (BIG, SMALL, ASKED_FOR)],
            },
            Origin("catalogue", ""),
        ),
        requested_is="too big" if "request" in known else "unknown",
    )


def _tows(facts: dict[str, Fact]) -> bool:
    duties = facts.get("duties")
    return duties is not None and isinstance(duties.value, frozenset) and "towing" in duties.value


__all__ = ["ASKED_FOR", "BIG", "FACTS", "KNOWLEDGE", "SMALL", "VOCABULARY", "consult"]
