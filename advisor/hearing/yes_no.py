"""Yes or no as the answer to its question: what is said plainly, what stands for it, and what waits for a yes.

The yes or no that opens an answer weighs more than what follows: "yup, made a plug and pumped it up, not a hiss".
"""

import re
from collections.abc import Collection
from contextlib import suppress
from dataclasses import replace

from advisor import units
from advisor.knowledge import FactDef
from advisor.outcome import Answer, Understood
from advisor.units import Unclear
from advisor.words.endings import stem_of
from advisor.words.not_knowing import not_known
from advisor.words.people import MATE

from . import choosing, leaning, present
from .chosen import ANOTHER_TIME, OPENS, PLAIN_ANSWER, held_against_past
from .understood import not_sure, perhaps_not_sure, settled, sounds_like

# A yes or a no that opens an answer by itself, and what follows it.
OPENING = re.compile(
    r"(?:(?:well|oh|uh|um|er|hell|heck|ah|aw|why)[, ]+)*"
    r"(?:(?P<yes>yes|yeah|yep|yup|yessir|aye|absolutely|definitely|certainly|of course|you bet"
    r"|sure(?: do| is| does| did)?)"
    r"|(?P<no>no|nope|nah|negative|never))(?:,? (?:sir|ma'?am|indeed|siree|man|mate|dude|buddy|bud|bro)\b)?"
    r"(?P<rest>\W*$|\s*[,;:.!-]+ .*"
    r"| (?:but|just|only|because|cause|since|i|we|it|it's|she|he|they|that|that's|there|there's|i'm|i've|i'd)\b.*)",
    re.IGNORECASE,
)
# What takes it back or turns it: "yeah, no", "yes, but not any more".
CONTRARY = re.compile(
    r"\W*(?:(?:well|wait|actually|but|and|oh|hang on|i mean)[, ]+)*(?:yes|yeah|yep|yup|no(?! \w)|nope|nah"
    r"|not (?:really|any ?more|yet|now|sure|always|exactly|quite)|sort of|kind of|kinda|maybe|depends)\b",
    re.IGNORECASE,
)
# "Yeah, no idea where from": that it is so he knows.
OF_THE_CAUSE = re.compile(
    r"\W*(?:but )?(?:(?:i|have|got) )*(?:no (?:idea|clue)|don't know|couldn't tell you|can't tell)"
    r" (?:why|where|how|what|when|who|which)",
    re.IGNORECASE,
)
TURNS = re.compile(
    r"\b(?:but|though|although|except|used to|until|any ?more|broke\w*|wait|actually|sometimes|maybe|now and then"
    r"|if|unless|when|was|were|quit|gone|took|once|other than)\b",
    re.IGNORECASE,
)
EVER = re.compile(r"\bever\b", re.IGNORECASE)
# "No electronic box, common rail": what the truck lacks, which answers nothing else.
LACKS = re.compile(
    r"(?:(?:well|oh|uh|um)[, ]+)*no (?!(?:way|sir|ma'am|thanks|chance|need)\b)(?P<lacks>[\w' -]+?), *\w", re.IGNORECASE
)
# "It's a daily, no trailer": the same in the midst of what says neither yes nor no.
LACKS_BESIDE = re.compile(r"(?<!^)\b(?:no|without an?|not an?) (?P<lacks>[a-z]+)\b", re.IGNORECASE)
DENIES_IT = re.compile(
    r"\b(?:no|nope|nah|never|nothing|none|neither|not|nobody|hardly|cannot|\w+n'?t)\b", re.IGNORECASE
)
ANYONE = re.compile(r"\b(?:anyone|anybody)\b", re.IGNORECASE)
NOBODY = re.compile(
    r"(?:(?:well|no|nah|nope|uh|um|as far as i know|far as i know)[, ]+)*(?:nobody|no one|none of us|not a soul)\b"
    r"(?!.*\b(?:but|except|besides|apart|until|till|then|only)\b)",
    re.IGNORECASE,
)
# "No boost leak, I checked with soapy water": the thing wasn't there, which is no "no" to whether anybody looked.
FOUND_NONE = re.compile(
    r"(?:(?:well|oh|uh|um|yeah|yes|there's|there (?:is|are|was|were)|i've got|got|has|it's got)[, ]+)*"
    r"(?:no|zero|not any|not an?)(?P<none>(?: (?!(?:but|just|i|we|never|not)\b)[a-z]+){1,3}?)"
    r"(?:$|[,.;]? (?=(?:i|we|he|they|had|been|my|the|after|when|because|checked|tested|put|pressure|shop|guy)\b)"
    r"|[,.;:]+\s*)(?P<rest>.*)",
    re.IGNORECASE,
)
# Who hasn't looked answers whether anybody has.
LEFT_UNDONE = re.compile(
    r"(?:(?:well|no|nah|uh|um|i|we|i've|we've|honestly|to be honest)[, ]+)*"
    r"(?:haven't|have not|hasn't|not|never)"
    r"(?: (?:even|ever|been|actually|really|had it|got round to it))* ?(?:checked|looked|tested|done|tried|bothered)"
    r"(?: (?:it|that|them|yet|for (?:one|that|leaks)|at all))*\W*",
    re.IGNORECASE,
)
LOOKED_NEVER = re.compile(
    r"(?:(?:well|uh|um|i|we|i've|we've|honestly|to be honest)[, ]+)*(?:haven't|have not|never)"
    r"(?: (?:even|ever|really))* (?:looked|checked)(?: (?:it|that|them|yet|at (?:it|that|them)))*\W*",
    re.IGNORECASE,
)
# "The last shop might have, they didn't write it down".
SUPPOSED = re.compile(
    r"\b(?:might|may|could)(?:'ve| have| of)(?: (?:done|had|put|run|checked|tested|looked|tried|pressur\w+)\b[^,.;]*)?"
    r"(?=\W*$|[,.;])|\bwouldn't bet\b",
    re.IGNORECASE,
)
# "Yeah, the gate's stock": a yes to what was said of another thing.
_WHO = "shop|dealer|owner|mechanic|tuner|garage|builder|guys?|wife|husband|folks|people|previous|last"
OF_A_THING = re.compile(
    rf"(?:(?:well|uh|um|oh|er)[, ]+)*(?:yes|yeah|yep|yup|yea|no|nope|nah)\W+(?:and |well )?"
    rf"(?:(?:the|my|our) (?:[a-z]+ )??(?!(?:thing|lot|one|{_WHO}|{MATE})\b)(?P<of>[a-z]+)"
    r"(?:'s| is| are| was| never| has| had| have| doesn't| didn't| came)\b"
    r"(?P<rest>.*)|(?:it's|that's|it is|that is) (?:the|an?|my) (?P<what>[a-z' -]+))",
    re.IGNORECASE,
)
# A yes that is taken back in part: "yep, one side works", "yeah kinda", "yeah I had them off, no good".
IN_PART = re.compile(
    r"(?:(?:well|uh|um|oh|er)[, ]+)*(?:yes|yeah|yep|yup|yea|sure)\b.*\b(?:kinda|sorta|kind of|sort of"
    r"|half(?: of| the| them|\W*$)|one side"
    r"|one of (?:them|the)|no good|not (?:great|good|much|well|working)|barely|hardly|partly|partially|broke|dead|shot"
    r"|when they want to)\b",
    re.IGNORECASE,
)
LONG = 6  # words of an answer in which a "not" may deny something else
# What opens a yes or a no in other words, with or without more behind it.
ASSENTS = re.compile(
    r"(?:(?:well|uh|um|oh|er|ah|aw|so|i (?:think|guess|reckon|believe)|pretty much|probably)[, ]+)*"
    r"(?:(?:certainly|definitely|absolutely|of course|affirmative|negative|aye|you bet|not|none|nobody|no one|nothing"
    r"|always|can't say|couldn't say|wouldn't)\b"
    r"|(?:sure|right|true|correct|okay|ok)(?:\W*$|[,.;!]| (?:thing|is|does|do|has|have)\b))",
    re.IGNORECASE,
)
OFTEN = re.compile(
    r"\b(?:(?:a )?(?:little(?: bit)?|bit|touch|tad|few)|some (?:days|mornings)|now and (?:then|again)"
    r"|once in a while|before"
    r"|(?:don't )?think|say|know|right|sure|true|correct|okay|ok|without it|with(?:out)? (?:that|them))\b",
    re.IGNORECASE,
)
REFERS = re.compile(r"\b(?:it|them|that|those|one|ones|any|both|all|none|neither)\b", re.IGNORECASE)
# What he makes of it himself, at the end: "ain't got the room, so no".
CONCLUDES = re.compile(
    r"(?:[,;.]|\band|--?) so (?:(?:that's|that is|that'd be|it's|i guess|i'd say|i'll say|we'll say) )?(?:a )?"
    r"(?:(?P<yes>yes|yeah|yep)|no|nope|nah)[.!]?$",
    re.IGNORECASE,
)
NOT_REALLY = re.compile(r"not (?:really|exactly|as such|so much)(?P<no>,? no)?[.!]?", re.IGNORECASE)
DENIES = re.compile(r"\b(?:no|nope|nah|never|nothing|none|not)\b", re.IGNORECASE)


def yes_or_no(definition: FactDef, answer: Answer, said: str) -> Understood:
    """Yes or no, by the words for them or by those that the vocabulary has, held against past calls; what leans to one
    waits for a yes."""
    standing = _standing(definition) or [("yes", ()), ("no", ())]
    heard = held_against_past(definition, answer, said, _yes_or_no, tuple(standing))
    if heard.fact is None or heard.doubt or heard.not_sure:
        return heard
    in_part = heard.fact.value is True and IN_PART.match(said)
    doubtful = in_part or _of_another_thing(definition, said)
    return replace(heard, doubt=sounds_like(definition, heard.fact.value)) if doubtful else heard


def _yes_or_no(definition: FactDef, answer: Answer, said: str) -> Understood:
    """Yes or no; where the answer opens with one of them and is read otherwise, that, for a yes where it turns."""
    deed = ANYONE.search(definition.ask) is not None
    if deed and LEFT_UNDONE.fullmatch(said):
        return settled(definition, answer, False)
    if not_known(said).opens or LOOKED_NEVER.fullmatch(said):  # "no telling what he did to it", "I've never looked"
        return perhaps_not_sure(definition, answer) if "," in said else not_sure(definition, answer)
    if refused := NOT_REALLY.fullmatch(said):
        return settled(definition, answer, False) if refused["no"] else _leant(definition, answer, False)
    if (so := CONCLUDES.search(said)) and not OPENING.match(said):
        return settled(definition, answer, so["yes"] is not None)
    if deed and (found := FOUND_NONE.match(said)):
        told = _stood_for(found["rest"], _standing(definition)) if found["rest"] else None
        if told is not False and not _own_words(definition).isdisjoint(leaning.telling(found["none"])):
            return settled(definition, answer, True) if told else _leant(definition, answer, False)
    if deed and SUPPOSED.search(said) and not PLAIN_ANSWER.search(said):
        admitted = not_known(said).admitted
        return not_sure(definition, answer) if admitted else perhaps_not_sure(definition, answer)
    opening = OPENING.match(said)
    if deed and opening and opening["no"] and _stood_for(opening["rest"], _standing(definition)):
        return _leant(definition, answer, True)  # "no, I checked with soapy water"
    heard = unread = None
    try:
        heard = _in_all(definition, answer, said)
    except Unclear as unclear:
        unread = unclear
    if opening and (heard is None or heard.fact is None or heard.fact.value is not bool(opening["yes"])):
        rest, yes = opening["rest"], bool(opening["yes"])
        unknown = not_known(rest)
        unsure = (unknown.admitted or unknown.openly) and not OF_THE_CAUSE.match(rest)
        if not (CONTRARY.match(rest) or unsure):
            told = _stood_for(said, _standing(definition))
            turned = told is (not yes) or TURNS.search(rest)
            return _leant(definition, answer, yes) if turned else _answered(definition, answer, yes, said)
        if unsure and heard is not None and not heard.doubt and not heard.not_sure:
            return perhaps_not_sure(definition, answer)  # "yes, the shop might have, they didn't say"
    if heard is None:
        assert unread is not None
        raise unread
    return heard


def _of_another_thing(definition: FactDef, said: str) -> bool:
    """Whether a yes or a no goes on with what a thing is, or with a thing, that has nothing to do with the question."""
    found = OF_A_THING.fullmatch(said)
    if found is None or REFERS.search(found["rest"] or ""):
        return False
    of = leaning.telling(found["of"] or found["what"])
    return bool(of) and _own_words(definition).isdisjoint(of)


def _standing(definition: FactDef) -> list[tuple[str, tuple[str, ...]]]:
    """The words that stand for yes and those that stand for no."""
    return [("yes" if words.value else "no", words.words) for words in definition.said_as]


def _in_all(definition: FactDef, answer: Answer, said: str) -> Understood:
    """Yes or no by all that is said."""
    unknown = not_known(said)
    if unknown.admitted and not PLAIN_ANSWER.search(said):
        _, but, known = said.rpartition(" but ")
        if but and not not_known(known).admitted:  # "no idea how it works but it's got one"
            with suppress(Unclear):
                heard = _yes_or_no(definition, answer, known)
                return heard if heard.fact is None else _leant(definition, answer, heard.fact.value is True)
            return perhaps_not_sure(definition, answer)
        return not_sure(definition, answer)
    standing = _standing(definition)
    if NOBODY.match(said) and (ANYONE.search(definition.ask) or _stood_for(said, standing)):
        return settled(definition, answer, False)  # "nobody ever put air on it", "nobody smells anything"
    ever = EVER.search(definition.ask) is not None
    try:
        told = _stood_for(said, standing)
        if ever and told is not None and not PLAIN_ANSWER.search(said):
            return _told(definition, answer, told, said, standing)
        plainly = units.read_yes_no(said, ever)
        if told is None and _lacks_another(definition, said):
            raise Unclear("that says neither yes nor no to it", "yes or no")
        beside = besides(said, _own_words(definition)) if told is None else []
        if len(beside) > 1 and not REFERS.search(said):
            raise Unclear("that says neither yes nor no to it", "yes or no")
        if OPENS.match(said) or len(said.split()) < LONG or told == plainly or (plainly and told is None):
            heard = _answered(definition, answer, plainly, said)
            against = plainly and told is False  # "yeah, I looked at the boots"
            return replace(heard, doubt=heard.doubt or sounds_like(definition, plainly)) if beside or against else heard
        if told is None and unknown.perhaps:
            return perhaps_not_sure(definition, answer)
        return _leant(definition, answer, plainly if told is None else told)
    except Unclear:
        if (told := _stood_for(said, standing)) is not None:
            return _told(definition, answer, told, said, standing)
        if unknown.perhaps:
            return perhaps_not_sure(definition, answer)
        leant = leaning.lean(said, standing, by_name=False) if standing else leaning.Lean("", ())
        if not leant.choice:
            raise
        return _leant(definition, answer, leant.choice == "yes")


def _leant(definition: FactDef, answer: Answer, yes: bool) -> Understood:
    """What leans to yes or to no, to be asked again."""
    return replace(settled(definition, answer, yes), doubt=sounds_like(definition, yes))


def besides(said: str, own: Collection[str] = ()) -> list[str]:
    """The words of a sentence read as a yes or a no by a word in its midst ("the probe's right at the manifold") which
    are of neither and none of the question's ``own``; none where it is plainly said."""
    if PLAIN_ANSWER.search(said) or ASSENTS.match(said):
        return []
    return [stem for stem in leaning.telling(OFTEN.sub(" ", said)) if stem not in own]


def _lacks_another(definition: FactDef, said: str) -> bool:
    """Whether a no is of a thing that has nothing to do with the question: one that begins the sentence, or the only
    ones in it."""
    own = _own_words(definition)
    found = LACKS.match(said)
    if found and not REFERS.search(found["lacks"]):
        lacks = leaning.telling(OFTEN.sub(" ", found["lacks"]))
        return bool(lacks) and own.isdisjoint(lacks)
    apart = [one for one in LACKS_BESIDE.finditer(said) if not REFERS.search(one["lacks"])]
    lacks = [stem for one in apart for stem in leaning.telling(OFTEN.sub(" ", one["lacks"]))]
    return len(lacks) == len(apart) > 0 and own.isdisjoint(lacks) and not DENIES_IT.search(LACKS_BESIDE.sub(" ", said))


def _own_words(definition: FactDef) -> frozenset[str]:
    """The words of a question and of what answers it."""
    phrases = [phrase for told in definition.said_as for phrase in told.words]
    own = choosing.words_of((("", (definition.name, definition.ask, *phrases)),))
    return frozenset(map(stem_of, own))


def _answered(definition: FactDef, answer: Answer, yes: bool, said: str) -> Understood:
    """Yes or no; a yes beside what speaks of plans, the past or another truck waits for a yes."""
    apart = yes and not definition.plans and present.of_another_time(said)
    return replace(settled(definition, answer, yes), doubt=f"{ANOTHER_TIME} Today, yes or no?" if apart else "")


def _told(definition: FactDef, answer: Answer, yes: bool, said: str, standing: choosing.Choices) -> Understood:
    """Yes or no by the words of the vocabulary; a yes beside a no of another kind ("windows are up, nothing") waits."""
    heard = _answered(definition, answer, yes, said)
    against = yes and DENIES.search(choosing.left_over(choosing.folded(said), standing))
    return replace(heard, doubt=heard.doubt or sounds_like(definition, yes)) if against else heard


def _stood_for(said: str, standing: choosing.Choices) -> bool | None:
    """Yes or no by the words of the vocabulary alone."""
    if not standing:
        return None
    try:
        return choosing.read_choice(said, standing, by_name=False) == "yes"
    except Unclear:
        return None
