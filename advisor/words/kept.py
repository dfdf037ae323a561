"""Long tuples by which much is looked up: the phrases of the vocabulary, and what callers said before."""

from collections.abc import Callable
from typing import Any, TypeVar

T_co = TypeVar("T_co", covariant=True)


class Kept(tuple[T_co, ...]):
    """A tuple that reckons its hash once. Equal to the same tuple without it."""

    _hash: int

    def __hash__(self) -> int:
        try:
            return self._hash
        except AttributeError:
            self._hash = super().__hash__()
            return self._hash

    def __reduce__(self) -> tuple[Callable[..., Any], tuple[tuple[T_co, ...]]]:
        return Kept, (tuple(self),)  # in another process text has another hash
