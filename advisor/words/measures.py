"""The units that somebody names, whatever it is that he tells: signs of what he speaks in."""

import re
from collections.abc import Mapping

_SPOKEN = r"\w+(?:teen|ty)|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|hundred|thousand|half|few"
_FIGURE = rf"(?:(?<![\w.])[\d.,]*\d ?|\b(?:{_SPOKEN}) )"
_METRIC = {
    "kg": rf"\bkilos?\b(?! ?(?:met|watt))|\bkilograms?\b|{_FIGURE}(?:kgs?|tonnes?)\b",
    "km/h": rf"{_FIGURE}(?:kmh|km/h|kph|kays|kms?)\b|\bkilomet(?:re|er)s?\b",
    "bar": rf"{_FIGURE}(?:bar|kpa|kilopascals?)\b",
    "m": rf"{_FIGURE}(?:m|met(?:re|er)s?)\b",
    "°C": rf"{_FIGURE}°? ?c\b|{_FIGURE}degrees c\b|\b(?:celsius|centigrade)\b",
    "kW": rf"{_FIGURE}kw\b|\bkilowatts?\b",
    "N m": rf"{_FIGURE}(?:n m|nm)\b|\bnewton",
    "metric": r"\b(?:in|speak|use|talk|we're|i'm|it's|only|know) metric\b|\bmetric (?:units?|please|here|only)\b"
    r"|^metric$|\b(?:say|tell|give|put)\b.* in (?:degrees )?(?:celsius|centigrade|kilos|kilomet\w+|met(?:re|er)s)\b",
}
_SHOPS = {
    "lb": rf"{_FIGURE}(?:lbs?|pounds?)\b",
    "mph": rf"{_FIGURE}(?:mph|miles?)\b",
    "psi": rf"{_FIGURE}psi\b",
    "ft": rf"{_FIGURE}(?:ft|feet|foot)\b",
    "°F": rf"{_FIGURE}°? ?f\b|{_FIGURE}degrees f\b|\bfahrenheit\b",
    "lb ft": rf"\b(?:foot|pound)[ -](?:pounds?|feet|foot)\b|{_FIGURE}(?:lb ft|lb-ft|ft-?lbs?)\b",
}


def _named(words: str, units: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(unit for unit, sign in units.items() if re.search(sign, words, re.IGNORECASE))


def metric_named(words: str) -> tuple[str, ...]:
    """The metric units that the words name, and "metric" where they ask for them. Litres of an engine, millimetres of
    a wheel, inches of a pipe and horsepower are said everywhere, so they are no sign for either."""
    return _named(words, _METRIC)


def customary_named(words: str) -> tuple[str, ...]:
    """The units of pounds, feet, miles and degrees Fahrenheit that the words name."""
    return _named(words, _SHOPS)
