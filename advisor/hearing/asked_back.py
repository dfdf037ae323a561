"""What a caller asks instead of answering: never an answer, but owed one.

"What has that got to do with my turbo?" says neither yes nor no, though it holds a word that elsewhere does. A question
before or behind an answer is left out of it: "stock, is that bad?"
"""

import re

from advisor.knowledge import FactDef
from advisor.outcome import CLOSING
from advisor.words.speech import plain

from . import choosing
from .surroundings import names_a_figure

PRICE = (
    "He asks for the price. Say: “You get it with the recommendation, for everything that's needed to bolt it on. What "
    "fits your engine decides what it takes, so any figure now would be a guess.”"
)
_OPENS = re.compile(
    r"^(?:(?:no|nah|well|so|ok|okay|and|but|uh+|um+|hey|hang on|wait|hold on|look|now|man|dude|sorry|hell)\b[,.;! ]*)+"
)
_THEY = r"(?:you|y'all|i|we|it|that|this|these|those|they|there|he|she|my|your|the|any\w*|some\w*)"
_AUX = r"(?:am|is|are|was|do|does|did|has|have|would|will|can|could|should|must|might)(?:n't)?"
_ASKS = re.compile(
    rf"(?:what|who|where|when|why|how|which)(?:'d|'ll)? (?:(?!{_THEY}\b)\w+ ){{0,2}}?{_AUX} {_THEY}\b"
    rf"|(?:what|who|where|when|how|why)(?:'s|'re|s| is| are|'ll) (?:an?|the|that|this|those|these|it|they|your?|my"
    r"|normal|usual\w*|wrong|best|better|needed|involved)\b(?! one\b| same\b)"
    r"|how (?:much|many|come|long|far|often|soon)\b"
    r"(?! (?:(?!till\b|until\b|before\b)\w+ )?(?:i|it|he|we|they)\b)"
    r"|what (?:about|for|difference)\b|what\W*$|why\b|how\W*$"
    r"|(?:are|do|did|have|can|could|would|will|should)(?:n't)? (?:you|y'all)\b"
    r"|(?:am|do|can|could|would|will|should|must)(?:n't)? (?:i|we)\b"
    r"|(?:is|are|will|would|can|could|should)(?:n't)? (?:it|that|this|those|these|they|there|your?)\b"
    r"|(?:does|will|would|can|could|should) (?:the|an?|my|your) (?:\w+ ){1,3}?(?:have to|need|come|stay|work|fit|change"
    r"|go|last|hold|get|be|matter|void|require)\b"
    r"|(?:does|did|do) (?:it|that|this|those|these|they) (?:\w+ )?(?:come with|need|include|have to|fit|last|hold up"
    r"|void|cost|require|matter|help|hurt|change)\b"
    r"|(?:is|are) (?:the|an?|my) (?:\w+ ){1,3}?(?:included|needed|required|extra|necessary|in the price)\b"
    r"|(?:just |please )?tell me (?:what|how|why|if|whether|which|when|about)\b"
    r"|(?:i (?:just )?(?:want|need)|i'd (?:just )?like) to know\b"
)
_WITH_A_MARK = re.compile(
    rf"{_AUX} \w+|(?:what|who|where|when|how|which)(?:'d|'ll)? (?:\w+ ){{0,2}}?{_AUX}\b"
    r"|you (?:mean|saying|telling|asking|want|need|got|have|guys)\b"
)
_BEGUN = re.compile(rf"{_AUX} {_THEY}\b")
_GOES_ON = re.compile(
    r"(?:at|with|on|for|in|if|when|considering|given|seeing|since|now|once|after|while|by|as|or)\b", re.IGNORECASE
)
_RHETORICAL = re.compile(r"how (?:would|should|could|do|can|am) i (?:(?:supposed|meant) to )?know\b|why not\W*$")
_OF_THAT = re.compile(r"^(?!.*\b(?:yes|yeah|yep|yup|no|nope|nah|then)\b).*\bone of (?:those|them|these)\b")
_MEANS_THAT = re.compile(r"what(?:'s|s| is| are|'re) (?:that|those|these|it|they|this)\b")
_WHAT_IS_THAT = re.compile(
    r"(?:[\w ]+\? )?(?:what(?:'s|s| is| the (?:hell|heck) is|'re| are) (?:that|it|they|those|this)"
    r"(?: (?:then|now|when it's at home))?"
    r"|never heard of (?:it|that|them|one))\W*"
)
_MEANT = re.compile(
    r"(?:what|how)(?: do| did|'d)? (?:you|y'all|ya) (?:mean|call|want)\b|(?:do )?you mean\b"
    r"|which (?:one )?(?:is|was) (?:it|that)\b"
    r"|what's the difference\b|what (?:is|are) (?:it|that|those|these)\b|is (?:that|it) .*\bor\b|"
    r"(?:at )?(?:the )?\w+(?: or| versus| vs\.?) (?:at )?(?:the )?\w+[,?;] *(?:what|which|how|why)\b"
)
_WHATS_A = re.compile(r"what(?:'s| is|'d be| would be) (?:an?|the difference)\b|why (?:do|would|are) you\b|why\W*$")
_NEEDED = re.compile(
    r"\b(?:do|would|will|should|must|am) (?:i|we) (?:really |actually |even |still |gonna |going to )*"
    r"(?:need|have to have|want|supposed to have) (?:to have )?(?:those|that|them|it|one|ones|some|this|these)\b"
)
_WHY_OF_A_NO = re.compile(r"(?:no|nope|nah)\W+(?:why|how)\b.*")
_WHICH = re.compile(
    r"\b(?:which|what) (?:\w+ ){0,2}(?:would|is|does|do you|are|'s) (?:you )?(?:that|it|this|those|they|call|make)\b"
)
_HUH = re.compile(r"(?:right|eh|huh|pardon|come again|say what)\?")
_DEPENDS = re.compile(r"(?:(?:well|oh|it|that|really|kind of|sort of|all|just)[, ]+)*depend(?:s|ing)\b")
_PARTS = re.compile(r"(?<=\?)\s*|(?<=[,.;!])\s+")
_WHAT = r"what(?:'s|'ll|s| does| do| will| would| is)?"
_COSTS = re.compile(
    r"how much (?:is|are|does|do|would|will|for|money|we talking|am i|i'?m i|you want)\b|how much\W*$"
    r"|how much (?:all|altogether|total|shipped)\b"
    r"|how (?:expensive|dear|cheap)\b|what(?:'s| is) the (?:price|cost|damage)\b"
    rf"|{_WHAT} (?:\w+ ){{1,2}}(?:cost|run me|set me back|price|damage)\b"
    r"|(?:what|tell me) .*\b(?:bucks|grand|dollars|money|cash)\b (?:get|buy)s? me\b|\bball ?park\b|\ba? price\b"
)
# What a figure is in another unit, asked in the middle of an answer.
_IN_WHAT = re.compile(
    r"(?:^|[,;.!] *)(?:and )?(?:what(?:'s| is| would)|how (?:much|many) (?:is|would)) (?:that|this|it)(?: be)? in \w+"
    r"(?: \w+)?(?=\W*[,;.?!]|$)\??",
    re.IGNORECASE,
)
_ALL_PRICE = re.compile(
    rf"(?:how much(?: (?:is|are|does|do|would|will|for))?|{_WHAT})"
    r"(?: (?:it|that|this(?: one)?|that one|they|the turbo|the thing|all that|the price|the cost|the damage))*"
    r"(?: (?:be|cost|costs|run|set|go))?(?: me)?(?: back| for)?\W*"
)
_FIND_OUT = re.compile(
    r"\bhow (?:do|would|can|could|should|am) (?:i|you|we)\b.*\b(?:tell|know|find|check|see|measure|count)\b"
)
# He isn't listening just now, which answers nothing: "hang on, the dog's barking", "sorry, you broke up there".
_A_MOMENT = r"(?:a|one|just a) (?:sec|second|minute|moment)"
_NOT_LISTENING = "|".join(
    (
        rf"(?:hang on|hold on|hold up|wait|{_A_MOMENT}|give me {_A_MOMENT}|bear with me)(?: {_A_MOMENT})?",
        r"(?:my|the) (?:other )?(?:wife|missus|dogs?|kids?|boss|baby|phone|line|door)(?:'s|'re| is| are)?"
        r" (?:calling|barking|ringing|crying|yelling|going (?:mad|nuts|crazy)|here|at the door|on the other line)"
        r"(?: me)?(?: again)?",
        r"(?:i think )?(?:you|i)(?:'re| are)? (?:broke|broken|breaking|cut|cutting|dropped|faded|fading|lost you)"
        r"(?: up| out)?(?: there| on me| for a minute)?",
        r"i(?:'m| am) (?:driving|at the pump|at work|on the road|in traffic)(?: right now| now)?",
        r"(?:let me|lemme|i(?:'ve| have)? (?:got to|need to|gotta)) (?:pull over|step outside|close the door"
        r"|(?:get|grab|find) (?:a|my) (?:glasses|reading glasses|pen|pencil|phone)|put you on (?:speaker|hold)"
        r"|turn (?:the|this|my) (?:radio|tv|music|truck|engine) (?:down|off))",
        r"(?:i )?(?:can't|couldn't|didn't|can barely) hear you(?: there| now| too well)?",
        r"(?:i'll )?be right (?:with you|back)",
        r"(?:go ahead|ask (?:me )?(?:that )?again|say (?:that )?again|go again|what was the question)",
        r"(?:i )?(?:wasn't listening|missed that|had you on mute|dropped the phone)",
        r"not you|i was talking to (?:the|my|somebody|someone) ?\w*",
        r"(?:this|that) line(?:'s| is) (?:terrible|awful|bad|breaking up)",
    )
)
_AWAY = re.compile(
    rf"(?:(?:sorry|yeah|yes|no|ok|okay|look|right)[,. ]+)*(?:{_NOT_LISTENING})"
    rf"(?:[,.;]? (?:and )?(?:{_NOT_LISTENING}))*[ .!?]*",
    re.IGNORECASE,
)
_CHOOSES = re.compile(
    r"\b(?:difference|which (?:is|one)|what (?:are|kind|sort)|what (?:do|can) i (?:choose|pick|have))\b"
)


def in_parts(said: str, at: re.Pattern[str]) -> list[str]:
    """A sentence parted where ``at`` says, but for a question whose mark stands behind what goes on about it: "does it
    save any diesel, at what it costs?"."""
    parts: list[str] = []
    for part in (one for one in at.split(said) if one.strip(" ,.;!?")):
        before = parts[-1] if parts else ""
        if before.endswith(",") and part.endswith("?") and _GOES_ON.match(part) and _BEGUN.match(_bare(before)):
            parts[-1] = f"{before} {part}"
        else:
            parts.append(part)
    return parts


def asks(words: object) -> bool:
    """Whether the words ask something and answer nothing."""
    return bool(plain(words).strip(" ,.;!?")) and not answered(words)


def answered(words: object) -> str:
    """What is left of the words without what they ask; "" where that is all they do."""
    said = str(words)
    if _HUH.fullmatch(_bare(said)):
        return ""
    parts = in_parts(said, _PARTS)
    asking = [_asking(part) for part in parts]
    if not any(asking):
        return said
    if any(_MEANS_THAT.match(_bare(part)) for part in parts[1:]):
        return ""
    if said.strip().endswith("?") and _MEANT.match(_bare(said)):  # "what do you mean, crank or wheels?"
        return ""
    left = [part for part, asked in zip(parts, asking, strict=True) if not asked]
    told = any(_bare(part) for part in left) or (left and _WHY_OF_A_NO.fullmatch(plain(said)))
    return " ".join(left).strip(" ,;") if told else ""


def what_is_that(words: object) -> bool:
    """Whether he asks only what the thing is that is asked about."""
    return _WHAT_IS_THAT.fullmatch(_bare(str(words))) is not None


def price(words: object) -> bool:
    """Whether the words ask for the price and nothing else."""
    return _ALL_PRICE.fullmatch(_bare(str(words))) is not None and _COSTS.search(_bare(str(words))) is not None


def costs(words: object) -> bool:
    """Whether a question is after the price."""
    return _COSTS.search(_bare(str(words))) is not None


def doubtful(words: object) -> bool:
    """Whether an answer is said as a question, "T4?", depends on something, or is only of what he first asked about:
    "is that the button with the horn on it? I've got one of those"."""
    said = plain(answered(words))
    if _DEPENDS.match(said):
        return True
    if said != plain(words) and _OF_THAT.search(said):
        return True
    return said.endswith("?") and _RHETORICAL.search(said.rstrip("?")) is None


def unsure_which(definition: FactDef, words: object) -> bool:
    """Whether an answer has a question behind it that shows he doesn't know what his own words come to: "it's braided,
    is that the big one?"."""
    said, told = str(words), answered(words)
    if not told or told == said:
        return False
    parts = in_parts(said, _PARTS)
    first = next((at for at, part in enumerate(parts) if not _asking(part)), 0)
    asked = " ".join(part for part in parts[first:] if _asking(part))
    choices = [(choice.name, choice.words) for choice in definition.choices]
    named = choosing.heard(asked, choices)[0]
    unsure = bool(named) or _WHICH.search(plain(asked)) is not None or of_need(asked)
    return unsure or (not choices and names_a_figure(asked))


def of_need(question: str) -> bool:
    """Whether a question is whether he needs what he has just named: "head studs, do I need those?"."""
    return _NEEDED.search(plain(question)) is not None


def _away(words: object) -> bool:
    return _AWAY.fullmatch(plain(words).strip(" .!")) is not None


def reply(definition: FactDef, words: object) -> str:
    """What the caller is told who asks back at a question; "" where he answers. Free text may ask anything but the
    price."""
    if _away(words):
        return "He can't listen just now. Wait, then ask it again."
    if definition.name in CLOSING or not (price(words) if definition.kind == "text" else asks(words)):
        return ""
    said = _bare(str(words))
    if _COSTS.search(said):
        return PRICE
    named = [choice for choice in definition.choices if choosing.holds(said, [choice.name])]
    told = [f"{choice.name}: {choice.means}" for choice in (named or definition.choices) if choice.means]
    if told and (named or _CHOOSES.search(said)):
        return f"He asks what is meant. {'; '.join(told)}."
    if definition.check_by and _FIND_OUT.search(said):
        return f"He asks how to find out: {definition.check_by}."
    return f"He asks something back. Say why you ask: “{definition.why}”"


def rings_for(definition: FactDef, words: object) -> bool:
    """Whether a question at the first one he is asked may be what he rings for, "can you tell me why mine surges?", and
    not what is meant by it, or what it costs."""
    if _away(words):
        return False
    said = _bare(str(words))
    meant = _MEANT.match(said) or _MEANS_THAT.match(said) or _WHATS_A.match(said) or _COSTS.search(said)
    choices = [(choice.name, (*choice.words, *choice.hints)) for choice in definition.choices]
    return definition.order == 1 and meant is None and bool(choosing.heard(words, choices)[0])


def _bare(part: str) -> str:
    """A part of a sentence in small letters, without what only opens it."""
    return _OPENS.sub("", plain(part)).strip(" ,.;!")


def _asking(part: str) -> bool:
    said = _bare(part)
    if _RHETORICAL.match(said.rstrip("?")):
        return False
    return _ASKS.match(said) is not None or (said.endswith("?") and _WITH_A_MARK.match(said) is not None)


def without_conversions(words: str) -> str:
    """The words without the question what a figure is in another unit; as they are where nothing else is said."""
    left = _IN_WHAT.sub("", words).strip(" ,;")
    return left if re.search(r"\w", left) else words
