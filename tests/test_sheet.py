"""The call sheet as text and as a page: complete, in order, safe, and within its width."""

from dataclasses import replace
from html.parser import HTMLParser

import desk
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.consultation import consult
from advisor.knowledge import load, shipped_folder
from advisor.outcome import Answer, Caution, Consultation, PartLine, parts_total
from advisor.sheet.cautions import CAUTION_NOTE
from advisor.sheet.html import call_sheet
from advisor.sheet.layout import Para, Table, lines, plain
from advisor.sheet.parts import total_words
from advisor.sheet.text import recommendation, shown, written
from advisor.units import Range

SAID = [
    Answer("request", "a 72"),
    Answer("duties", "towing"),
    Answer("displacement", "5.9"),
    Answer("trailer weight", "14k"),
]
HOSTILE = "<script>alert(1)</script> & {{ 7*7 }} [/b] \x1b[2J =HYPERLINK()"


def consultation(*more: Answer) -> Consultation:
    return desk.consult([*SAID, *more])


def advice(width: int = 80) -> str:
    return plain(recommendation(consultation(), desk.KNOWLEDGE), width)


class Page(HTMLParser):
    """The text of a page by element, and whether every element was closed."""

    VOID = ("meta", "br", "img", "link", "hr")

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.heads: list[str] = []
        self.words: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "h2":
            self.heads.append(data)
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def test_while_a_caution_says_stop_the_parts_are_no_order() -> None:
    told = consultation()
    stop = Caution("stop", "Not to be driven before the leak is found.", "leak")
    for cautions, said in ((told.cautions, False), ((stop, *told.cautions), True)):
        kept = tuple(caution for caution in cautions if said or caution.severity != "stop")
        either = replace(told, cautions=kept)
        text = plain(recommendation(either, desk.KNOWLEDGE), 200)
        for words in (text.split("\nParts\n")[1], Page(call_sheet(either, desk.KNOWLEDGE)).text):
            assert ("only what settles it is ordered" in words) == said


def test_the_advice_is_told_in_the_order_of_a_good_call() -> None:
    text = advice()
    order = [
        "Recommendation",
        "About the one he asked for",
        "His choices",
        "Cautions",
        "Parts",
        "What this rests on",
        "Next step",
    ]
    places = [text.index(f"\n{heading}\n") for heading in order]
    assert places == sorted(places)


def test_the_part_asked_for_is_always_among_those_shown_and_none_twice() -> None:
    outcome = consultation()
    assert [option.code for option in shown(outcome)] == ["Q-64-T4", "Q-58-T3", "Q-72-T6"]
    assert outcome.recommended is not None
    right = replace(outcome, requested=replace(outcome.recommended, role="requested"))
    assert [option.code for option in shown(right)] == ["Q-64-T4", "Q-58-T3"]
    nothing = replace(outcome, recommended=None, alternatives=())
    assert [option.code for option in shown(nothing)] == ["Q-72-T6"]


def test_each_choice_says_what_it_costs_him() -> None:
    text = advice()
    assert "costs him: makes 75 hp less" in text
    assert "ruled out: That foot goes on no manifold of yours." in text
    assert "by: foot-does-not-fit" in text


def test_cautions_come_gravest_first_and_defer_to_law_and_class_rules() -> None:
    text = advice()
    assert text.index("DANGER") < text.index("NOTE")
    assert "[heavy-trailer-needs-gauge]" in text
    assert "class rules" in text


def test_who_is_only_stopped_is_sent_to_law_and_class_rules_too() -> None:
    stopped = replace(consultation(), cautions=(Caution("stop", "Not to be driven before the leak is found.", "leak"),))
    text = plain(recommendation(stopped, desk.KNOWLEDGE), 200)
    for words in (" ".join(text.split()), Page(call_sheet(stopped, desk.KNOWLEDGE)).text):
        assert words.count("Not to be driven before the leak is found.") == 1
        assert CAUTION_NOTE in words


def test_words_to_say_stand_once_with_the_advice_or_caution_they_belong_to() -> None:
    text = advice()
    assert text.count("Thanks for calling.") == 1 + text.count("NOTE")
    assert "  - Break it in gently.  [long-call-say-thanks]\n    Say: Thanks for calling." in text
    assert "Also tell him" not in text
    outcome = replace(consultation(), advice=(), cautions=())
    assert "  - Measure the foot.\n    Say: Thanks" in plain(recommendation(outcome, desk.KNOWLEDGE), 80)
    outcome = replace(outcome, next_steps=())
    assert "Also tell him\n  - Thanks" in plain(recommendation(outcome, desk.KNOWLEDGE), 80)
    heard = recommendation(outcome, desk.KNOWLEDGE, {"long-call-say-thanks"})
    assert "Thanks" not in plain(heard, 80)


def test_no_figure_without_unit_basis_and_assumption() -> None:
    text = written(consultation(), desk.KNOWLEDGE, workings=True)
    assert "480 to 505 hp" in text
    assert "52 to 56 lb/min" in text
    assert "computed" in text
    assert "assumed: usual converter (spool rpm)" in text
    assert "assumed: engine breathes as stock (air flow needed)" in text


PRESSURES = ("ambient pressure", "boost needed", "manifold pressure needed", "boost made", "drive pressure")


def test_pressures_say_what_they_are_measured_from_and_their_ratio_is_of_absolute_ones() -> None:
    """Pressure ratio: absolute behind the compressor over absolute ahead of it, as on every compressor map (SAE J1826,
    from memory); gauge boost over outside air is less by one."""
    said = {"duties": "towing", "trailer weight": "12,000 lb", "displacement": "5.9", "power goal": "400 hp"}
    call = consult([Answer(*one) for one in said.items()], load(shipped_folder()))
    assert call.recommended is not None
    figures = {one.name: one for one in (*call.figures, *call.recommended.figures)}
    for name in PRESSURES:
        meaning = figures[name].meaning.partition(":")[0]
        assert ("by gauge" in meaning) != ("absolute" in meaning), name
    outside, boost, manifold = (figures[name].value.mid for name in PRESSURES[:3])
    assert manifold == pytest.approx(boost + outside, rel=1e-9)
    ratio = figures["pressure ratio needed"]
    assert "absolute over absolute" in ratio.meaning
    assert manifold / outside < ratio.value.mid < 1.25 * manifold / outside  # what filter and intercooler lose
    assert "both by gauge" in figures["drive pressure ratio"].meaning


def test_the_parts_add_up_and_open_joints_are_said() -> None:
    parts = consultation().parts
    assert parts_total(parts) == (2 * 12.5 + 90, 1)  # by hand
    assert total_words(parts) == "$115, and 1 line still open; the last part comes after 6 days"
    assert total_words(parts[:1]) == "$25"
    drain = PartLine("", "oil drain joint", 0, None, None, "nobody said", "", True, Range(64.0, 93.0))
    feed = replace(drain, open_price=Range(48.0, 48.0))
    assert total_words((*parts[:2], drain, feed)).startswith("$115, and 2 lines still open ($112 to $141 more);")


def test_the_written_sheet_has_what_was_said_and_how_it_came_about() -> None:
    brief = written(consultation(), desk.KNOWLEDGE, title="Tow call")
    text = written(consultation(), desk.KNOWLEDGE, title="Tow call", workings=True)
    assert text.startswith(brief)
    assert "How it came about" not in brief
    assert text.startswith("Tow call\n")
    assert "14,000 lb" in text
    assert 'trailer weight is 14,000 lb: the caller said "14k"' in text
    assert "heavy-trailer-needs-gauge (towing.yaml:3:9)" in text
    assert "1 by foot-does-not-fit" in text
    assert "reference evaluation (built in)" in text


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_no_line_is_longer_than_the_width(width: int) -> None:
    assert max(map(len, written(consultation(), desk.KNOWLEDGE, width).splitlines())) <= width


CELLS = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]) | st.just(" "), max_size=40)


@given(st.lists(st.tuples(CELLS, CELLS, CELLS), max_size=4), st.integers(24, 120), st.text(max_size=200))
def test_any_text_keeps_to_any_width(rows: list[tuple[str, str, str]], width: int, words: str) -> None:
    blocks = [
        Table(("one", "two", "three"), tuple(rows), frozenset({1})),
        Para(words, first="Say: "),
        Para(words, indent=30),
    ]
    for _, line in lines(blocks, width):
        assert len(line) <= width


def test_a_table_keeps_every_word_when_it_is_narrowed() -> None:
    table = Table(
        ("figure", "value", "what it is"),
        (("spool rpm", "1,650 to 1,700 rpm", "where it comes alive on the road"),),
    )
    for width in (24, 30, 44, 60):
        said = " ".join(plain([table], width).split())
        assert all(word in said for word in ("spool", "1,650", "1,700", "comes", "alive", "road"))


def test_the_page_is_well_formed_and_complete() -> None:
    page = Page(
        call_sheet(
            consultation(),
            desk.KNOWLEDGE,
            "Tow call",
            notes=["in a hurry"],
            pictures=[("the map", "<svg></svg>")],
        )
    )
    assert page.open == []
    assert page.heads == [
        "About the one he asked for",
        "His choices",
        "Cautions",
        "Advice",
        "Parts",
        "Next step",
        "What this rests on",
        "What he told us",
        "Figures for this engine",
        "What was considered",
        "How it came about",
    ]
    for part in (
        "480 to 505 hp",
        "foot gasket",
        "Total: $115",
        "in a hurry",
        "usual converter",
        "14k",
        "towing.yaml:3:9",
        "closest to",
    ):
        assert part in page.text
    assert "svg" in page.tags
    assert "script" not in page.tags


def test_a_page_needs_nothing_from_outside() -> None:
    page = call_sheet(consultation(), desk.KNOWLEDGE)
    assert "default-src 'none'" in page
    assert "http://" not in page
    assert "https://" not in page


def test_what_a_caller_says_is_shown_never_run() -> None:
    page = call_sheet(consultation(Answer("request", HOSTILE)), desk.KNOWLEDGE, HOSTILE, notes=[HOSTILE])
    assert "script" not in Page(page).tags
    assert "&lt;script&gt;" in page
    assert "{{ 7*7 }}" in page
    assert "\x1b" not in written(consultation(Answer("request", HOSTILE)), desk.KNOWLEDGE)


def test_a_call_without_a_recommendation_has_a_sheet_too() -> None:
    empty = desk.consult([])
    assert "Not enough is known yet." in written(empty, desk.KNOWLEDGE)
    page = Page(call_sheet(empty, desk.KNOWLEDGE))
    assert page.open == []
    assert "Not enough is known yet." in page.text
    assert "His choices" not in page.heads


def test_the_page_holds_each_figure_and_tells_none_of_his_own_again() -> None:
    """Every figure with its band is on the page; what he told stands under what he told and nowhere as a figure."""
    knowledge = load(shipped_folder())
    told = {"duties": "daily and towing", "displacement": "5.9", "power goal": "450 hp", "trailer weight": "9,000 lb"}
    made = consult([Answer(fact, words) for fact, words in told.items()], knowledge)
    page = Page(call_sheet(made, knowledge)).text
    options = [option for option in (made.recommended, *made.alternatives) if option is not None]
    assert options
    for figure in (*made.figures, *(figure for option in options for figure in option.figures)):
        assert figure.text in page
        assert figure.band_text in page or figure.about == "engine"
    workings = page.split("Figures for this engine")[1].split("How it came about")[0]
    assert "air flow needed: " in workings
    assert not any(f"{fact}: " in workings for fact in told)
