"""What all commands share: exit codes, refusals, and the shop that they are about."""

import argparse
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # each command imports what it needs, so that the first question comes soon
    from advisor.inference.agenda import Agenda
    from advisor.knowledge import Fault, Knowledge

FINE, DIFFERS, REFUSED, INTERRUPTED = 0, 1, 2, 130
MOST_FAULTS = 50  # listed at once; who has more mends these first


class Refused(Exception):
    """The input can't be used; ``lines`` say what, where and how to mend it."""

    def __init__(self, *lines: str) -> None:
        super().__init__(*lines)
        self.lines = lines


def shop_of(options: argparse.Namespace) -> Path:
    """The folder that `--shop` names, or the demo shop's."""
    from advisor.knowledge import shipped_folder

    chosen: Path | None = options.shop
    return shipped_folder() if chosen is None else chosen


def knowledge_in(folder: Path, maps: bool = True) -> "Knowledge":
    """The knowledge in a folder. Raises Refused with every fault, those that only the figures show too unless ``maps``
    says that `sound_for_figures` comes later."""
    from advisor.knowledge import KnowledgeError, load

    try:
        knowledge = load(folder)
    except KnowledgeError as error:
        raise Refused(*listed(folder, error.faults)) from None
    if maps:
        sound_for_figures(folder, knowledge)
    return knowledge


def sound_for_figures(folder: Path, knowledge: "Knowledge") -> None:
    """Raises Refused with every fault of the measured maps, and with facts that the figures read and don't find."""
    from advisor.desk.charts import map_faults
    from advisor.desk.needed import lacking

    if faults := (*lacking(knowledge.vocabulary).values(), *map_faults(knowledge.maps)):
        raise Refused(*listed(folder, faults))


def listed(folder: Path, faults: "Sequence[Fault]") -> list[str]:
    """A line for each fault as far as anybody reads them, below it how to answer what may be meant so, and how many
    more there are."""
    told = faults[:MOST_FAULTS]
    lines = []
    for fault in told:
        lines += [f"{folder}/{fault}", *([f"    {fault.answer}"] if fault.answer else [])]
    more = len(faults) - len(told)
    return [*lines, f"{folder}: and {more:,} more, once these are mended"] if more else lines


def agenda_of(options: argparse.Namespace) -> "Agenda":
    """The engine that `--fire` names. Raises Refused where it isn't there."""
    from advisor.inference.agenda import FiringError
    from advisor.inference.engines import agenda

    try:
        return agenda(options.fire)
    except FiringError as error:
        raise Refused(str(error)) from None


def scripts_of(paths: Sequence[Path]) -> list[Path]:
    """The scripts that are named, or those of the demo shop. Raises Refused for what isn't there."""
    from advisor.knowledge import shipped_folder
    from advisor.replay import scripts_in

    named = list(paths) or [shipped_folder().parent / "transcripts_demo"]
    wrong = [line for path in named for line in _no_scripts(path)]
    if wrong:
        raise Refused(*wrong)
    return scripts_in(named)


def _no_scripts(path: Path) -> Iterator[str]:
    """Why a path names no scripts, or not all that it seems to name; nothing where it does."""
    from advisor.knowledge.source import misnamed
    from advisor.replay import scripts_in

    try:
        inside = os.listdir(path)
    except NotADirectoryError:
        return
    except FileNotFoundError:
        yield f"{path}: is not there; name a script or a folder of scripts"
        return
    except OSError as error:
        yield f"{path}: can't be read ({error.strerror}); see to its permissions"
        return
    if "facts.yaml" in inside:
        yield f"{path}: holds a shop's rules, no scripted calls; name a folder of calls (the shop goes with '--shop')"
    elif wrong := list(misnamed(path, ".yaml")):
        yield from (f"{path}/{fault}" for fault in wrong)
    elif not scripts_in([path]):
        yield f"{path}: holds no scripted calls; put .yaml files there, or name another folder"


def write(path: Path, content: str) -> None:
    """Write a file. Raises Refused where that can't be done."""
    if (file := next((above for above in path.parents if above.is_file()), None)) is not None:
        raise Refused(f"{file}: is a file, so nothing can be put into it; name a folder")
    if path.is_dir():
        raise Refused(f"{path}: is a folder; name a file")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(content, encoding="utf-8", newline="\n")
    except OSError as error:
        raise Refused(f"{path}: {error.strerror or error}; name a file in a folder that can be written") from None
