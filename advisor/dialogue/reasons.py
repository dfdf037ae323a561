"""How a conclusion came about, and why another did not: the answers to `how` and `why not`."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from advisor.dialogue.commands import resolve
from advisor.dialogue.views import unresolved
from advisor.hearing import value_words
from advisor.inference import explain
from advisor.inference.explain import Step
from advisor.knowledge import Knowledge
from advisor.knowledge.rules import AddPart, Penalise
from advisor.outcome import Consultation, Figure, Option
from advisor.sheet.layout import Block, Para, Table, heading
from advisor.sheet.text import shown
from advisor.sheet.trace import fact_base, row_of

ADVICE = ("advice", "recommendation", "best", "verdict")
DEEPEST = 6


def how(wanted: str, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    """How a fact, figure, rule, option or the advice came about, down to the caller's own words."""
    figures = {figure.name: figure for figure in _figures(consultation)}
    options = {option.code: option for option in shown(consultation)}
    firings = dict.fromkeys(firing.rule for firing in consultation.firings)
    found = resolve(
        wanted, (*ADVICE, *options, *figures, *consultation.facts, *firings, *knowledge.vocabulary)
    )
    if len(found) != 1:
        yield unresolved(wanted, found)
        return
    name = found[0]
    yield from heading(f"How {name} came about")
    if name in ADVICE:
        yield from _advice(consultation, knowledge)
    elif name in options:
        yield from _option(options[name], consultation, knowledge)
    elif (step := _explained(name, consultation, knowledge)) is not None:
        yield from _steps(step, 0)
    elif name not in figures:
        yield Para(f"{name} is not known yet: nobody has answered or set it.", "", 2)
    if name in figures:
        yield from _figure(figures[name])


def _explained(name: str, consultation: Consultation, knowledge: Knowledge) -> Step | None:
    """How a fact came about, of the recommended candidate where it differs from one to the next."""
    best = consultation.recommended
    row = row_of(consultation, best.code) if best else None
    facts = fact_base(consultation)
    step = explain.how(name, facts, consultation.firings, knowledge, row)
    if step is None and row is not None:
        step = explain.how(name, consultation.candidate_facts, consultation.firings, knowledge, row)
    return step


def why_not(wanted: str, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    """Why a candidate, a part or the conclusion of a rule was not chosen."""
    titles = {code: title for code, title, _ in consultation.kept}
    titles |= {out.code: out.title for out in consultation.ruled_out}
    rules = {rule.name: rule for rule in knowledge.rules}
    kinds = {action.kind for rule in knowledge.rules for action in rule.then if isinstance(action, AddPart)}
    found = resolve(wanted, (*titles, *rules, *sorted(kinds)))
    if not found:
        by_title = {title: code for code, title in titles.items()}
        found = [by_title[title] for title in resolve(wanted, by_title)]
    if len(found) != 1:
        yield unresolved(wanted, found)
        return
    name = found[0]
    yield from heading(f"Why not {titles.get(name, name)}")
    if name in titles:
        yield from _not_candidate(name, consultation, knowledge)
    elif name in rules:
        yield from _not_rule(name, consultation, knowledge)
    else:
        if any(name in (part.code, part.words) for part in consultation.parts):
            yield Para("It is on the parts list.", "", 2)
        for rule in knowledge.rules:
            if any(isinstance(action, AddPart) and action.kind == name for action in rule.then):
                yield from _not_rule(rule.name, consultation, knowledge)


def _figures(consultation: Consultation) -> Iterator[Figure]:
    yield from consultation.figures
    for option in shown(consultation):
        yield from option.figures


def _advice(consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    best = consultation.recommended
    yield Para(consultation.verdict_words, "", 2)
    if best is not None:
        yield from _option(best, consultation, knowledge)
    for sentence in consultation.rests_on:
        yield Para(sentence, "dim", 2, "rests on: ")


def _option(option: Option, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    place = next((i for i, (code, *_) in enumerate(consultation.kept, 1) if code == option.code), None)
    among = f", place {place} of {len(consultation.kept)} kept" if place else ""
    yield Para(f"{option.title} ({option.code}): {option.points:.0f} points{among}.", "option", 2)
    for label, sentences in (("for it: ", option.gains), ("against it: ", option.loses)):
        for sentence in sentences:
            yield Para(sentence, "", 4, label)
    for rule in option.ruled_out_by:
        yield Para(rule, "care", 4, "ruled out by: ")
    row = row_of(consultation, option.code)
    for name, because, points, mask in _weighing(consultation, knowledge):
        if row is not None and mask[row]:
            yield Para(f"{because} [{name}]", "", 4, f"{points:+g} points: ")
    for figure in option.figures:
        yield Para(_figure_words(figure), "dim", 4)


def _figure(figure: Figure) -> Iterator[Block]:
    yield Para(_figure_words(figure), "", 2)
    if figure.meaning:
        yield Para(figure.meaning, "dim", 4)
    if figure.source:
        yield Para(figure.source, "dim", 4, "by: ")


def _figure_words(figure: Figure) -> str:
    basis = f"{figure.basis}; {figure.assumption}" if figure.assumption else figure.basis
    return f"{figure.name}: {figure.text} ({basis})"


def _steps(step: Step, depth: int) -> Iterator[Block]:
    indent = 2 + 2 * min(depth, DEEPEST)
    at = f" ({step.place})" if step.place is not None else ""
    yield Para(f"{step.what}: {step.why}{at}", "" if depth == 0 else "dim", indent)
    for text, verdict in step.tests:
        yield Para(f"{text}: {verdict}", "dim", indent + 2, "- ")
    for below in step.rests_on:
        yield from _steps(below, depth + 1)


def _not_candidate(code: str, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    best = consultation.recommended
    if best is not None and code == best.code:
        yield Para("It is the one recommended.", "", 2)
        return
    for out in consultation.ruled_out:
        if out.code == code:
            yield Para(", ".join(out.by) + ".", "", 2, "Ruled out by: ")
            for rule, words in zip(out.by, out.words, strict=False):
                yield Para(words, "say", 4)
                facts, row = consultation.candidate_facts, row_of(consultation, code)
                step = explain.how(rule, facts, consultation.firings, knowledge, row)
                if step is not None:
                    yield from _steps(step, 2)
            return
    points = {kept: score for kept, _, score in consultation.kept}
    place = list(points).index(code) + 1
    lead = f", {points[best.code] - points[code]:.1f} behind the best" if best and best.code in points else ""
    yield Para(f"Kept, but in place {place} with {points[code]:.1f} points{lead}.", "", 2)
    if best is not None:
        yield from _beside(code, best, consultation, knowledge)


def _beside(code: str, best: Option, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    """A candidate beside the best one: the rules that part them, and their figures."""
    row, best_row = row_of(consultation, code), row_of(consultation, best.code)
    if row is None or best_row is None:
        return
    for name, because, points, mask in _weighing(consultation, knowledge):
        if mask[row] != mask[best_row]:
            whose = "this one" if mask[row] else "the best"
            yield Para(f"{because} [{name}]", "", 4, f"{points:+g} points for {whose}: ")
    theirs = consultation.candidate_facts.at(row)
    rows = []
    for figure in best.figures:
        value = theirs.value(figure.name)
        said = value_words(value, knowledge.vocabulary.get(figure.name)) if value is not None else ""
        if said and said != figure.text:
            rows.append((figure.name, figure.text, said))
    yield Table(("figure", "the best", "this one"), tuple(rows), frozenset({1, 2}), 4)


def _weighing(
    consultation: Consultation, knowledge: Knowledge
) -> Iterator[tuple[str, str, float, NDArray[np.bool_]]]:
    """(rule, because, points, for which candidates) of every rule that weighs candidates."""
    rules = {rule.name: rule for rule in knowledge.rules}
    for firing in consultation.firings:
        if firing.mask is None or firing.rule not in rules:
            continue
        rule = rules[firing.rule]
        points = -sum(action.points for action in rule.then if isinstance(action, Penalise))
        if points:
            yield rule.name, rule.because, points, firing.mask


def _not_rule(name: str, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    rule = next(rule for rule in knowledge.rules if rule.name == name)
    yield Para(f"{rule.name} ({rule.place}): {rule.because}", "", 2)
    if any(firing.rule == name for firing in consultation.firings):
        yield Para("This rule did fire.", "", 4)
        return
    found = explain.why_not(rule, fact_base(consultation), knowledge.vocabulary)
    if not found.hindrances:
        yield Para("Its facts are not complete: nothing in it is false.", "", 4)
    for hindrance in found.hindrances:
        yield Para(hindrance.line, "", 4, "- ")
