"""Facts that the figures read by name: a shop that computes must have them under that name, of that kind."""

from collections.abc import Iterator, Mapping

from advisor import situation
from advisor.knowledge import FactDef, Fault, Place
from advisor.knowledge.places import listed

NUMBERS = (
    "altitude", "axle ratio", "boost wanted by", "charge pipe size", "compression ratio", "cylinders", "displacement",
    "exhaust size", "grade", "injected volume", "injector size", "power goal", "rpm limit", "stock power",
    "summer temperature", "top gear ratio", "towing speed", "trailer weight", "tyre diameter", "vehicle weight",
    "working rpm high", "working rpm low", "daily share", "towing share", "strip share", "sled share",
)  # fmt: skip
CHOICES: Mapping[str, tuple[str, ...]] = {
    "air filter": tuple(situation.FILTER_RESISTANCE),
    "camshaft": tuple(situation.CAM_BREATHING),
    "cylinder head": tuple(situation.HEAD_BREATHING),
    "injection pump": tuple(situation.PUMP_FLOW),
    "intercooler": tuple(situation.COOLER_RESISTANCE),
    "lift pump": tuple(situation.LIFT_PUMP_FLOW),
    "manifold entry": ("open", "divided"),
    "power measured at": ("crank", "wheels"),
    "transmission": tuple(situation.DRIVELINE),
    "tune": tuple(situation.TUNE_FUEL),
    "valves per cylinder": tuple(situation.VALVE_BREATHING),
}
OPTIONAL = frozenset(name for name in NUMBERS if name.endswith(" share")) | {
    "boost wanted by", "injected volume", "working rpm high", "working rpm low",
}  # fmt: skip
SHOP_OF_FIGURES = 0.5
"""Share of these facts from which on a folder is taken for a shop that computes, not for a piece of one."""


def lacking(vocabulary: Mapping[str, FactDef]) -> Iterator[Fault]:
    """Facts that the figures read and the vocabulary lacks, has as another kind, or with choices they don't know."""
    names = (*NUMBERS, *CHOICES)
    if sum(name in vocabulary for name in names) < SHOP_OF_FIGURES * len(names):
        return
    for name in names:
        definition = vocabulary.get(name)
        kind = "number" if name in NUMBERS else "choice"
        if definition is None:
            what = f"the figures read '{name}', and no fact has that name"
            yield Fault(Place("facts.yaml", 1, 1), what, "give it that name again; it can't be renamed or left out")
        elif definition.kind != kind:
            yield Fault(definition.place, f"the figures read '{name}' as a {kind}", f"make its kind {kind}")
        elif kind == "number" and definition.typical is None and name not in OPTIONAL:
            yield Fault(definition.place, f"'{name}' has no usual value to be taken", "add a line 'typical: ...'")
        elif strange := [choice for choice in definition.choice_names if choice not in CHOICES.get(name, ())]:
            what = f"the figures don't know '{strange[0]}' of '{name}'"
            mend = f"its choices are {listed(CHOICES[name])}; ask whoever keeps the program"
            yield Fault(definition.place, what, mend)
