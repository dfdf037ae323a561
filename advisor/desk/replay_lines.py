"""What is said of replayed calls, each line once, and whether scripts that name unknown rules are another shop's."""

import re
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from advisor.knowledge.source import files_in
from advisor.replay import Replayed

NO_RULE = re.compile(r"(?P<place>.+?:\d+:\d+): there is no rule '(?P<name>[^']+)';")
RULE = re.compile(r"^ *- rule: *(\S+)", re.MULTILINE)
_FIGURE = re.compile(r"(?<=\s)\$?[\d.,]*\d")
MANY, NAMED = 3, 3


def wrong(results: Iterable[Replayed]) -> list[str]:
    """What keeps calls from being replayed, what differs, and which of them check nothing; variants share the answers
    of their call."""
    lines = (line for one in results for line in (*one.refused, *map(str, one.differences), one.idle))
    return list(dict.fromkeys(line for line in lines if line))


def doubted(results: Iterable[Replayed], every: bool) -> list[str]:
    """What is odd about answers that were understood, of doubts that differ in figures alone the first; only how many
    there are unless ``every`` one is wanted."""
    told: dict[str, str] = {}
    for one in results:
        for doubt in one.doubts:
            told.setdefault(_FIGURE.sub("#", doubt), doubt)
    if every or not told:
        return list(told.values())
    odd, them = ("1 answer is odd", "it") if len(told) == 1 else (f"{len(told)} answers are odd", "them")
    return [f"{odd}, so that a caller would be asked about {them}; no call differs by that ('--doubts' shows {them})"]


def by_shop(lines: Sequence[str], folder: Path, chosen: bool, paths: Iterable[Path]) -> list[str]:
    """The lines; in place of those about many rules that aren't there a single one, where a folder beside the scripts
    (or here) has all of these rules, or where nobody chose a shop (``chosen``). Of few rules that such a folder has
    each place is told, and the folder with the last."""
    gone = {line: found for line in lines if (found := NO_RULE.match(line))}
    names = list(dict.fromkeys(found["name"] for found in gone.values()))
    own = _shop_with(names, folder, paths) if names else None
    if own is None and (chosen or len(names) < MANY):
        return list(lines)
    if len(names) < MANY:  # more likely taken out of this one: each place is told
        hint = f"; or is it another shop's? '--shop {own}' has {'it' if len(names) == 1 else 'all of them'}"
        last = [line for line in lines if line in gone][-1]
        return [f"{line}{hint}" if line == last else line for line in lines]
    rules = ", ".join(names[:NAMED]) + (f" and {len(names) - NAMED} more" if len(names) > NAMED else "")
    places = list(dict.fromkeys(found["place"] for found in gone.values()))
    where, more = places[0], f" (and in {len(places) - 1} more places)" * (len(places) > 1)
    all_of_them = "it" if len(names) == 1 else "all of them"
    mend = f"'--shop {own}' has {all_of_them}" if own else "name its folder with '--shop FOLDER'"
    one = f"{where}{more}: the scripts name rules that {folder} hasn't: {rules}; if they are another shop's, {mend}"
    first = next(number for number, line in enumerate(lines) if line in gone)
    others = [(number, line) for number, line in enumerate(lines) if line not in gone]
    return [line for _, line in sorted([(first, one), *others])]


def _shop_with(names: Iterable[str], but: Path, paths: Iterable[Path]) -> Path | None:
    """A folder of rules near the scripts that has all of these."""
    for folder in dict.fromkeys(_near(paths)):
        if not (folder / "facts.yaml").is_file() or folder.resolve() == but.resolve():
            continue
        if set(names) <= {name for path in files_in(folder, ".yaml") for name in _rules_in(path)}:
            return folder
    return None


def _near(paths: Iterable[Path]) -> Iterator[Path]:
    for path in (Path(), *(above for named in paths for above in (named, named.parent, named.parent.parent))):
        try:
            yield from (path, *sorted(below for below in path.iterdir() if below.is_dir()))
        except OSError:
            continue


def _rules_in(path: Path) -> list[str]:
    try:
        return RULE.findall(path.read_text(encoding="utf-8", errors="replace"))
    except OSError:
        return []
