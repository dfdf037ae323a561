"""What a caller says, made safe to handle, and choices picked out of it.

`clean` is the one sanitiser of caller's text. The readers here take words to names of choices; numbers are
read in `units`.
"""

import re
import unicodedata
from collections.abc import Iterable, Sequence

CAP = 500  # characters kept of anything a caller says

Choices = Sequence[tuple[str, Sequence[str]]]

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
    r"|dunno|couldn't (?:tell you|say)|can't (?:say|tell|remember)|cannot (?:say|tell)|beats me"
    r"|who knows|idk|you tell me"
    r"|(?:i'd |i would )?have to (?:look|check|ask)|hard to say|no way of knowing|search me|n/a|\?+"
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
_NEGATION = (
    r"\b(?:no|not|never|neither|nor|without|isn't|isnt|ain't|don't|dont|doesn't|doesnt|won't|wont"
    r"|hasn't|haven't|can't|cannot|wouldn't|nothing"
    r"|rather than|instead of|except|other than|anything but|no longer|none of|hardly|used to"
    r"|didn't|wasn't)\b"
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


_CLAUSE_WORDS = r"\b(?:(?<!anything )but|just|only|though|however|mostly|mainly)\b"
_NONE = (
    r"(?:no|nope|nah|none|nothing|neither|not any|without"
    r"|(?:it |he |i |we )?(?:doesn't|don't|hasn't|haven't)(?: have| got)?)"
    r"(?: (?:of (?:them|those|it)|one|any|at all|i don't|it doesn't|sir|ma'am|there|fitted))*"
)
_DIGITS = dict(
    zip(
        ["two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"],
        ["2", "3", "4", "5", "6", "7", "8", "9", "10"],
        strict=True,
    )
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
    text = re.sub(_ESCAPES, " ", text[: 20 * CAP])
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


def is_unsure(words: object) -> bool:
    """Whether the words say "I don't know" and nothing besides; "not sure, about 35" carries a figure and is
    not unsure.
    """
    text = plain(words)
    rest, found = re.subn(_UNSURE, " ", text)
    if not found or re.search(_NUMBERISH, rest):
        return False
    return all(word in _EMPTY for word in re.findall(r"[^\s,.;:!?-]+", rest))


def _stems(text: str) -> list[str]:
    """Words without their endings: "towing" and "tow" meet, and so do "T-4" and "T4", "two" and "2"."""
    text = re.sub(r"\b([a-z])[- ](\d)", r"\1\2", text.replace("'", "")).replace("-", " ")
    return [
        _DIGITS.get(word) or (re.sub(r"(?<=\w{3})(?:ing|ed|s)$", "", word) if len(word) > 3 else word)
        for word in re.findall(r"[a-z0-9./]*[a-z0-9]", text)
    ]


def _places(text: str, phrase: str) -> list[int]:
    """Word positions at which a phrase stands in the text; endings don't count."""
    here, wanted = _stems(text), _stems(phrase)
    if not wanted:
        return []
    return [i for i in range(len(here) - len(wanted) + 1) if here[i : i + len(wanted)] == wanted]


def _mentions(text: str, choices: Choices) -> dict[str, int]:
    """Which choices a stretch of text names, with the length in words of the longest phrase; a phrase inside
    a longer one doesn't count.
    """
    spans: list[tuple[int, int, str]] = []
    for name, aliases in choices:
        for phrase in {plain(name), *map(plain, aliases)}:
            size = len(_stems(phrase))
            spans += [(at, at + size, name) for at in _places(text, phrase)]
    best: dict[str, int] = {}
    for start, end, name in spans:
        covered = any(
            s <= start and end <= e and e - s > end - start for s, e, other in spans if other != name
        )
        if not covered:
            best[name] = max(best.get(name, 0), end - start)
    return best


def _clauses(text: str) -> list[tuple[bool, str]]:
    """The stretches of a sentence, each with whether it is negated.

    A negation reaches to the next comma, "but" or "just"; it also reaches over "or" ("no towing or sled").
    """
    parts: list[tuple[bool, str]] = []
    for stretch in re.split(rf"[,;:.!?](?!\d)|{_CLAUSE_WORDS}", text):
        negated = False
        at = 0
        for match in re.finditer(_NEGATION, stretch):
            parts.append((negated, stretch[at : match.start()]))
            negated, at = True, match.end()
        rest = stretch[at:]
        if negated and (turn := re.search(r"\band\b", rest)):
            # "no towing and daily driving" may mean either; taken apart only so that the reader can refuse it
            parts += [(True, rest[: turn.start()]), (True, rest[turn.end() :])]
        else:
            parts.append((negated, rest))
    return [(negated, part.strip()) for negated, part in parts if part.strip()]


def _offer(choices: Choices) -> str:
    names = [name for name, _ in choices]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def _not_understood(text: str, choices: Choices) -> Unclear:
    shown = text if len(text) <= 60 else text[:57] + "..."
    import difflib  # here, since most answers need no suggestion and starting up should stay quick

    phrases = {plain(phrase): name for name, aliases in choices for phrase in (name, *aliases)}
    near = difflib.get_close_matches(text[:80], phrases, n=1, cutoff=0.6)
    if not near:
        for word in text.split()[:40]:
            if len(word) > 2 and (near := difflib.get_close_matches(word, phrases, n=1, cutoff=0.72)):
                break
    if near:
        return Unclear(
            f'"{shown}" isn\'t one of them; did you mean {phrases[near[0]]}?', f"one of: {_offer(choices)}"
        )
    return Unclear(f'"{shown}" doesn\'t say which it is: {_offer(choices)}?', f"one of: {_offer(choices)}")


def _heard(words: object, choices: Choices) -> tuple[str, dict[str, int], set[str]]:
    """The text, the choices said, and the choices said with a negation."""
    text = plain(words)
    if any(name == "none" for name, _ in choices) and re.fullmatch(
        _NONE, text.replace(",", "").rstrip(" .!")
    ):
        return text, {"none": 1}, set()
    # phrases that hold a negation or a clause word themselves ("no gate", "race only") are looked for whole
    said: dict[str, int] = {}
    denied: set[str] = set()
    whole = [(plain(phrase), name) for name, aliases in choices for phrase in (name, *aliases)]
    for phrase, name in sorted(whole, key=lambda pair: -len(pair[0])):
        if not re.search(f"{_NEGATION}|{_CLAUSE_WORDS}", phrase):
            continue
        pattern = rf"(?P<no>\b(?:not|isn't|never|no)\b(?: an?| the)? )?(?<![\w-]){re.escape(phrase)}(?!\w)"
        for hit in re.finditer(pattern, text):
            if hit["no"]:
                denied.add(name)
            else:
                said[name] = max(said.get(name, 0), len(phrase.split()))
        text = re.sub(pattern, " , ", text)
    for negated, part in _clauses(text):
        found = _mentions(part, choices)
        if negated:
            denied |= set(found)
        else:
            for name, size in found.items():
                said[name] = max(said.get(name, 0), size)
    return text, said, denied


def read_choice(words: object, choices: Choices) -> str:
    """The one choice that the words name, by its name or one of its aliases.

    `choices` are pairs of name and aliases. Raises Unclear for none, for several, and for a choice said with
    "not", with the nearest name.
    """
    if not plain(words):
        raise Unclear(f"which is it: {_offer(choices)}?", f"one of: {_offer(choices)}")
    _, said, denied = _heard(words, choices)
    if len(said) == 1 and not set(said) & denied:
        return next(iter(said))
    if len(said) > 1:
        named = " and ".join(name for name, _ in choices if name in said)
        raise Unclear(f"that names {named}; which one is it?", f"one of: {_offer(choices)}")
    left = [name for name, _ in choices if name not in denied]
    if denied and len(left) == 1 and len(choices) > 1:
        raise Unclear(f"not {' or '.join(sorted(denied))}: is it {left[0]} then?", f"say {left[0]}")
    if denied:
        raise Unclear(f"not {' or '.join(sorted(denied))}; which is it then?", f"one of: {', '.join(left)}")
    raise _not_understood(plain(words), choices)


def read_several(words: object, choices: Choices) -> frozenset[str]:
    """All choices that the words name ("mostly towing, some strip"); "both" and "all of it" where the choices
    allow it.

    Raises Unclear when nothing is named, and when a choice is both said and denied.
    """
    text = plain(words)
    if not text:
        raise Unclear(f"which of them: {_offer(choices)}?", f"one or more of: {_offer(choices)}")
    _, said, denied = _heard(words, choices)
    clash = set(said) & denied
    if clash:
        raise Unclear(f"is {' and '.join(sorted(clash))} in or out?", f"one or more of: {_offer(choices)}")
    if re.search(r"\b(?:no|not)\b.*\band\b", text) and denied:
        tail = re.search(r"\b(?:no|not|without)\b[^,;.]*\band\b(?P<rest>[^,;.]*)", text)
        doubtful = _mentions(tail["rest"], choices) if tail and not re.search(_NEGATION, tail["rest"]) else {}
        if doubtful:
            raise Unclear(
                f"is {' and '.join(sorted(doubtful))} in or out?", f"one or more of: {_offer(choices)}"
            )
    if said:
        return frozenset(said)
    names = [name for name, _ in choices if name != "none"]
    everything = re.search(
        r"\b(?:all of (?:it|them|the above)|everything|the lot|every one|all (?:two|three|four|five|six))\b",
        text,
    )
    if not denied and not re.search(_NEGATION, text):
        if everything or (len(names) == 2 and re.search(r"\bboth\b", text)):
            return frozenset(names)
        if re.search(r"\b(?:both|bit of (?:both|each|everything|all)|some of each|a mix)\b", text):
            raise Unclear(f"both of which: {_offer(choices)}?", f"for example {names[0]} and {names[-1]}")
    if denied:
        left = [name for name in names if name not in denied]
        raise Unclear(f"not {' or '.join(sorted(denied))}; which then?", f"one or more of: {', '.join(left)}")
    raise _not_understood(text, choices)


def read_yes_no(words: object) -> bool:
    """True for yes, False for no; Unclear for neither or for both ("yes and no", "not always")."""
    text = plain(words)
    question = Unclear("is that a yes or a no?", "yes or no")
    if (
        not text
        or is_unsure(text)
        or re.search(
            r"\b(?:not (?:always|sure|yet|really|quite|exactly)|sometimes|maybe|perhaps|depends"
            r"|kind of|sort of)\b",
            text,
        )
    ):
        raise question
    # "no problem" and the like say yes to the asker; a "right" or "sure" after a no is a filler
    text = re.sub(r"\bno (?:problem|worries|doubt|question)\b|\bwhy not\b|\bnot a problem\b", "yes", text)
    text = re.sub(
        r"\b(?:of course|certainly|absolutely|definitely|sure|right) not\b|\bnuh[- ]uh\b", "no", text
    )
    text = re.sub(r"\b(?:uh|mm|mhm)[- ]?h(?:u|m+)h?m?\b", "yes", text)
    no = re.search(_NO, text)
    yes = re.search(_YES, text)
    if no and not yes:
        if len(re.findall(_NO, text)) > 1 and not re.match(r"(?:no|nope|nah|never|negative)\b", text):
            raise question
        return False
    if yes and not no:
        return True
    if yes and no:
        opening = re.match(r"(?:well |uh |um |oh |er )*(?P<word>\w+)", text)
        firm = opening["word"] if opening else ""
        if firm in ("no", "nope", "nah", "negative") and not re.search(
            r"\b(?:yes|yeah|yep|but|wait|actually)\b", text
        ):
            return False
    raise question


def nearest(word: str, names: Iterable[str]) -> str | None:
    """The name that looks most like a word, or None when none comes near."""
    import difflib

    match = difflib.get_close_matches(word, list(names), n=1, cutoff=0.6)
    return match[0] if match else None
