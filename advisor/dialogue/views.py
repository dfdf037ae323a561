"""What the tool shows during a call, as blocks: questions, summary, and what a change or a trial does."""

import re
from collections.abc import Collection, Iterable, Iterator, Sequence
from itertools import takewhile

from advisor.dialogue.commands import FORMS, resolve
from advisor.dialogue.turn import Prompt
from advisor.hearing import asked_back
from advisor.hearing.request import decode
from advisor.hearing.together import words_for
from advisor.hearing.understood import value_words
from advisor.inference.facts import Fact
from advisor.knowledge import FactDef, Knowledge
from advisor.knowledge.places import in_a_row
from advisor.outcome import CLOSING, DECIDED, GRAVE, Consultation, Figure, OpenQuestion, Understood
from advisor.questions import anew, applies
from advisor.sheet.aloud import SECTIONS
from advisor.sheet.layout import GAP, Block, Para, Table, heading
from advisor.sheet.text import best_line, recommendation, sentence, shown, told
from advisor.sheet.trace import fact_base
from advisor.situation import ESSENTIAL
from advisor.units import Range
from advisor.words.plain_yes_no import read_assent
from advisor.words.speech import to_him

OR_THE_ANSWER = "yes, no, or the answer"
YES_ALONE = re.compile(r"(?:yes|yeah|yep|yup|ok|okay|sure|right)[.!]*", re.IGNORECASE)
MOST_CHANGES, MOST_NAMES, MOST_UNKNOWN, MOST_ASKING = 4, 8, 4, 3
LONG = 60  # letters past which a sentence isn't said back whole
AT_THE_WHEEL = ((0.0, "barking"), (0.08, "close to barking"), (0.25, "enough"))
"""What a surge margin below so much means (common practice, no source)."""


def opening(knowledge: Knowledge) -> OpenQuestion:
    """The question that every call opens with, the first of the vocabulary: nothing need be consulted for
    it."""
    always = [d for d in knowledge.vocabulary.values() if d.source == "asked" and d.ask_when is None]
    first = min(always, key=lambda definition: (definition.order, definition.name))
    return OpenQuestion(first.name, first.ask, first.listen_for, first.why, first.why, False, ())


def label(definition: FactDef, *more: FactDef) -> str:
    """What stands before the line that is typed: the fact, and the unit that is assumed when none is said; for several
    in one breath what they are about."""
    if more:
        return definition.together
    with_unit = definition.kind == "number" and definition.unit
    return f"{definition.name}, {definition.unit}" if with_unit else definition.name


def asking(definitions: Sequence[FactDef]) -> str:
    """The words of a question that was put before, or of several in one breath."""
    return anew(definitions[0].ask) if len(definitions) == 1 else words_for(definitions)


def choices(definitions: Sequence[FactDef]) -> tuple[tuple[str, tuple[str, ...], str], ...]:
    """What can be answered, as (name, caller's words, what it means)."""
    found: dict[str, tuple[str, tuple[str, ...], str]] = {}
    for definition in definitions:
        for choice in definition.choices:
            found.setdefault(choice.name, (choice.name, tuple(choice.words), choice.means))
        if definition.kind == "yes/no":
            found |= {"yes": ("yes", (), ""), "no": ("no", (), "")}
        if definition.kind != "text":
            found["not sure"] = ("not sure", (), "leave it open")
    return tuple(sorted(found.values(), key=lambda choice: choice[0] == "not sure"))


def prompt(
    before: str, asked: Sequence[FactDef], answered: int, latest: Consultation | None, knowledge: Knowledge
) -> Prompt:
    """The line that is wanted, with what stands before it, what completes it and the running summary."""
    status = f"{answered} answered."
    if latest is not None and latest.recommended is not None:
        status += f" Best so far: {best_line(latest)}"
    facts = tuple(definition.name for definition in asked)
    return Prompt(f"{before}> ", facts, choices(asked), names(latest, knowledge), status)


def question(asked: OpenQuestion, definitions: Sequence[FactDef]) -> Iterator[Block]:
    """A question, or several in one breath: the words to say, what to listen for, why it is asked now, what can be
    answered."""
    several = len(definitions) > 1
    yield GAP
    yield Para(f"“{asking(definitions) if several else asked.ask}”", "say", 0, "Say: ")
    if asked.listen_for:
        yield Para(asked.listen_for, "dim", 2, "Listen for: ")
    if asked.reason:
        yield Para(asked.reason, "urgent" if asked.urgent else "dim", 2, "Asked now: ")
    for definition in definitions:
        if definition.choices:
            of = f", {definition.name}" if several else ""
            yield Para(", ".join(choice.name for choice in definition.choices), "dim", 2, f"Choices{of}: ")


def nothing_said(said: str, asked: Sequence[FactDef]) -> str:
    """Why a line answers nothing, in words: it is a bare yes or the price asked for where the caller's words are
    wanted; "" where it may answer."""
    if any(definition.kind != "text" for definition in asked):
        return ""
    if YES_ALONE.fullmatch(said) or read_assent(said):
        return "Yes to what? Type it in his own words; skip leaves the question out."
    return asked_back.reply(asked[0], said)


def asked_again(heard: Understood, definition: FactDef) -> list[Block]:
    """That an answer wasn't understood, and the ways past the question."""
    past = "not sure leaves it open, skip passes it over." if definition.kind != "text" else "skip passes it over."
    return [Para(heard.again, "warn"), Para(past, "dim", 2)]


def doubting(definition: FactDef, named: bool = False) -> str:
    """The label of the prompt for an answer that is questioned, ``named`` where several were asked at once."""
    label = "yes or no" if definition.kind == "yes/no" else "yes, no, or the right one"
    return f"{definition.name}: {label}" if named else label


def offer(listed: Sequence[Understood], asked: FactDef | None, answers: Collection[str]) -> tuple[list[Block], str]:
    """What he also said, beside the question that is asked, and the label of the prompt; several facts in one saying,
    each with its number."""
    heard, *more = listed
    if not more:
        return _offer_of_one(heard, asked, answers)
    said = "; ".join(f"{at}, {_in_list(one, answers)}" for at, one in enumerate(listed, 1))
    takes = Para("yes takes all of it, no none; “all but 2” or “2 is ...” takes the rest.", "dim", 2)
    shown: list[Block] = [Para(f"“You told me too: {said}. Is all of that right?”", "say", 0, "Say: "), takes]
    if asked is not None:
        shown.append(Para(f"“{anew(asked.ask)}”", "dim", 2, "Else he answers: "))
    return shown, "yes, no, or which isn't right"


def _in_list(heard: Understood, answers: Collection[str]) -> str:
    """A fact in a list that is said aloud: a figure that sounds like another one spelled out, and what stands in place
    of an earlier answer so called."""
    fact, _, value = heard.echo.partition(": ")
    spelled = f" ({heard.read_back})" if heard.read_back else ""
    return f"{fact}: {_in_short(value)}{spelled}{' instead' if fact in answers else ''}"


def which_of(listed: Sequence[Understood], facts: Collection[str]) -> Para:
    """That a figure may be of several facts in the list."""
    places = [str(at) for at, one in enumerate(listed, 1) if one.answer.fact in facts]
    words = f"{', '.join(places[:-1])} or {places[-1]}"
    return Para(f"Which one is that: {words}? Say it with its number: “{places[0]} is ...”.", "warn")


def _offer_of_one(heard: Understood, asked: FactDef | None, answers: Collection[str]) -> tuple[list[Block], str]:
    fact = heard.answer.fact
    lead = "That makes" if fact in answers else "He also said"
    shown: list[Block] = [Para(f"{lead} {heard.echo}. Take it?", "echo")]
    if asked is not None and asked.name == fact and fact not in answers:
        said = heard.echo.removeprefix(f"{fact}: ")
        if asked.kind == "text":  # how to say it was asked of words that nobody had heard
            opens = re.sub(r"(?<=[?.]) .*", "", asked.ask) + f" You told me already: {_in_short(said)}. Is that it?"
            return [GAP, Para(f"“{opens}”", "say", 0, "Say: ")], OR_THE_ANSWER
        return [GAP, Para(f"“{anew(asked.ask)} You said {said}; is that it?”", "say", 0, "Say: ")], OR_THE_ANSWER
    if asked is None or asked.kind == "yes/no":
        return shown, "yes or no"
    if asked.name != fact:
        shown.append(Para(f"“{anew(asked.ask)}”", "dim", 2, "Else he answers: "))
    return shown, OR_THE_ANSWER


def _in_short(said: str) -> str:
    """What he said, as it is said to him; of a long sentence what names a turbo, where anything in it does."""
    clauses = re.split(r"(?<=[.;!?]) +|, +", said) if len(said) > LONG else []
    named = [clause for clause in clauses if decode(clause).fixes]
    return to_him(", ".join(named).rstrip(".;!?") or said)


def asking_again(definition: FactDef, given: str) -> Iterator[Block]:
    """A question that is asked again by back or change."""
    yield GAP
    yield Para(f"“{anew(definition.ask)}”", "say", 0, "Say: ")
    if definition.choices:
        yield Para(", ".join(choice.name for choice in definition.choices), "dim", 2, "Choices: ")
    if given:
        yield Para(f"“{given}”; Enter leaves it so.", "dim", 2, "Answered: ")


def stands(consultation: Consultation) -> Iterator[Block]:
    """That the turbo stands, what would still be settled, and how to conclude at once."""
    yield Para(f"{consultation.stands} Type enough to conclude now.", "option", 2)


def unknown(consultation: Consultation) -> Iterator[Block]:
    """How to conclude, to somebody who again and again doesn't know."""
    count = len(list(takewhile(lambda heard: heard.not_sure, reversed(consultation.understood))))
    if count and count % MOST_UNKNOWN == 0:
        yield Para(f"{count} answers in a row were not known. Type enough to conclude with what there is.", "option", 2)


def assumed(consultation: Consultation, knowledge: Knowledge) -> list[Fact]:
    """What is assumed for want of an answer, but for what makes no sense to ask for."""
    known, vocabulary = fact_base(consultation), knowledge.vocabulary
    taken = [fact for fact in consultation.facts.values() if fact.origin.kind == "assumed"]
    return [one for one in taken if one.name not in vocabulary or applies(vocabulary[one.name], known)]


def left_open(consultation: Consultation, knowledge: Knowledge, skipped: Sequence[str]) -> Iterator[Block]:
    """What is assumed for want of an answer, where one makes sense to ask for, in a few lines that can be read aloud,
    and what was left for later."""
    if taken := assumed(consultation, knowledge):
        yield from heading("Assumed, since nobody said")
        said = (f"{one.name}: {value_words(one.value, knowledge.vocabulary.get(one.name))}" for one in taken)
        yield Para("; ".join(said) + ".", "", 2)
        yield Para(f"how {taken[0].name} says why.", "dim", 2)
    if skipped:
        yield Para(", ".join(skipped), "dim", 2, "Left out: ")


def summary(
    consultation: Consultation, knowledge: Knowledge, skipped: Sequence[str], notes: Sequence[str]
) -> Iterator[Block]:
    """All answers so far, what is assumed, the best so far in one line, and its cautions."""
    yield from told(consultation, knowledge.vocabulary)
    yield from left_open(consultation, knowledge, skipped)
    for note in notes:
        yield Para(note, "", 2, "Note: ")
    yield GAP
    yield Para(best_line(consultation), "option", 0, "Best so far: ")
    for caution in consultation.cautions:
        yield Para(f"{caution.text} [{caution.rule}]", caution.severity, 2, "Caution: ")
    kept, out = len(consultation.kept), len(consultation.ruled_out)
    open_ = len(consultation.questions)
    yield Para(
        f"{kept} candidate{'' if kept == 1 else 's'} kept, {out} ruled out; "
        f"{open_} question{'' if open_ == 1 else 's'} open.",
        "dim",
        2,
    )


def heard(answers: Sequence[Understood], left: Sequence[str]) -> list[Block]:
    """What was understood, with what is to be read back, and the words that nobody could place (``left``)."""
    blocks: list[Block] = []
    for each in answers:
        blocks.append(Para(each.echo, "echo", 0, "= "))
        if each.read_back:
            blocks.append(Para(each.read_back, "say", 2, "Read back: "))
    if left:
        blocks.append(Para(", ".join(f"“{piece}”" for piece in left) + ".", "warn", 2, "Not placed: "))
    return blocks


def decoded(consultation: Consultation) -> Iterator[Block]:
    """What the words for the part fix, and what they leave open; what of them wasn't understood."""
    if consultation.request_fixes:
        fixes = "; ".join(f"{what} {value}" for what, value in consultation.request_fixes)
        yield Para(fixes + ".", "", 2, "That fixes: ")
    else:
        yield Para("It names no size that can be read, so it fixes nothing.", "warn", 2)
    if consultation.request_leaves_open:
        yield Para(", ".join(consultation.request_leaves_open) + ".", "dim", 2, "It leaves open: ")
    for doubt in consultation.request_doubts:
        yield Para(sentence(doubt), "dim", 2)


def in_full(wanted: str, consultation: Consultation, knowledge: Knowledge) -> Iterable[Block]:
    """A section of the written recommendation, or all of it."""
    if not wanted:
        return recommendation(consultation, knowledge)
    found = resolve(wanted, SECTIONS)
    if len(found) != 1:
        return [unresolved(wanted, found or list(SECTIONS))]
    return [*SECTIONS[found[0]](consultation, knowledge)] or [Para(f"There are no {found[0]} to tell.", "warn")]


def new_cautions(before: Consultation, after: Consultation) -> Iterator[Block]:
    """The cautions that an answer brought."""
    warned = {caution.rule for caution in before.cautions}
    for caution in after.cautions:
        if caution.rule not in warned:
            yield Para(f"{caution.text} [{caution.rule}]", caution.severity, 2, "Caution: ")


def new_choices(before: Consultation, after: Consultation) -> bool:
    """Whether other choices, or the same in another order, are put to him."""
    return [option.code for option in shown(before)] != [option.code for option in shown(after)]


def helping() -> Iterator[Block]:
    """The commands."""
    yield from heading("During a call")
    yield Table(("type", "to"), tuple((f"{form.word} {form.follows}".strip(), form.does) for form in FORMS))
    yield Para(
        "Anything else is what the caller said: “about 14k”, “35 psi”, “between 500 and 600”, “not sure”. "
        "Enter alone is nobody's answer: nothing is taken, dropped or closed by it. "
        "Where his words are a command's, or begin like one, put a quotation mark before them: “more.",
        "dim",
        2,
    )


def due(
    consultation: Consultation, passed: Collection[str], more: bool, told: bool, enough: bool
) -> OpenQuestion | None:
    """The first question to ask now: those about the advice once it is ``told`` and there is any, once he said
    ``enough`` no others but what nothing can be advised without, and what could only add a remark when ``more`` was
    wanted."""
    if told and consultation.verdict not in DECIDED:
        return None
    for question in consultation.questions:
        closing = question.fact in CLOSING
        if question.fact in passed or (question.settles == "detail" and not more and not closing):
            continue
        if closing == told and (told or not enough or _is_vital(question)):
            return question
    return None


def lacking(consultation: Consultation, passed: Collection[str]) -> tuple[str, ...]:
    """What can still be asked and nothing can be advised without."""
    return tuple(q.fact for q in consultation.questions if _is_vital(q) and q.fact not in passed)


def _is_vital(question: OpenQuestion) -> bool:
    return question.settles == "essential" and question.fact in ESSENTIAL


def lacks(vital: Sequence[str]) -> Iterator[Block]:
    """That nothing can be advised without these, to who wants no more questions."""
    if vital:
        again = "enough again concludes without."
        yield Para(f"Without {in_a_row(vital)} nothing can be advised, so that is asked still; {again}", "warn")


def lacks_more(before: Consultation, after: Consultation) -> bool:
    """Whether something is now lacking without which nothing can be proposed, and nothing was before: a complaint has
    come to another turbo."""
    lacking = [any(one.settles == "essential" for one in each.questions) for each in (before, after)]
    return lacking == [False, True]


def why(asked: Sequence[FactDef], consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    """Why the questions of now are asked, and which rules wait for them."""
    if not asked:
        yield Para("Nothing is being asked just now that could change the advice.")
    for definition in asked:
        yield from _why(definition, consultation, knowledge)


def _why(definition: FactDef, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    yield from heading(f"Why {definition.name} is asked")
    yield Para(definition.why, "", 2)
    for name, on in consultation.depends.items():
        if definition.name in on.facts:
            yield Para(f"{name} holds {on.condition}.", "", 2, "Hangs on it: ")
    asked = next((question for question in consultation.questions if question.fact == definition.name), None)
    if asked is None:
        return
    if asked.reason not in ("", definition.why):
        yield Para(asked.reason, "", 2, "Now, because: ")
    rules = {rule.name: rule for rule in knowledge.rules}
    for name in asked.asked_by[:MOST_ASKING]:
        rule = rules.get(name)
        yield Para(f"{name}: {rule.because} ({rule.place})" if rule else name, "dim", 2, "Asked for by ")
    if more := asked.asked_by[MOST_ASKING:]:
        yield Para(f"{', '.join(more[:MOST_NAMES])}{', ...' if more[MOST_NAMES:] else ''}.", "dim", 2, "And by ")


def names(consultation: Consultation | None, knowledge: Knowledge) -> tuple[str, ...]:
    """What commands can name: facts that are asked or known, figures and options shown."""
    asked = tuple(name for name, definition in knowledge.vocabulary.items() if definition.source == "asked")
    if consultation is None:
        return asked
    options = (consultation.recommended, *consultation.alternatives, consultation.requested)
    every = (
        *consultation.facts,
        *asked,
        *(figure.name for figure in consultation.figures),
        *(option.code for option in options if option is not None),
    )
    return tuple(dict.fromkeys(every))


def unresolved(wanted: str, found: Sequence[str]) -> Para:
    """A name that isn't clear."""
    if found:
        more = f" and {len(found) - MOST_NAMES} more" if len(found) > MOST_NAMES else ""
        return Para(f"“{wanted.strip()}” could be: {', '.join(found[:MOST_NAMES])}{more}.", "warn")
    return Para(
        f"Nothing here is called “{wanted.strip()}”; summary shows the names. "
        "If the caller said it, put a quotation mark before it.",
        "warn",
    )


def changes(before: Consultation, after: Consultation) -> Iterator[Block]:
    """What a changed answer does to the advice: the turbo, the verdict, and what warns of damage or danger."""
    was, now = best_line(before), best_line(after)
    if was == now and before.verdict == after.verdict:
        yield Para(now.removesuffix(".") + ".", "option", 2, "The advice stays: ")
    else:
        yield Para(was, "", 2, "The advice was: ")
        yield Para(now, "option", 2, "It is now: ")
    told_before, told_after = _grave(before), _grave(after)
    heard_of = {*told_before, *(caution.rule for caution in after.cautions if caution.at_once)}
    lines = [Para(text, "warn", 2, "New: ") for rule, text in told_after.items() if rule not in heard_of]
    lines += [Para(text, "dim", 2, "No longer: ") for rule, text in told_before.items() if rule not in told_after]
    yield from lines[:MOST_CHANGES]
    if len(lines) > MOST_CHANGES:
        yield Para(f"and {len(lines) - MOST_CHANGES} more; summary shows all.", "dim", 2)


def _grave(consultation: Consultation) -> dict[str, str]:
    """The cautions that tell to stop or warn of danger, by the rule or limit behind them."""
    return {caution.rule: caution.text for caution in consultation.cautions if caution.severity in GRAVE}


def beside_trial(tried: Sequence[str], now: Consultation, trial: Consultation) -> Iterator[Block]:
    """The advice as it stands beside the advice with a value tried."""
    yield from heading("What if " + "; ".join(tried))
    rows: list[tuple[str, str, str]] = [
        ("verdict", now.verdict, trial.verdict),
        ("best", best_line(now), best_line(trial)),
    ]
    if now.recommended and trial.recommended:
        pairs = _side_by_side(now.recommended.figures, trial.recommended.figures)
        rows += [(f"best: {name}", one, other) for name, one, other in pairs]
    rows += _side_by_side(now.figures, trial.figures)
    kept = [f"{len(c.kept)} / {len(c.ruled_out)}" for c in (now, trial)]
    rows.append(("kept / ruled out", kept[0], kept[1]))
    yield Table(("", "as it stands", "what if"), tuple(row for row in rows if row[1] != row[2]) or tuple(rows[:2]))
    same = [name for name, one, other in rows if one == other]
    if same:
        yield Para(", ".join(same[:8]) + (" and more" if len(same) > 8 else ""), "dim", 2, "Unchanged: ")
    warned = {caution.rule for caution in now.cautions}
    for caution in trial.cautions:
        if caution.rule not in warned:
            yield Para(f"{caution.text} [{caution.rule}]", caution.severity, 2, "New caution: ")
    yield Para("Nothing was kept; change FACT makes it so.", "dim", 2)


def surge_words(band: Range) -> str:
    """What the ends of a surge margin mean at the wheel: ", from barking to ample"."""
    low, high = (next((words for most, words in AT_THE_WHEEL if end < most), "ample") for end in (band.low, band.high))
    return f", {low}" if low == high else f", from {low} to {high}"


def _side_by_side(ones: Iterable[Figure], others: Iterable[Figure]) -> Iterator[tuple[str, str, str]]:
    """(name, one, other) of figures; what has to stand beside them is told where it isn't the same."""
    left, right = ({figure.name: figure for figure in figures} for figures in (ones, others))
    for name in dict.fromkeys((*left, *right)):
        one, other = left.get(name), right.get(name)
        apart = one is not None and other is not None and one.note != other.note
        texts = [f"{side.text} {side.note * apart}".rstrip() if side else "" for side in (one, other)]
        yield name, texts[0], texts[1]
