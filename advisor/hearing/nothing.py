"""Free text that says that there is nothing, whatever else he wants: "nothing, it's fine, I just want nine hundred"."""

import re

_WRONG = r"(?:wrong|bad|the matter|broken)"
_WITH_IT = (
    r"(?: with (?:it|her|him|that one|mine|the (?:one|turbo|truck|old one|stock one)(?: on it| (?:that )?i have"
    r"| (?:that )?i've got| that's on it)?))?"
)
_FINE = r"(?:fine|good|great|ok|okay|perfect|well|strong|alright|like a top|quiet|clean)"
_RUNS = r"(?:all |just |pretty |running |runs |works |drives )*"
_IT = r"(?:it|she|he|they|everything|the truck|truck)"
_NOR = r"(?:and )?(?:it |she |he )?(?:don't|doesn't) (?:smoke|leak|bark|whistle|smell)"
_NOTHING = re.compile(
    r"(?:(?:nah|no|nope|well|oh)[,.]? )*"
    r"(?:nothing(?: else)? (?:bothers|bugs|annoys) me(?: about it)?|nothing else|nothing|none|nope|no|nah|not a thing"
    r"|no (?:trouble|problem|complaint|issue)s?"
    rf"|(?:(?:there|it|she|he)(?:'s| is)? )?(?:(?:ain't|isn't|not) (?:nothing|anything|nothin)|nothing(?:'s| is)?"
    rf"|nothin) {_WRONG}{_WITH_IT}"
    r"|(?:it|she|he) (?:don't|doesn't|does) (?:do )?(?:nothing|anything)(?: wrong| bad| i don't like)?"
    rf"|{_IT}(?:'s| is)? {_RUNS}{_FINE}(?: as it is)?"
    r"|i(?:'m| am) (?:happy|pleased) (?:with it|as it is))"
    r"(?: (?:really|at all|wrong|with it|much|comes to mind|that i can think of|to speak of|i can think of))*"
    r"(?:[, ]+(?:no idea|i guess|i suppose|honestly|sir))*"
    rf"(?:[,.;!]+ ?(?:(?:and )?{_IT}(?:'s| is|'re)? ?{_RUNS}{_FINE}(?: {_NOR})?|{_NOR}"
    r"|(?:and |but |i |we |i'm |just |only )*(?:want|wants|wanna|need|looking|after|like)\b[^,;.]*))*\W*",
    re.IGNORECASE,
)


def says_nothing(said: str) -> bool:
    """Whether the whole of what is said is that there is nothing."""
    return _NOTHING.fullmatch(said) is not None
