"""Conditions that can never hold or always do, and rules that contradict each other."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import reduce
from itertools import combinations

from advisor.quantities import show

from .conditions import All, Between, Compare, Condition, FactRef, Flag, Leaf, Number, facts_in, leaves
from .domains import (
    Both,
    Claim,
    Claims,
    Either,
    Key,
    Numbers,
    Universe,
    Values,
    conjunctions,
    meet,
    union,
)
from .origins import Origins
from .places import Fault, in_a_row, listed
from .possible import Clash, Possible, join
from .rules import Assume, Rule, SetFact, Setting, Stage
from .slopes import Slope
from .strata import reads
from .vocabulary import FactDef

_WAYS = 64


def check_conditions(
    vocabulary: Mapping[str, FactDef], rules: Sequence[Rule], whole: bool = True
) -> Iterator[Fault]:
    """Faults of conditions, in rules and in `ask when`. Unless they are `whole`, other rules may set facts to more than
    these do, and only what holds all the same is told."""
    universe = Universe(vocabulary, settable(vocabulary, rules) if whole else {})
    origins = Origins(universe, rules if whole else ())
    hanging: dict[str, list[Fault]] = defaultdict(list)
    for rule in rules:
        yield from _Examination(universe, origins, hanging).of(rule.written)
        for slope in rule.slopes:
            yield from _out_of_reach(universe, slope, rule.written)
    for definition in vocabulary.values():
        if definition.ask_when is not None:
            yield from _Examination(universe, origins, hanging).of(definition.ask_when)
    for fact, faults in hanging.items():
        yield from _never_set(universe, fact, faults)
    if whole:
        yield from _contradictions(universe, rules)


def settable(vocabulary: Mapping[str, FactDef], rules: Iterable[Rule]) -> dict[str, frozenset[str]]:
    """The choices that rules set each rule fact to; facts with a set value that isn't plain are left out."""
    found: dict[str, set[str]] = defaultdict(set)
    for rule in rules:
        for action in rule.then:
            if isinstance(action, SetFact):
                match action.value:
                    case bool():
                        found[action.fact].add("yes" if action.value else "no")
                    case str():
                        found[action.fact].add(action.value)
                    case _:
                        pass
    kinds = ("choice", "yes/no")
    return {fact: frozenset(values) for fact, values in found.items() if vocabulary[fact].kind in kinds}


class _Examination:
    """One condition while it is being looked through."""

    def __init__(self, universe: Universe, origins: Origins, hanging: dict[str, list[Fault]]) -> None:
        self.universe = universe
        self.origins = origins
        self.hanging = hanging  # what is wrong only because rules set a fact to too little, by fact
        self.faults: list[Fault] = []

    def of(self, condition: Condition) -> list[Fault]:
        dead = [leaf for leaf in leaves(condition) if not self.can_hold(leaf)]
        if not dead:
            claims = self.universe.claims(condition)
            found = self.walk(claims, {})
            if not self.faults and isinstance(found, dict):
                self.faults += self.origins.faults(condition, claims)
        return self.faults

    def can_hold(self, leaf: Leaf) -> bool:
        """Whether the leaf can hold by itself; notes where it can't, or always does."""
        key, allowed = self.universe.claim(leaf)
        whole = self.universe.of(key)
        faults = self.faults if isinstance(whole, Numbers) or not self.is_set(key) else self.hanging[key.fact]
        if not meet(whole, allowed):
            mend = "no number is like that" if allowed == Numbers(()) else self.because(key, whole)
            faults.append(Fault(leaf.place, f"'{leaf.text}' can never hold", mend))
            return False
        if meet(whole, allowed) == whole:
            if isinstance(leaf, Flag) and leaf.value and self.is_set(key):
                return True  # a flag that is raised and never lowered: it holds where it is raised
            mend = f"write '{key.fact} is known' if that is meant" if key.fact else "leave it out"
            what = f"'{leaf.text}' always holds ({self.because(key, whole)})"
            faults.append(Fault(leaf.place, what, mend))
        elif key.aspect in ("order", "between") and (held := self.settled(leaf)) is not None:
            said = "always holds" if held else "can never hold"
            mend = "leave it out, or mend the figures" if held else "mend the figures"
            self.faults.append(Fault(leaf.place, f"'{leaf.text}' {said} ({self.ranges(leaf)})", mend))
            return held
        return True

    def is_set(self, key: Key) -> bool:
        """Whether what the key can be hangs on what rules set."""
        return key.aspect == "value" and key.fact in self.universe.settable

    def settled(self, leaf: Leaf) -> bool | None:
        """Whether a comparison of sums holds for all plausible answers (True), for none (False), or for some."""
        match leaf:
            case Compare(left=left, op=op, right=right):
                pairs = [(left, op, right)]
            case Between(expr=expr, low=low, high=high):
                pairs = [(expr, ">=", low), (expr, "<=", high)]
            case _:
                return None
        found = [_compared(self.universe.span(left), op, self.universe.span(right)) for left, op, right in pairs]
        return False if False in found else True if all(found) else None

    def ranges(self, leaf: Leaf) -> str:
        """The plausible ranges of what the leaf reads."""
        named = [self.universe.vocabulary[name] for name in sorted(facts_in(leaf))]
        return ", ".join(f"{one.name} lies between {_span(one)}" for one in named if one.plausible is not None)

    def because(self, key: Key, whole: Values) -> str:
        """What the vocabulary or the rules say about the key."""
        if key.aspect == "order":
            return "both sides are the same"
        definition = self.universe.vocabulary[key.fact]
        if isinstance(whole, Numbers):
            return f"{key.fact} lies between {_span(definition)}"
        if key.fact in self.universe.settable:
            return f"rules set '{key.fact}' only to {listed(sorted(whole))}"
        return f"'{key.fact}' has only {listed(sorted(whole))}"

    def walk(self, claims: Claims, known: Possible) -> Possible | Clash:
        """What stays possible; notes the clashes and the branches that are dead."""
        match claims:
            case Claim():
                return join(self.universe, (claims,), known)
            case Both(parts=parts):
                possible: Possible | Clash = known
                for part in sorted(parts, key=lambda part: isinstance(part, Either)):
                    assert isinstance(possible, dict)
                    possible = self.walk(part, possible)
                    if isinstance(possible, Clash):
                        self.clash(possible)
                        return possible
                return possible
            case Either(parts=parts):
                return self.either(claims, parts, known)

    def either(self, claims: Either, parts: tuple[Claims, ...], known: Possible) -> Possible | Clash:
        before = len(self.faults)
        found = [self.walk(part, known) for part in parts]
        clashes = [clash for clash in found if isinstance(clash, Clash)]
        open_ways = [way for way in found if not isinstance(way, Clash)]
        for part, way in zip(parts, found, strict=True):
            if isinstance(way, Clash) and not isinstance(part, Both):
                self.clash(way)
        if not open_ways:
            return clashes[0]
        if (key := self.covers(parts)) is not None and len(self.faults) == before:
            mend = "leave a gap between them, or leave the group out"
            self.told_of(parts, key).append(Fault(claims.of.place, "one of these always holds", mend))
        return open_ways[0] if len(open_ways) == 1 else known

    def covers(self, parts: tuple[Claims, ...]) -> Key | None:
        """The key of which the parts are claims that leave no value out."""
        keys = {part.key if isinstance(part, Claim) else None for part in parts}
        key = next(iter(keys)) if len(keys) == 1 else None
        if key is None:
            return None
        allowed = reduce(union, (part.allowed for part in parts if isinstance(part, Claim)))
        whole = self.universe.of(key)
        return key if meet(whole, allowed) == whole else None

    def told_of(self, parts: Iterable[Claims], key: Key) -> list[Fault]:
        """Where it is told that one of some claims on a key always holds: with what hangs on its fact where that is so
        only by what rules set it to."""
        allowed = reduce(union, (part.allowed for part in parts if isinstance(part, Claim)))
        whole = self.universe.of(key, as_set=False)
        return self.hanging[key.fact] if self.is_set(key) and meet(whole, allowed) != whole else self.faults

    def clash(self, clash: Clash) -> None:
        later = clash.later
        faults = self.faults
        within = (self.universe.vocabulary[fact] for fact in clash.within)
        lies = [f"{fact.name} lies between {_span(fact)}" for fact in within if fact.plausible is not None]
        if not clash.earlier and later.in_none:
            whole = self.universe.of(later.key)
            why = self.because(later.key, whole) if later.key.fact else ", ".join(lies)
            what, mend = f"'{later.leaf.text}' can never be false here{why and f' ({why})'}", "leave it out of 'none'"
            faults = self.hanging[later.key.fact] if self.is_set(later.key) else faults
            faults[:] = [fault for fault in faults if fault.place != later.leaf.place]  # that it always holds
        elif not clash.earlier:
            what = f"'{later.leaf.text}' can never hold{f' ({in_a_row(lies)})' if lies else ''}"
            mend = "mend the figures"
        else:
            names = [f"{_named(one)} in {_line(one, later)}" for one in clash.earlier]
            what = f"{_named(later)} can't go together with {in_a_row(names)}{f' ({in_a_row(lies)})' if lies else ''}"
            mend = _to_part((later, *clash.earlier))
            if self.is_set(later.key) and all(one.key == later.key for one in clash.earlier):
                allowed = (one.allowed for one in (later, *clash.earlier))
                if reduce(meet, allowed, self.universe.of(later.key, as_set=False)):
                    faults = self.hanging[later.key.fact]  # it is by what rules set it to
        fault = Fault(later.leaf.place, what, mend)
        if fault not in faults:
            faults.append(fault)


def _named(claim: Claim) -> str:
    return f"'{claim.leaf.text}' under 'none:'" if claim.in_none else f"'{claim.leaf.text}'"


def _line(earlier: Claim, later: Claim) -> str:
    same = earlier.leaf.place == later.leaf.place
    return "the same line" if same else f"line {earlier.leaf.place.line}"


def _to_part(claims: Sequence[Claim]) -> str:
    """How to mend it that claims can't go together."""
    denied = [claim.in_none for claim in claims]
    if len(claims) == 2 and all(denied):
        return "one of the two always holds: leave one out of 'none:'"
    if len(claims) == 2 and any(denied):
        return "one of the two must go, or the one under 'none:' belongs out of it"
    return "one of the two must go, or both belong under 'any:'" if len(claims) == 2 else "one of them must go"


def _never_set(universe: Universe, fact: str, faults: list[Fault]) -> Iterator[Fault]:
    """What comes of one value that no rule sets, most often since the one that did is gone: told once."""
    values = universe.settable[fact]
    unset = sorted({*(universe.vocabulary[fact].choice_names or ("yes", "no"))} - values)
    if not unset or not faults:
        yield from faults
        return
    places = sorted({fault.place for fault in faults})
    only = f"rules set '{fact}' only to {listed(sorted(values))}"
    mend = f"put back the rule that sets it to {listed(unset)}, or write one; or else mend "
    if all(fault.what.startswith("'") and fault.what.endswith(f" always holds ({only})") for fault in faults):
        said = faults[0].what.partition(" always holds")[0]
        what = f"{said} holds wherever '{fact}' is known: rules set it only to {listed(sorted(values))}"
        if len(places) > 1:
            what += f"; so at {listed([f'{place.file}:{place.line}' for place in places[1:]], 6)}"
        mend = f"write '{fact} is known' if that is meant, or the rule that sets it to {listed(unset)}"
        yield Fault(places[0], what, f"{mend} (if there was one, put it back)")
        return
    if values == {"yes"}:
        denied = any(" can never be false " in fault.what for fault in faults)
        instead = f"'{fact} is known' under 'none:'" if denied else f"'{fact} is not known'"
        mend = f"write {instead} for where none sets it; or {mend}"
    if len(places) == 1:
        what = faults[0].what.partition(f" ({only})")[0]
        yield Fault(places[0], f"{what}: {only}", f"{mend}this")
        return
    what = f"{only}, and {len(places)} conditions hang on that, first here"
    yield Fault(places[0], what, mend + listed([f"{place.file}:{place.line}" for place in places], 6))


def _out_of_reach(universe: Universe, slope: Slope, when: All) -> Iterator[Fault]:
    """Ends of points that run with a figure which it can't come to: by what callers are asked, or by the rule's own
    conditions on it."""
    low, high = universe.span(slope.figure)
    if isinstance(slope.figure, FactRef) and (plausible := universe.vocabulary[slope.figure.name].plausible):
        low, high = plausible.low, plausible.high
    for end, _ in slope.ends:
        if not low <= end.si <= high:
            lies = f"'{slope.figure.text}' lies between {' and '.join(slope.shown(edge) for edge in (low, high))}"
            yield Fault(end.place, f"it never comes to {end.text}: {lies}", "let the points run within that")
    for part in when.parts:
        allowed = universe.bounds(part, slope.figure)
        if allowed:
            (low, _), (high, _) = allowed.stretches[0][0], allowed.stretches[-1][1]
            for end, _ in slope.ends:
                if not low <= end.si <= high:
                    what = f"it never comes to {end.text} beside '{part.text}' in line {part.place.line}"
                    yield Fault(end.place, what, "let the points run within that, or leave the condition out")


def _compared(one: tuple[float, float], op: str, other: tuple[float, float]) -> bool | None:
    """Whether the comparison holds for all values between the ends, for none (False), or for some (None)."""
    if op in (">", ">="):
        one, op, other = other, {">": "<", ">=": "<="}[op], one
    (low, high), (bottom, top) = one, other
    match op:
        case "<":
            return True if high < bottom else False if low >= top else None
        case "<=":
            return True if high <= bottom else False if low > top else None
        case _:
            apart = high < bottom or low > top
            return (op == "!=") if apart else None


def _span(definition: FactDef) -> str:
    assert definition.answerable is not None
    ends = (definition.answerable.low, definition.answerable.high)
    return " and ".join(show(end, definition.unit, definition.quantity) for end in ends)


def _contradictions(universe: Universe, rules: Sequence[Rule]) -> Iterator[Fault]:
    """Pairs of rules of one stage that set a fact to different values and provably can both hold.

    Only conditions on asked facts are judged: answers are free of each other, what follows from them isn't.
    """
    setters: dict[tuple[Stage, str, type], list[tuple[Rule, SetFact | Assume]]] = defaultdict(list)
    for rule in rules:
        if all(universe.vocabulary[fact].source == "asked" for fact in reads(rule)):
            for action in rule.then:
                if isinstance(action, SetFact | Assume):
                    setters[rule.stage, action.fact, type(action)].append((rule, action))
    ways: dict[str, list[Possible]] = {}
    for (_, fact, _), alike in setters.items():
        for (one, first), (other, second) in combinations(alike, 2):
            if first.value == second.value:
                continue
            for rule in (one, other):
                if rule.name not in ways:
                    ways[rule.name] = _ways(universe, rule)
            example = _together(ways[one.name], ways[other.name])
            if example is not None:
                later, earlier = sorted((one, other), key=lambda rule: rule.place, reverse=True)
                yield _contradiction(universe, later, earlier, fact, (first.value, second.value), example)


def _ways(universe: Universe, rule: Rule) -> list[Possible]:
    """The ways in which the rule's condition can hold, where they are free of comparisons between facts."""
    found = []
    for conjunction in conjunctions(universe.claims(rule.when), _WAYS):
        if all(claim.key.aspect not in ("order", "between") for claim in conjunction):
            possible = join(universe, conjunction)
            if isinstance(possible, dict):
                found.append(possible)
    return found


def _together(one: list[Possible], other: list[Possible]) -> dict[Key, Values] | None:
    """Values under which both can hold."""
    for mine in one:
        for theirs in other:
            both = {key: values for key, (values, _) in mine.items()}
            for key, (values, _) in theirs.items():
                both[key] = meet(both[key], values) if key in both else values
            if all(both.values()):
                return both
    return None


def _contradiction(
    universe: Universe,
    later: Rule,
    earlier: Rule,
    fact: str,
    values: tuple[Setting, Setting],
    example: Mapping[Key, Values],
) -> Fault:
    shown = " and ".join(f"'{word}'" for word in sorted(_shown(value) for value in values))
    what = (
        f"'{later.name}' and '{earlier.name}' ({earlier.place}) can both hold and make '{fact}' {shown}, "
        f"for instance with {_example(universe, example)}"
    )
    return Fault(later.place, what, "let one of them exclude the other")


def _shown(value: Setting) -> str:
    match value:
        case bool():
            return "yes" if value else "no"
        case str():
            return value
        case frozenset():
            return ", ".join(sorted(value))
        case Number(text=text):
            return text
        case _:
            return value.text


def _example(universe: Universe, example: Mapping[Key, Values]) -> str:
    words = []
    for key, values in sorted(example.items(), key=lambda item: (item[0].fact, item[0].aspect, str(item[0].detail))):
        definition = universe.vocabulary[key.fact]
        match key.aspect, values:
            case "value", Numbers():
                figure = show(values.example(), definition.unit, definition.quantity)
                words.append(f"{key.fact} {figure}")
            case "value", frozenset():
                words.append(f"{key.fact} {min(values)}")
            case "has", frozenset():
                words.append(f"{key.fact} {'with' if 'yes' in values else 'without'} {key.detail}")
            case "known", _ if values == frozenset(("no",)):
                words.append(f"{key.fact} not known")
            case _:
                pass
    return ", ".join(words) or "any answers"
