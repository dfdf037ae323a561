"""What a whole folder must make of itself: each piece is sound, do they fit together?"""

from collections.abc import Iterable, Mapping, Sequence

from .catalogue import Catalogue
from .places import Fault
from .rules import Rule
from .vocabulary import FactDef


def check_rules(
    vocabulary: Mapping[str, FactDef],
    rules: Sequence[Rule],
    catalogue: Catalogue,
    maps: Mapping[str, str],
) -> Iterable[Fault]:
    """Faults and notes between rules, vocabulary, catalogue and maps."""
    return list(_same_names(rules))


def _same_names(rules: Sequence[Rule]) -> Iterable[Fault]:
    first: dict[str, Rule] = {}
    for rule in sorted(rules, key=lambda rule: rule.place):
        if rule.name in first:
            what = f"a rule '{rule.name}' stands at {first[rule.name].place} too"
            yield Fault(rule.place, what, "give each its own name")
        first.setdefault(rule.name, rule)
