"""Yes and no, as they are said."""

import re

from .not_knowing import is_unsure
from .speech import Unclear, plain

_YES = (
    r"\b(?:yes|yeah|yep|yup|yessir|aye|sure|correct|right|certainly|definitely|absolutely|of "
    r"course|affirmative|true|okay|ok|it is|it does"
    r"|it has|i do|i have|we do|we have|has to|you bet|sure is|sure does|sure thing|y|mostly yes"
    r"|please do)\b"
)
_NO = (
    r"\b(?:no|nope|nah|nay|negative|never|not|none|neither|without|isn't|isnt|ain't|don't|dont"
    r"|doesn't|doesnt|won't|wont|hasn't"
    r"|haven't|hardly|false|incorrect|n|wrong|can't|cannot|wouldn't|didn't|wasn't)\b"
)
_SOMETIMES = re.compile(
    r"\b(?:some (?:days|mornings|nights)|(?:some|at|other) ?times|at times|now and (?:then|again)|on occasion"
    r"|once in a (?:while|blue moon)|occasional\w*|every (?:now and then|so often|once)|once or twice"
    r"|(?:a )?(?:little(?: bit)?|bit|touch|tad|few)|slight\w*|faint\w*|rare\w*|seldom|weekends?|sundays?"
    r"|(?:only |mostly |just )?(?:on|at|in|when|while|under|after|if) \w+"
    r"|every ?day|always|daily|all the time|constantly|often|plenty|lots?|not (?:always|often|much|all))\b"
)
_UNSETTLED = re.compile(
    r"\b(?:not (?:always|sure|really|quite|exactly|often|much|all)|maybe|perhaps|depends|kind of|sort of)\b"
)
# What says yes or no in other words, put plainly. "No problem" and the like say yes to the asker; a "right" or
# "sure" before a not is a filler.
_PLAINLY = tuple(
    (re.compile(pattern), plainly)
    for pattern, plainly in (
        (r"\b(?:could|would)(?:n't| not)\b.*\botherwise\b.*", "yes"),
        (r"^not (?:any ?more|now|at all|ever)\b(?!.*\b(?:but|though|yes)\b).*", "no"),
        (r"\bwithout (?:a|any|one) (?:remark|problem|issue|trouble|question|hitch|complaint|fail|word)s?\b", " "),
        (r"\bno (?:problem|worries|doubt|question)\b|\bwhy not\b|\bnot a problem\b", "yes"),
        (r"\b(?:could|would|can)(?:n't| not) (?:\w+ ){1,2}without\b.*|\ball for (?:it|that)\b", "yes"),
        (r"\bsounds (?:good|great)\b", "yes"),
        (r"\bright (?=now\b|after\b|before\b|behind\b|beside\b|away\b|at\b|off\b)", " "),
        (r"\b(?:i |we )?(?:only )?wish\b.*", "no"),
        (r"\b(?:of course|certainly|absolutely|definitely|sure|right) not\b|\bnuh[- ]uh\b|\bnot yet\b", "no"),
        (r"\b(?:can't|cannot|couldn't|wouldn't) say (?:that )?(?:i|we) (?:have|do|did|ever)\b.*", "no"),
        (
            r"(?<![\w'])(?:(?:it|that|this|those|they|we|i)(?:'s|'ve)? )?(?:was |has |have |had )?"
            r"(?:nobody|no one|never|not|(?:has|have|had|was|were|did)n'?t)(?:'s)?(?: (?:one|ever|has|have|had|been|it"
            r"|that|them|this|any|got|a|yet|here))* (?:did|done|do|had)(?: (?:it|that|this|them|any|any of"
            r" (?:it|that|those)))?(?: (?:yet|here|ever|at all|so far|to (?:it|mine|this one)))*(?= ?(?:[,.;!]|$))",
            "no",
        ),
        (r"\b(?:nobody|no one|nothing|not one)\b(?: has| did| does| have)?|\bnot (?:that|as far as) i\b.*", "no"),
        (r"\b(?:uh|mm|mhm)[- ]?h(?:u|m+)h?m?\b", " yes "),
        (r"(?<!n't )\b(?:have |has |'ve |'s )?got (?:it|that|them|all|one|both)\b", " yes "),
        (r"\ball (?:of it|of them|on|there|fitted)\b|\bboth\b|\bgot the (?:whole )?lot\b", " yes "),
        (
            r"\b(?:i|we|they|he|it|she|sure) (?:did|do|does|have|has|will|is|are|can)(?: have)?"
            r"(?= ?(?:[,.!]|$|all|both|one|too))",
            " yes ",
        ),
        (
            r"(?<!n't )(?<!not )(?<!never )\b(?:did|does|has|done|checked|tested)(?= it\b| that\b|[,.!]|$| last\b)",
            " yes ",
        ),
    )
)
_NOT_REALLY = re.compile(
    r"(?:well |uh |um |oh )*(?:no|nope|nah)\b,? not really\b(?!.*\b(?:but|though|except|sometimes)\b)"
)
_FILLERS = re.compile(
    r"\b(?:it|he|she|we|i|they|that|this|got|well|has|is|uh|um|oh|er|hell|honestly|sorry|afraid|sir)\b|\W"
)
_ALL_WELL = re.compile(r"\w+[,.;!]? no (?:leaks?|problems?|trouble|issues?)(?: (?:found|at all|there))?[.! ]*")

# What says yes or no to "is that it?" about his own words, in other words; to a question they would say little.
_SO = r"(?:it|the one|right|correct|so|true|about (?:it|right)|what i (?:said|told you|meant?|have|got|run))"
SAYS_YES = (
    rf"(?:(?:that|it)(?:'s| is| was) (?:pretty much |exactly |just )?{_SO}|(?:so )?it is|indeed"
    r"|(?:spot|bang|dead) on|on the (?:nose|money|button)|bingo|precisely|exactly(?: right)?|pretty (?:much|close)"
    r"|(?:more or less|close enough|near enough|for sure|totally|amen)"
    r"|you(?:'ve| have)? got (?:it|that)(?: right)?|got it in one|(?:sounds|looks|seems) (?:about )?(?:right|good|fine)"
    r"|(?:i'?d say|(?:i )?(?:guess|suppose|think|believe|reckon|would say|figure))(?: so| that's (?:it|right)| it is)"
    r"|(?:like )?i (?:did|said|did say|told you)(?: that| so| it)?|like i (?:said|told you)|that works|works for me"
    r"|(?:ten|10)[- ]?(?:four|4)|roger(?: that)?|copy(?: that)?"
    r"|(?:uh|mm|m+|ah|yeah)[- ]?h(?:uh|u?m+)|mhm+|yah?|yuh|yessir(?:ee)?)"
)
_SAYS_NO = (
    rf"(?:(?:that|it)(?:'s not| is not| isn't| ain't| wasn't| was not) (?:quite |exactly |really )?{_SO}"
    r"|(?:that|it)(?:'s| is| was) wrong|(?:yeah|yes|well),? (?:no|nah)"
    r"|not (?:really|quite|exactly|so|right|that|it|what i (?:said|meant?))"
    r"|i (?:never|didn't)(?: ever)? (?:say|said|mean|meant)(?: that| so| it)?|n?uh[- ]uh|m+[- ]mm+)"
)
_LEADS_IN = r"(?:(?:well|oh|uh|um|er|hm+|i mean|yes|yeah|yep|yup|sure|right)[, ]+)*"
_OPENING_YES = re.compile(rf"^{_LEADS_IN}{SAYS_YES}(?= *[,.;!])", re.IGNORECASE)
_ALL_YES, _ALL_NO = re.compile(rf"{_LEADS_IN}{SAYS_YES}"), re.compile(rf"(?:(?:well|oh|uh|um|er|no)[, ]+)*{_SAYS_NO}")


def read_assent(words: object) -> bool | None:
    """Yes or no where that is all that is said to "is that it?", in other words than these; else None."""
    text = plain(words).strip(" .!,;")
    if _ALL_NO.fullmatch(text):
        return False
    return True if _ALL_YES.fullmatch(text) else None


def plainly_opened(words: str) -> str:
    """The words with a yes in place of other words for it that open them and stand apart: "that's right, and it's an
    automatic"."""
    return _OPENING_YES.sub("yes", words)


def read_yes_no(words: object, ever: bool = False) -> bool:
    """True for yes, False for no; Unclear for neither or for both ("yes and no", "not always").

    ``ever``: it was asked whether something happens at all, so "now and then" is a yes.
    """
    text = plain(words)
    question = Unclear("is that a yes or a no?", "yes or no")
    if not text or is_unsure(text):
        raise question
    text = re.sub(r"\b(do|does|did|is|are|was|has|have|had|will|would) not\b", r"\1n't", text)
    for pattern, plainly in _PLAINLY:
        text = pattern.sub(plainly, text)
    no, yes = re.search(_NO, text), re.search(_YES, text)
    if ever and (not no or re.search(r"\bnot (?:always|often|much|all)\b", text)) and _SOMETIMES.search(text):
        return True
    if _NOT_REALLY.match(text):
        return False
    if _UNSETTLED.search(text) or re.search(r"\bsometimes\b", text):
        raise question
    opening = re.match(r"(?:well |uh |um |oh |er |hell |heck )*(?P<word>\w+)", text)
    firm = opening["word"] if opening else ""
    if no and not yes:
        # "surge brakes, no controller" says no to a part of the question only
        before = text[: no.start()]
        apart = re.search(r"[,;.]", before) and _FILLERS.sub("", before)
        twice = len(re.findall(_NO, text)) > 1 and not re.match(r"(?:no|nope|nah|never|negative)\b", text)
        if twice or apart:
            raise question
        return False
    if yes and not no:
        return True
    if yes and no:
        turned = re.search(r"\b(?:but|wait|actually|though|except|only|yes|yeah|yep)\b", text)
        if firm in ("no", "nope", "nah", "negative") and not turned:
            return False
        if firm in ("yes", "yeah", "yep", "yup", "sure") and _ALL_WELL.fullmatch(text):
            return True
    raise question
