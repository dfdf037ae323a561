"""Who says that he doesn't know: alone or in the midst of a story, openly or only by what he never looked at.

All that is held for not knowing stands here. ``not_known`` says in which of these ways a sentence tells it; what
follows from that (left open, asked about, passed over) is up to the kind of question it answers.
"""

import re
from dataclasses import dataclass
from functools import cache, lru_cache

from .speech import plain

_UNSURE = (
    r"(?:i am|i'm|im|we're|he's|really|quite)? ?(?:not|never) (?:too |so |really |quite |at all "
    r"|entirely |exactly )?(?:sure|certain|known)"
    r"|unsure|uncertain|unknown|no idea|no clue|not a clue|haven't a clue|have not a clue|haven't "
    r"got a clue|have no idea"
    r"|(?:i |we |he |really |honestly )*(?:don't|dont|do not|doesn't|didn't|wouldn't|would not) "
    r"(?:really |rightly |actually )?(?:know|remember|recall)"
    r"|dunno|couldn't (?:tell (?:you|ya)|say)|can't (?:say|tell|remember)(?! (?:i|we) (?:have|do|did|ever))"
    r"|cannot (?:say|tell)|beats me"
    r"|who knows|idk|you tell me|(?:hell |fuck |damned |heck |darned |beats me )?if i (?:only )?kn[oe]w"
    r"|(?:i'd |i would )?have to (?:look|check|ask|find)(?: (?:it|that|them|him|around))?(?: (?:up|out|into))?"
    r"|hard to say|no way of knowing|search me|n/a|\?+"
)
# All that may stand beside it where nothing else is said.
_EMPTY = frozenset(
    [
        "i", "i'm", "it", "it's", "its", "is", "that", "that's", "this", "the", "a", "an", "my", "to", "be", "me", "we",
        "uh", "um", "er", "well", "oh", "so", "just", "what", "which", "one", "ones", "of", "off", "hand", "top",
        "head", "on", "about", "at", "all", "honestly", "really", "sorry", "mate", "man", "dude", "bro", "buddy", "pal",
        "sir", "ma'am", "right", "now", "there", "here", "yet", "or", "have", "has", "got", "in", "for", "you", "how",
        "much", "many", "and", "exactly", "whatever", "know", "off-hand", "offhand", "your", "guess", "good", "as",
        "mine"
    ]
)
_NUMBERISH = (
    r"\d|\b(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|\w+teen|twenty"
    r"|thirty|forty|fifty|sixty|seventy"
    r"|eighty|ninety|hundred|thousand|half|quarter)\b"
)
# A clause that admits it: "no clue, never had the cover off".
_ADMITS = (
    (
    rf"(?:^|[,.;!?] ?|\b(?:but|and|so|honestly|though) )(?:(?:i|we|well|honestly|really|sorry|just) )*(?:{_UNSURE}"
    r"|(?:couldn't|can't|cannot|wouldn't) (?:even |rightly |really )?(?:tell y(?:ou|a)|say)"
    r"(?! (?:i|we) (?:have|do|did|ever))"
    r"|(?:haven't|have not|not|never)(?: (?:even|really|yet|quite))* (?:thought (?:that far|about (?:it|that)"
    r"|of (?:it|that))|decided|made up (?:my|our) minds?)\b(?! (?:on|to|against))"
    r"|(?:haven't|have not|hadn't) (?:got )?a clue|no (?:clue|idea|notion)|(?:never|not|haven't|hasn't)(?: \w+)?"
    r" (?:looked|checked|measured|counted|been told|had (?:it|the \w+) (?:off|apart|open))"
    r"|(?:would|'d) have to (?:look|check|ask|crawl)|what(?:'s| is) (?:a|an|that|the)\b|no (?:paperwork|papers)"
    r"|how (?:do|would|can|should) i (?:tell|know|find)\b|(?:i'd say )?(?:he|she) doesn't know"
    r"|(?:can't|couldn't) see (?:it|that|them)|never had (?:it|them|her) on|(?:never|haven't|didn't"
    r"|don't) (?:paid|pay) \w*"
    r" ?attention|(?:haven't|never) been under|i'd need (?:a|to)\b"
    r"|(?:that's )?over my head|(?:can't|couldn't) put a (?:number|figure)|never asked|no, never (?:got|had) one)"
    r"|\b(?:can't|cannot|couldn't|don't know|not sure) (?:say |tell (?:you |ya )?)?(?:whether|if|which|what)\b"
    ).replace("'", "'?")
)
# That he has none of it: not knowing where a gauge would tell it.
_LACKS = (
    r"(?:^|[,.;!?] ?|\b(?:but|and|so|honestly|though) )(?:(?:i|we|well|honestly|really|sorry|just) )*"
    r"(?:don'?t|never) (?:own|have|got|had) (?:one|any)\b"
)
# That he'd have to look, or that what would tell it is gone: "the tag's rusted off".
_LEAVES_OPEN = (
    (
        r"\b(?:have to|got to|gotta|need to|must|better|i'd|i'll) (?:\w+ )?"
        r"(?:look|check|ask|find|dig|call|ring|measure|pull|crawl|count|weigh|read|get back|see what)\b"
        r"|\b(?:haven't|hasn't|never|didn't|don't|doesn't|nobody|no one|not)(?: (?:even|ever|actually|really|has|had"
        r"|been|it|them|that|one))*"
        r" (?:look\w*|crawl\w*|check\w*|measur\w*|weigh\w*|ask\w*|count\w*|read|put|writ\w+|wrote|said|say|mention\w*"
        r"|not(?:ed?|ic\w+)|seen|see|told|tell|tells|list\w*|kn[oe]w\w*|remember|recall|thought|got that far|sure"
        r"|certain)\b"
        r"|\b(?:haven't|hasn't|didn't|never|not) (?:dared?|bothered|managed|had (?:the |a )?(?:time|chance)) to\b"
        r"|\b(?:can't|cannot|couldn't) (?:\w+ )?(?:read|see|find|tell|say|make|remember|recall|get)\b"
        r"|\b(?:blank|illegible|unreadable|rust\w* (?:off|away|over)|worn off|faded|peeled|scratched off|painted over"
        r"|long gone|lost the"
        r"|no (?:tag|label|sticker|(?:data|engine|id|rating) plate|plate on|records?|receipts?|paper\w*|manual|gauge"
        r"|markings?))\b"
        r"|\bwhatever (?:(?:that|it|they|those|size|one|the \w+) )?"
        r"(?:is|are|was|has|came|put|did|used|chose|picked)\b|\bwhatever it's\b"
        r"|\bwhatever (?:\w+ )?(?:that|it|they|this) (?:makes?|comes? to|works out|measures?)\b"
        r"|\bwhat(?:'s| is| are) (?:normal|usual|typical|that|an?|the|good)\b|\bis there a (?:way|gauge|tag)\b"
        r"|\bhow (?:do|would|can|should|the \w+ (?:do|would)) (?:i|you|we)\b|\b(?:he|she|they)(?:'d| would) know\b"
        r"|\bask (?:my|the|him|her|them|whoever)\b|\byou(?:'d| would)? (?:have to|tell me)\b"
        r"|\b(?:bought|got) (?:it|the truck|her) (?:used|second[- ]?hand|like (?:this|that))\b|\bprevious owner\b"
        r"|\b(?:over|above) my head\b|\bgreek to\b|\bnews to me\b|\bnever heard\b|\blost me\b"
        r"|\bno memory\b|\bforg[eo]t\w*\b"
        r"|\bguessing\b|\bgood question\b|\bsomebody else\b"
    ).replace("'", "'?")
)
# That he doesn't know, as the whole of an answer, whatever it is to.
_BEFORE = (
    r"(?:(?:well|oh|uh|um|er|man|gosh|honestly|really|sorry|truthfully|hell|heck|hmm+|to be honest|i|i'?m|i'?ve|we"
    r"|we'?ve|now|that|that'?s|it|it'?s|there)[, ]+)*"
)
_BEHIND = (
    r"(?:,? (?:man|mate|buddy|sir|ma'?am|honestly|really|though|to be honest|right now|there|on that(?: one)?))*[ .,!]*"
)
_WHOLE = [
    form.replace("'", "'?")
    for form in (
        r"\w+ guess(?: is|'s)? as good as (?:mine|any|anybody's)",
        r"(?:you|he|she)(?:'d| would) know (?:that )?better than (?:me|i|us)",
        r"not the (?:one|person|guy|man|right one) to ask",
        r"(?:ain't|haven't|have not|never) (?:never )?paid (?:it |that |them |her )?(?:any |no |much )?"
        r"(?:mind|attention)",
        r"(?:not that )?(?:i )?(?:could(?:n't)?|can't) tell you",
        r"(?:(?:don't|ain't|haven't) (?:have |got )?|not |haven't )?(?:the|an?) (?:foggiest|faintest|slightest)"
        r"(?: idea| notion)?",
        r"no earthly(?: idea)?",
        r"(?:way )?(?:above|beyond|over) my (?:pay ?grade|head)",
        r"the (?:paperwork|papers|sticker|tag|label|manual)(?:'s| is|'re| are)? (?:long )?(?:gone|lost|missing)",
        r"(?:it |she |they )?(?:was|came|were) (?:like that|that way) when i (?:got|bought) (?:it|her)",
        r"just drive (?:it|her)",
        r"(?:we |he |they )?never (?:talked|spoke) about (?:it|that)",
        r"(?:'d |would )?(?:i'd )?(?:only |just )?be (?:guessing|lying|making (?:it|that) up)",
        r"wouldn't know (?:where|how|what)(?: to \w+| i'm looking at)?",
        r"couldn't swear to (?:it|that)",
        r"never (?:had )?(?:cause|reason|thought|occasion) to (?:ask|find out|look|check)",
        r"never (?:even )?(?:crossed my mind|occurred to me)",
        r"(?:an? )?(?:good|tough|hard|tricky) (?:question|one)",
        r"(?:not |can't (?:tell|say) )?off the top of my head",
        r"drawing a blank",
        r"plead ignorance",
        r"no mechanic",
        r"can't say (?:as |that )?i(?:'ve)? (?:know|ever (?:looked|checked|asked|noticed))",
        r"(?:whoever|the (?:guy|fella|fellow|man|bloke|dealer|shop|last owner))(?: (?:that|who))?"
        r"(?: (?:i|we) (?:bought|got) (?:it|her) (?:from|off(?: of)?)| (?:built|did|fitted|had) (?:it|her))?"
        r" (?:never|didn't) (?:said?|told? me|mention(?:ed)? it|let on)",
    )
]
_WHOLLY = rf"{_BEFORE}(?:{'|'.join(_WHOLE)}){_BEHIND}"
# That it can't be told, wherever in a sentence: "he did the head, no telling what he used".
_NOT_KNOWN = (
    (
        r"\bno (?:tellin'?g?|way (?:to|of) (?:know|tell)\w*|earthly|idea|clue|notion)\b"
        r"|\bwho(?:'s| is) to (?:say|know)\b|\bwho (?:knows|remembers|can (?:say|tell)|could say)\b"
        r"|\b(?:god|lord|heaven|goodness)(?: only)? knows\b|\b(?:foggiest|faintest|slightest idea)\b"
        r"|\b(?:haven't|ain't|hadn't|not)(?: got)? an? (?:\w+ )?(?:clue|notion)\b"
        r"|\b(?:escapes|eludes|beats|stumps) me\b|\bbeats the \w+ (?:out of|outta) me\b"
        r"|\bsli(?:ps|pped) my (?:mind|memory)\b"
        r"|\b(?:gone|went|goes|flew) (?:\w+ )?(?:out of|out|from) my (?:head|mind)\b"
        r"|\bdr(?:aw|awing|ew|awn) a blank\b|\bblanking\b|\btip of my tongue\b"
        r"|\b(?:can't|cannot|couldn't) (?:think of it|bring it|place it|recall)\b"
        r"|\bi(?:'ve)? (?:plain |clean |done |just )?forg(?:et|ot|otten)\b(?! to\b)|\bused to know\b"
        r"|\b(?:a|total|complete|real) mystery(?= to (?:me|us)\b| \w*wh\w+\b| how\b|\W*$|[,.;!?])"
        r"|\b\w+(?:'s)? guess(?: is|'s)? as good\b"
        r"|\b(?:any|every)(?:one|body)'s guess\b|\b(?:you've|you|that's|that) got me\b"
        r"|\bgot me (?:there|stumped)\b|\bstumped\b|\bask me (?:something|another|an easier|later|again)\b"
        r"|\bdon't ask me\b(?! (?:why|how|which))"
        r"|\b(?:can't|cannot|couldn't) (?:answer|help you|name|put a (?:name|number|figure)"
        r"|give you (?:a|an|the|that|any|one)\b(?! (?:moment|minute))|(?:rightly |really"
        r" )?(?:tell|say)(?! (?:i|we)\b))\b"
        r"|\bthat's all i (?:know|can (?:tell|say))|\bi'd be (?:lying|guessing)\b|\bnot my department\b|\bdunno\b"
        r"|\b(?:wouldn't|don't|do not|didn't) (?:really |rightly |even |honestly )?know\b|\bhaven't the\b"
        r"|\b(?:he|she|they|nobody|no one|shop|seller|dealer|owner|guy|fella|book|manual) (?:never|didn't|don't"
        r"|doesn't|wouldn't|couldn't)(?: even)? (?:sa(?:y|id)|tell|told|mention\w*|wrote|write|kn[eo]w)\b"
        r"|\b(?:badge|tag|sticker|plate|decal|label|stamp|paperwork|papers)s?(?:'s| is| are| has| have|'re)?(?:"
        r" \w+){0,2} (?:gone|off|missing|lost|torn|unreadable|illegible|fell|fallen|worn|rusted|faded|scraped"
        r"|painted|peeled)\b"
        r"|\bpa(?:y|ying|id) (?:any |no |much )?(?:attention|mind)\b"
        r"|\b(?:never|haven't) (?:seen|looked at|been in) the inside\b"
        r"|\bi'd (?:have|need|got) to (?:\w+ )?(?:look|check|ask|find|dig|call|measure|pull|crawl|count|get|read)\b"
        r"|\b(?:nobody|no one|none of us|no body)(?:'s| has| have)?"
        r"(?: (?:ever|even|actually|really|been|yet|bothered to|thought to))*"
        r" (?:looked|look|felt|feel|checked|check|measured?|weighed|listened|noticed|paid|seen|had a hand"
        r"|been (?:up )?in there)\b"
        r"|\b(?:i|we)(?:'ve)? (?:haven't|never|ain't|didn't|hadn't) (?:\w+ )?(?:felt|feel|had a hand)\b"
        r"|\bwhatever (?:the|my|that|some|our)"
        r" (?:(?!factory|maker|works|plant|truck|engine|motor|tires|tyres|wheels|rollers)\w+ ){1,3}"
        r"(?:put|used|fitted|chose|picked|threw|stuck|bolted|installed)\b"
        r"|\b(?:shop|guys?|fella|bloke|owner|dealer|mechanic|builder|tuner|somebody|someone|he|she|they|brother|dad)"
        r" (?:might|may|could)(?:'ve| have| of)(?: done (?:it|that|so))?(?=\W*$|[,.;])"
        r"|\bnew one on me\b|\bnever heard of (?:it|that|them|one|such)\b"
    ).replace("'", "'?")
)
# ... but he knows or guesses it all the same.
_BUT_KNOWS = (
    r"\b(?:but|(?:al)?though(?!\W*$)|except|guess\w*|reckon|suppose|believe|maybe|probably|perhaps|suspect|bet|think\w*)\b"
)
_CLAUSES = r"[,;.!?](?!\d)"
_LONG_AGO = (
    r"\bbefore (?:my time|me|us|i (?:got|bought|had) (?:it|her))\b"
    r"|\bwasn't (?:even )?(?:born|around|there)(?: (?:yet|then))?\b"
)
_AND_NOT_KNOWN = rf"(?:\b(?:but|though) (?:\w+ ){{0,3}})?(?:\bi )?(?:{_NOT_KNOWN})"
_SO = rf"\bso,? (?:(?:there's|i|really|honestly|it's|that's|well) )*(?:{_NOT_KNOWN})"
# An answer that begins with it, and after which nothing tells that he has a guess.
_OPENS = (
    r"(?:(?:i|we|well|honestly|really|sorry|oh|that|now that) )*(?:no (?:idea|clue|notion)|not (?:a clue|the faintest)"
    r"|(?:don'?t|do not|couldn'?t|can'?t|cannot"
    r"|wouldn'?t) (?:(?:really|rightly|even|actually) )?(?:know(?! of)|tell|say)"
    r"|(?:i'?m )?not (?:too |really )?(?:sure|certain) (?:what|which|if|whether|yet|about|of)"
    r"|haven'?t (?:a clue|looked(?=.*\bwhen\b))|no (?:tellin'?g?|way (?:to|of) (?:know|tell)\w*)"
    r"|(?:never|didn'?t|haven'?t) (?:ever |even )?(?:asked?|found out|been told)|who knows|(?:god|lord|heaven) knows"
    r"|(?:you'?d|i'?d|we'?d) have to ask)\b"
)
_KNOWS = (
    r"\b(?:but|though|except|think|guess\w*|reckon|suppose|believe|maybe|probably|perhaps|looks?|sounds?|seems?|suspect|bet"
    r"|say|said|told|or|just|only know|all i know|stock|factory)\b"
)
# Of what is measured: that it never was, or what it would be read from is missing.
_INSTRUMENT = r"(?:gauges?|pyro\w*|thermometer|tach\w*|sender|probe|needle|dial|scale)"
_UNMEASURED = (
    r"\b(?:never|not|haven'?t|hasn'?t|nobody)(?: (?:ever|been|had|has|actually|really|got|it|em|them|that|mine))*"
    r" (?:measured?|weigh(?:ed)?|check(?:ed)?|looked|counted|clocked|dyno(?:ed)?|tested|known?)\b"
    r"|\bnever had (?:a|any|one)\b|\bdon'?t (?:know|have|recall|remember)\b|^(?:no|haven'?t"
    r"|without) (?:(?:a|an|any|the|got) )*"
    r"(?:\w+ )?(?:gauges?|pyro|thermometer|tach(?:o|ometer)?|scales?|sheet|sticker|(?:data|engine|id|rating) plate"
    r"|plate on|sensor|probe)\b"
    r"|\b(?:ain'?t|haven'?t|hasn'?t|don'?t|doesn'?t|didn'?t|never)(?: (?:even|ever|got|have|had|own|run))*"
    r" (?:one|any)\b"
    rf"|\b{_INSTRUMENT}(?:'s)? (?:\w+ ){{0,2}}?(?:broke\w*|busted|dead|quit\w*|shot|gone|out|unhooked|died|stopped)\b"
    rf"|\b(?:ain'?t|haven'?t|hasn'?t|don'?t|doesn'?t|no|not)(?: \w+){{0,3}} {_INSTRUMENT}\b"
    r"|\bnothing to (?:measure|read|check|see|tell) \w+|\bwish i (?:had|did)\b|\bnever tapped\b"
    r"|\b(?:only|just) (?:got|have|run|runs) (?:a |the )?(?:boost|pyro)\b|\bby (?:ear|feel|the seat)\b"
)


@cache
def _compiled(pattern: str) -> re.Pattern[str]:
    """Compiled when it is first looked for: that takes longer than all else of loading these rooms."""
    return re.compile(pattern)


@dataclass(frozen=True, slots=True)
class NotKnown:
    """In which ways words tell that it isn't known: it stands ``alone``; he ``opens`` with it and guesses nothing; a
    part tells it ``openly`` and none that he knows it all the same; it ``follows`` from what he tells; a clause has
    ``admitted`` it; he ``lacks`` what it would be told by, or what is asked about; it is ``unmeasured``, or nothing is
    there to read it from; ``perhaps`` that is meant."""

    alone: bool
    opens: bool
    openly: bool
    follows: bool
    admitted: bool
    lacks: bool
    unmeasured: bool
    perhaps: bool


@lru_cache(maxsize=4096)
def not_known(words: str) -> NotKnown:
    """How words tell that he doesn't know what is asked."""
    text = plain(words)
    rest = _compiled(_AND_NOT_KNOWN).sub(" ", _compiled(_LONG_AGO).sub(" ", text))
    return NotKnown(
        alone=_alone(text),
        opens=_compiled(_OPENS).match(text.partition(",")[0]) is not None and not _compiled(_KNOWS).search(text),
        openly=rest != text and not _compiled(_BUT_KNOWS).search(rest),
        follows=_compiled(_SO).search(text) is not None,
        admitted=_compiled(_ADMITS).search(text) is not None,
        lacks=_compiled(_LACKS).search(text) is not None,
        unmeasured=_compiled(_UNMEASURED).search(text) is not None,
        perhaps=_compiled(_LEAVES_OPEN).search(text) is not None,
    )


def is_unsure(words: object) -> bool:
    """Whether the words say "I don't know" and nothing besides; "not sure, about 35" carries a figure and is
    not unsure.
    """
    return _alone(plain(str(words)))


@lru_cache(maxsize=4096)
def _alone(text: str) -> bool:
    if _compiled(_WHOLLY).fullmatch(text):
        return True
    rest, found = re.subn(_UNSURE, " ", text)
    if not found or re.search(_NUMBERISH, rest):
        return False
    return all(word in _EMPTY for word in re.findall(r"[^\s,.;:!?-]+", rest))


def without_not_knowing(words: str) -> str:
    """What is left without the parts that tell that he doesn't know."""
    text = _compiled(_LONG_AGO).sub(" ", plain(words))
    return ", ".join(part for part in _compiled(_CLAUSES).split(text) if not _compiled(_NOT_KNOWN).search(part))
