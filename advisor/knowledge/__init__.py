"""What the shop knows, read from one folder: fact vocabulary, rules, catalogue, maps, all with their places.

load(folder)    the knowledge, or KnowledgeError with every fault
check(folder)   every fault and every note that isn't answered, nothing raised
examine(folder) the knowledge where it can be had, with all of these, answered ones too
"""

import hashlib
import os
from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from advisor.pause import uncollected

from .accepted import unanswered
from .among_facts import faults_among
from .catalogue import Catalogue
from .catalogue_checks import idle
from .catalogue_files import read as read_catalogue
from .checks import check_maps, check_rules, check_whole, findings
from .groups import read_conditions
from .heard import HEARD, NOT_SURE, unused, with_heard
from .meaning import Reader
from .piecewise import read_entries
from .places import Fault, KnowledgeError, Place
from .rulefile import read_rules
from .rules import Rule
from .set_by_rules import as_set_by_rules, names_set
from .soundness import check_conditions
from .source import Document, files_in, misnamed, text_of
from .store import Knowledge
from .strata import arrange
from .told_figures import of_questions
from .unlike import odd_wares
from .vocabulary import Choice, FactDef, read_vocabulary, written_names

__all__ = [
    "NOT_SURE",
    "Catalogue",
    "Choice",
    "FactDef",
    "Fault",
    "Knowledge",
    "KnowledgeError",
    "Place",
    "Rule",
    "check",
    "examine",
    "load",
    "read_maps",
    "shipped_folder",
]

FACTS = "facts.yaml"

Also = Callable[[Mapping[str, FactDef], Collection[str]], Mapping[str, Fault]]


def shipped_folder() -> Path:
    """The folder that comes with the program: inside the installed package, or `rules/` of a checkout."""
    package = Path(__file__).parent.parent
    installed = package / "shop" / "rules"
    return installed if installed.is_dir() else package.parent / "rules"


def load(folder: Path) -> Knowledge:
    """The knowledge in `folder`; raises `KnowledgeError` with all faults, sorted by place."""
    knowledge, faults = _read(folder)
    if knowledge is None:
        raise KnowledgeError(faults)
    return knowledge


def check(folder: Path, needed_elsewhere: Collection[str] = ()) -> tuple[Fault, ...]:
    """Everything to mend in `folder`, sorted by place: errors, and notes that keep nothing from loading.

    `needed_elsewhere` names facts that the figures read: asking them is no waste though no rule reads them.
    """
    knowledge, faults = examine(folder, needed_elsewhere)
    return faults if knowledge is None else tuple(unanswered(faults, knowledge.entries))


def examine(
    folder: Path, needed_elsewhere: Collection[str] = (), also: Also = lambda vocabulary, written: {}
) -> tuple[Knowledge | None, tuple[Fault, ...]]:
    """What could be read, None with an error in it, and all faults and notes sorted by place, answered or not.

    `also` says what else is wrong with facts, by name, from the vocabulary and all names that are written there: what
    reads such a fact isn't blamed.
    """
    knowledge, faults = _read(folder, also)
    if knowledge is None:
        return None, faults
    notes = findings(knowledge.vocabulary, knowledge.rules, knowledge.catalogue, needed_elsewhere)
    notes += [*unused(folder, knowledge.vocabulary), *idle(knowledge.catalogue), *odd_wares(knowledge.catalogue)]
    return knowledge, tuple(sorted({*faults, *notes}))


@uncollected()
def _read(folder: Path, also: Also = lambda vocabulary, written: {}) -> tuple[Knowledge | None, tuple[Fault, ...]]:
    """What could be read, with notes on texts; None with an error in it, and all faults sorted by place."""
    if (closed := _closed(folder)) is not None:
        return None, (closed,)
    faults: list[Fault] = []
    facts = read_entries(folder / FACTS, FACTS)
    vocabulary = read_vocabulary(facts)
    if not facts.faults:
        facts.faults += faults_among(vocabulary)
    blind = not vocabulary and bool(facts.faults)
    written = written_names(facts)
    amiss = {} if blind else also(vocabulary, written)
    faults += amiss.values()
    stocked: list[Fault] = []
    catalogue = read_catalogue(folder / "catalogue", stocked)
    stocked += [*misnamed(folder / "catalogue", ".yaml", "catalogue/"), *misnamed(folder / "maps", ".csv", "maps/")]
    maps = read_maps(folder, stocked)
    parts = catalogue.kinds if not stocked else None
    reader = Reader(vocabulary, faults, (written | amiss.keys()) - vocabulary.keys(), blind, parts)
    _read_ask_when(facts, vocabulary, reader)
    vocabulary = with_heard(folder, vocabulary, faults)
    faults += facts.faults
    rules: list[Rule] = []
    set_by_rules: set[str] = set()
    for path in files_in(folder, ".yaml"):
        if path.name == FACTS:
            continue
        document = read_entries(path, path.name)
        rules += read_rules(document, reader)
        set_by_rules |= names_set(document)
        faults += document.faults
    faults = as_set_by_rules(faults, set_by_rules)
    faults += misnamed(folder, ".yaml")
    rules.sort(key=lambda rule: (rule.name, rule.place))
    whole = not faults
    strata = arrange(rules, faults)
    faults += [*stocked, *check_maps(catalogue, folder / "maps"), *check_rules(vocabulary, rules)]
    faults += check_whole(vocabulary, rules) if whole else check_conditions(vocabulary, rules, whole=False)
    found = tuple(sorted(set(faults)))
    if found:
        return None, found
    return (
        Knowledge(
            vocabulary=MappingProxyType(dict(sorted(vocabulary.items()))),
            rules=tuple(rules),
            catalogue=catalogue,
            maps=MappingProxyType(maps),
            strata=MappingProxyType(strata),
            digest=digest(folder),
        ),
        (*reader.notes, *of_questions(facts, vocabulary)),
    )


def _closed(folder: Path) -> Fault | None:
    """Why a folder can't be looked into, or one in it that is read too."""
    for name in ("", "catalogue", "maps"):
        place = Place(name or FACTS, 1, 1)
        try:
            os.listdir(folder / name)
        except (FileNotFoundError, NotADirectoryError):
            if not name and folder.is_file():
                return Fault(place, f"'{folder}' is a file", f"name the folder: {folder.parent}")
            if not name:
                return Fault(place, f"there is no folder '{folder}'", "name a folder that holds facts.yaml")
        except OSError as error:
            what = f"the folder '{folder / name}' can't be read ({error.strerror})"
            return Fault(place, what, "see to its permissions")
    return None


def _read_ask_when(document: Document, vocabulary: dict[str, FactDef], reader: Reader) -> None:
    """Second pass over the vocabulary: conditions can only be read when all facts are known."""
    data = document.data
    listed = data.get("facts") if isinstance(data, dict) else None
    for index, entry in enumerate(listed if isinstance(listed, list) else ()):
        if not isinstance(entry, dict) or not isinstance(entry.get("ask when"), list):
            continue
        name = entry.get("fact")
        when = read_conditions(document, ("facts", index, "ask when"), reader)
        if isinstance(name, str) and name in vocabulary:
            vocabulary[name] = replace(vocabulary[name], ask_when=when)


def read_maps(folder: Path, faults: list[Fault]) -> dict[str, str]:
    """The texts of `maps/*.csv` by name; what can't be read is added to the faults."""
    maps = {}
    for path in files_in(folder / "maps", ".csv"):
        name = f"maps/{path.name}"
        text = text_of(path, name, faults)
        if text is None:
            continue
        if wrong := _parted_otherwise(text, name):
            faults.append(wrong)
            continue
        maps[path.stem] = text
    return maps


def _parted_otherwise(text: str, name: str) -> Fault | None:
    """A fault when the heading of a map parts its columns with something else than commas."""
    lines = text.splitlines()
    number, heading = next(((at, line) for at, line in enumerate(lines, 1) if line[:1] not in ("", "#")), (1, ""))
    for sign, words in ((";", "semicolons"), ("\t", "tabs")):
        if sign in heading and "," not in heading:
            place = Place(name, number, heading.index(sign) + 1)
            return Fault(place, f"the columns are parted by {words}", "save the map with commas between the columns")
    return None


def digest(folder: Path) -> str:
    """SHA-256 over names and contents of all files that are read; a file that can't be counts by what keeps it."""
    found = hashlib.sha256()
    for part, ending in (("", ".yaml"), ("", HEARD), ("catalogue", ".yaml"), ("maps", ".csv")):
        for path in files_in(folder / part, ending):
            try:
                content = path.read_bytes()
            except OSError as error:
                content = str(error.errno).encode()
            found.update(f"{path.relative_to(folder).as_posix()}\0{len(content)}\0".encode())
            found.update(content)
    return found.hexdigest()
