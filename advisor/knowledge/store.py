"""What was loaded: immutable, told apart by its digest, and ready to be handed to another process."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from .accepted import Answering
from .catalogue import Catalogue
from .frozen import Frozen
from .rules import Rule, Stage
from .vocabulary import FactDef


@dataclass(frozen=True, eq=False)
class Knowledge(Frozen):
    """Vocabulary, rules, catalogue and measured maps of one folder.

    `rules` are sorted by name. `maps` holds the text of each `maps/*.csv` by name. Two are equal when the
    files they came from are, byte for byte (`digest`).
    """

    vocabulary: Mapping[str, FactDef]
    rules: tuple[Rule, ...]
    catalogue: Catalogue
    maps: Mapping[str, str]
    strata: Mapping[Stage, tuple[tuple[Rule, ...], ...]]
    digest: str

    @cached_property
    def _by_name(self) -> dict[str, Rule]:
        return {rule.name: rule for rule in self.rules}

    @property
    def entries(self) -> tuple[Answering, ...]:
        """All rules and facts, and the pieces of the catalogue that do: what can carry answers to findings."""
        return (*self.rules, *self.vocabulary.values(), *self.catalogue.answered)

    def rule(self, name: str) -> Rule:
        """The rule of this name; KeyError without one."""
        return self._by_name[name]

    def layers(self, stage: Stage) -> tuple[tuple[Rule, ...], ...]:
        """The rules of a stage in strata: what a rule reads is settled in the strata before its own."""
        return self.strata.get(stage, ())

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Knowledge) and other.digest == self.digest

    def __hash__(self) -> int:
        return hash(self.digest)
