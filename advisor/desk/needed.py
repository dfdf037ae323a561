"""Facts that the figures read by name: a shop that computes must have them under that name, of that kind."""

from collections.abc import Collection, Mapping

from advisor import fuelling, pulling, situation
from advisor.knowledge import FactDef, Fault, Place
from advisor.knowledge.accepted import OF_FIGURES
from advisor.knowledge.places import listed

NUMBERS = (
    "altitude", "axle ratio", "boost wanted by", "charge pipe size", "compression ratio", "cylinders", "displacement",
    "exhaust size", "grade", "injected volume", "injector size", "power goal", "power now", "rpm limit",
    "stock power", "summer temperature", "top gear ratio", "towing speed", "trailer weight", "tyre diameter",
    "vehicle weight", "working rpm high", "working rpm low", "daily share", "towing share", "strip share", "sled share",
)  # fmt: skip
CHOICES: Mapping[str, tuple[str, ...]] = {
    "air filter": tuple(situation.FILTER_RESISTANCE),
    "camshaft": tuple(situation.CAM_BREATHING),
    "cylinder head": tuple(situation.HEAD_BREATHING),
    "field work": tuple(pulling.FIELD_WORK),
    "injection pump": tuple(fuelling.PUMP_FLOW),
    "intercooler": tuple(situation.COOLER_RESISTANCE),
    "lift pump": tuple(fuelling.LIFT_PUMP_FLOW),
    "manifold entry": ("open", "divided"),
    "power measured at": ("crank", "wheels"),
    "transmission": tuple(situation.DRIVELINE),
    "tune": tuple(fuelling.TUNE_FUEL),
    "valves per cylinder": tuple(situation.VALVE_BREATHING),
}
OPTIONAL = frozenset(name for name in NUMBERS if name.endswith(" share")) | {
    "boost wanted by", "injected volume", "power now", "working rpm high", "working rpm low",
}  # fmt: skip
SHOP_OF_FIGURES = 0.5
"""Share of these facts from which on a folder is taken for a shop that computes, not for a piece of one."""


NAMES = (*NUMBERS, *CHOICES)


def lacking(vocabulary: Mapping[str, FactDef], written: Collection[str] = ()) -> dict[str, Fault]:
    """What is wrong with facts that the figures read, by their names: one that the vocabulary lacks (and doesn't hold
    among the names that are `written` there, soundly or not), has as another kind, or with choices they don't know."""
    if sum(name in vocabulary or name in written for name in NAMES) < SHOP_OF_FIGURES * len(NAMES):
        return {}
    found = {name: _wrong(name, vocabulary) for name in NAMES if name in vocabulary or name not in written}
    return {name: fault for name, fault in found.items() if fault is not None}


def _wrong(name: str, vocabulary: Mapping[str, FactDef]) -> Fault | None:
    definition = vocabulary.get(name)
    kind = "number" if name in NUMBERS else "choice"
    if definition is None:
        what = f"the figures read '{name}', and no fact has that name"
        mend = "give it that name again; it can't be renamed or left out"
        instead = _renamed(name, kind, vocabulary)
        if instead is None:
            return _fault(Place("facts.yaml", 1, 1), what, mend)
        mend = f"if '{instead.name}' was it, give it that name again; it can't be renamed or left out"
        return _fault(instead.place, what, mend)
    if definition.kind != kind:
        return _fault(definition.place, f"the figures read '{name}' as a {kind}", f"make its kind {kind}")
    if kind == "number" and definition.typical is None and name not in OPTIONAL:
        return _fault(definition.place, f"'{name}' has no usual value to be taken", "add a line 'typical: ...'")
    if strange := [choice for choice in definition.choice_names if choice not in CHOICES.get(name, ())]:
        what = f"the figures don't know '{strange[0]}' of '{name}'"
        return _fault(definition.place, what, f"its choices are {listed(CHOICES[name])}; ask whoever keeps the program")
    return None


def _fault(place: Place, what: str, mend: str) -> Fault:
    return Fault(place, what, mend, finding=OF_FIGURES)


def _renamed(name: str, kind: str, vocabulary: Mapping[str, FactDef]) -> FactDef | None:
    """The fact of another name that the figures know nothing of and that speaks most of `name`; None where none
    does."""
    others = [one for one in vocabulary.values() if one.name not in NAMES and (one.kind, one.source) == (kind, "asked")]
    marks = {one.name: _speaks(one, name) for one in others}
    best = max(marks, key=lambda other: marks[other], default="")
    return vocabulary[best] if best and marks[best] > 0 else None


def _speaks(definition: FactDef, name: str) -> float:
    """How much of a name a fact's own name and words hold, its name before all, and the last word of that."""
    words = [word for word in name.split() if len(word) > 2]
    told = (definition.ask, definition.listen_for, definition.why, definition.check_by, definition.in_short)
    asked = " ".join((*told, *definition.mentioned, *(word for said in definition.said_as for word in said.words)))
    named = sum(3 * (word in definition.name) for word in words) + (words[-1] in definition.name.split())
    return (named + sum(min(asked.lower().count(word[:5]), 2) for word in words)) / len(words)
