"""What a gauge shows, and what lies past the end of its scale (common practice, no source)."""

import pytest
from calls import shop
from test_callers import expected

from advisor.hearing import suggestions, understand


@pytest.mark.parametrize(
    ("fact", "words", "meant"),
    [
        ("present boost", "pegged, gauge only goes to 35", ">35"),
        ("present boost", "it goes off the gauge, 60 pound gauge", ">60"),
        ("present boost", "the gauge stops at two bar and it goes past that", ">2 bar"),
        ("present boost", "35 on a 60 psi gauge", "35"),
        ("present boost", "I read 35 psi off the gauge", "35"),
        ("present boost", "the gauge goes to 35", "35"),
        ("present exhaust temperature", "the pyro only goes to 800 celsius and it's buried", ">800 °C"),
        ("present drive pressure", "pegged the 60 psi gauge", ">60"),
        ("summer temperature", "it tops out at 100", "100"),
    ],
)
def test_past_the_end_of_its_scale_a_gauge_shows_the_least(fact: str, words: str, meant: str) -> None:
    definition = shop().vocabulary[fact]
    heard = understand(definition, words)
    assert heard.fact is not None
    assert not heard.doubt
    wanted = expected(definition, meant)
    assert (heard.fact.value.low, heard.fact.value.high) == pytest.approx((wanted.low, wanted.high), rel=1e-6)
    assert ("at least" in heard.echo) is meant.startswith(">")


@pytest.mark.parametrize("words", ["needle's buried at 40", "pegs at 40", "it's a 40 pound gauge"])
def test_what_may_be_the_end_of_the_scale_is_asked_about(words: str) -> None:
    boost = shop().vocabulary["present boost"]
    assert suggestions(understand(boost, words).doubt) == ("40 psi", "at least 40 psi")
    assert "at least 40 psi" in understand(boost, "at least 40 psi").echo
