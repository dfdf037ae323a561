"""What a condition means: a small tree, read three ways (verdict, firing, checking).

Numbers are SI. Equality and hash go by meaning: `place` and `text` take no part, so that two leaves that ask
the same thing are the same thing; use `place` as key where each written leaf counts.
"""

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from .places import Place

Operator = Literal["<", "<=", ">", ">=", "=", "!="]
Arithmetic = Literal["+", "-", "*", "/"]


@dataclass(frozen=True, slots=True)
class _Node:
    place: Place = field(compare=False, repr=False, kw_only=True)
    text: str = field(compare=False, repr=False, kw_only=True)


@dataclass(frozen=True, slots=True)
class Number(_Node):
    """A literal in SI; the words as written stay in `text`."""

    si: float


@dataclass(frozen=True, slots=True)
class FactRef(_Node):
    """The value of a number fact in SI."""

    name: str


@dataclass(frozen=True, slots=True)
class Binary(_Node):
    op: Arithmetic
    left: "Expr"
    right: "Expr"


@dataclass(frozen=True, slots=True)
class Negate(_Node):
    of: "Expr"


Expr: TypeAlias = Number | FactRef | Binary | Negate


@dataclass(frozen=True, slots=True)
class Compare(_Node):
    """`left op right`; "=" and "!=" come from `is` and `is not` on a number fact."""

    left: Expr
    op: Operator
    right: Expr


@dataclass(frozen=True, slots=True)
class Between(_Node):
    """`low <= expr <= high`, both ends included."""

    expr: Expr
    low: Expr
    high: Expr


@dataclass(frozen=True, slots=True)
class Is(_Node):
    """A choice (or text) fact is one of `choices`; `negated`: is none of them."""

    fact: str
    choices: frozenset[str]
    negated: bool = False


@dataclass(frozen=True, slots=True)
class Includes(_Node):
    """A several fact holds `choice`; `negated`: does not hold it."""

    fact: str
    choice: str
    negated: bool = False


@dataclass(frozen=True, slots=True)
class Known(_Node):
    """Something is known about the fact; `negated`: nothing is."""

    fact: str
    negated: bool = False


@dataclass(frozen=True, slots=True)
class Flag(_Node):
    """A yes/no fact has this value."""

    fact: str
    value: bool


@dataclass(frozen=True, slots=True)
class All(_Node):
    parts: tuple["Condition", ...]


@dataclass(frozen=True, slots=True)
class AnyOf(_Node):
    parts: tuple["Condition", ...]


@dataclass(frozen=True, slots=True)
class NoneOf(_Node):
    """None of the parts holds."""

    parts: tuple["Condition", ...]


Leaf: TypeAlias = Compare | Between | Is | Includes | Known | Flag
Group: TypeAlias = All | AnyOf | NoneOf
Condition: TypeAlias = Leaf | Group
Node: TypeAlias = Condition | Expr


def walk(node: Node) -> tuple[Node, ...]:
    """The node and everything below it, in written order."""
    found: list[Node] = []
    _gather(node, found)
    return tuple(found)


def _gather(node: Node, found: list[Node]) -> None:
    found.append(node)
    match node:
        case FactRef() | Number() | Is() | Includes() | Known() | Flag():
            pass
        case Compare(left=left, right=right) | Binary(left=left, right=right):
            _gather(left, found)
            _gather(right, found)
        case All(parts=parts) | AnyOf(parts=parts) | NoneOf(parts=parts):
            for part in parts:
                _gather(part, found)
        case Between(expr=expr, low=low, high=high):
            _gather(expr, found)
            _gather(low, found)
            _gather(high, found)
        case Negate(of=of):
            _gather(of, found)


_LEAVES = (Compare, Between, Is, Includes, Known, Flag)


def leaves(condition: Condition) -> tuple[Leaf, ...]:
    """The leaves of a condition in written order."""
    return tuple(node for node in walk(condition) if isinstance(node, _LEAVES))


def facts_in(node: Node) -> frozenset[str]:
    """The names of all facts that the node reads."""
    names: set[str] = set()
    _name_facts(node, names)
    return frozenset(names)


def _name_facts(node: Node, names: set[str]) -> None:
    if isinstance(node, FactRef):
        names.add(node.name)
    elif isinstance(node, Is | Includes | Known | Flag):
        names.add(node.fact)
    elif isinstance(node, Compare | Binary):
        _name_facts(node.left, names)
        _name_facts(node.right, names)
    elif isinstance(node, All | AnyOf | NoneOf):
        for part in node.parts:
            _name_facts(part, names)
    elif isinstance(node, Between):
        for end in (node.expr, node.low, node.high):
            _name_facts(end, names)
    elif isinstance(node, Negate):
        _name_facts(node.of, names)
