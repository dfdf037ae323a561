"""A figure in the place of an earlier one: "went from 33s to 37s", "had 3.42s, threw 4.10s in it".

What stands today is the later figure; where it is asked how something was, the earlier one. Of an engine speed it is
where he lifts, not what the engine would turn; of a pressure what the gauge shows, not what it is absolute. What is
found here is only ever offered.
"""

import re
from collections.abc import Iterator, Sequence

from . import spoken
from .asides import FIGURE, all_aside, carried

_CHANGED = (
    r"(?:went|gone|moved|jumped|changed|swapped|switched|stepped|dropped|bumped|raised|lowered|upgraded|upped|traded"
    r"|(?:re-?)?geared|cut|turned|brought|took|taken|tightened|opened|shortened|stretched)"
)
_FROM_TO = re.compile(
    rf"\b(?:{_CHANGED}\b[^,;]*?)?\bfrom\b(?P<earlier>(?:[^,;]|,(?=\d))*?)\b(?:to|into)\b(?P<later>.*)",
    re.IGNORECASE,
)
_FROM = re.compile(rf"{FIGURE.pattern}|\bsea level\b", re.IGNORECASE)
_LAST = re.compile(r"\blast (?:year|season|week|month|winter|fall|spring|summer)\b", re.IGNORECASE)
_SINCE = re.compile(
    rf"\b{_CHANGED}\b|\b(?:when|since|after) (?:i|we|he|they|the)\b|\bwith the (?:tune|new)\b"
    rf"|{_LAST.pattern}|\bnow\b",
    re.IGNORECASE,
)
_FOR = re.compile(
    r"\b(?:replaced|swapped|traded|ditched|switched|exchanged|changed|sold)\b(?P<earlier>(?:[^,;]|,(?=\d))*?)\b(?:for|with|to)\b"
    r"(?P<later>.*)",
    re.IGNORECASE,
)
_CLAUSE = re.compile(
    r"[,;:.](?!\d)|\s-\s|\b(?:but|and(?! a )|then|so|that's|(?=now\b)|(?=(?:we|i) put\b))\b",
    re.IGNORECASE,
)
_WAS = re.compile(
    r"\b(?:had|was|were|used to|(?:came|come) (?:with|on|in)|originally|started|stock|before|previous(?:ly)?|until|till"
    r"|factory|old|at first|when (?:new|i bought|i got)"
    r"|took\b.*\boff|left|sold|got rid of)\b",
    re.IGNORECASE,
)
_IS = re.compile(
    r"\b(?:now(?:adays)?|these days|today|currently|since|threw|put|stuck|installed|fitted|swapped|bolted|slapped"
    r"|dropped|went|going|gone|moved|bought|(?:re-?)?geared|changed|this (?:one|year|season)|new|back on|running|run"
    r"|after|makes|got|would do|it's|has|with this"
    r"|machined|milled|(?:down|up) to|maybe|works out|comes to)\b",
    re.IGNORECASE,
)
_WOULD = re.compile(
    r"(?:'ll|\b(?:will|would|could|can|able to|(?:i've|have|has|been|seen|saw|had) (?:\w+ )?to"
    r"|springs|govern\w+|(?:rev )?limiter|redline))\b|'d\b",
    re.IGNORECASE,
)
_TODAY = re.compile(r"\b(?:now|today|at the moment|as it is|at present|currently)\b", re.IGNORECASE)
_IT_WAS = re.compile(r"^\W*(?:(?:it|she|that|mine) )?was (?:an? |the |about )?", re.IGNORECASE)
_CALL_IT = re.compile(
    r"[,;.] *(?:so |and |but )*(?:let'?s )?(?:call it|say|make it|we'll say)\b"
    r"|, so (?=\d|\w+teen\b)",
    re.IGNORECASE,
)
_WANTS = re.compile(r"\b(?:i|we)(?:'d)? (?:want|need|like)\b|\b(?:should|has to|needs to|ought to) be\b", re.IGNORECASE)
_LIFTS = re.compile(
    r"\b(?:i|we)\b.*\b(?:lift|shift|let (?:off|up|out)|back off|get out|quit|stop|stay|keep|call it|hold)\b",
    re.IGNORECASE,
)
# What stands behind a figure and isn't counted by it: "380 last year", "a 3.55 axle".
_BESIDE = re.compile(
    r"\b(?:this|last|that|next|every) \w+|\b(?:axle|trailer|turbo|boost|converter|in)\b", re.IGNORECASE
)
_BECAUSE = re.compile(r"\b(?:after|since|when|with the new)\b.*", re.IGNORECASE)
_NOW_IT_IS = re.compile(
    r"\b(?:was|were|had|used to)\b[^;]*?(?:[,;]|\b(?:but|and)\b) *(?:but |and )?(?:now\b,?|(?:i|we)(?: have|'ve)?"
    r" (?:went|gone|put|swapped|changed)\b(?: it)?(?: back)?(?: to| on| in)?) (?P<later>.+)",
    re.IGNORECASE,
)
_ABSOLUTE = re.compile(r"\babs(?:olute)?\b", re.IGNORECASE)
_GAUGE = re.compile(r"\b(?:over|above) atmospher\w+\b|\b(?:on|by) the gauge\b|\bgauge\b", re.IGNORECASE)


def standing(words: str, quantity: str, unit: str, past: bool = False, plans: bool = False) -> Iterator[str]:
    """The words for the figure that stands, with the unit or scale of the one in whose place it is where it has none;
    ``past``: for the one that stood before; ``plans``: for the one that is wanted. Nothing where no figure is in
    another's place."""
    if (denied := spoken.denied(words)) and all(map(FIGURE.search, denied)):
        yield from carried(denied[1], denied[0], quantity, unit)
        return
    for earlier, later in _pairs(words, quantity, plans):
        if past:
            yield from (earlier, _IT_WAS.sub("", earlier))
        else:
            alone = _alone(later)
            yield from carried(alone if FIGURE.search(alone) else later, _ABSOLUTE.sub("", earlier), quantity, unit)


def later(words: str) -> str:
    """What stands in the place of what was swapped for it: "swapped the auto for a six speed", "moved it from the pipe
    to the manifold", "it used to be small, now it's big"; "" without that."""
    if now := _NOW_IT_IS.search(words):
        return now["later"].strip()
    found = _FOR.search(words) or (_FROM_TO.search(words) if re.search(rf"\b{_CHANGED}\b", words) else None)
    return found["later"].strip() if found else ""


def _alone(clause: str) -> str:
    """A clause without what stands beside its figure."""
    return _BESIDE.sub(" ", _BECAUSE.sub("", clause)).strip(" ,")


def _pairs(words: str, quantity: str, plans: bool) -> Iterator[tuple[str, str]]:
    """What was said of a figure and of the one in its place."""
    for form in (_FROM_TO, _FOR):
        found = form.search(words)
        if found is None or (form is _FROM_TO and not _SINCE.search(words)):
            continue
        if _FROM.search(found["earlier"]) and FIGURE.search(found["later"]):
            yield found["earlier"].strip(), found["later"].strip()
            return
    said = [clause.strip() for clause in _CLAUSE.split(words) if clause.strip()]
    told = [at for at, clause in enumerate(said) if FIGURE.search(clause)]
    told = [at for at in told if not all_aside(_alone(said[at]), quantity)]
    if len(told) < 2:
        return
    first, last = " , ".join(said[at] for at in told[:-1]), said[told[-1]]
    rest = " , ".join(said[told[-1] :])
    if quantity == "pressure" and (gauge := _not_absolute(said, told)):
        yield first, gauge
        return
    lifts = quantity == "rotation" and _WOULD.search(first) and _LIFTS.search(last)
    called = [at for at in _CALL_IT.finditer(words) if FIGURE.search(words, at.end())]
    if called and FIGURE.search(words[: called[-1].start()]):
        roughly = "about " * ("call it" in called[-1].group().lower())
        yield words[: called[-1].start()].strip(), roughly + words[called[-1].end() :].strip()
        return
    if plans and _TODAY.search(last) and not _TODAY.search(first) and not _WANTS.search(last):
        yield last, first
        return
    wanted = plans and _WANTS.search(last) and not _WANTS.search(first)
    was = all(_WAS.search(said[at]) or _LAST.search(said[at]) for at in told[:-1])
    was = was and not _WAS.search(last) and _IS.search(rest) is not None
    if lifts or wanted or was:
        yield first, last


def _not_absolute(said: Sequence[str], told: Sequence[int]) -> str:
    """The last clause with a figure that isn't called absolute, where another one is."""
    absolute = {max((one for one in told if one <= at), default=-1) for at, clause in enumerate(said)
                if _ABSOLUTE.search(clause)}
    left = [said[at] for at in told if at not in absolute]
    return _GAUGE.sub("", left[-1]).strip() if absolute and left else ""
