"""A bare decimal that names an engine: "my dad's 5.9", "shaft snapped, 6.7", "the 3.0 diesel wagon".

The litres of an engine are the one figure that everybody says without its unit (common practice, no source). It is told
from the inches of a class limit, from gears, seconds and shares by what stands beside it.
"""

import re

from advisor.quantities import QUANTITIES

LEAST, MOST = 1.2, 16.0
_DECIMAL = re.compile(r"(?<![\w.,/$£€-])(?P<figure>\d{1,2}\.\d)(?![\d%\"'/:]|[.,]\d|[a-z]{1,3}\d)", re.IGNORECASE)
_OTHER_UNITS = "|".join(
    sorted(
        {re.escape(alias) for name, kind in QUANTITIES.items() if name != "volume" for alias in kind.aliases
         if alias[0].isalpha() and len(alias) > 1 and alias != "in"},
        key=len,
        reverse=True,
    )
)  # fmt: skip
_OF_SOMETHING_ELSE = re.compile(
    rf"[ -]?(?:(?:{_OTHER_UNITS}|[cfkt]|in(?! (?:an?|my|the|her|his|our) )|inch)(?![a-z'])"
    r"|(?:to|or|and a|x|by|times|over) ?(?:\d|one\b)"
    r"|(?:pulling |smooth |map |limited |pro )*(?:class|limit|rule|inducer|exducer|bore|charger|snail"
    r"|turbo(?!s? ?diesel)"
    r"|wheel|smoothie|compressor|housing|a/?r\b|exhaust|pipe|down ?pipe|stack|gears?|gearing|rears?|rear end|axles?"
    r"|diffs?|ratio|compression|hundred|thousand|million|sixty|quarter|eighth|flat|pass|pull|grade|hill|slope))",
    re.IGNORECASE,
)
_ENGINE_AFTER = re.compile(
    r"[ -](?:[a-z0-9'-]+ ){0,2}?(?:diesels?|truck|pick-?up|wagon|van|camper|motorhome|bus|suv|car|jeep|dually|tractor"
    r"|rig|engine|motor|common rail|turbo ?diesel|straight six|inline|v ?-?[68]|(?:12|24|32|twelve|twenty ?four)"
    r"[ -]?v(?:alves?)?|(?:four|six|eight|[468])[ -]cylinders?|crew cab|one ton|half ton|daily)\b",
    re.IGNORECASE,
)
_FAMILY = r"(?:dad|father|pop|mom|mum|mother|wife|husband|son|daughter|boss|grandpa|granddad|old man|old lady|missus)"
_WHOSE = re.compile(
    rf"\b(?:{_FAMILY}'?s'?|(?!(?:plug|class|rule|limit|inducer)'s)\w+[a-z]'s|\w+s'|my|our|same|this here|old|stock"
    r"|(?:19|20)\d\d|(?<!\w)'\d\d) $",
    re.IGNORECASE,
)
_CLAUSE_STARTS = re.compile(
    r"(?:^|[,;.!?:]\s+|\b(?:and|but|so|on|for|with|in) )(?:(?:it|she|mine|truck|that)(?:'s| is)? |just |only |have "
    r"|i have |i've got |got |an? |well |oh |the engine is )*$",
    re.IGNORECASE,
)
_CLAUSE_ENDS = re.compile(
    r"\s*(?:$|[,;!?]|\.(?!\d)|\b(?:and|but|that|which|so|because|with)\b|\bin (?:an?|my|the) )", re.IGNORECASE
)
_IN_INCHES = re.compile(
    r"\b(?:class|inducer|smooth ?bore|limit|plugs?|inch(?:es)?|sleds?|puller|pulling)\b", re.IGNORECASE
)
_CLASSES = (2.2, 3.7)  # inches that a pulling class names
_TIMED = re.compile(
    r"\b(?:seconds?|quarter|eighth|e\.?t\.?s?|ran|runs an?|slip|(?:60|sixty) (?:foot|ft))\b", re.IGNORECASE
)
_MEASURED = re.compile(
    r"\b(?:gears?|axle|rear end|compression|grade|percent|bar|rated|rating|weighs?)\b", re.IGNORECASE
)


def at(words: str, surely: bool = False) -> list[tuple[int, int]]:
    """Where bare decimals stand that name an engine; ``surely``: only those that whose truck or what engine it is
    stands beside, and none that stands by itself."""
    found = []
    for hit in _DECIMAL.finditer(words):
        before, after = words[: hit.start()], words[hit.end() :]
        if not LEAST <= float(hit["figure"]) <= MOST or _OF_SOMETHING_ELSE.match(after):
            continue
        whose = _WHOSE.search(before)
        named = _ENGINE_AFTER.match(after) or (whose and (not surely or whose[0].strip().lower() not in ("my", "old")))
        clause = _CLAUSE_STARTS.search(before) and _CLAUSE_ENDS.match(after) and not surely
        if named or (clause and not _else(words, hit)):
            found.append(hit.span("figure"))
    return found


def _else(words: str, hit: re.Match[str]) -> bool:
    """Whether a decimal that stands by itself may be what else the words speak of."""
    inches = _CLASSES[0] <= float(hit["figure"]) <= _CLASSES[1] and _IN_INCHES.search(words)
    alone = len(re.findall(r"\d[\d.,]*", words)) == 1
    return bool(inches or _TIMED.search(words) or (alone and _MEASURED.search(words)))


def elsewhere(words: str, start: int, end: int) -> bool:
    """Whether a figure is none of litres: what stands beside it says so, or another figure names the engine."""
    return _OF_SOMETHING_ELSE.match(words, end) is not None or any(one != start for one, _ in at(words))


def stands_at(words: str, start: int) -> bool:
    """Whether the figure that begins there names an engine."""
    return any(start == one for one, _ in at(words))


def without(words: str) -> str:
    """The words without figures that surely name an engine, so that none passes for the size of a turbo."""
    for start, end in reversed(at(words, surely=True)):
        words = f"{words[:start]} {words[end:]}"
    return words
