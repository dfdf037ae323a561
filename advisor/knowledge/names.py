"""What may name a fact or a choice, so that conditions can hold it."""

import re

from .fields import Wrong

_NAME = re.compile(r"[a-z][a-z0-9'-]*(?: [a-z0-9][a-z0-9'-]*)*")
_GRAMMAR_WORD = re.compile(r" (and|or|is|includes?|do|does)(?= |$)")
_CHOICE_WORD = re.compile(r"(known|not|one of|between)\b|.*,|.*\b(not sure)$")
FACT_SPELT = rf"^(?!.*{_GRAMMAR_WORD.pattern}){_NAME.pattern}$"
CHOICE_SPELT = rf"^(?!{_CHOICE_WORD.pattern})"


def fact_name(words: str) -> str:
    """A name that conditions can hold; raises `Wrong`."""
    if len(words) > 60 or not _NAME.fullmatch(words):
        raise Wrong(f"'{words}' can't name a fact", "use lower-case words, digits and hyphens, a letter first")
    if found := _GRAMMAR_WORD.search(words):
        raise Wrong(f"'{words}' can't name a fact", f"leave out '{found[1]}', conditions are made with it")
    return words


def choice_name(words: str) -> str:
    """A name that may stand after `is` and in a list; raises `Wrong`."""
    if not words or len(words) > 60:
        raise Wrong("a choice needs a name of at most 60 characters", "write a few words")
    if found := _CHOICE_WORD.match(words):
        shown = "','" if "," in found[0] else f"'{found[1] or found[2]}'"
        raise Wrong(f"'{words}' can't name a choice", f"leave out {shown}, conditions are made with it")
    return words
