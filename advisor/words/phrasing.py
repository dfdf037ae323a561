"""A spoken phrase as the tokens of the grammar: idioms written as marks, dashes told apart.

The marks: "~" about, "<" and ">" before a bound, "<=" and ">=" before or after one, "<<" just under, ">>"
just over, "+-" a spread, "to" and "ormaybe" between two ends, "onein" a slope. "~s" stands after a plural
("33s", "thirties").
"""

import re

from advisor.quantities import Quantity

from .numerals import read_numeral, singular
from .speech import plain

QUALIFIER = {
    "low": (0.0, 0.4),
    "lower": (0.0, 0.4),
    "mid": (0.3, 0.7),
    "middle": (0.3, 0.7),
    "high": (0.6, 1.0),
    "upper": (0.6, 1.0),
}

_HEDGES = (
    r"or so|(?:or )?thereabouts|more or less|give or take(?: a bit| a little| a few)?"
    r"|i (?:think|guess|reckon|suppose|believe)|i'd (?:say|guess)"
)
# Phrases taken to marks, longest first: ~ about, <= up to, >= from, << just under, >> just over, to, or-so.
_APART = r"(?<![a-z])(?:{})(?![a-z])"
_MARKS = tuple(
    (re.compile(pattern if pattern.startswith("(?") else _APART.format(pattern)), f" {mark} ")
    for pattern, mark in (
        (r"(?:plus or minus|plus minus|plus/minus)|(?:give or take)(?=\s*[\d.a-z]*\d"
         r"|\s+(?:a (?:hundred|thousand|pound|degree)|one|two"
         r"|three|four|five|ten|twenty|fifty|hundred))", "+-"),
        (r"(?:give or take)(?: a bit| a little| a few)?", "~"),
        (r"(?:no|not|nothing|never|not any|not an? (?:penny|dime|cent|dollar|pound|hair|inch|degree))"
         r"(?: much)? (?:more|bigger|better|larger|higher|greater|faster|steeper|worse|hotter|longer|heavier|later|over"
         r"|above|beyond)(?: than)?", "<"),
        (r"(?:no|not|nothing|never) (?:less|lower|slower|smaller|fewer|sooner|earlier|under|below)(?: than)?", ">"),
        (r"or (?:more|better|above|over|higher|bigger|greater|later|so more)|and (?:up|over|above)"
         r"|minimum|at (?:the )?least|at a minimum", ">="),
        (r"or (?:less|under|below|smaller|lower|fewer|sooner|earlier|before)|and under|maximum|max|tops|at (?:the "
         r")?most|at the outside", "<="),
        (r"or so|or thereabouts|thereabouts|or there about|ish|more or less|i (?:think|guess"
         r"|reckon|suppose|believe)|i'd (?:say|guess)", "~"),
        (r"just (?:under|below|shy of|short of)|a (?:little|bit|touch|hair|shade) (?:under|below"
         r"|less than)|nearly|almost|not quite|close on|pushing|shy of", "<<"),
        (r"(?:just|a (?:little|bit|touch|hair|shade)) (?:over|above|more than|better than|north of)", ">>"),
        (r"(?:well )?(?:more|better|greater|higher|bigger) than|(?:well )?(?:over|above)|north of"
         r"|upwards of", ">"),
        (r"(?:well )?(?:less|lower|smaller|fewer) than|(?:well )?(?:under|below)|south of|up to|within"
         r"|inside(?: of)?", "<"),
        (r"approximately|approx|around|about|roughly|close to|near|somewhere (?:around|about"
         r"|near)|ca|circa|like(?= ?[$\d.]| (?:a|an|one|two|three|four|five|six|seven|eight|nine|ten"
         r"|eleven|twelve|half|about|around"
         r"|between|maybe|\w+teen|\w+ty|the|in)\b)|say|probably|call it|or about", "~"),
        (r"through|thru|or", "to"),
        (r"maybe|perhaps|possibly", "ormaybe"),
    )
)  # fmt: skip
_FRACTIONS = {
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
    "⅓": "1/3",
    "⅔": "2/3",
}
_SYMBOLS = str.maketrans(
    {character: f" {text} " for character, text in _FRACTIONS.items()}
    | {"\u2044": "/", "²": "2'sup", "³": "3'sup", "·": " ", "⋅": " "}
    | {"±": " +- ", "≈": " ~ ", "≤": " <= ", "≥": " >= "}
)
_SYMBOLS |= {0xFF01 + i: chr(0x21 + i) for i in range(94)}  # full-width forms
_TOKEN = (
    r"(?P<power>(?:mm|cm|in)\s?(?:\^|\*\*)?[23](?:'sup)?(?![\d.]))"
    r"|(?P<number>\d+(?:[.,]\d+)*|[.,]\d+)(?P<plural>'?s(?![a-z]))?"
    r"|(?P<word>a/r|°?[a-z]+(?:'[a-z]+)?)"
    r"|(?P<mark>\+-|<=|>=|<<|>>|''|\S)"
)


def normal(text: str, kind: Quantity) -> str:
    """The phrase in lower case with its idioms written as marks."""
    text = plain(text.translate(_SYMBOLS))
    if len(text) > 1 and text[0] == '"' == text[-1] and text.count('"') == 2:
        text = text[1:-1]
    if text.endswith("?"):
        text = "~ " + text.rstrip("? ")
    text = text.rstrip("! .;,")
    text = re.sub(r"(?<=[a-z\d])-?ish\b", " ish", text)
    text = re.sub(r"(?<=[a-z])\.(?=\d)", " ¤ ", text)
    text = re.sub(r"(?<=[a-z])\.|(?<=\d)\.(?!\d)", "" if re.search(r"[a-z]\.[a-z]", text) else " ", text)
    text = re.sub(
        r"\b(?:has|have|needs?|want|wants|like|hoping) (?:to|for)(?: (?:make|be|have|run|see))?\b"
        r"|\b(?:i'd|would|we'd) like\b",
        "i",
        text,
    )
    text = re.sub(
        r"^(?:somewhere |anywhere |something |anything )+(?=between|from|in|around|about|near|like)", "", text
    )
    if kind.name in ("mass flow", "speed", "rotation", "pressure"):
        text = re.sub(r"\s(?:per|an?|in (?:the|an|one)) (?=(?:hour|minute|second|hr|min|sec|square)\b)", " / ", text)
    if kind.name == "speed":
        text = re.sub(r"(?<=[\da-z])\s?k'?s? / (?=h)", " km / ", text)
    if kind.name == "percent":
        text = re.sub(rf"(?<=[\da-z%]) over(?: (?:the )?stock)?(?: injectors?)?(?=$|,? (?:{_HEDGES})$)", "", text)
        text = re.sub(r"(?<=[\da-z%]) overs?(?=,? (?:maybe|perhaps|or|to) )", "", text)
        text = re.sub(r"\b(?:of )?(?:the|his|our|my) time$|\bof (?:it|the driving|the miles)$", "", text)
        text = re.sub(r"^(?:1|one) in (?:a |an )?(?=[a-z\d])", "onein ", text)
    elif kind.name == "rotation":
        text = re.sub(r"\b(?:revolutions|revs|turns|r) ?/ ?(?:minute|min)\b", "rpm", text)
    elif kind.name == "power":
        text = re.sub(
            r"\s(?:at|to|on) the (?:wheels?|crank|flywheel|rear wheels|ground|tyres|tires)$", "", text
        )
    elif kind.name == "temperature":
        text = re.sub(r"^(?:it's |about )?(?=.* below(?: zero)?$)(.*) below(?: zero)?$", r"minus \1", text)
    elif kind.name == "altitude":
        text = re.sub(r"^(.*\d.*|.*(?:feet|foot|metres?|meters?).*) below sea level$", r"minus \1", text)
        text = re.sub(r"\babove (?:mean )?sea level$", "", text)
        text = re.sub(r"\bsea level\b", "0 ft", text)
    elif kind.name == "mass":
        text = re.sub(r"\btons?\b([a-z ]*),? (?:and )?metric\b", r"tonnes\1", text)
    elif kind.name == "volume":
        text = re.sub(
            r"\b(?:ccs?|cubes|cubic cent\w+) ?(?:per|/|in|a) ?(?:a )?(?:thousand|1,?000)(?: strokes?| shots?)?",
            "mm3",
            text,
        )
        text = re.sub(r"\bcubes (?:per|/|a|each) (?:stroke|shot)$", "mm3", text)
        text = re.sub(r"\bper stroke$|\b(?:a|per) shot$", "", text)
    elif kind.name == "count":
        text = re.sub(r"\bper (?:cylinder|hole|pot)$", "", text)
        text = re.sub(r"\bv[- ]?(?=\d|six|eight|ten|twelve)", "", text)
    elif kind.name == "torque":
        text = re.sub(r"(?<=[a-z])-(?=[a-z])", " ", text)
    for pattern, mark in _MARKS:
        text = pattern.sub(mark, text)
    return text


def tokens(text: str) -> list[str]:
    """Words, figures and marks; dashes told apart: "to-dash" between figures, "minus" before one, nothing
    inside words.
    """
    found: list[str] = []
    numbers_seen = False
    last_end = 0
    for match in re.finditer(_TOKEN, text):
        spaced = match.start() > last_end
        last_end = match.end()
        item = match.group()
        if match["power"]:
            item = re.sub(r"\s|\^|\*\*|'sup", "", item)
        elif match["number"]:
            found.append(match["number"])
            numbers_seen = True
            if match["plural"]:
                found.append("~s")
            continue
        elif match["word"]:
            stem = singular(item)
            numbers_seen = (
                numbers_seen
                or item in ("hundred", "thousand", "ten", "half")
                or bool(read_numeral([item], 0))
                if item != "point" and item != "couple"
                else numbers_seen
            )
            if stem:
                found += [stem, "~s"]
                numbers_seen = True
                continue
        elif item == "''":
            item = '"'
        elif item == "-":
            nearby = text[match.end() : match.end() + 1]
            after = text[match.end() :].lstrip()[:1]
            if after.isdecimal() or after in (".", "$"):
                before = found[-1] if found else ""
                if before in QUALIFIER or before == "v":
                    continue
                ranged = numbers_seen and before not in ("to", "to-dash", "-", "minus", "between", "and")
                item = "to-dash" if ranged else "minus" if nearby.isdecimal() or nearby == "." else "-"
            elif not spaced or nearby not in ("", " "):
                continue
            elif numbers_seen and after:
                item = "to"
        found.append(item)
    return found
