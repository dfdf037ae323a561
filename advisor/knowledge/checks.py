"""Whether the pieces of a folder, each sound, fit together: stages, parts, maps, and what nobody needs."""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

from .catalogue import Catalogue
from .conditions import All, Includes, Is, facts_in, leaves
from .domains import Universe, constant
from .ladders import ladders
from .places import Fault, did_you_mean, listed, looks_copied
from .rules import (
    FIRST_STAGE,
    STAGES,
    Assume,
    Penalise,
    Rule,
    RuleOut,
    SetFact,
    Setting,
    Stage,
    is_visible,
    placeholders,
    texts,
)
from .soundness import check_conditions, settable
from .source import files_in
from .strata import reads
from .swallowed import swallowed
from .unasked import unasked
from .unlike import exact_figures, odd_thresholds, stocked
from .vocabulary import FactDef


def check_rules(vocabulary: Mapping[str, FactDef], rules: Sequence[Rule]) -> list[Fault]:
    """Faults that the rules show even while others can't be read."""
    checks = (
        _same_names(rules),
        _stages(vocabulary, rules, _setters(rules)),
        _actions(vocabulary, rules),
        _asking(vocabulary),
    )
    return [fault for check in checks for fault in check]


def check_whole(vocabulary: Mapping[str, FactDef], rules: Sequence[Rule]) -> list[Fault]:
    """Faults that only show when every fact and rule was understood."""
    return [*_unset(vocabulary, _setters(rules)), *check_conditions(vocabulary, rules)]


def findings(
    vocabulary: Mapping[str, FactDef], rules: Sequence[Rule], catalogue: Catalogue, needed_elsewhere: Collection[str]
) -> list[Fault]:
    """Notes on rules that are sound, and perhaps not meant to be as they are.

    `needed_elsewhere` are facts that the figures read, so that asking them is no waste though no rule does.
    """
    universe = Universe(vocabulary, settable(vocabulary, rules))
    checks = (
        swallowed(universe, rules),
        ladders(rules, vocabulary),
        odd_thresholds(rules, vocabulary, stocked(catalogue)),
        exact_figures(rules, vocabulary),
        unasked(universe, rules, needed_elsewhere),
        _unused(vocabulary, rules, needed_elsewhere),
    )
    return [fault for check in checks for fault in check]


def _setters(rules: Sequence[Rule]) -> Mapping[str, list[Rule]]:
    setters: dict[str, list[Rule]] = defaultdict(list)
    for rule in rules:
        for action in rule.then:
            if isinstance(action, SetFact):
                setters[action.fact].append(rule)
    return setters


def _same_names(rules: Sequence[Rule]) -> Iterator[Fault]:
    """Rules that were copied: told where the copy stands, of a whole file once."""
    named: dict[str, list[Rule]] = defaultdict(list)
    for rule in sorted(rules, key=lambda rule: (looks_copied(rule.place.file), rule.place)):
        named[rule.name].append(rule)
    copied = {copy.place: first.place for first, *copies in named.values() for copy in copies}
    for file in sorted({place.file for place in copied}):
        own = sorted(rule.place for rule in rules if rule.place.file == file)
        elsewhere = {copied[place].file for place in own if place in copied} - {file}
        if len(own) > 1 and len(elsewhere) == 1 and all(place in copied for place in own):
            what = f"this file is likely a copy of {min(elsewhere)}: all its {len(own)} rules have names of rules there"
            yield Fault(own[0], what, "move one of the two files out of the folder, or give the rules other names")
            continue
        for rule in rules:
            if rule.place.file == file and rule.place in copied:
                what = f"this is likely a copy: a rule '{rule.name}' stands at {copied[rule.place]} too"
                yield Fault(rule.place, what, "give it a name of its own, or leave one of the two out")


def _stages(
    vocabulary: Mapping[str, FactDef], rules: Sequence[Rule], setters: Mapping[str, list[Rule]]
) -> Iterator[Fault]:
    """Facts read before there is anything to read."""
    for rule in rules:
        told: set[str] = set()
        for leaf in leaves(rule.when):
            for fact in sorted(facts_in(leaf) - told):
                if (why := too_early(vocabulary[fact], rule.stage, setters)) is not None:
                    told.add(fact)
                    yield Fault(leaf.place, *why)
        for action in rule.then:
            if isinstance(action, SetFact | Assume) and not isinstance(action.value, str | bool | frozenset):
                for fact in sorted(facts_in(action.value)):
                    if (why := too_early(vocabulary[fact], rule.stage, setters)) is not None:
                        yield Fault(action.value.place, *why)


def too_early(definition: FactDef, stage: Stage, setters: Mapping[str, list[Rule]]) -> tuple[str, str] | None:
    """Why a rule of this stage can't read the fact, and the mend; None when it can."""
    if not is_visible(definition.source, stage):
        first = FIRST_STAGE[definition.source]
        what = f"'{definition.name}' is not there yet in the stage {stage}"
        return what, f"move the rule to the stage {first} or later"
    late = [rule for rule in setters.get(definition.name, ()) if STAGES.index(rule.stage) > STAGES.index(stage)]
    if late:
        setter = min(late, key=lambda rule: (STAGES.index(rule.stage), rule.name))
        what = f"'{definition.name}' is set only later, by '{setter.name}' in the stage {setter.stage}"
        return what, f"move this rule to the stage {setter.stage} or later, or that one earlier"
    return None


def _actions(vocabulary: Mapping[str, FactDef], rules: Sequence[Rule]) -> Iterator[Fault]:
    for rule in rules:
        for action in rule.then:
            match action:
                case RuleOut() | Penalise() if rule.stage != "judge":
                    what = f"there is no candidate to judge in the stage {rule.stage}"
                    yield Fault(action.place, what, "move the rule to the stage judge")
                case SetFact() | Assume() if rule.stage == "judge" and _of_candidates(vocabulary, rule):
                    what = f"'{action.fact}' belongs to the call, and this rule speaks of one candidate"
                    yield Fault(action.place, what, "rule out, penalise or prefer the candidate instead")
                case SetFact() | Assume():
                    yield from _range(vocabulary[action.fact], action)
                case _:
                    pass


def _of_candidates(vocabulary: Mapping[str, FactDef], rule: Rule) -> bool:
    return any(vocabulary[fact].source == "candidate" for fact in reads(rule))


def _range(definition: FactDef, action: SetFact | Assume) -> Iterator[Fault]:
    if definition.plausible is None or isinstance(action.value, str | bool | frozenset):
        return
    value = constant(action.value)
    if value is not None and not definition.plausible.low <= value <= definition.plausible.high:
        what = f"'{action.value.text}' is outside the plausible range of '{definition.name}'"
        yield Fault(action.value.place, what, "mend the value, or the range in facts.yaml")


def _unset(vocabulary: Mapping[str, FactDef], setters: Mapping[str, list[Rule]]) -> Iterator[Fault]:
    for definition in vocabulary.values():
        if definition.source == "rule" and definition.name not in setters:
            what = f"no rule sets '{definition.name}', and nobody is asked for it"
            yield Fault(definition.place, what, "write a rule that sets it, or leave it out")


def _asking(vocabulary: Mapping[str, FactDef]) -> Iterator[Fault]:
    """`ask when` may only wait for what is known before any figures, and not in a circle."""
    sorter: TopologicalSorter[str] = TopologicalSorter()
    for definition in vocabulary.values():
        if definition.ask_when is None:
            continue
        for leaf in leaves(definition.ask_when):
            for fact in sorted(facts_in(leaf)):
                if not is_visible(vocabulary[fact].source, "understand"):
                    what = f"'{fact}' is not there yet while questions are asked"
                    yield Fault(leaf.place, what, "wait for an asked fact or one that rules set")
        sorter.add(definition.name, *sorted(facts_in(definition.ask_when)))
    try:
        sorter.prepare()
    except CycleError as error:
        names = list(dict.fromkeys(error.args[1]))
        first = vocabulary[min(names)]
        what = f"these questions wait for each other: {listed(sorted(names))}"
        yield Fault(first.place, what, "ask one of them without 'ask when'")


def check_maps(catalogue: Catalogue, folder: Path) -> Iterator[Fault]:
    """Measured maps that the catalogue names and nobody has filed."""
    maps = {path.stem for path in files_in(folder, ".csv")}
    for code, name in catalogue.map_names.items():
        if name not in maps:
            place = catalogue.places["compressor wheels", code]
            mend = did_you_mean(name, maps, "put the file there, or leave 'map:' out")
            yield Fault(place, f"there is no file maps/{name}.csv", mend)


def _unused(
    vocabulary: Mapping[str, FactDef], rules: Sequence[Rule], needed_elsewhere: Collection[str]
) -> Iterator[Fault]:
    """Notes: questions and conclusions that nothing reads, choices that no rule speaks of."""
    read = set(needed_elsewhere)
    spoken: dict[str, set[str]] = defaultdict(set)
    for rule in rules:
        read |= reads(rule)
        for action in rule.then:
            read |= {name for text in texts(action) for name in placeholders(text)}
            if isinstance(action, SetFact | Assume):
                spoken[action.fact] |= _choices(action.value)
    conditions = [rule.when for rule in rules]
    conditions += [entry.ask_when for entry in vocabulary.values() if isinstance(entry.ask_when, All)]
    for condition in conditions:
        read |= facts_in(condition)
        for leaf in leaves(condition):
            match leaf:
                case Is(fact=fact, choices=choices):
                    spoken[fact] |= choices
                case Includes(fact=fact, choice=choice):
                    spoken[fact].add(choice)
                case _:
                    pass
    for definition in vocabulary.values():
        if definition.name not in read and definition.source in ("asked", "rule"):
            what = "nothing needs the answer to" if definition.source == "asked" else "nothing reads"
            mend = "write a rule that reads it, or leave it out"
            what = f"{what} '{definition.name}'"
            yield Fault(definition.place, what, mend, "note", "not needed", (definition.place,))
        elif definition.name not in needed_elsewhere and definition.source in ("asked", "rule"):
            for option in definition.choices:
                if option.name not in spoken[definition.name] and option.place is not None:
                    what = f"no rule speaks of '{option.name}'"
                    mend = "write what follows from it, or leave it out"
                    yield Fault(option.place, what, mend, "note", "unspoken choice", (definition.place,))


def _choices(value: Setting) -> frozenset[str]:
    match value:
        case bool():
            return frozenset()
        case str():
            return frozenset((value,))
        case frozenset():
            return value
        case _:
            return frozenset()
