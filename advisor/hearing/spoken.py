"""Speech as it would stand written down: fillers, swearing, stutters and what was taken back are left out.

`settle` leaves what is said as it is, but for words that say nothing; `corrected` keeps what somebody said in the place
of what he took back ("five, no, six").
"""

import re
from collections.abc import Iterator
from functools import lru_cache

from advisor.words.numerals import DIGIT_NAMES, TENS_SAID
from advisor.words.speech import AT_HAND


def _words(*patterns: str) -> str:
    return rf"\b(?:{'|'.join(patterns)})\b"


_PAUSE = re.compile(r"\s*(?:\.{2,}|\u2026|\s[-\u2013\u2014]{1,2}\s)\s*")
_LINE = re.compile(
    r"(?:^|(?<=[,.;!?]))\s*(?:hello|hallo|you there|(?:are )?you (?:still )?there|still there|say again"
    r"|can you hear me(?: now)?|you're (?:breaking up|cutting out)|(?:it's |this is )?(?:a )?bad (?:line|connection)"
    r"|excuse me|pardon)\s*(?:[,.;!?]+|$)|^(?:sorry|one (?:sec|second|moment)|hang on|hold on)[,.;!?]+",
    re.IGNORECASE,
)
_SWEARING = re.compile(
    _words(
        "(?:god)?damn(?:ed|it)?", r"(?:mother)?f(?:u|\*|-)?[c*]*k(?:in|ing|ed)?'?", "freakin'?g?", "fricki?n'?g?",
        "friggi?n'?g?", "effi?n'?g?", "bloody", "stinki?n'?g?", "(?:a )?son of a (?:bitch|gun)", "sumbitch(?:es)?",
        "(?:as|the) (?:hell|heck|shit|fuck)", "bastards?", "for (?:christ|god|pete|heaven)'?s? ?sakes?", "jeez",
        "christ", "dam+it", "dagnabbit", "crikey",
    )
    + r"|^(?:hell|heck|shit|crap|man|dude|bro|gosh|lord|oh|ah|aw|well|so|look|yo|honestly|basically|actually)\b(?=[, ])"
    r"|^(?:alright|now|see),\s",
    re.IGNORECASE,
)  # fmt: skip
_FILLER = re.compile(
    _words(
        "uh+", "um+", "uhm+", "erm+", "ehm?", "hmm+", "ahh*", "y'?know", "ya know", "you know(?! what)",
        "i mean to say", "(?:like|as) i (?:already )?(?:said|told (?:you|ya))(?: already| before)?",
        "(?:let(?:'s| me)|lemme) (?:see|think)(?! (?:about|it|on|over|if|what|how|whether))",
        "how (?:do|would) you say(?: it)?", "to (?:be honest|be truthful|tell (?:you )?the truth)", "tbh", "imo", "lol",
        "haha", "honestly", "frankly", "truthfully", "to be fair", "i(?:'ll)? tell you(?: what)?",
        "i(?:'d| would) have to say", "if you ask me", "as far as i (?:know|remember|can tell)",
        "if i (?:remember|recall)(?: (?:right|correctly))?", "iirc", "afaik", "kind of like", "kinda like",
    )
    + r"|(?<=[,.;!?] )(?:oh|like|well|man|dude|bro)\b(?=,? )"
    r"|\blike(?= (?:uh|um)\b)|(?<=\buh )like\b|(?<=\bum )like\b"
    r"|,\s*(?:my (?:dear|friend|love)|darlin'?g?|love|man|dude|bro|buddy|pal|son|hon|honey|sweetie"
    r"|dear|boss|chief|sir|ma'am|madam|mate"
    r"|young (?:man|lady|fella)|brother|bud|fella|like|i (?:mean|guess)|right|thanks?(?: you)?|please)"
    r"(?=\s*(?:[,.;!?]|$))",
    re.IGNORECASE,
)  # fmt: skip
_OPENING = re.compile(r"^(?:my (?:friend|dear)|young man|sir|ma'am|mate|son|hon|buddy|pal|bud)\s*,\s*", re.IGNORECASE)
_HUM = re.compile(r"\w\W*(?:\.{2,}|\u2026|[,;-])\s*(?:u+h+m*|u+m+|e+r+m*|e+h+m*|hm+)\W*$", re.IGNORECASE)
# A form of address without a pause before it: "bit dear for me mate".
_ADDRESS = re.compile(
    r"(?<!\bmy)(?<!\ba)(?<!\bthe)(?<!\bhis)(?<!\bher)(?<!\bour)(?<!\byour)(?<!\bold)(?<!\bgood)(?<!\bby)(?<!\bwith)"
    r"(?<!\bfrom)(?<!\bto)(?<!\bone)(?<!\bsame)(?<!\bof)(?<=\w) (?:mate|pal|buddy|bud|bro|dude|sir|ma'am)(?=[.!?]*$)",
    re.IGNORECASE,
)
_STUTTER = re.compile(r"\b(?P<said>\w+(?: \w+)?)(?:\s*(?:\.{2,}|\u2026)\s*(?P=said)\b)+", re.IGNORECASE)
_STARTED = re.compile(
    r"\b(?P<said>\w+)\s*(?:\.{2,}|\u2026)\s*(?=(?:(?:between|from|about|around|like|maybe|a|an) )(?P=said)\b)",
    re.IGNORECASE,
)
_AFTER_A_NUMBER = "one|two|three|four|five|six|seven|eight|nine|ten|\\w+teen|\\w+ty|hundred|thousand|point|and"
_FIGURE_NEXT = r"(?=(?:\$|\d|(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|\w+teen|\w+ty)\b))"
_SMALL_FIGURE = r"[2-9]|1\d|two|three|four|five|six|seven|eight|nine|eleven|twelve|\w{3,5}teen"
_TO_NINETY_NINE = (
    r"(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|\w{3,5}teen|\w{3,5}ty(?:[ -]\w+)?)"
)
_NUMBER = rf"(?:\d+|{_TO_NINETY_NINE})"
_PART = r"(?:half|quarter)"
# What is counted by halves: pressure, weight, length, time.
_COUNTED = (
    r"(?:bars?|tons?|tonnes?|lit(?:re|er)s?|inch(?:es)?|feet|foot|met(?:re|er)s?|miles?|kilos?|grand|percent|degrees?"
    r"|hours?|days?|weeks?|months?|years?|seconds?|minutes?)"
)
_NEAR = (
    r"(?:(?:close|near)(?:by)?(?: enough)?(?: to (?:it|that|there)| it| that| there"
    r"| as makes no (?:odds|difference|matter)| as (?:damn|dammit)(?: is to swearing)?)?"
    r"|(?:around|about|in) (?:it|that|there)"
    r"|in (?:that|the) (?:(?:same|general) )?(?:ball ?park|neighbou?rhood|region|area|vicinity|range))(?=\W*$|[,;.])"
)
_SAID_TWICE = rf"\d[\d,.]*\d|{_NUMBER}(?:[ -](?:hundred|thousand|point|{_NUMBER})){{0,3}}?"
_DIGIT = "|".join(DIGIT_NAMES[1:])
_SLANG = (
    (re.compile(rf"\b(?P<tens>{TENS_SAID})(?=(?:{_DIGIT})\b)", re.IGNORECASE), r"\g<tens> "),  # "fortyfive"
    (re.compile(rf"\b(?P<of>{_DIGIT}|ten|eleven|twelve|\w+teen|{TENS_SAID})(?=(?:hundred|thousand)\b)", re.IGNORECASE),
     r"\g<of> "),
    (re.compile(rf"\b(?P<said>{_AFTER_A_NUMBER}) comma (?=(?:{_AFTER_A_NUMBER}|oh|zero)\b)", re.IGNORECASE),
     r"\g<said> point "),
    (re.compile(r"^(?:naw+|naaw|nossir|nosiree|no siree|nuh[- ]?uh|nein|nee|nay)\b(?=\W|$)", re.IGNORECASE), "no"),
    (re.compile(r"^(?:ya|yah|yea|ja|si|da|yess+ir\w*|yes'm|10-4|roger(?: that)?)(?=[,.;!]|$)", re.IGNORECASE), "yes"),
    (re.compile(rf"(?<=\w), well,? {_FIGURE_NEXT}", re.IGNORECASE), ", no, "),
    (re.compile(r"\b(?:ain't|don't|haven't|hasn't|didn't) never\b", re.IGNORECASE), "never"),
    (re.compile(r"(?<=[a-z])'d (?=(?:suit|do|be|work)\b)", re.IGNORECASE), " would "),
    (re.compile(r"\b(?:hundy|hunn?(?:id|ed|it|a)|hunnert|hunnerd|hunderd)\b", re.IGNORECASE), "hundred"),
    (re.compile(r"(?<=\w) '?n'? (?=\w)", re.IGNORECASE), " and "),
    (re.compile(rf"\b(?P<said>{_NUMBER}) and (?={_PART}\b)", re.IGNORECASE), r"\g<said> and a "),  # "two and half bar"
    (re.compile(rf"\b(?P<said>{_NUMBER}) (?P<of>{_COUNTED}) and (?:an? )?(?P<part>{_PART})\b", re.IGNORECASE),
     r"\g<said> and a \g<part> \g<of>"),  # "2 bar and a half"
    (re.compile(rf"^(?!.*\bbetween\b)(?P<said>.*\bhundred) and (?={_TO_NINETY_NINE}\b)", re.IGNORECASE), r"\g<said> "),
    (re.compile(rf"(?:,|\.{{2,}}|\u2026) ?(?:ok(?:ay)?|fine|all ?right),? {_FIGURE_NEXT}", re.IGNORECASE), ", no, "),
    (re.compile(rf"\bbut (?:honestly|really|truth(?:fully| is)|in truth|between us),? {_FIGURE_NEXT}", re.IGNORECASE),
     ", no, "),
    (re.compile(
        r"(?:\bbut|,) (?:it|they|she|he|i) (?:really |actually )?(?:tapes?|measures?|mikes?|miked?)"
        rf"(?: (?:out|up|in|it|them))?(?: (?:at|to))? {_FIGURE_NEXT}", re.IGNORECASE), ", no, "),
    (re.compile(rf"(?<![\w'])'?(?:bout(?= [\w$])|round(?= {_FIGURE_NEXT}))", re.IGNORECASE), "about"),
    (re.compile(rf"\b(?P<said>(?:{_SMALL_FIGURE})) bills\b", re.IGNORECASE), r"\g<said> hundred"),
    (re.compile(r"\b(?:the )?double nickels?\b", re.IGNORECASE), "fifty-five"),
    (re.compile(r"\boutta\b", re.IGNORECASE), "out of"),
    (re.compile(r"\b(?:nuff?ink?g?|nutt?h?in'?g?|nuffin'?|nothin'?|nowt|nuttin'?)(?![\w'])", re.IGNORECASE), "nothing"),
    (re.compile(r"\b(?:summat|sumthin'?g?|somethin'?)(?![\w'])", re.IGNORECASE), "something"),
    (re.compile(r"\b(?:owt|anythin'?)(?![\w'])", re.IGNORECASE), "anything"),
    # "325 I believe, 325 or close to it"
    (re.compile(rf"(?:(?<=[,;.] )|^)(?:it's |about |maybe )?(?P<said>{_SAID_TWICE})(?: hp| horse| psi| pounds)?"
                r"(?: (?:i|we) [a-z]+(?: to say)?)?(?:[,;.]| or)+ (?P<then>(?:about |maybe |say )?)"
                rf"(?P=said)(?![\w.-]|,\d| (?:hundred|thousand|point|and|{_NUMBER}))", re.IGNORECASE),
     r"\g<then>\g<said>"),
    (re.compile(rf",? or (?:(?:somewhere|some place|right|pretty|real|damn|very|just) )*{_NEAR}", re.IGNORECASE),
     " or so"),
    (re.compile(r"(?<=\w), (?:(?:somewhere|some place|right|pretty|real|very) )+"
                r"(?:close|near|around|about|in) (?:to )?(?:it|that|there)(?=\W*$|[,;.])", re.IGNORECASE), " or so"),
    (re.compile(r"(?<=\w),? (?:close|near) enough(?=\W*$|[,;.])", re.IGNORECASE), " or so"),
    (re.compile(r"\blotta\b", re.IGNORECASE), "lot of"),
    (re.compile(r"\bone (?=per ?cent\b|%)", re.IGNORECASE), "1 "),  # elsewhere it may be no figure
    (re.compile(r",? like (?:you|ye|ya) (?:wouldn'?t|would not|can'?t|can not) believe\b", re.IGNORECASE), " much"),
    (re.compile(r"\b(?P<what>\w+s|they) say(?= )", re.IGNORECASE), r"\g<what> says"),  # "the papers say 121"
    (re.compile(r"(?<=[\w]) thou\b(?! (?:shalt|art))", re.IGNORECASE), " thousand"),
    (re.compile(r"(?<![\d.])(\d)k(\d)(?!\w)", re.IGNORECASE), r"\1.\2k"),  # "1k5"
    (re.compile(r"\b(?P<what>[a-z]+|\d+)-?ish (?=(?:hundred|thousand|grand)\b)", re.IGNORECASE), r"about \g<what> "),
    (re.compile(r"\bhalf (?:a )?dozen\b", re.IGNORECASE), "six"),
    (re.compile(rf"\b(?P<said>\w+), (?=(?P=said) (?!(?:{_AFTER_A_NUMBER})\b)[a-z]{{3,}})", re.IGNORECASE), ""),
)
_STAMMER = re.compile(
    r"\b(?P<said>i|it|it's|the|a|my|we|he|they|that|is|and|in|on|of|to)(?: (?P=said)\b)+", re.IGNORECASE
)
_WAITS = r"(?:wait|hang on|hold on)(?: a (?:minute|sec(?:ond)?))?"
_TAKEN_BACK = re.compile(
    r"(?:\s*[,;.]\s*|\s+)(?:"
    r"(?:no|nope|oh|ah|er|uh|oops|whoops|shit|wait|sorry|actually|hang on|hold on)?,?\s*"
    r"(?:no,? (?:wait|hell|shit)|no,? (?:let's )?(?:make|call) (?:it|that)"
    rf"|(?:shit|hell|crap),? no|{_WAITS}(?:,? no)?|sorry|excuse me|make that|scratch that"
    r"|strike that|correction|i mean(?:t)?|i (?:tell a )?lie|my mistake|my bad|that'?s (?:not right|wrong)"
    r"|i take (?:it|that) back|or rather|(?:well |no )?actually|forget that)"
    r"|(?<=[,;.] )(?:no|nope|negative|er|rather|or)(?=,)"
    r"|(?:oh |ah )?(?:no|nah),? you know what|no(?= (?:more like|it's|it is|that's|i'd say|\d"
    r"|[a-z]+teen|twenty|thirty|f[io][a-z]+y\b))"
    r")(?:\s*[,;.:]\s*|\s+)(?:no,?\s+)?(?:(?:it|that)(?:'s| is|'d be| would be)?(?: actually| really| been)?\s+)?",
    re.IGNORECASE,
)

_NEVER_PAST = re.compile(
    r"\b(?:never|don't|doesn't|won't) (?:let (?:it|her|them) )?(?:sees?|seen|hits?|go|goes|gets?|climbs?|touch|touches)"
    rf"(?: (?:it|her))?(?: (?:to|over|past|above|beyond|up to))? (?!one\b){_FIGURE_NEXT}",
    re.IGNORECASE,
)
_BACKS_OFF = re.compile(
    r"\b(?:i|we|he|she)(?:'m| am|'s|'ll)? (?:always |usually |just )?"
    r"(?:back|let|lift|ease|get|come|roll|pull|out|cut|off|quit|drop)\w*"
    r"(?: (?:off|out|up|back|down|it|of it|of the throttle|the throttle|a gear))* (?:before|by the time)"
    rf"(?: (?:it|she|that|the (?:pyro|gauge|needle|boost)))?(?:'s|'d)?(?: \w+){{0,3}}? {_FIGURE_NEXT}",
    re.IGNORECASE,
)
_NOR_MORE = re.compile(
    r"[,;.]? *(?:and |so |but )*(?:(?:it|i|she|he|we)(?:'s|'ve|'ll| has| have)? ?)?(?:been |is )?never\b[^\d]*$",
    re.IGNORECASE,
)
_RESERVED = re.compile(
    r"[,;.]?\s*(?:(?:but|so|and) )?(?:please )?(?:(?:don't|do not) (?:you )?"
    r"(?:hold|quote|pin) me(?: (?:to|on|down to))?(?: (?:it|that|this))?(?: (?:now|though))?"
    r"|i (?:wouldn't|won't|can't|couldn't) swear to (?:it|that))(?=\W*$|[,;.])",
    re.IGNORECASE,
)
_FIGURED = re.compile(
    r"\d|\b(?:two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|\w+teen"
    rf"|{TENS_SAID}|hundred|thousand)\b",
    re.IGNORECASE,
)
_OF_ANOTHER = re.compile(
    r"\s*[,;.]\s*(?:oh |wait,? |hang on,? )?(?:no|nope|nah|sorry|wait)\b,?(?: (?:wait|sorry|hang on|hold on),?)? "
    r"(?:that's|that is|that was|that'd be|thats|it's|that would be|those are|those were|this is)"
    r"(?: \w+'?\w*){1,7}?\s*(?:[,;.:]|\bbut\b)\s*(?=\D)",
    re.IGNORECASE,
)
# That a figure is meant roughly.
HEDGED = re.compile(
    r"\b(?:about|around|roughly|maybe|perhaps|probably|possibly|(?:i|we)(?:'d)? (?:suppose|guess|reckon|think|figure"
    r"|believe|say)|guess(?:ing)?|think|reckon|believe|ish|or so|(?:there)?abouts|give or take|near enough|call it"
    r"|more or less)\b",
    re.IGNORECASE,
)
_WITHIN = re.compile(r"(?<=\w)-(?:fuck|freak|friggin|frick|god|damn)\w*-(?=\w)", re.IGNORECASE)
_ANY = re.compile(r"\w")
_TIDIED = (
    (re.compile(r"\s+"), " "),
    (re.compile(r"\s+([,.;!?])(?!\d)"), r"\1"),
    (re.compile(r"\b(or|to|and), (?=\w)"), r"\1 "),
    (re.compile(r"([,;])(?:\s*[,;])+"), r"\1"),
    (re.compile(r"^[\s,;.!?]+(?=\S)(?!\d)|[\s,;]+$"), ""),
)
_RATHER = re.compile(r"^(?:(?:probably|maybe) )?(?:more like|closer to|nearer to) ", re.IGNORECASE)


@lru_cache(maxsize=AT_HAND)
def settle(words: str) -> str:
    """What is said without fillers, swearing, forms of address and stutters; the words themselves where nothing else
    is left."""
    words = _STARTED.sub("", words)
    for pattern, meant in _SLANG:
        words = pattern.sub(meant, words)
    text = _PAUSE.sub(", ", _STUTTER.sub(r"\g<said>", words))
    text = _WITHIN.sub(" ", text)
    for _ in range(3):  # one stands behind the other: "well, uh, hell"
        before = text
        for pattern in (_LINE, _SWEARING, _FILLER, _OPENING, _ADDRESS):
            text = _tidy(pattern.sub(" ", text))
        text = _STAMMER.sub(r"\g<said>", text)
        if text == before:
            break
    return text if _ANY.search(text) else words


def bounded(words: str, backs_off: bool) -> str:
    """What never goes past a figure as at most so much: "never let it see thirteen hundred"; with ``backs_off`` also "I
    back off before it hits forty so never over that"."""
    if backs_off and (before := _BACKS_OFF.search(words)):
        return f"under {_NOR_MORE.sub('', words[before.end() :])}"
    return _NEVER_PAST.sub("under ", words)


def taken_back(words: str) -> list[re.Match[str]]:
    """Where something is taken back: "no wait", "er, no sorry"; last first."""
    return list(reversed(list(_TAKEN_BACK.finditer(words))))


def corrected(words: str) -> Iterator[str]:
    """What is said after something was taken back: last first."""
    for taken in taken_back(words):
        if words[: taken.start()].strip() and words[taken.end() :].strip():
            yield _RATHER.sub("about ", words[taken.end() :].strip())


def without_reserve(words: str) -> str:
    """What is said without the remark that he isn't to be held to it; "" without one."""
    return _RESERVED.sub("", words).strip(" ,;") if _RESERVED.search(words) else ""


def denied(words: str) -> tuple[str, str] | None:
    """What was said first and what stands instead, where the first is taken back as that of something else: "22,000,
    no, that's combined. the trailer is 16"; None without that."""
    for found in _OF_ANOTHER.finditer(words):
        first, rest = words[: found.start()].strip(), words[found.end() :].strip()
        if re.search(r"\w", first) and re.search(r"\w", rest) and not _FIGURED.search(found[0]):
            return first, rest
    return None


def hums(words: str) -> bool:
    """Whether an answer trails off in a hum: "yes; working... ehm"."""
    return _HUM.search(words) is not None


@lru_cache(maxsize=AT_HAND)
def _tidy(text: str) -> str:
    for pattern, meant in _TIDIED:
        text = pattern.sub(meant, text)
    return text
