"""What a caller says, made safe to handle; "not sure", yes and no.

`clean` is the one sanitiser of caller's text. Choices are read in `choosing`, numbers in `units`.
"""

import re
import unicodedata

CAP = 500  # characters kept of anything a caller says

# Terminal sequences: operating-system and other string commands up to their terminator, control sequences,
# two-byte escapes.
_ESCAPES = (
    r"(?:\x1b[\]PX^_]|[\x90\x98\x9d-\x9f])[^\x07\x1b\x9c]*(?:\x07|\x1b\\|\x9c)?"
    r"|(?:\x1b\[|\x9b)[0-?]*[ -/]*[@-~]?"
    r"|\x1b[ -/]*[0-~]?"
)
_UNSEEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
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
_EMPTY = frozenset(
    [
        "i",
        "i'm",
        "it",
        "it's",
        "its",
        "is",
        "that",
        "that's",
        "this",
        "the",
        "a",
        "an",
        "my",
        "to",
        "be",
        "me",
        "we",
        "uh",
        "um",
        "er",
        "well",
        "oh",
        "so",
        "just",
        "what",
        "which",
        "one",
        "ones",
        "of",
        "off",
        "hand",
        "top",
        "head",
        "on",
        "about",
        "at",
        "all",
        "honestly",
        "really",
        "sorry",
        "mate",
        "man",
        "dude",
        "bro",
        "buddy",
        "pal",
        "sir",
        "ma'am",
        "right",
        "now",
        "there",
        "here",
        "yet",
        "or",
        "have",
        "has",
        "got",
        "in",
        "for",
        "you",
        "how",
        "much",
        "many",
        "and",
        "exactly",
        "whatever",
        "know",
        "off-hand",
        "offhand",
        "your",
        "guess",
        "good",
        "as",
        "mine",
    ]
)
NEGATION = (
    r"\b(?:no|not|never|neither|nor|without|nothing|isn'?t|aren'?t|ain'?t|don'?t|doesn'?t|won'?t|hasn'?t|haven'?t"
    r"|can'?t|cannot|wouldn'?t|didn'?t|wasn'?t|weren'?t|shouldn'?t"
    r"|rather than|instead of|except|other than|anything but|no longer|none of|hardly|used to)\b"
)
_NUMBERISH = (
    r"\d|\b(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|\w+teen|twenty"
    r"|thirty|forty|fifty|sixty|seventy"
    r"|eighty|ninety|hundred|thousand|half|quarter)\b"
)
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


class Unclear(ValueError):
    """Something said that has no single meaning here: one sentence for the caller, and an example."""

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint


def clean(words: object) -> str:
    """Text without escape sequences, control, format, bidirectional and zero-width characters, white space
    folded, at most 500 long.

    Never raises; anything that isn't text is taken by its `str`, bytes as UTF-8.
    """
    if isinstance(words, (bytes, bytearray)):
        text = bytes(words[: 20 * CAP]).decode("utf-8", "replace")
    else:
        try:
            text = words if isinstance(words, str) else "" if words is None else str(words)
        except Exception:  # a foreign object may raise anything from its __str__
            return ""
    text = text[: 20 * CAP]
    if text.isascii() and text.isprintable():  # nothing to take out, and most of what is said
        return " ".join(text.split())[:CAP].rstrip()
    text = re.sub(_ESCAPES, " ", text)
    kept: list[str] = []
    marks = 0
    for character in text:
        category = unicodedata.category(character)
        if character in "\t\n\r\v\f" or category in ("Zs", "Zl", "Zp"):
            character = " "
        elif category in _UNSEEN or character in "\u115f\u1160\u3164\uffa0\u2800\ufe0e\ufe0f":
            continue
        marks = marks + 1 if category.startswith("M") else 0
        if marks <= 2:  # a longer pile of combining marks spills over its neighbours' lines
            kept.append(character)
    return " ".join("".join(kept).split())[:CAP].rstrip()


def plain(words: object) -> str:
    """Cleaned, lower-case text with typewriter quotes and dashes, for matching."""
    text = clean(words).translate(_TYPEWRITER).lower()
    return re.sub(r"\s+", " ", text).strip()


_TYPEWRITER = str.maketrans(
    dict.fromkeys("\u2018\u2019\u02bc\u00b4\u2032`", "'")
    | dict.fromkeys("\u201c\u201d\u2033", '"')
    | dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-")
    | dict.fromkeys("\u00ba\u02da", "\u00b0")
)


_OF_HIMSELF = {
    "i'm": "you're", "im": "you're", "i am": "you are", "i was": "you were", "i've": "you've", "i'd": "you'd",
    "i'll": "you'll", "i": "you", "me": "you", "my": "your", "mine": "yours", "myself": "yourself", "we're": "you're",
    "we've": "you've", "we'd": "you'd", "we'll": "you'll", "we": "you", "us": "you", "our": "your", "ours": "yours",
}  # fmt: skip
_HIMSELF = re.compile(
    rf"\b(?!i ?\d)(?:{'|'.join(sorted(_OF_HIMSELF, key=len, reverse=True))})\b(?!['-])", re.IGNORECASE
)


def to_him(words: str) -> str:
    """What a caller said of himself, as it is said to him: "my friend has one" is "your friend has one"."""
    return _HIMSELF.sub(lambda found: _OF_HIMSELF[found.group().lower()], words.replace("\u2019", "'"))


def is_unsure(words: object) -> bool:
    """Whether the words say "I don't know" and nothing besides; "not sure, about 35" carries a figure and is
    not unsure.
    """
    text = plain(words)
    rest, found = re.subn(_UNSURE, " ", text)
    if not found or re.search(_NUMBERISH, rest):
        return False
    return all(word in _EMPTY for word in re.findall(r"[^\s,.;:!?-]+", rest))


_ADMITS = re.compile(
    (
    rf"(?:^|[,.;!?] ?|\b(?:but|and|so|honestly|though) )(?:(?:i|we|well|honestly|really|sorry|just) )*(?:{_UNSURE}"
    r"|(?:couldn't|can't|cannot|wouldn't) (?:even |rightly |really )?(?:tell y(?:ou|a)|say)"
    r"(?! (?:i|we) (?:have|do|did|ever))"
    r"|(?:haven't|have not|hadn't) (?:got )?a clue|no (?:clue|idea|notion)|(?:never|not|haven't|hasn't)(?: \w+)?"
    r" (?:looked|checked|measured|counted|been told|had (?:it|the \w+) (?:off|apart|open))"
    r"|(?:would|'d) have to (?:look|check|ask|crawl)|what(?:'s| is) (?:a|an|that|the)\b|no (?:paperwork|papers)"
    r"|how (?:do|would|can|should) i (?:tell|know|find)\b|(?:i'd say )?(?:he|she) doesn't know"
    r"|(?:can't|couldn't) see (?:it|that|them)|never had (?:it|them|her) on|(?:never|haven't|didn't"
    r"|don't) (?:paid|pay) \w*"
    r" ?attention|(?:haven't|never) been under|(?:don't|never) (?:own|have|got|had) (?:one|any)\b|i'd need (?:a|to)\b"
    r"|(?:that's )?over my head|(?:can't|couldn't) put a (?:number|figure)|never asked|no, never (?:got|had) one)"
    r"|\b(?:can't|cannot|couldn't|don't know|not sure) (?:say |tell (?:you |ya )?)?(?:whether|if|which|what)\b"
    ).replace("'", "'?")
)


def admits(words: object) -> bool:
    """Whether a part of what is said admits that he doesn't know: "no clue, never had the cover off"."""
    return _ADMITS.search(plain(words)) is not None


_LEAVES_OPEN = re.compile(
    (
        r"\b(?:have to|got to|gotta|need to|must|better|i'd|i'll) (?:\w+ )?"
        r"(?:look|check|ask|find|dig|call|ring|measure|pull|crawl|count|weigh|read|get back|see what)\b"
        r"|\b(?:haven't|hasn't|never|didn't|don't|doesn't|nobody|no one|not)(?: (?:even|ever|actually|really|has|had"
        r"|been|it|them|that|one))*"
        r" (?:look\w*|crawl\w*|check\w*|measur\w*|weigh\w*|ask\w*|count\w*|read|put|writ\w+|wrote|said|say|mention\w*"
        r"|not(?:ed?|ic\w+)|seen|see|told|tell|tells|list\w*|kn[oe]w\w*|remember|recall|thought|got that far|sure"
        r"|certain)\b"
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


def leaves_open(words: object) -> bool:
    """Whether what is said may well mean that he can't tell: "the tag's rusted off". To be asked about."""
    return _LEAVES_OPEN.search(plain(words)) is not None


_NOT_KNOWN = re.compile(
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
        r"|\b(?:a|total|complete|real) mystery\b|\b\w+(?:'s)? guess(?: is|'s)? as good\b"
        r"|\b(?:any|every)(?:one|body)'s guess\b|\b(?:you've|you|that's|that) got me\b"
        r"|\bgot me (?:there|stumped)\b|\bstumped\b|\bask me (?:something|another|an easier|later|again)\b"
        r"|\bdon't ask me\b(?! (?:why|how|which))"
        r"|\b(?:can't|cannot|couldn't) (?:answer|help you|name|put a (?:name|number|figure)|(?:rightly |really"
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
    ).replace("'", "'?")
)
_BUT_KNOWS = re.compile(
    r"\b(?:but|(?:al)?though(?!\W*$)|except|guess\w*|reckon|suppose|believe|maybe|probably|perhaps|suspect|bet|think\w*)\b"
)
_CLAUSES = re.compile(r"[,;.!?](?!\d)")
_LONG_AGO = re.compile(
    r"\bbefore (?:my time|me|us|i (?:got|bought|had) (?:it|her))\b"
    r"|\bwasn't (?:even )?(?:born|around|there)(?: (?:yet|then))?\b"
)
_AND_NOT_KNOWN = re.compile(rf"(?:\b(?:but|though) (?:\w+ ){{0,3}})?(?:\bi )?(?:{_NOT_KNOWN.pattern})")
_SO = re.compile(rf"\bso,? (?:(?:there's|i|really|honestly|it's|that's|well) )*(?:{_NOT_KNOWN.pattern})")


def does_not_know(words: object) -> bool:
    """Whether a part of what is said tells openly that he doesn't know it, and no part that he knows or guesses it all
    the same: "he did the head, no telling what he used"."""
    text = plain(words)
    rest = _AND_NOT_KNOWN.sub(" ", _LONG_AGO.sub(" ", text))
    return rest != text and not _BUT_KNOWS.search(rest)


def concludes_that_he_does_not_know(words: object) -> bool:
    """Whether that follows from the rest of what is said: "never been off since I got it, so no telling"."""
    return _SO.search(plain(words)) is not None


def without_not_knowing(words: object) -> str:
    """What is left without the parts that tell that he doesn't know."""
    text = _LONG_AGO.sub(" ", plain(words))
    return ", ".join(part for part in _CLAUSES.split(text) if not _NOT_KNOWN.search(part))


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
        (r"\ball (?:of it|of them|on|there|fitted)\b|\bboth\b", " yes "),
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
