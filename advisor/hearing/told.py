"""What is kept in the caller's own words, held to what its question asks: the size of a turbo, or a trouble.

Free text is read aloud again and stands in the summary; so what tells neither ("well I don't know, my buddy says ...")
is asked for again.
"""

import re
from collections.abc import Mapping

from advisor.knowledge import FactDef
from advisor.outcome import Understood
from advisor.words.not_knowing import without_not_knowing
from advisor.words.people import MATE

from . import choosing, present, surroundings
from .mentions import in_digits
from .request import decode
from .unit_named import in_the_unit_named
from .volunteered import without_year

SIZE, TROUBLE, COMPLAINT = "present size", "today's trouble", "complaint"
# Words by which somebody says that he would have something otherwise.
_OTHERWISE = re.compile(
    r"\b(?:can'?t|cannot|won'?t|doesn'?t|don'?t|didn'?t|isn'?t|aren'?t|ain'?t|not|no|never|hardly|barely|too|wish\w*|hat(?:e|es|ed)"
    r"|hard\w*|worse|slow\w*|more|better|less|enough|stops?|quits?|los(?:e|es|ing|t)|wants?|needs?|would like|i'd like"
    r"|leak\w*|slip\w*|break\w*|broke\w*|fail\w*|miss\w*|shak\w+|vibrat\w+|poor\w*|struggl\w*|suffers?|dies|died|dead"
    r"|worn|tired|runs? out|falls?|drops?|heavy|annoy\w*|bother\w*|trouble\w*|problem\w*|issue\w*|nothing|none"
    r"|passed|stinks?|smells?|crawls?|labou?rs?|stalls?|knocks?|kills?|eats?|takes?|waits?|wasn'?t|weren'?t|only|faster|quicker|bigger)\b",
    re.IGNORECASE,
)
_SAID_BY_OTHERS = re.compile(
    rf"^(?:(?:and|but|well|so|because) )*(?:my|a|the|this|some|one|our) (?:\w+ )?{MATE}s?"
    r"(?: \w+)? (?:says?|said|told|tells|thinks?|thought|reckons?|swears?|claims?|figures?|knows?)\b",
    re.IGNORECASE,
)
_OPENING_NO = re.compile(r"^(?:no|nope|nah)\W+", re.IGNORECASE)
_NO_SIZE = re.compile(r"\b(?:(?:19|20)\d\d|ones?|1(?= ?(?:$|[,.;]|of|that|on)))\b")  # a year, "a big one"
_CLAUSES = re.compile(r"\s*(?:[,;:.!?](?!\d)|\bbut\b)\s*", re.IGNORECASE)


def as_asked(vocabulary: Mapping[str, FactDef], heard: Understood) -> Understood:
    """Free text that tells a size or a trouble where one is asked for; other words are asked about again."""
    fact, words = heard.answer.fact, heard.answer.words
    if heard.fact is None or heard.doubt or fact not in (SIZE, TROUBLE):
        return heard
    if fact == SIZE and not _tells_a_size(words):
        return _again(heard, "That tells no size: a figure from its tag, or the way it was sold, as 66 or 63/68 .90.")
    unit = any(in_the_unit_named(one, "1", words) for one in vocabulary.values())
    if fact == TROUBLE and COMPLAINT in vocabulary and (unit or not _tells_a_trouble(words, vocabulary[COMPLAINT])):
        return _again(heard, "That tells no trouble that I can make out: what does it do that bothers him?")
    return heard


def _again(heard: Understood, why: str) -> Understood:
    return Understood(heard.answer, None, "", again=why)


def _tells_a_size(words: str) -> bool:
    figures = _NO_SIZE.sub(" ", in_digits(without_year(words)))
    return bool(decode(words).fixes) or surroundings.names_a_figure(figures)


def _tells_a_trouble(words: str, complaint: FactDef) -> bool:
    known = without_not_knowing(present.own_clauses(words))
    clauses = _CLAUSES.split(_OPENING_NO.sub("", known))
    own = ", ".join(clause for clause in clauses if not _SAID_BY_OTHERS.match(clause))
    plainly = [phrase.lstrip("~") for one in complaint.choices for phrase in (one.name, *one.words)]
    leaning = [hint for one in complaint.choices for hint in one.hints]
    found = choosing.holds(known, plainly) or choosing.holds(own, [*leaning, *complaint.vague])
    return found or _OTHERWISE.search(own) is not None
