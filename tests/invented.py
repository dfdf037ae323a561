"""Generated callers who know everything about themselves, as likely as the desk's own estimates have them.

What stands by itself is drawn from the vocabulary's weights and priors. What doesn't follows what was drawn before: no
truck makes less than its tune gives, nobody asks for less than he has, the ends of a range stand in order, shares of
the miles add up, who has nothing else has nothing else. Figures are round, as people say them; pipes come in the sizes
of the trade. The couplings are common practice, no source.
"""

import random
from collections.abc import Mapping

from advisor.knowledge import FactDef, Knowledge
from advisor.quantities import Range, from_si, show, to_si

TEXTS = {"present size": "a 63", "insists reason": "his brother swears by it",
         "today's trouble": "it runs hot on the hills"}
"""What is said to questions for his own words."""
REQUESTS = ("a 64", "a 72", "64/71 .90 divided T4", "80 mil", "66 with a gate")
ALONE = {"gauges": "none", "must stay": "nothing", "objection": "none"}
# Steps in which people say a figure, by its unit in the vocabulary.
ROUND = {"L": 0.1, "%": 1, "rpm": 50, "hp": 5, "psi": 1, "mm3": 5, "°F": 5, "lb": 100, "mph": 1, "in": 1, "mm": 1,
         "ft": 100, "$": 50, "days": 1, "": 0.01}  # fmt: skip
SIZES = {"exhaust size": (3.0, 3.5, 4.0, 5.0), "charge pipe size": (2.5, 3.0, 3.5), "cylinders": (6, 8)}
NEVER = {"strip car": {"towing", "sled"}, "pull truck": {"towing", "strip"}, "tractor": {"strip", "daily"},
         "medium truck": {"strip", "sled"}}  # fmt: skip
ALWAYS = {"strip car": {"strip"}, "pull truck": {"sled"}, "tractor": {"sled"}}
TUNED = {"stock": (0.95, 1.05), "mild": (1.1, 1.3), "hot": (1.25, 1.6), "competition": (1.4, 2.0)}
BRAKED = 0.85
FIRST = ("vehicle kind", "rpm limit", "tune", "stock power", "power now", "working rpm low")


def hidden(seed: int, knowledge: Knowledge) -> dict[str, str]:
    """All that one caller knows: fact -> his words."""
    chance = random.Random(seed)
    known: dict[str, str] = {}
    figures: dict[str, float] = {}
    asked = [one for one in knowledge.vocabulary.values() if one.source == "asked" and not one.volunteered]
    for definition in sorted(asked, key=lambda d: (d.name not in FIRST, d.order)):
        name = definition.name
        if definition.kind == "number":
            figures[name] = _figure(definition, known, figures, chance)
        elif definition.kind == "choice":
            weights = [choice.weight for choice in definition.choices]
            known[name] = chance.choices(definition.choice_names, weights)[0]
        elif definition.kind == "several":
            known[name] = " and ".join(_several(definition, known, chance))
        elif definition.kind == "yes/no":
            known[name] = "yes" if chance.random() < (BRAKED if name == "trailer brakes" else 0.5) else "no"
        else:
            known[name] = chance.choice(REQUESTS) if name == "request" else TEXTS.get(name, "nothing more")
    shares = [f"{duty} share" for duty in known["duties"].split(" and ")]
    whole = sum(figures[name] for name in shares)
    for name, value in figures.items():
        definition = knowledge.vocabulary[name]
        known[name] = show(value / whole if name in shares else value, definition.unit, definition.quantity)
    return known


def _several(definition: FactDef, known: Mapping[str, str], chance: random.Random) -> list[str]:
    picked = {choice.name for choice in definition.choices if chance.random() < choice.weight}
    if definition.name == "duties":
        picked = (picked | ALWAYS.get(known["vehicle kind"], set())) - NEVER.get(known["vehicle kind"], set())
    alone = ALONE.get(definition.name)
    if alone in picked and len(picked) > 1:
        picked.discard(alone)
    return [name for name in definition.choice_names if name in picked] or [alone or definition.choice_names[0]]


def _figure(
    definition: FactDef, known: Mapping[str, str], figures: Mapping[str, float], chance: random.Random
) -> float:
    """A figure (SI), round in the unit of the vocabulary."""
    name, unit, quantity = definition.name, definition.unit, definition.quantity
    if name in SIZES:
        return to_si(chance.choice(SIZES[name]), unit, quantity)
    spread = _within(definition, known, figures)
    step = ROUND[unit]
    told = round(from_si(chance.uniform(spread.low, spread.high), unit, quantity) / step) * step
    return to_si(told, unit, quantity)


def _within(definition: FactDef, known: Mapping[str, str], figures: Mapping[str, float]) -> Range:
    """The prior (SI), as far as it goes with what was drawn before."""
    spread = definition.prior or definition.plausible
    assert spread is not None
    low, high = spread.low, spread.high
    match definition.name:
        case "power now":
            low, high = (figures["stock power"] * share for share in TUNED[known["tune"]])
        case "power goal":
            low = max(low, 1.05 * figures["power now"])
        case "tow rating":
            low = max(low, 0.85 * figures["trailer weight"])
        case "working rpm low" | "boost wanted by":
            high = min(high, 0.75 * figures["rpm limit"])
        case "working rpm high":
            low, high = max(low, 1.2 * figures["working rpm low"]), min(high, 1.02 * figures["rpm limit"])
    return Range(min(low, high), max(low, high))
