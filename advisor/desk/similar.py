"""A second look at a rule: what rules like it mention and it doesn't."""

from collections import Counter
from dataclasses import dataclass

from advisor.knowledge import Knowledge, Rule
from advisor.knowledge.rules import Caution, Say, is_visible
from advisor.knowledge.strata import reads, writes

LEAST = 3  # rules alike, below which nothing can be said
SAME_FILE = "in the same file"
MOST_NAMED = 8  # rules of a ground
SHARE = 0.5  # of them that must mention it


@dataclass(frozen=True, slots=True)
class Omission:
    """A fact that ``count`` of ``alike`` similar rules look at and this one doesn't, with examples."""

    fact: str
    count: int
    alike: int
    examples: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.count} of {self.alike} such rules also look at {self.fact} (such as {', '.join(self.examples)})"


def kinds(rule: Rule) -> frozenset[str]:
    """What a rule does: its stage with each kind of action (grave cautions apart), and the facts that it sets."""
    found = {f"sets {fact}" for fact in writes(rule)}
    for action in rule.then:
        word = type(action).__name__
        found.add(f"{rule.stage} {word} {action.severity}" if isinstance(action, Caution) else f"{rule.stage} {word}")
    return frozenset(found - {f"{rule.stage} Say"})


def roughly(rule: Rule) -> frozenset[str]:
    """The same whatever the stage and however grave."""
    words = {type(action).__name__ for action in rule.then}
    return frozenset(words - {Say.__name__} or words)


def alike(knowledge: Knowledge, rule: Rule) -> dict[str, list[Rule]]:
    """The rules like this one, by the ground they share: its file and so its subject first, then what they read. Where
    too few do alike, those that do roughly so; the rules that read most of what it reads come first."""
    for does in (kinds, roughly):
        others = [other for other in knowledge.rules if other.name != rule.name and does(other) & does(rule)]
        others.sort(key=lambda other: -len(reads(other) & reads(rule)))
        groups = {SAME_FILE: [other for other in others if other.place.file == rule.place.file]}
        for fact in sorted(reads(rule)):
            groups[fact] = [other for other in others if fact in reads(other)]
        if found := {ground: rules for ground, rules in groups.items() if len(rules) >= LEAST}:
            return found
    return {}


def looked_at(knowledge: Knowledge, rule: Rule) -> list[str]:
    """The rules that a second look holds a rule against, in a line for each ground that they share with it; where too
    few do alike, the rules of its subject, which say nothing of it."""
    groups = alike(knowledge, rule)
    own = [other for other in knowledge.rules if other.place.file == rule.place.file and other.name != rule.name]
    if own and SAME_FILE not in groups:
        own.sort(key=lambda other: -len(reads(other) & reads(rule)))
        groups = {f"{SAME_FILE}, though few of them do alike": own, **groups}
    return [
        f"{ground if ground.startswith(SAME_FILE) else f'that it shares {ground!r} with'}: "
        + ", ".join(other.name for other in rules[:MOST_NAMED])
        + (f" and {len(rules) - MOST_NAMED} more" if len(rules) > MOST_NAMED else "")
        for ground, rules in groups.items()
    ]


def second_look(knowledge: Knowledge, rule: Rule) -> tuple[Omission, ...]:
    """What similar rules mention that this one doesn't and could, in its stage; the most usual first."""
    found: dict[str, Omission] = {}
    for rules in alike(knowledge, rule).values():
        mentions = Counter(
            fact
            for other in rules
            for fact in reads(other) - reads(rule)
            if is_visible(knowledge.vocabulary[fact].source, rule.stage)
        )
        for fact, count in mentions.items():
            if count / len(rules) < SHARE:
                continue
            examples = tuple(other.name for other in rules if fact in reads(other))[:2]
            one = Omission(fact, count, len(rules), examples)
            if fact not in found or one.count / one.alike > found[fact].count / found[fact].alike:
                found[fact] = one
    return tuple(sorted(found.values(), key=lambda one: (-one.count / one.alike, -one.alike, one.fact)))
