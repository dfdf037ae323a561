"""Ends of the vehicle, ends of the turbo, and the cheapest chain of fittings between them.

The shop's fittings are the edges of a directed graph whose nodes are ends (`manifold T4`, `foot T6`); a chain
runs from the vehicle's side to the turbo's. Money in the shop's currency, delivery in s, heights in m.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

from advisor.knowledge.catalogue import Catalogue, Combination
from advisor.knowledge.ends import DRAIN_HOSES, FEED_LINES, INCH, kind_of, pipe_end, size_of
from advisor.knowledge.wares import Part
from advisor.units import Range

ADAPTING = frozenset(
    {
        "foot adapter",
        "downpipe adapter",
        "charge reducer",
        "charge adapter",
        "oil feed adapter",
        "oil drain adapter",
    }
)
"""Kinds of fittings that change a size or a form; all others join like to like."""

SIZE_TOLERANCE = 0.13 * INCH
"""How far a measured pipe may be off its nominal size [m] (wall thickness; common practice, no source)."""

DAY = 86_400.0
NEAR_KIND = {
    "foot": "manifold",
    "exhaust": "exhaust pipe",
    "charge pipe": "charge pipe",
    "oil feed": "feed line",
    "oil drain": "drain hose",
}
"""Joints whose vehicle side the caller has to tell, and the kind of end that it is."""


@dataclass(frozen=True, slots=True)
class Vehicle:
    """What the vehicle offers, as far as known; None is not known. Sizes in m."""

    manifold_foot: str | None = None
    manifold_entry: str | None = None
    exhaust_size: Range | None = None
    charge_pipe_size: Range | None = None
    oil_feed: str | None = None
    oil_drain: str | None = None


@dataclass(frozen=True, slots=True)
class Chain:
    """Fittings from the vehicle to the turbo; `ends[i]` and `ends[i + 1]` are those of `parts[i]`."""

    ends: tuple[str, ...]
    parts: tuple[Part, ...]

    @property
    def price(self) -> float:
        return sum(part.price for part in self.parts)

    @property
    def delivery(self) -> float:
        return max((part.delivery for part in self.parts), default=0.0)

    @property
    def height(self) -> float:
        """How much farther from the manifold the turbo comes to stand [m]."""
        return sum(part.height or 0.0 for part in self.parts)

    @property
    def verdict(self) -> str:
        """direct, or adapter when a part changes a size or form."""
        return "adapter" if any(part.kind in ADAPTING for part in self.parts) else "direct"

    @property
    def words(self) -> str:
        """What joins it, for what price, how soon."""
        what = " and ".join(part.words for part in self.parts)
        raised = f", which moves the turbo {self.height * 1e3:.0f} mm" if self.height else ""
        return f"{what}{raised} (${self.price:,.0f}, {days(self.delivery)})"


@dataclass(frozen=True, slots=True)
class JointFit:
    """One joint: for each end that the vehicle may have (`near`), the chain to `far`, None for none."""

    joint: str
    far: str
    near: tuple[str, ...]
    chains: tuple[Chain | None, ...]

    @property
    def verdicts(self) -> tuple[str, ...]:
        """direct, adapter or none, for each end of `near`."""
        return tuple(chain.verdict if chain else "none" for chain in self.chains)

    @property
    def verdict(self) -> str:
        """direct, adapter or none; empty while the vehicle's ends that are still possible differ in it."""
        found = set(self.verdicts)
        return found.pop() if len(found) == 1 else ""

    @property
    def price(self) -> Range:
        """Over the possible ends; a joint that nothing makes costs nothing."""
        prices = [chain.price for chain in self.chains if chain] or [0.0]
        return Range(min(prices), max(prices))

    @property
    def words(self) -> str:
        """What joins it, or what it hangs on."""
        if len(self.near) == 1:
            chain = self.chains[0]
            return chain.words if chain else f"nothing in the catalogue joins {self.near[0]} to {self.far}"
        groups: dict[str, list[str]] = {}
        for near, verdict in zip(self.near, self.verdicts, strict=True):
            groups.setdefault(verdict, []).append(near)
        said = "; ".join(f"{_either(groups[verdict])} {how}" for verdict, how in JOINED if verdict in groups)
        return f"nobody has said what is there: {said}"


JOINED = (
    ("direct", "goes straight on"),
    ("adapter", "takes an adapter"),
    ("none", "can't be joined with our parts"),
)


def _either(ends: list[str]) -> str:
    """Ends of one kind in a row, the kind said once: "exhaust pipe 3 in, 4 in or 5 in"."""
    kind = kind_of(ends[0]) or ""
    sizes = [ends[0], *(end.removeprefix(kind).strip() for end in ends[1:])]
    return sizes[0] if len(sizes) == 1 else f"{', '.join(sizes[:-1])} or {sizes[-1]}"


class Connections:
    """The graph of a catalogue's fittings; cheapest chains, each found once."""

    def __init__(self, catalogue: Catalogue) -> None:
        import networkx

        self._search = networkx.single_source_dijkstra_path
        graph = networkx.DiGraph()
        for part in catalogue.fittings.values():
            for near, far in part.joins:
                known = graph.get_edge_data(near, far)
                if known is None or part.price < known["part"].price:
                    # In thousandths of a cent, and one for each part: of equally dear chains, the shorter.
                    graph.add_edge(near, far, part=part, weight=round(part.price * 100) * 1000 + 1)
        self._graph: Any = graph
        self._from: dict[str, Mapping[str, list[str]]] = {}
        self._known: dict[str, tuple[str, ...]] = {}

    def chain(self, near: str, far: str) -> Chain | None:
        """The cheapest chain from `near` to `far`; None when the fittings don't lead there."""
        if near not in self._from:
            self._from[near] = self._search(self._graph, near) if near in self._graph else {}
        path = self._from[near].get(far)
        if path is None:
            return None
        parts = (self._graph.edges[pair]["part"] for pair in pairwise(path))
        return Chain(tuple(path), tuple(parts))

    def known(self, kind: str) -> tuple[str, ...]:
        """All ends of a kind that the fittings know, by size."""
        if kind not in self._known:
            ends = [end for end in self._graph if kind_of(end) == kind]
            ordered = sorted(ends, key=lambda end: (size_of(end) if end.endswith(" in") else 0.0, end))
            self._known[kind] = tuple(ordered)
        return self._known[kind]


@lru_cache(maxsize=8)
def connections(catalogue: Catalogue) -> Connections:
    """The graph of this catalogue, built once."""
    return Connections(catalogue)


def vehicle_ends(joint: str, vehicle: Vehicle, shop: Connections) -> tuple[str, ...]:
    """The ends that the vehicle may have at a joint of its own: one when known, else all there are."""
    match joint:
        case "foot":
            told = f"manifold {vehicle.manifold_foot}" if vehicle.manifold_foot else None
        case "exhaust":
            return _pipes("exhaust pipe", vehicle.exhaust_size, shop)
        case "charge pipe":
            return _pipes("charge pipe", vehicle.charge_pipe_size, shop)
        case "oil feed":
            told = FEED_LINES[vehicle.oil_feed] if vehicle.oil_feed else None
        case "oil drain":
            told = DRAIN_HOSES[vehicle.oil_drain] if vehicle.oil_drain else None
        case _:
            raise ValueError(f"the vehicle has no side of joint {joint!r}")
    return (told,) if told else shop.known(NEAR_KIND[joint])


def _pipes(kind: str, size: Range | None, shop: Connections) -> tuple[str, ...]:
    """Nominal pipes that a measured size may be; a size that no pipe has stands for itself."""
    known = shop.known(kind)
    if size is None:
        return known
    low, high = size.low - SIZE_TOLERANCE, size.high + SIZE_TOLERANCE
    return tuple(end for end in known if low <= size_of(end) <= high) or (pipe_end(kind, size.mid),)


def wanted_ends(combination: Combination) -> dict[str, tuple[str, str]]:
    """Every joint that has to be made to run this combination → (near end, far end).

    The near end is empty where it is the vehicle's.
    """
    ends = {**combination.frame.ends, **combination.turbo.ends, **combination.housing.ends}
    boss = ends.pop("gate boss", None)
    wanted = {joint: ("", ends[joint]) for joint in NEAR_KIND}
    wanted["intake"] = ("open air", ends["intake"])
    if combination.gate is not None and boss is not None:
        gate = combination.gate.ends
        wanted |= {"gate": (boss, gate["gate"]), "dump": ("exhaust branch", gate["dump"])}
    elif boss is not None:
        wanted["gate boss"] = ("closed", boss)
    if combination.wastegate != "none":
        wanted["boost line"] = ("boost source", "boost signal")
    return wanted


def joint_fit(joint: str, near: str, far: str, vehicle: Vehicle, shop: Connections) -> JointFit:
    """How one joint is made; `near` empty for the vehicle's own end."""
    ends = (near,) if near else vehicle_ends(joint, vehicle, shop)
    return JointFit(joint, far, ends, tuple(shop.chain(end, far) for end in ends))


def joints_of(combination: Combination, vehicle: Vehicle, shop: Connections) -> tuple[JointFit, ...]:
    """How every joint of a combination is made on this vehicle."""
    wanted = wanted_ends(combination)
    return tuple(joint_fit(joint, near, far, vehicle, shop) for joint, (near, far) in wanted.items())


def days(delivery: float) -> str:
    """Delivery [s] in days, as one says it."""
    count = round(delivery / DAY)
    return "in stock" if count == 0 else f"{count} day{'s' if count > 1 else ''}"
