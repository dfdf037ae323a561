"""Who says openly that he doesn't know, in the middle of a story, is not given an answer; who knows it all the same is
heard. The yes or no that opens an answer counts for more than what follows it. Common practice, no source."""

from dataclasses import replace

import pytest
from calls import shop

from advisor.hearing import understand
from advisor.hearing.understood import value_words
from advisor.inference.facts import Value
from advisor.words.not_knowing import not_known, without_not_knowing


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        ("head fasteners", "the last owner did the head gasket, couldn't tell you what he put in it"),
        ("head fasteners", "whoever had it before me did the head, no tellin what he used"),
        ("head fasteners", "valve cover's never been off since I got it, so no telling"),
        ("head fasteners", "your guess is as good as mine, it came from an auction"),
        ("probe place", "guy before me stuck it in, no clue where"),
        ("probe place", "somewhere in the exhaust, that's all I can tell you"),
        ("cylinder head", "been off once, by the guy before, that's all I know"),
        ("bottom end", "engine's a used one, the seller's word is all I have and I forget what he said"),
        ("oil feed", "it's a hose, I couldn't tell big from small"),
        ("tune", "somebody plugged something in, don't ask me what"),
        ("complaint since", "I've only had it a week so no telling"),
        ("emissions status", "I'm the third owner, so I really couldn't say what it came with"),
        ("grade", "steep enough to boil a kettle, I don't know the number"),
        ("compression ratio", "as it came, but the figure escapes me"),
        ("compression ratio", "it's gone clean out of my head"),
        ("displacement", "the badge is gone and I bought it that way"),
        ("stock power", "before my time, i was like four years old"),
        ("stock power", "that was forty years ago, who remembers"),
        ("present drive pressure", "ain't got one of them"),
        ("present drive pressure", "that gauge quit working last year"),
        ("present drive pressure", "aint got one hooked up"),
        ("present exhaust temperature", "pyro's broke"),
        ("present boost", "nothing to measure it with"),
        ("tyre diameter", "regular ten plys, whatever height that makes"),
    ],
)
def test_an_open_not_knowing_beats_what_the_rest_sounds_like(fact: str, words: str) -> None:
    assert understand(shop().vocabulary[fact], words).not_sure


NOTHING_ELSE = [
    "your guess is as good as mine", "the guy I bought it from never said", "I'm not the one to ask",
    "you'd know better than me", "never paid it any mind", "not that I could tell you", "that's above my pay grade",
    "the paperwork's long gone", "it was like that when I got it", "we never talked about that", "I'd be guessing",
    "wouldn't know where to look", "couldn't swear to it", "never had cause to find out", "no earthly idea",
    "that's a good question", "not off the top of my head", "I'm drawing a blank", "it never crossed my mind",
    "I couldn't say what's in there", "no telling what he's done to it", "never asked what they put on there",
    "I don't have the foggiest", "can't say I've ever looked",
]  # fmt: skip
# Where such words tell something: of what nobody looked at, of what nobody tested, of class rules that say nothing.
TELLS_IT = {"already checked", "engine health", "boost leak checked", "groove rule"}


@pytest.mark.parametrize("words", NOTHING_ELSE)
def test_who_says_only_that_he_does_not_know_has_answered_no_question(words: str) -> None:
    """No yes, no choice and no figure may be made of it, whatever the question; common practice, no source."""
    asked = [one for one in shop().vocabulary.values() if one.source == "asked" and one.kind != "text"]
    taken = []
    for definition in asked:
        heard = understand(definition, words)
        if heard.fact is not None and not heard.not_sure and not heard.doubt:
            taken.append(definition.name)
    assert len(asked) > 90
    assert not set(taken) - TELLS_IT - {"caller asks"}, taken


@pytest.mark.parametrize(
    "words",
    ["hang on, the dog's barking", "hold on a second", "sorry, you broke up there", "my wife's calling me",
     "let me get my glasses", "one sec, I'm at the pump", "I'm driving right now", "wait a minute"],
)  # fmt: skip
def test_who_cannot_listen_just_now_has_answered_nothing(words: str) -> None:
    for definition in shop().vocabulary.values():
        if definition.source == "asked" and definition.kind != "text" and definition.volunteered != "questions":
            heard = understand(definition, words)
            assert heard.fact is None, definition.name
            assert "Wait, then ask it again" in heard.again, definition.name


@pytest.mark.parametrize(
    ("fact", "words", "value"),
    [
        ("head fasteners", "no clue what brand, but they're studs", "studs"),
        ("head fasteners", "studs, don't ask me which", "studs"),
        ("probe place", "don't ask me why, it's in the manifold", "before turbine"),
        ("bottom end", "before my time somebody put rods in it", "rods"),
        ("exhaust brake", "no idea how it works but it's got one", True),
        ("exhaust smell", "yeah, no idea where from", True),
        ("exhaust smell", "no clue where it comes from but yes, I smell it", True),
        ("boost leak checked", "can't say we have", False),
        ("engine health", "runs like a top but never had it tested", "never tested"),
    ],
)
def test_who_knows_it_all_the_same_is_heard(fact: str, words: str, value: Value) -> None:
    heard = understand(shop().vocabulary[fact], words).fact
    assert heard is not None
    assert heard.value == value


def test_a_figure_beside_what_he_does_not_know_is_heard() -> None:
    weight = understand(shop().vocabulary["trailer weight"], "no clue why, but it's 14,000").fact
    assert weight is not None


def test_what_he_guesses_is_no_open_not_knowing() -> None:
    assert not_known("he did the head, no telling what he used").openly
    assert not not_known("no telling what he used, probably studs").openly
    assert not not_known("I don't know, but it's stock").openly
    assert not_known("it lopes, but I don't know").openly
    assert not_known("it's a mystery to me").openly
    assert not not_known("it's a mystery and a headache").openly
    assert without_not_knowing("it's a hose, no idea which, black") == "it's a hose,  black"
    assert not_known("bought it used so who knows").follows
    assert not not_known("who knows, bought it used").follows


@pytest.mark.parametrize(
    ("fact", "words", "yes"),
    [
        ("exhaust brake", "No ma'am, I just gear down on the mountain", False),
        ("exhaust brake", "naw man, flat country", False),
        ("exhaust brake", "Nah, just the service brakes", False),
        ("exhaust brake", "oh yeah, no smoke no fuss it just holds", True),
        ("exhaust brake", "only the ordinary foot brake", False),
        ("exhaust smell", "naw, smells like gym socks but that's just me", False),
        ("exhaust smell", "No, just the smell of the dog", False),
        ("boost leak checked", "yup, made a plug outta pvc and pumped it to thirty, not a hiss", True),
        ("boost leak checked", "yep, sprayed soapy water, not one bubble", True),
        ("boost leak checked", "nope, I figured the boots looked good", False),
        ("trailer brakes", "unbraked, it's only a light thing", False),
        ("trailer brakes", "yep, controller under the dash, never had trouble", True),
        ("safety gear", "i got a helmet, that's about it", False),
        ("safety gear", "Got the blanket, the cross bolts and the shut-off", True),
        ("road use", "yep, it's tagged and insured, never been to a track", True),
        ("cooler between stages", "yup, I don't care what it takes", True),
        ("exhaust smell", "yep, not bad but it's there", True),  # offered: something turns in it
    ],
)
def test_the_yes_or_no_that_opens_an_answer_counts(fact: str, words: str, yes: bool) -> None:
    heard = understand(shop().vocabulary[fact], words).fact
    assert heard is not None
    assert heard.value is yes


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        ("exhaust brake", "yes and no"),
        ("exhaust brake", "yeah, not anymore"),
        ("exhaust brake", "yes, but it's broke"),
        ("exhaust smell", "no, but my wife says she does"),
        ("turbo wanted", "yes, do the checks first"),
        ("trailer brakes", "yeah, no controller though"),
    ],
)
def test_where_it_turns_it_is_asked_again(fact: str, words: str) -> None:
    heard = understand(shop().vocabulary[fact], words)
    assert heard.again or heard.doubt or heard.fact is None or heard.fact.value is False


@pytest.mark.parametrize(
    ("fact", "words", "named"),
    [
        ("gauges", "just a boost gauge on the pillar", "boost"),
        ("gauges", "I tapped a pressure gauge into the manifold, and there's one for boost", "boost+drive pressure"),
        ("must stay", "just paid for the exhaust so that stays, manifold too", "manifold+exhaust"),
        ("must stay", "keep the manifold and the tune, rest can go", "manifold+tune"),
        ("must stay", "everything but the exhaust can change", "exhaust"),
        ("complaint", "pipe's wet with oil and she don't make but twelve pound no more", "oil leak+low boost"),
        ("complaint", "it only makes 15 pounds and it drips oil", "oil leak+low boost"),
        ("duties", "a few quarter mile nights, otherwise it's my everyday car", "strip+daily"),
        ("duties", "a few passes a summer, rest of the time it's my ride to work", "strip+daily"),
        ("changed with it", "turbo and manifold at the same time", "turbo+exhaust"),
        ("already checked", "not a dang thing, it only happened yesterday coming home from the pull", "none"),
        ("already checked", "haven't lifted the hood", "none"),
    ],
)
def test_of_several_none_is_lost_and_none_too_many(fact: str, words: str, named: str) -> None:
    heard = understand(shop().vocabulary[fact], words).fact
    assert heard is not None
    assert heard.value == frozenset(named.split("+"))


@pytest.mark.parametrize(
    ("fact", "words", "named"),
    [
        ("complaint", "oil dripping out of the joint, and blue smoke when I'm pulling", "oil leak, smoke"),
        ("complaint", "it barks like a dog, and up top it just signs off", "choking, surge"),
        ("complaint", "she smokes and it takes forever to spool", "late spool, smoke"),
        ("already checked", "cooler's been pressure tested, filter's new, gate shuts, gaskets are new",
         "exhaust, filter, gate, intercooler"),
        ("already checked", "went round the exhaust joints for soot, and the filter's been out too", "exhaust, filter"),
        ("changed with it", "put the turbo on and had it retuned the same afternoon", "fuel, turbo"),
    ],
)  # fmt: skip
def test_what_each_part_of_a_sentence_names_is_named_by_the_whole(fact: str, words: str, named: str) -> None:
    heard = understand(shop().vocabulary[fact], words).fact
    assert heard is not None
    assert isinstance(heard.value, frozenset)
    assert ", ".join(sorted(heard.value)) == named


@pytest.mark.parametrize(
    ("fact", "words", "told"),
    [
        ("budget", "if it starts with an 8 I'm out, so seven grand", "$7,000"),
        ("power goal", "stock was 325 and the tune put 120 on it, so 445", "445 hp"),
        ("present boost", "eighteen or so, twenty if it's cold out", "18 to 20 psi"),
        ("towing speed", "double nickel", "55 mph"),
        ("power now", "it dynoed four-ten at the open house", "410 hp"),
        ("injected volume", "a hundred and eighty-five mm cubed per stroke", "185 mm3"),
    ],
)
def test_a_figure_that_he_makes_of_others_or_says_by_another_name(fact: str, words: str, told: str) -> None:
    definition = shop().vocabulary[fact]
    heard = understand(definition, words)
    assert heard.fact is not None
    assert value_words(heard.fact.value, definition) == told


def test_a_small_figure_that_no_engine_makes_is_no_second_reading() -> None:
    """Four to ten horsepower can't be; four to ten of a weight in tons can, and is asked."""
    assert understand(shop().vocabulary["power now"], "four ten").fact is not None
    assert "4 to 10" in understand(replace(shop().vocabulary["power now"], plausible=None), "four ten").again


def test_both_with_what_they_are_is_both() -> None:
    heard = understand(shop().vocabulary["field work"], "both, the ripper in spring and a trailer in autumn").fact
    assert heard is not None
    assert heard.value == "both"
