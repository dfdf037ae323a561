"""How what is new in the catalogue does in the recorded calls: advised, or how near it comes and what puts it out."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.course import Course
from advisor.knowledge import Knowledge
from advisor.knowledge.catalogue import Combination
from advisor.wording import counted

MACHINES = ("turbos", "housings", "gates", "compressor wheels", "turbine wheels")


@dataclass(frozen=True, slots=True)
class Standing:
    """How combinations with a ware stand in a call: the place of the best (1 is advised, 0 where all are out), how many
    points it has less than the one advised, that one's code, and what puts out most of those that are out."""

    ware: str
    place: int
    behind: float = 0.0
    first: str = ""
    out_by: str = ""


@dataclass(frozen=True, slots=True)
class Fresh:
    """A new ware over all calls that advise a turbo: how many, in which ones it is advised, the nearest it comes in the
    others, and in how many each rule or limit puts it out."""

    ware: str
    built: bool
    calls: int
    advised: tuple[str, ...]
    nearest: tuple[str, Standing] | None
    out: Mapping[str, int]

    def __str__(self) -> str:
        if not self.built:
            return f"{self.ware}: goes with nothing in the catalogue, so it can't be advised"
        if not self.calls:
            return f"{self.ware}: no recorded call advises any turbo"
        if self.advised:
            more = f" and {len(self.advised) - 1} more" if len(self.advised) > 1 else ""
            return f"{self.ware}: advised in {len(self.advised)} of {_calls(self.calls)}: {self.advised[0]}{more}"
        words = f"{self.ware}: advised in none of {_calls(self.calls)}"
        if self.nearest is not None:
            call, at = self.nearest
            words += f"; nearest in {call}: place {at.place}, {at.behind:.1f} points behind {at.first}"
        if self.out:
            by, count = max(self.out.items(), key=lambda entry: entry[1])
            why = f"as it {by}" if " " in by else f"by {by}"
            words += f"; all out in {sum(self.out.values())}, most often {why} ({count})"
        return words


def _calls(count: int) -> str:
    return f"{counted(count, 'call')} with advice"


def machines(new: Iterable[str]) -> list[str]:
    """Those of the new wares (as "turbos TN-1") of which combinations are built."""
    return sorted(ware for ware in new if ware.rpartition(" ")[0] in MACHINES)


def standings(course: Course, wares: Sequence[str]) -> tuple[Standing, ...]:
    """How new wares stand in a call; nothing where none is advised."""
    weighed = course.weighed
    if course.advised is None:
        return ()
    order, codes = weighed.order, weighed.candidates.codes
    made = []
    for ware in wares:
        rows = rows_with(ware, weighed.candidates.combinations)
        place = next((number for number, row in enumerate(order, 1) if row in rows), 0)
        if place:
            behind = float(weighed.points[order[0]] - weighed.points[order[place - 1]])
            made.append(Standing(ware, place, behind, codes[order[0]]))
        elif rows:
            by = Counter({name: int(mask[sorted(rows)].sum()) for name, mask in weighed.out_by.items()})
            made.append(Standing(ware, 0, np.inf, "", by.most_common(1)[0][0]))
    return tuple(made)


def rows_with(ware: str, combinations: Sequence[Combination]) -> set[int]:
    """The rows of the combinations that hold a ware."""
    kind, _, code = ware.rpartition(" ")

    def held(one: Combination) -> str:
        match kind:
            case "turbos":
                return one.turbo.code
            case "housings":
                return one.housing.code
            case "gates":
                return "" if one.gate is None else one.gate.code
            case "compressor wheels":
                return one.compressor.code
            case _:
                return one.turbine.code

    return {row for row, one in enumerate(combinations) if held(one) == code}


def told_of(
    wares: Sequence[str], stood: Sequence[tuple[str, Sequence[Standing]]], knowledge: Knowledge
) -> Iterator[Fresh]:
    """Each new ware over all calls, by their names."""
    combinations = knowledge.catalogue.candidates().combinations
    for ware in wares:
        own = [(call, one) for call, every in stood for one in every if one.ware == ware]
        kept = [entry for entry in own if entry[1].place > 1]
        yield Fresh(
            ware,
            bool(rows_with(ware, combinations)),
            len(own),
            tuple(call for call, one in own if one.place == 1),
            min(kept, key=lambda entry: (entry[1].behind, entry[1].place), default=None),
            Counter(one.out_by for _, one in own if not one.place),
        )
