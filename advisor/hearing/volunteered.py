"""What a caller says that nobody asks for: the year of his truck, the units he thinks in, and questions of his own.

A question of his own is one that the desk owes an answer, "does it need a new downpipe?"; what only asks back at the
question that was put to him ("what's that?", "why do you ask?") is none.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace

from advisor.knowledge import NOT_SURE, FactDef
from advisor.outcome import Answer, Understood
from advisor.units import Unclear
from advisor.words.measures import metric_named
from advisor.words.numerals import DIGIT_NAMES
from advisor.words.speech import plain

from . import asked_back, choosing, present, recalled, several
from .chosen import INSTEAD, OFFERED
from .understood import settled, sounds_like

YEAR = re.compile(r"(?:19[7-9]|20[0-3])\d")
_LEAD = r"(?:an?|my|the|it'?s|she'?s|he'?s|mine'?s|truck'?s|is|have|got|drive|own|year|model|year'?s)"
_NOT_A_FIGURE = (
    r"(?![\d.,]*\d)(?!(?:[ -]?(?:rpm|revs?|lbs?|pounds?|kilos?|kgs?|ft|feet|foot|miles?|hours?|hp|horse\w*"
    r"|dollars?|bucks|degrees|psi|newton|nm|to|or|cc|mm|inch\w*|over|percent|k)\b|[%$\"]))"
)
_IN_FULL = re.compile(rf"\b{_LEAD}[ -](?P<year>{YEAR.pattern})\b{_NOT_A_FIGURE}", re.IGNORECASE)
_BEFORE_ITS_NOUN = re.compile(
    rf"\b(?P<year>{YEAR.pattern})[ -](?:model|truck|pickup|dually|diesel|one ton|three quarter|half ton|crew|year)\b",
    re.IGNORECASE,
)
_SHORT = re.compile(rf"(?:(?<![\w'])'|\b{_LEAD} (?=0))(?P<short>[0-9]\d)\b(?!'){_NOT_A_FIGURE}", re.IGNORECASE)
_ALONE = re.compile(rf"\W*(?:(?P<year>{YEAR.pattern})|'?(?P<short>\d\d))\W*")
_SPOKEN = re.compile(
    rf"\b{_LEAD} (?:oh|o|zero)[ -](?P<digit>{'|'.join(DIGIT_NAMES[1:])})\b(?! (?:hundred|point))", re.IGNORECASE
)
CENTURY = 40  # two figures up to here are of this century
_PARTS = re.compile(r"(?<=\?)\s*|(?<=[,.;!])\s+|\s+(?:and|but|so|also)\s+(?=(?:what|how|will|would|does|do|is|can)\b)")
_JOINED = re.compile(  # one question and another
    r",?\s+(?:and|but|so|also|plus)\s+(?=(?:what|how|when|where|will|would|does|do|is|are|can|could|should)\b)"
    r"|,\s+(?=(?:what|how|when|where)\b)"
)
_INDIRECT = re.compile(
    r".*\b(?:wonder\w*|curious|(?:wants?|like|love|need|dying) to know|asked me|asking me)\b(?: (?:if|whether))?[ ,]+"
    r"(?P<asked>\S+ \S+ .*)",
    re.IGNORECASE,
)
_INSIDE = re.compile(
    r".*?\b(?P<asked>(?:will|would|does|do|can|could|should|is|are|how long|how soon|how much)"
    r" (?:it|that|this|i|we|you|they|there|the|my)\b.*\?)$",
    re.IGNORECASE,
)
_SO = re.compile(r"^(?:(?:and|but|so|also|oh|by the way|one more thing|another thing)\b[,: ]*)+", re.IGNORECASE)
# Asking back at what he was asked, or thinking aloud: owed no answer of its own.
_BACK = re.compile(
    r"(?:what|which)(?:'s|s|'re| is| are| does| do you| did you)? ?"
    r"(?:that|this|those|these|it|the difference|you|one|kind|is best|sort)?"
    r"(?: (?:mean|means|one|again|called|for|asking|want|need))*\W*$"
    r"|what (?:has|have|does|do|would|kind|sort|are the (?:choices|options)|can i (?:choose|pick))\b"
    r"|(?:what|which) (?:turbo|size|one)\b|should i (?:get|go|run|buy|take|use)\b"
    r"|which\b|why\b|how come\b"
    r"|how (?:do|would|can|could|should|am) (?:i|you|we)\b.*\b(?:tell|know|find|check|see|measure|count)\b"
    r"|(?:do|did|are|have) you (?:mean|want|need|asking|talking|sure)\b|you (?:mean|saying|asking|want|need)\b"
    r"|(?:is|does) (?:that|this|it) (?:matter|bad|good|ok|okay|normal|right|wrong|enough|important)\b|right\b|pardon\b"
    r"|can you (?:repeat|say|hear)|are you (?:there|still|sure)|(?:do|does|what) .*\bmatter\b|what\W*$"
)
_MARKED = re.compile(r"(?:what|how|when|where|who|will|would|does|do|is|are|can|could|should)\b.*\?$", re.IGNORECASE)
_TELLS = 4  # words of a question that nobody can take for asking back


def year_in(words: object, alone: bool = False) -> str:
    """The year of the truck as four figures, "" without one or where it is another's;
    ``alone``: it was asked for, so a bare figure is one."""
    said = plain(words if alone else present.own_clauses(plain(words)))
    found = _IN_FULL.search(said) or _BEFORE_ITS_NOUN.search(said) or (_ALONE.fullmatch(said) if alone else None)
    if found and found["year"]:
        return found["year"]
    if spoken := _SPOKEN.search(said):
        return f"200{DIGIT_NAMES.index(spoken['digit'].lower())}"
    short = found or _SHORT.search(said)
    return f"{'20' if int(short['short']) <= CENTURY else '19'}{short['short']}" if short else ""


def without_year(words: str) -> str:
    """The words without the year of the truck, so that no figure of it passes for a size."""
    return _SHORT.sub(" ", _BEFORE_ITS_NOUN.sub(" ", _IN_FULL.sub(" ", words)))


def questions_in(words: object, definition: FactDef, whole: bool = True) -> list[str]:
    """The caller's own questions in his words, each as he said it; with ``whole`` also where they are all that he
    said and no choice of ``definition`` names them."""
    parts = [part.strip(" ,;") for part in asked_back.in_parts(str(words), _PARTS)]
    asking = [asked for part in parts if (asked := _asked(_SO.sub("", part)))]
    owed = [part for part in asking if not _BACK.match(plain(part).strip(" ,.;!"))]
    others = len(asking) < len(parts) or whole
    return [
        part
        for part in owed
        if _topics(definition, part) or (others and part.endswith("?") and len(part.split()) >= _TELLS)
    ]


def _asked(part: str) -> str:
    """The question in a part of a sentence, from where it begins; "" without one."""
    if asked_back.asks(part) or _MARKED.match(part):
        return part
    inside = _INDIRECT.match(part) or _INSIDE.match(part)
    return inside["asked"] if inside else ""


def without_questions(words: str, questions: list[str]) -> str:
    """The words without what they ask, but for whether he needs what he names; as they are where nothing would be
    left."""
    if not questions:
        return words
    left = words
    for question in questions:
        if asked_back.of_need(question):
            continue
        left = left.replace(question, "").replace(question.rstrip("?"), "")
    left = re.sub(r"\s*,\s*(?=[,.;])", "", left)
    left = re.sub(r"(?:[\s,;]|(?<!\bor )\b(?:and|but|so|also)\b)+$|^[\s,;.]+", "", left).strip()
    return left if re.search(r"\w\w", left) else words


def volunteered(
    vocabulary: Mapping[str, FactDef], words: str, given: Mapping[str, str], whole: bool
) -> Iterator[tuple[Understood, tuple[str, ...]]]:
    """What the words hold that nobody asks for, each with the questions that are new in it; his questions with those
    ``given`` before. ``whole`` as in ``questions_in``. Who asks for the price and nothing else is answered there."""
    for definition in vocabulary.values():
        before = given.get(definition.name, "")
        if definition.volunteered == "year" and (year := year_in(words)) not in ("", before):
            yield settled(definition, Answer(definition.name, year), year), ()
        elif definition.volunteered == "units":
            named = [one for one in metric_named(words) if one not in before.split(", ")]
            if named:
                told = ", ".join([*filter(None, before.split(", ")), *named])
                yield settled(definition, Answer(definition.name, told), told), ()
        elif definition.volunteered == "questions":
            fresh = [one for one in questions_in(words, definition, whole) if one not in before]
            if fresh and not (asked_back.asks(words) and all(map(asked_back.costs, fresh))):
                marked = [one if one.endswith("?") else f"{one}?" for one in fresh]
                yield wondered(definition, Answer(definition.name, " ".join([before, *marked]).strip())), tuple(marked)


def wondered(definition: FactDef, answer: Answer) -> Understood:
    """What his own questions are about: the choices that they name; where one names none, or such as past callers who
    spoke alike didn't ask about, what these asked about, to be asked about; or the last one."""
    if listed := several.names_only(answer.words, definition.choice_names):
        return settled(definition, answer, listed)
    named, likely = set[str](), False
    parts = [part for question in split(answer.words) for part in _JOINED.split(question)]
    for one in sorted(parts, key=lambda part: not asked_back.asks(part)):
        plain_topics = topics_of(definition, one)
        past = _likely(definition, one, plain_topics)
        if named and past == {definition.choices[-1].name} and not asked_back.asks(one):
            continue  # "how long am I down? Every day it sits is a day I'm not earning"
        named, likely = named | past, likely or past != plain_topics
    heard = settled(definition, answer, frozenset(named))
    return replace(heard, doubt=sounds_like(definition, frozenset(named))) if likely else heard


def _likely(definition: FactDef, question: str, topics: frozenset[str]) -> frozenset[str]:
    """What past callers meant who asked alike, where that is likely and the topics that were named aren't."""
    if not definition.heard:
        return topics
    choices = tuple((choice.name, (*choice.words, *choice.hints)) for choice in definition.choices)
    past = recalled.Past(definition.heard, (), choices)
    meant, last = past.meant(question, several=True), frozenset([definition.choices[-1].name])
    if topics == last:
        likely = frozenset(name for name, share in meant.each.items() if share > OFFERED and name != NOT_SURE)
        return likely if likely and past.resembles(question, likely) else topics
    return meant.meaning if meant.meaning and meant.rather(topics, INSTEAD) else topics


def split(words: str) -> list[str]:
    """Questions said one after the other, each by itself."""
    return [part.strip() for part in re.split(r"(?<=\?)\s+", words) if part.strip()]


def topics_of(definition: FactDef, question: str) -> frozenset[str]:
    """The choices that a question names; the last one where it names none."""
    return _topics(definition, question) or frozenset([definition.choices[-1].name])


def _topics(definition: FactDef, question: str) -> frozenset[str]:
    try:
        choices = [
            (choice.name, (*choice.words, *(choosing.DENIES + phrase for phrase in choice.denied_by)))
            for choice in definition.choices[:-1]
        ]
        return choosing.read_several(question, choices, by_name=False)
    except Unclear:
        return frozenset()
