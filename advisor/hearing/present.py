"""What is said of the truck as it stands, told apart from plans, from what was, and from other people's trucks.

"Stock, studs are on order" names two kinds of fasteners, and the truck has one of them. What tells them apart are the
words around a name, so long as they aren't part of a phrase of the vocabulary themselves ("it was built without").
"""

import re
from collections.abc import Sequence

from advisor.words.people import MATE

from .choosing import Choices, folded, heard, left_over

_MATES = rf"(?:{MATE}|other guy|in[- ]law|everybody|everyone|people|folks|most (?:guys|people|of them))"
_PLANNED = (
    r"going to(?! be honest)|gonna|getting|will (?:be|get|have|go)|ill|(?:it|he|that|they)ll (?:be"
    r"|have|get|go)|plan(?:s|ned|ning)?"
    r"|thinking|thought about|want(?:s|ed)?(?! to say)|wanna(?! say)|would like|(?:i|we|he"
    r"|she)d (?:like|love)|love to|might|may|should(?:ve| have| be)?"
    r"|supposed(?:ly)?|ought|needs?|next (?:week|month|year|winter|spring|summer|fall|on the list|up|thing|time)|next$"
    r"|on order|order(?:ed|ing)|in the (?:box|mail|post)|(?:is|are|s|\w+s) coming"
    r"(?! (?:up|down|over|off|out|through|back|home|along)\b)|coming (?:soon|next"
    r"|in the|out of the box)|on (?:the|my|a) (?:shelf|bench|way|list)(?=$| (?:now|still|right|at|waiting"
    r"|for|but|and)\b)|(?:havent|hasnt|not|aint|never) (?:\w+ ){0,5}yet|not in yet|some ?day"
    r"|one day|eventually|soon|later on|this (?:winter|weekend|summer|fall|spring|month)|wish|hop(?:e"
    r"|es|ing)|considering"
    r"|about to|looking (?:at|to|for|into)|waiting|once (?:i|we|it|the)|after (?:i|we) (?:get|do|put)|sav(?:e|ing) up"
    r"|swapping (?:to|in|over)|switching to|upgrading to|claim(?:s|ed)?|swore|swears"
)
_PAST = (
    r"used to|(?:it|she|he|that|they) (?:was|were)(?: an?)?$"
    r"|formerly|previously|(?:was|were|had) (?:\w+ )+until|back (?:when|then)|before (?:the"
    r"(?! (?:turb|manifold|housing|down ?pipe|cooler|intercooler))|that|i|we|it|this)|no longer|anymore|any more"
    r"|took (?:\w+ ){0,3}(?:off|out)|taken (?:off|out)|pulled (?:it|them|that) (?:off|out)|removed"
    r"|sold|swapped (?:it )?out"
    r"|(?:but|and|,) (?:its |theyre )?(?:broke\w*|busted|dead|seized|unplugged|disconnected|gone|shot)"
    r"|quit(?: on me)?|died|fell off|knocked out|gutted|(?:doesnt|dont|didnt) work|not (?:working|hooked)"
    r"|(?:dont|doesnt|didnt) have (?:it|them|one) (?:anymore|now)|(?:broke\w*|busted|dead|unplugged|disconnected)$"
)
_OTHERS = (
    rf"(?:my|his|her|their|the|a|an?other|one) (?:\w+ )?{_MATES}s? (?:truck |rig |one )?"
    r"(?:has|have|had|got|runs?|put|truck|does|swears?)"
    rf"|(?<!with )(?<!against )(?:my|his|her|the) {_MATES}s\b(?! (?:dyno|shop|scale|gauge|scanner|machine))|(?:my|the"
    rf"|our) (?:other|last|old|previous|first|wifes|dads) "
    r"(?:truck|one|rig|pickup|build|engine|motor)"
    r"|on (?:his|their|hers|theirs)\b"
)
# What takes back what was named before: "had a pyro, but it broke".
_GONE = re.compile(
    r"^(?:(?:its|theyre|that|those|it|they|but|and) )*(?:\w+ )?(?:broke\w*|busted|dead|seized"
    r"|unplugged|disconnected|gone|shot"
    r"|died|quit\b.*|fell off|took (?:\w+ ){0,3}(?:off|out)|removed|sold|doesnt work|dont work"
    r"|(?:i |we |he )?(?:havent|hasnt|didnt|never|not) (?:\w+ )?"
    r"(?:fitted|installed|mounted|bolted|put (?:it|them) (?:on|in))(?: it| them| one)?)(?: now| on me| since)?$"
)
_HAD = re.compile(r"(?:(?:yeah|yes|well|oh) )?(?:it|she|they) had\b")  # "... two but somebody ground the wall out"
_COMPARED = r"(?:bigger|larger|smaller|better|more|less|hotter|milder|tighter|looser) than(?: an?| the| my)?$"
# No plan: "the arm shuts like it should".
_AS_IT_SHOULD = re.compile(r"\b(?:like|as|how|the way) (?:it|she|he|they) (?:should|ought to|(?:is|are) supposed to)\b")
_APART = re.compile(rf"(?<![\w'])(?:{_PLANNED}|{_PAST}|{_OTHERS}|{_COMPARED})(?![\w])")
# A clause that tells of somebody he knows, and one that goes on about him.
_OF_A_MATE = re.compile(
    rf"(?:(?:and|well|so|cause|oh|see|no|yeah|now|but) )*(?:(?:my|a|the|this|that|some|one|our) )?(?:\w+ )?{_MATES}s?"
    r"(?: of mine| at work| (?:at|from|in|down|on|over|across|next) (?:(?:the|my|our) )?\w+(?: (?:road|street|track))?"
    r")? (?:has|have|had|got|runs?|running|swears?|loves?|likes?|uses?|makes?|made|making|pulls?|pulled|tows?|towed"
    r"|(?:put|fitted|bolted|bought) (?:one|his)"
    r"|hauls?|hauled|revs?|lives?|drives?|sees?|spent|paid|is|was|truck|rig|one|burns?|smokes?|blows?|boosts?|weighs?"
    r"|\d)\b(?!.*\b(?:(?<!on )(?<!in )it|mine|me|my|us|ours?|this (?:one|truck))\b)"
)
_OF_HIM = re.compile(
    r"(?:(?:and|but|so) )*(?:hes?|shes?|his|her|theirs?|theyre|they|has|runs|tows|pulls|hauls|makes|revs|drives)\b"
)
_AND_IT = re.compile(  # ... behind "and"
    r"(?:it|that) (?:lights?|lit|makes?|made|pulls?|pulled|tows?|towed|hauls?|hauled|spools?|flows?|hits?|gets?|goes"
    r"|did|screams?|flies)\b"
)
# What was on an earlier truck of his, and what goes on about that; what is read or heard of a turbo in general.
_OF_HIS_LAST = re.compile(
    r"\b(?:on|in|with|for) (?:my|our|the) (?:other|last|old|previous|first) (?:truck|one|rig|pickup|build|engine|motor)"
    r"|^(?:(?:and|but) )*(?:my|our|the) (?:other|last|old|previous|first) (?:truck|one|rig|pickup|build)"
    r" (?:had|was|made|did)"
)
_OF_THAT_ONE = re.compile(
    r"(?:(?:and|but) )*(?:that(?: one| truck)?|it) (?:had|was|made|ran|pulled|towed|weighed|did)\b"
)
_HEARSAY = re.compile(
    r"\b(?:read|heard|saw|seen|reading|forums?|internet|videos?)\b.*"
    r"\b(?:makes?|made|flows?|good (?:for|to)|lights?|spools?|supports?|holds?)\b"
)
_OF_ME = re.compile(r"\b(?:i|im|ive|id|ill|we|were|weve|my|mine|our|ours|me|us|here)\b")
# The truck of one of the family, or of his boss, for which he may call; not one whose figures he holds up.
_OF_KIN = re.compile(
    r"(?:(?:its|this is|for|oh|well|so|hi|hello) )*(?:(?:my|the|our) )?(?:old )?(?:wife|husband|dad|father|pop|mom"
    r"|mother|son|daughter|boss|man|lady)s? (?:\d|truck|pickup|van|wagon|car|diesel|rig|camper|motorhome)"
    r"(?!.*\b(?:makes?|made|runs?|has|had|got|pulls?|put|puts|does|did|dynoed|boosts?|revs?)\b)"
)
_HIS_OWN = re.compile(r"\b(?:mines?|i have|i got|ive got|i run|i drive|i own|my (?:own|truck|pickup|rig|van|\d))\b")
# Somebody that is named: "Earl's makes 600".
_NAMED = re.compile(
    r"(?:(?:and|but|well|so|because|see|no|yeah|oh) )*(?!(?:it|that|this|she|he|what|there|here|mine|truck|engine"
    r"|motor|turbo|tune|pickup|trailer|who|everything|nothing)['s])[A-Za-z]{3,}'s (?:(?:truck|rig|one|pickup|diesel) )?"
    r"(?:makes?|made|runs?|ran|has|had|got|pulls?|lights?|does|did|puts?|tows?|turns?|hits?|sees?|boosts?|dynoed)\b"
)
# What he wants is what that other one has: "and I want one".
_WANTS_IT = re.compile(
    r"\b(?:want|like|love|fancy|after|keen (?:on|for)|need)(?: to (?:have|get|run|do))?"
    r" (?:one|(?:the )?same|that|it)\b"
    r"(?P<beside>(?: (?:one|thing|turbo|setup|too|as well|like (?:it|that|his)|myself))*)(?=\W*$)",
    re.IGNORECASE,
)
_AS_HE_HAS = " as he has"
_CLAUSE = re.compile(
    r"[,;:.!?](?!\d)|\s-\s|\b(?:but|though|although|however|because|so|and(?= (?:i|it|the|we|my|now)\b))\b",
    re.IGNORECASE,
)


def told_apart(words: object, choices: Choices) -> tuple[frozenset[str], frozenset[str]]:
    """The choices that are named of the truck as it stands, and all that are named."""
    text = _AS_IT_SHOULD.sub("", folded(words))
    said = frozenset(heard(text, choices)[0])
    clauses = _clauses(text)
    apart = {at for at, clause in enumerate(clauses) if said and _APART.search(left_over(clause, choices))}
    apart |= {at for at, clause in enumerate(clauses) if said and _HAD.match(clause) and f"{clause} but " in text}
    gone = {at for at, clause in enumerate(clauses) if _GONE.search(clause) and not heard(clause, choices)[0]}
    apart |= {at - 1 for at in gone if at}
    if not apart:
        return said, said
    rest = " , ".join(clause for at, clause in enumerate(clauses) if at not in apart)
    return said.intersection(heard(rest, choices)[0] if rest else ()), said


def of_another_time(words: object) -> bool:
    """Whether words around a figure tell of plans, of what was, or of another truck."""
    return any(_APART.search(clause) or _GONE.search(clause) for clause in _clauses(folded(words)))


def of_others(words: object) -> bool:
    """Whether all that is said tells of another's truck: "he's happy with his"."""
    clauses = _clauses(folded(words))
    return bool(clauses) and all(_OF_A_MATE.match(clause) or _OF_HIM.match(clause) for clause in clauses)


def without_mates(words: object) -> str:
    """What is said, without clauses about somebody that he knows: "a new turbo, buddy runs a 64"."""
    return own_clauses(folded(words))


def own_clauses(words: str) -> str:
    """The words without clauses that tell of somebody else's truck, in the caller's own spelling, and what is wanted
    from these said to be as he has it; "" where all do."""
    kept, spoken_of, clauses = list[str](), False, _clauses(words)
    his_own = _HIS_OWN.search(folded(words)) is not None
    for at, clause in enumerate(clauses):
        text = folded(clause)
        named = (_OF_A_MATE.match(text) and (his_own or not _OF_KIN.match(text))) or _NAMED.match(clause)
        goes_on = _OF_HIM.match(text) or (f"and {clause}" in words and _AND_IT.match(text) and not _OF_ME.search(text))
        spoken_of = bool(named) or (spoken_of and bool(goes_on))
        if not spoken_of:
            wanted = _WANTS_IT.search(clause) if len(kept) < at else None
            kept.append(f"{clause[: wanted.start('beside')]}{_AS_HE_HAS}" if wanted else clause)
    return ", ".join(kept) if len(kept) < len(clauses) else words


def without_hearsay(words: str) -> str:
    """The words without clauses about an earlier truck of his, or of what is read and heard of a turbo in general."""
    kept, earlier, clauses = list[str](), False, _clauses(words)
    for clause in clauses:
        text = folded(clause)
        earlier = _OF_HIS_LAST.search(text) is not None or (earlier and _OF_THAT_ONE.match(text) is not None)
        if not earlier and not _HEARSAY.search(text):
            kept.append(clause)
    return ", ".join(kept) if len(kept) < len(clauses) else words


def of_himself(words: str) -> str:
    """The clauses in which he speaks of himself or what is his."""
    return ", ".join(clause for clause in _clauses(words) if _OF_ME.search(folded(clause)))


def _clauses(text: str) -> Sequence[str]:
    return [clause.strip() for clause in _CLAUSE.split(text) if clause and clause.strip()]
