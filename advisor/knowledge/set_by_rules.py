"""Facts that rules set, and whose entries in `facts.yaml` don't say so."""

import re
from collections.abc import Collection, Iterable
from typing import Any

from .places import Fault
from .source import Document

_UNASKED = re.compile(r"'(.*)' is asked and has no '(ask|why)' words")


def names_set(document: Document) -> set[str]:
    """The names under `set` in the rules of a file, sound or not."""
    listed: Any = document.data.get("rules") if isinstance(document.data, dict) else None
    thens = [rule.get("then") for rule in listed if isinstance(rule, dict)] if isinstance(listed, list) else []
    settings = [then.get("set") for then in thens if isinstance(then, dict)]
    return {name for setting in settings if isinstance(setting, dict) for name in setting}


def as_set_by_rules(faults: Iterable[Fault], names: Collection[str]) -> list[Fault]:
    """The faults, where a fact that nobody can be asked and that is among the names that rules set is told as that."""
    unasked = [(fault, _UNASKED.fullmatch(fault.what)) for fault in faults]
    instead = {found[1] for _, found in unasked if found and found[2] == "ask" and found[1] in names}
    told = []
    for fault, found in unasked:
        if found is None or found[1] not in instead:
            told.append(fault)
        elif found[2] == "ask":
            mend = "add a line 'source: rule' (or 'ask: ...', if a caller is asked for it)"
            told.append(Fault(fault.place, f"rules set '{found[1]}', and its entry doesn't say so", mend))
    return told
