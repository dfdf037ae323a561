"""Read-only data that can be handed to another process."""

from collections.abc import Mapping
from dataclasses import fields
from types import MappingProxyType
from typing import Any


class Frozen:
    """Base of frozen dataclasses whose mappings are read-only views; these don't pickle, so copies travel.

    What was computed from the fields and kept (cached properties) stays behind and is computed anew.
    """

    def __getstate__(self) -> dict[str, Any]:
        state = {}
        for name in (field.name for field in fields(self)):  # type: ignore[arg-type]
            value = getattr(self, name)
            state[name] = dict(value) if isinstance(value, Mapping) else value
        return state

    def __setstate__(self, state: dict[str, Any]) -> None:
        for name, value in state.items():
            object.__setattr__(self, name, MappingProxyType(value) if isinstance(value, dict) else value)
