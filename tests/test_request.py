"""The trade's shorthand for a turbocharger; every reading here is common practice, no source."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.hearing.request import AREA_RATIOS, OPEN_BY_NAME, WHEELS, Request, decode

# words: compressor inducer (mm), turbine wheel (mm), A/R, entry, foot, gate, count
SAID: list[
    tuple[
        str, tuple[float | None, float | None, float | None, str | None, str | None, str | None, str | None]
    ]
] = [
    ("64", (64, None, None, None, None, None, None)),
    ("a 64", (64, None, None, None, None, None, None)),
    ("a sixty-four", (64, None, None, None, None, None, None)),
    ("64/71", (64, 71, None, None, None, None, None)),
    ("64-71", (64, 71, None, None, None, None, None)),
    ("64 over 71", (64, 71, None, None, None, None, None)),
    ("64mm/71mm", (64, 71, None, None, None, None, None)),
    ("64x71x.90", (64, 71, 0.90, None, None, None, None)),
    ("64/71/.96", (64, 71, 0.96, None, None, None, None)),
    ("sixty four seventy one", (64, 71, None, None, None, None, None)),
    ("seventy five on eighty three", (75, 83, None, None, None, None, None)),
    ("sixty three sixty eight point nine oh", (63, 68, 0.90, None, None, None, None)),
    ("63/68 .90 divided T4", (63, 68, 0.90, "divided", "T4", None, None)),
    ("63/68, point nine oh, divided, tee four", (63, 68, 0.90, "divided", "T4", None, None)),
    ("66mm", (66, None, None, None, None, None, None)),
    ("66 mil", (66, None, None, None, None, None, None)),
    ("66.5", (66.5, None, None, None, None, None, None)),
    ("2.5 inch charger", (63.5, None, None, None, None, None, None)),
    ('a 2.5" turbo', (63.5, None, None, None, None, None, None)),
    ("two and a half inch charger", (63.5, None, None, None, None, None, None)),
    ("2 1/2 inch", (63.5, None, None, None, None, None, None)),
    ("80 mil with a 1.15 T6 open", (80, None, 1.15, "open", "T6", None, None)),
    ("64 over 67 with the .91 housing twin scroll", (64, 67, 0.91, "divided", None, None, None)),
    ("64 with a ninety housing", (64, None, 0.90, None, None, None, None)),
    ("a 64 with a one fifteen housing", (64, None, 1.15, None, None, None, None)),
    (".90 A/R", (None, None, 0.90, None, None, None, None)),
    ("64 undivided T4", (64, None, None, "open", "T4", None, None)),
    ("2.6 smooth bore", (66.04, None, None, None, None, None, None)),
    ("a 2.6 inch smooth bore inducer limit", (66.04, None, None, None, None, None, None)),
    ("80mm T-4 non gated", (80, None, None, None, "T4", "none", None)),
    ("internal gated 62", (62, None, None, None, None, "internal", None)),
    ("70 with an external wastegate", (70, None, None, None, None, "external", None)),
    ("66 wastegated", (66, None, None, None, None, None, None)),
    ("compounds", (None, None, None, None, None, None, "compound")),
    ("two-stage", (None, None, None, None, None, None, "compound")),
    ("a set of compounds, 64 over 88", (None, None, None, None, None, None, "compound")),
    ("twins", (None, None, None, None, None, None, "twins")),
    ("a twin scroll 64", (64, None, None, "divided", None, None, None)),
    ("66 on my 5.9", (66, None, None, None, None, None, None)),
    ("5.9 litre with a 64 and 500 hp", (64, None, None, None, None, None, None)),
    ("a 64 on 50 over injectors", (64, None, None, None, None, None, None)),
    ("4 inch downpipe and a 66", (66, None, None, None, None, None, None)),
    ("64 compressor 71 turbine", (64, 71, None, None, None, None, None)),
    ("71 turbine, 64 compressor", (64, 71, None, None, None, None, None)),
    ("one oh five", (105, None, None, None, None, None, None)),
    ("a hundred and five", (105, None, None, None, None, None, None)),
    ("a 64 or a bigger one", (64, None, None, None, None, None, None)),
    # nothing fixed
    ("an x-something", (None, None, None, None, None, None, None)),
    ("an ab55", (None, None, None, None, None, None, None)),
    ("a big single", (None, None, None, None, None, None, None)),
    ("not a 64", (None, None, None, None, None, None, None)),
    ("bigger than a 64", (None, None, None, None, None, None, None)),
    ("64,5", (None, None, None, None, None, None, None)),
    ("6471", (None, None, None, None, None, None, None)),
    ("T5", (None, None, None, None, None, None, None)),
    ("not a T4", (None, None, None, None, None, None, None)),
    ("open and divided", (None, None, None, None, None, None, None)),
    ("200 mm", (None, None, None, None, None, None, None)),
    ("12 cm housing", (None, None, None, None, None, None, None)),
    ("$64", (None, None, None, None, None, None, None)),
    ("1/2", (None, None, None, None, None, None, None)),
    ("", (None, None, None, None, None, None, None)),
]


@pytest.mark.parametrize(("words", "fixed"), SAID)
def test_what_is_fixed(
    words: str,
    fixed: tuple[float | None, float | None, float | None, str | None, str | None, str | None, str | None],
) -> None:
    request = decode(words)
    inducer, turbine, ratio, *rest = fixed
    for span, expected, scale in (
        (request.inducer, inducer, 1000),
        (request.turbine, turbine, 1000),
        (request.housing_ratio, ratio, 1),
    ):
        if expected is None:
            assert span is None
        else:
            assert span is not None
            assert span.exact
            assert span.low * scale == pytest.approx(expected)
    assert [request.entry, request.foot, request.gate, request.count] == rest
    assert request.said == words


@pytest.mark.parametrize(
    ("words", "doubt"),
    [
        ("64", "usual reading; some mean the exducer"),
        ("64/71", "71 mm is taken as the turbine wheel"),
        ("80/60", "the other way round"),
        ("a 64 or 66", "to choose between"),
        ("62 over 80", "two turbos in series? Ask which"),
        ("twins, 66 over 80", "one behind the other"),
        ("whatever my buddy has", "until its tag is read"),
        ("6471", "64/71 perhaps"),
        ("64,5", "more than one way"),
        ("2.5", "taken as inches"),
        ("66 wastegated", "internal, external or left off"),
        ("T5 64", "T3, T4 or T6"),
        ("64 T3 or T4", "T3 and T4"),
        ("an ab55", "frame name"),
        ("64 with a ninety housing", "0.90 A/R"),
        ("64 12 cm housing", "throat area"),
        ("64/71/80", "one number too many"),
        ("64 .90 1.15", "which one is it"),
        ("bigger than a 64", "comparison"),
        ("200 mm", "can't be a wheel"),
        ("open and divided", "which entry"),
    ],
)
def test_doubts(words: str, doubt: str) -> None:
    assert any(doubt in sentence for sentence in decode(words).doubts)


def test_a_single_number_leaves_the_rest_open() -> None:
    request = decode("a 64")
    assert request.fixes == (("compressor inducer", "64 mm"),)
    assert request.leaves_open == tuple(name for what, name in OPEN_BY_NAME if what != "compressor inducer")
    assert request.leaves_open[-1] == "whether it suits the engine"


def test_inches_are_shown_as_said_with_millimetres() -> None:
    assert decode("2.5 inch charger").fixes == (("compressor inducer", "2.5 in (63.5 mm)"),)


def test_ranges_stay_ranges() -> None:
    either = decode("a 64 or a 66").inducer
    assert either is not None
    assert (either.low, either.high) == pytest.approx((0.064, 0.066))
    about = decode("about a 64").inducer
    assert about is not None
    assert about.low < 0.064 < about.high


def test_exducer_and_bearing() -> None:
    request = decode("64 mm inducer 88 exducer, ball bearing")
    assert request.exducer is not None
    assert request.exducer.mid == pytest.approx(0.088)
    assert ("bearing", "ball") in request.fixes
    assert "bearing" not in request.leaves_open


PIECES = ["64", "/", "71", ".90", "T4", "divided", "open", "twins", "mm", "inch", '"', "over", "not", "a",
"or", "1/2", "sixty", "four",
          "point", "oh", "hundred", "\x1b[31m", "½", "2,6", "-", "exducer", "turbine", "housing", "9" * 30,
          "gated", "no", "ab55"]  # fmt: skip


def sound(request: Request) -> None:
    for wheel in (request.inducer, request.exducer, request.turbine):
        assert wheel is None or WHEELS.low * 0.94 <= wheel.low <= wheel.high <= WHEELS.high * 1.06
    assert request.housing_ratio is None or AREA_RATIOS.low <= request.housing_ratio.low <= AREA_RATIOS.high
    assert len(request.fixes) + len(request.leaves_open) >= len(OPEN_BY_NAME)
    assert all("\x1b" not in text and "\n" not in text for text in (request.said, *request.doubts))


@given(st.text(max_size=120) | st.binary(max_size=60) | st.none())
@settings(max_examples=400)
def test_never_raises(words: object) -> None:
    sound(decode(words))


@given(st.lists(st.sampled_from(PIECES), max_size=14), st.sampled_from(["", " "]))
@settings(max_examples=1500)
def test_never_raises_on_scrambled_shorthand(pieces: list[str], gap: str) -> None:
    sound(decode(gap.join(pieces)))


@pytest.mark.parametrize("words", ["62/80 compounds", "twins, 62 over 80", "compound set, 62 and 80"])
def test_two_sizes_of_two_turbos_are_no_wheels_of_one(words: str) -> None:
    request = decode(words)
    assert request.count == "compound"
    assert request.inducer is None
    assert request.turbine is None
    assert ("compressors of the pair", "62 mm over 80 mm") in request.fixes


@pytest.mark.parametrize("words", ["twin 62s", "a pair of 62s"])
def test_two_of_one_size_are_twins(words: str) -> None:
    assert decode(words).count == "twins"


@pytest.mark.parametrize(
    ("said", "size"),
    [("nothing bigger than a 2.6", 66.04), ("the rule says no more than 2.6", 66.04), ("not over a 62, so a 60", 60.0),
     ("I run the 2.6 class, I want a 2.6", 66.04)],
)  # fmt: skip
def test_a_size_that_is_the_most_he_may_have_is_the_one_he_asks_for(said: str, size: float) -> None:
    read = decode(said)
    assert read.inducer is not None
    assert read.inducer.mid == pytest.approx(size / 1000)
    assert not [doubt for doubt in read.doubts if "fixes nothing" in doubt]
    assert [what for what, _ in read.fixes] == ["compressor inducer"]


@pytest.mark.parametrize("said", ["bigger than a 62", "caravan of 2.5", "a trailer of 2.5 t"])
def test_what_is_named_for_comparison_or_weighed_is_no_size(said: str) -> None:
    assert decode(said).inducer is None


def test_what_it_makes_now_is_no_wheel() -> None:
    read = decode("I want a 66 for the strip, it makes 480 now")
    assert [what for what, _ in read.fixes] == ["compressor inducer"]
    assert not [doubt for doubt in read.doubts if "480" in doubt]
