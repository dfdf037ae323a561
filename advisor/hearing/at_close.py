"""What a caller says once he has heard the advice: questions, which decide nothing; a change of mind; that he wants
the one he asked for after all; that there is nothing else."""

import re
from collections.abc import Collection

from advisor.words.speech import plain

from . import asked_back, spoken
from .spelled import in_digits

_PARTS = re.compile(
    r"(?<=\?)\s*|(?<=[,.;!])\s+"
    r"|\s+(?:and|but|so|also)\s+(?=(?:what|how|when|where|why|will|would|does|do|is|can)\b)"
)
_LEAD = re.compile(
    r"^(?:(?:and|but|so|also|oh|by the way|one more thing|another thing|yes|yeah|ok|okay|well|then|hmm+"
    r"|uh+|um+)\b[,: ]*)+",
    re.IGNORECASE,
)
_MORE_ASKED = re.compile(
    r"(?:what happens|what if|how long|how much|how many|how soon|how fast|is it ok|is that ok|any chance)\b|.*\?$",
    re.IGNORECASE,
)
_SUPPOSES = re.compile(
    r"(?:i (?:guess|suppose|reckon|take it|imagine|bet|figure),? )?"
    r"(?:(?:i|it|we|you|that)(?:'ll|'d| will| would| might)? )?(?:also |probably )?needs? (?:an?|the|my|new|some) "
    r"|(?:just )?(?:wondering|wonder|not sure|curious|worried|thinking) about (?:an?|the|my) "
)
_ONLY_MEANT = re.compile(r"why not\W*$|(?:right|ok|okay|huh|eh|yes|no|deal|sold)\?$", re.IGNORECASE)
# Said to take something back, at the beginning or as what he says of himself.
_TURNS = re.compile(
    r"^(?:(?:well|oh|no|nah|nope|hmm+|uh+|um+|ok|okay|yes|yeah|and|but)\b[,. ]*)*"
    r"(?:actually|wait|hang on|hold on|hold it|scratch that|forget (?:it|that|the order)|cancel|stop"
    r"|on second thoughts?|come to think|you know what|i take (?:it|that) back|not so fast|one moment"
    r"|give me|make (?:it|that)|change)\b"
    r"|\b(?:changed my mind|change my mind|second thoughts?|thought better|rather|instead|don'?t order"
    r"|not (?:order|that one)|after all|no deal|cancel (?:it|that|the order))\b",
    re.IGNORECASE,
)
_TURN_ALONE = re.compile(
    r"(?:(?:well|oh|no|nah|nope|hmm+|uh+|um+|ok|okay|yes|yeah|and|but|actually|wait|hang on|hold on|hold it|sorry|stop"
    r"|scratch that|i|i'?ve|have|just|changed|change|my mind|a (?:minute|moment|second|sec)|on|second thoughts?"
    r"|you know what|please)\b[,.;! ]*)+",
    re.IGNORECASE,
)
_NOTHING_ELSE = re.compile(
    r"(?:(?:no|nope|nah|nothing|none|not|really|that|that'?s|thats|it|all|is|we|we'?re|i|i'?m|am|are|was|good|set|done|fine"
    r"|great|ok|okay|everything|else|more|for now|today|then|so|thanks?|thank you|you|sir|ma'am|man|mate|bye|goodbye"
    r"|cheers|much|very|a lot|lot|talk|later|soon|speak|have|had|a|nice|one|day|close|closed|the call|about|covers?"
    r"|got|think|i'?ve|take care)\b[,.;! ]*)+",
    re.IGNORECASE,
)
_ENDS = re.compile(
    r"\b(?:no|nope|nah|nothing|none|all|set|done|thanks?|thank|bye|goodbye|cheers|later|day|closed?|good)\b"
)
_OWN = re.compile(
    r"\b(?:mine|my own|my (?:choice|first choice|original)|the one i (?:asked|called|wanted|came|rang))\b"
)
_KEEPS = re.compile(
    r"\b(?:run(?:ning)?|pull(?:ing)?|go(?:ing|nna)?|stay(?:ing)?|stick(?:ing)?|keep(?:ing)?|put(?:ting)?|fit(?:ting)?|take"
    r"|taking|have|having|get(?:ting)?|give|sell|order|want(?:ing)?|need|use|using|prefer|rather|sooner|buy(?:ing)?|insist|bolt(?:ing)?"
    r"|for me|still|anyway|do(?:ing)?|ship|send|make)\b"
)
_NOT = re.compile(
    r"\b(?:not|never|don'?t|do not|won'?t|no longer|isn'?t|instead of|rather than|forget|without|if)\b(?! care| mind)"
)
_FIGURE = re.compile(r"(?<![\w.])\d+(?:\.\d+)?")


def questions(said: object) -> list[str]:
    """What the words ask, question by question as he said it; once he has heard the advice any of them is owed an
    answer, none is a decision."""
    parts = [part.strip(" ,;") for part in asked_back.in_parts(str(said), _PARTS)]
    asked: list[str] = []
    for part in parts:
        bare = _LEAD.sub("", part)
        if asked and bare.endswith("?") and " " not in bare and f"{asked[-1]}, {bare}" in str(said):
            asked[-1] += f", {bare}"  # "how much all in, shipped?"
        elif _asks(bare):
            asked.append(bare)
    return asked


def _asks(part: str) -> bool:
    if _ONLY_MEANT.fullmatch(part) or not part.strip(" ?.!"):
        return False
    return asked_back.asks(part) or _MORE_ASKED.match(part) is not None


def supposes(said: object) -> bool:
    """Whether the words suppose that something is needed too, for a word on it: "I guess I'd need a tune with that"."""
    return _SUPPOSES.match(_LEAD.sub("", plain(said))) is not None


def without(said: str, asked: Collection[str]) -> str:
    """The words without these questions; "" where nothing else is told."""
    left = said
    for question in asked:
        left = left.replace(question, " ")
    left = re.sub(r"(?:[\s,;?]|(?<!\bor )\b(?:and|but|so|also|then)\b)+$|^[\s,;.?]+", "", left).strip()
    told = _LEAD.sub("", spoken.settle(left)) if left else ""
    return left if re.search(r"\w\w", told) else ""


def turns(said: object, opening: bool = False) -> bool:
    """Whether the words take back what was decided, or wish for something else than that; with ``opening`` only where
    they begin so."""
    return (_TURNS.match if opening else _TURNS.search)(plain(said)) is not None


def turns_only(said: object) -> bool:
    """Whether they say no more than that."""
    return _TURN_ALONE.fullmatch(plain(said)) is not None


def nothing_else(said: object) -> bool:
    """Whether the words say that there is nothing more to say."""
    words = plain(said)
    return _NOTHING_ELSE.fullmatch(words) is not None and _ENDS.search(words) is not None


def names_his_own(said: object, request: str) -> bool:
    """Whether the words are for the part that he asked for, in the words of his ``request``: by its size, or as his
    own, without a no to it."""
    words = in_digits(plain(said))
    if _NOT.search(words) or not _KEEPS.search(words):
        return False
    return _OWN.search(words) is not None or bool(figures(request) & figures(words))


def figures(words: object) -> frozenset[str]:
    """The figures by which a part is named: "66" of "a 66", "66" and "71" of "66/71"."""
    own = in_digits(plain(words)).replace("/", " ")
    return frozenset(_FIGURE.findall(own))
