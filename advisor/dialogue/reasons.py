"""How a conclusion came about, why another did not, how far it holds and what would change it: the answers to
`how`, `why not`, `holds`, `instead` and `what if`."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from advisor import units
from advisor.dialogue.commands import Command, lacking_equals, parted, resolve
from advisor.dialogue.turn import Consult
from advisor.dialogue.views import beside_trial, surge_words, unresolved
from advisor.hearing import understand
from advisor.hearing.request import decode
from advisor.hearing.understood import value_words
from advisor.his_units import Instead, his_units, hold_told, kept, speaking, switch_told
from advisor.inference import explain
from advisor.inference.explain import Step
from advisor.knowledge import Knowledge, Rule
from advisor.knowledge.rules import AddPart
from advisor.knowledge.strata import writes
from advisor.outcome import Answer, Consultation, Figure, Option, Understood
from advisor.sheet.layout import Block, Para, Sketch, Table, heading
from advisor.sheet.text import shown
from advisor.sheet.trace import fact_base, row_of

IN_FULL = ("how", "why not")
"""Commands that tell what hangs on the ranges that he gave."""
ADVICE = ("advice", "recommendation", "best", "verdict")
DEEPEST = 6
MOST_REASONS = 5
Told: TypeAlias = tuple[Knowledge, Instead]
"""The shop's knowledge, and the units in which he is told."""
A_TENTH = 0.05  # points; less is not worth a line
SAME_SIZE = 0.00075  # m; the trade rounds to whole millimetres


def asked(
    command: Command, answers: Sequence[Answer], now: Consultation, shops: Knowledge, consult: Consult
) -> Iterator[Block]:
    """What a command that only asks about the advice is told."""
    told = shops, his_units(now.understood, shops.vocabulary)
    knowledge = speaking(*told)
    match command.word:
        case "how":
            return how(command.argument or ADVICE[0], now, knowledge)
        case "why not":
            return why_not(command.argument, now, knowledge)
        case "what if":
            return what_if(command.argument, answers, now, told, consult)
        case "instead":
            return instead(command.argument, answers, now, told)
        case "holds":
            return held(answers, told)
        case _:
            return mapped(command.argument, now, knowledge)


def how(wanted: str, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    """How a fact, figure, rule, option or the advice came about, down to the caller's own words."""
    figures: dict[str, Figure] = {}
    for figure in _figures(consultation):  # of the turbo recommended, where it has one of the name
        figures.setdefault(figure.name, figure)
    options = {option.code: option for option in shown(consultation)}
    firings = dict.fromkeys(firing.rule for firing in consultation.firings)
    known = (*consultation.facts, *firings, *consultation.depends)
    found = resolve(wanted, (*ADVICE, *options, *figures, *known, *knowledge.vocabulary))
    if len(found) != 1:
        yield unresolved(wanted, found)
        return
    name = found[0]
    yield from heading(f"How {name} came about")
    if name in ADVICE:
        yield from _advice(consultation, knowledge)
    elif name in options:
        yield from _option(options[name], consultation, knowledge)
    elif (step := None if name in figures else _explained(name, consultation, knowledge)) is not None:
        yield from _steps(step, 0)
    elif name not in figures and name not in consultation.depends:
        yield Para(f"{name} is not known yet: nobody has answered or set it.", "", 2)
    if name in figures:
        yield from _figure(figures[name])
    yield from _open(name, consultation, knowledge)


def _open(name: str, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    """That a rule, or what would set a fact, is open over the ranges that the caller gave, and what decides it."""
    writing = () if name in consultation.facts else (r.name for r in knowledge.rules if name in writes(r))
    for rule in (name, *writing):
        if (on := consultation.depends.get(rule)) is not None:
            yield Para(f"{rule} holds {on.condition}.", "", 2, "over what he gave as a range: ")


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
    titles = _titles(consultation)
    rules = {rule.name: rule for rule in knowledge.rules}
    kinds = {action.kind: "" for rule in knowledge.rules for action in rule.then if isinstance(action, AddPart)}
    kinds |= dict.fromkeys(sorted(part.kind for part in knowledge.catalogue.fittings.values()), "")
    by_size = [] if wanted in titles else _by_size(wanted, consultation, knowledge)
    found = [] if by_size else resolve(wanted, (*titles, *rules, *kinds))
    if not found and not by_size:
        by_title = {title: code for code, title in titles.items()}
        found = [by_title[title] for title in resolve(wanted, by_title)]
    if len(found) > 1 and set(found) <= titles.keys():
        by_size = found
    if by_size:
        yield from _not_these(wanted, by_size, consultation, knowledge)
        return
    if len(found) != 1:
        yield _no_such_size(wanted, knowledge) or unresolved(wanted, found)
        return
    name = found[0]
    yield from heading(f"Why not {titles.get(name, name)}")
    if name in titles:
        yield from _not_candidate(name, consultation, knowledge)
    elif name in rules:
        yield from _not_rule(name, consultation, knowledge)
    else:
        yield from _not_part(name, consultation, knowledge)


def instead(wanted: str, answers: Sequence[Answer], consultation: Consultation, told: Told) -> Iterator[Block]:
    """What would have to change for another turbo to be advised."""
    from advisor.bounds import switches  # the first question need not wait for it

    knowledge = speaking(*told)
    titles = _titles(consultation)
    found = _by_size(wanted, consultation, knowledge) or resolve(wanted, (*knowledge.catalogue.turbos, *titles))
    turbos = list(dict.fromkeys(_turbo_of(code, knowledge) for code in found))
    if len(turbos) > 1:  # of several the one that does best
        turbos = [turbo for code in titles if (turbo := _turbo_of(code, knowledge)) in turbos][:1]
    if not turbos:
        yield _no_such_size(wanted, knowledge) or unresolved(wanted, found)
        return
    best = consultation.recommended
    yield from heading(f"What would have to change for {turbos[0]}")
    if best is not None and _turbo_of(best.code, knowledge) == turbos[0]:
        yield Para("It is the one recommended.", "", 2)
        return
    changes = switches(turbos[0], answers, told[0])
    for change in changes:
        yield Para(switch_told(change, told[1]).text + ".", "option", 2, "- ")
    if not changes:
        yield Para("Nothing that he can look up or alter would do it, neither alone nor two at once.", "", 2)
        yield from why_not(wanted, consultation, knowledge)


def held(answers: Sequence[Answer], told: Told) -> Iterator[Block]:
    """Up to which values the turbo advised stays the same."""
    from advisor.bounds import holds

    yield from heading("How far the advice holds")
    found = holds(answers, told[0])
    for hold in found:
        yield Para(hold_told(hold, told[1]).text + ".", "", 2, "- ")
    if not found:
        yield Para("No turbo is advised yet.", "", 2)


def mapped(wanted: str, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    """The compressor map of an option with its operating line, the recommended one unless another is named."""
    from advisor.maps import as_text, compressor_map, legend

    options = {option.code: option for option in shown(consultation)} if consultation.recommended else {}
    of_size = [code for code in _by_size(wanted, consultation, knowledge) if code in options]
    found = of_size[:1] or (resolve(wanted, options) if wanted else list(options)[:1])
    if not options:
        yield Para("No turbo is advised yet.", "warn")
        return
    if len(found) != 1:
        yield unresolved(wanted, found)
        return
    option = options[found[0]]
    chart = compressor_map(option, knowledge)
    if chart is None:
        yield Para(f"There is no map for {option.code}.", "warn")
        return
    yield from heading(f"Compressor map of {chart.title}")
    yield Sketch(lambda width: as_text(chart, width))
    for line in legend(chart):
        yield Para(line, "dim", 2)
    names = [name for name, _, _ in option.line.columns]
    for margin, border in (("surge margin", "the surge line"), ("choke margin", "choke")):
        at = names.index(margin)
        sound = [row for row in option.line.rows if row[2]]
        if sound:
            duty, speed, _, figures = min(sound, key=lambda row: row[3][at])
            where = f"{duty} at {units.show(round(speed, 1), 'rpm', 'rotation', 0)}"
            yield Para(f"{where}, {units.show(figures[at], '%', 'percent', 0)}.", "", 2, f"Nearest to {border}: ")


def what_if(
    argument: str, answers: Sequence[Answer], now: Consultation, told: Told, consult: Consult
) -> Iterator[Block]:
    """The advice as it stands beside the advice with other values: "altitude = 7,000 ft and if ..."."""
    (shops, his), knowledge = told, speaking(*told)
    tried: dict[str, Understood] = {}
    for piece in argument.split(" and if "):
        name, words = parted(piece, askable(knowledge))
        fact = one_of(name, askable(knowledge))
        if isinstance(fact, Para) or not words.strip():
            yield fact if isinstance(fact, Para) else Para("Say it like: what if altitude = 7,000 ft.", "warn")
            return
        heard = understand(definition := knowledge.vocabulary[fact], words)
        if wrong := ("=" not in piece and lacking_equals(definition, words)) or heard.again:
            yield Para(wrong, "warn")
            return
        tried[fact] = kept(heard, shops.vocabulary[fact], his)
    given = {answer.fact: answer.words for answer in answers}
    given |= {fact: heard.answer.words for fact, heard in tried.items()}
    trial = consult([Answer(fact, words) for fact, words in given.items()])
    yield from beside_trial([heard.echo for heard in tried.values()], now, trial)


def askable(knowledge: Knowledge) -> list[str]:
    """The facts that a caller can be asked for."""
    return [name for name, definition in knowledge.vocabulary.items() if definition.source == "asked"]


def one_of(wanted: str, *known: Sequence[str]) -> str | Para:
    """The one name that is meant, of the first names among which it is clear; or what to say where it isn't."""
    found = [resolve(wanted, names) for names in known]
    return next((one[0] for one in found if len(one) == 1), unresolved(wanted, found[0]))


def _titles(consultation: Consultation) -> dict[str, str]:
    """Every candidate, the kept ones first and best first."""
    titles = {code: title for code, title, _ in consultation.kept}
    return titles | {out.code: out.title for out in consultation.ruled_out}


def _turbo_of(code: str, knowledge: Knowledge) -> str:
    """The turbo of a candidate, or of a turbo's own code."""
    candidates = knowledge.catalogue.candidates()
    return candidates.combinations[candidates.index(code)].turbo.code if code in candidates.codes else code


def _by_size(wanted: str, consultation: Consultation, knowledge: Knowledge) -> list[str]:
    """The candidates whose compressor wheel has the size that the trade's shorthand names ("a 64"), best first."""
    inducer, candidates = decode(wanted).inducer, knowledge.catalogue.candidates()
    if inducer is None or wanted.upper() in candidates.codes or resolve(wanted, knowledge.catalogue.turbos):
        return []
    size = candidates.facts["compressor inducer"]
    sizes = zip(candidates.codes, size.tolist(), strict=True)
    near = {code for code, own in sizes if abs(own - inducer.mid) < SAME_SIZE}
    return [code for code in _titles(consultation) if code in near]


def _no_such_size(wanted: str, knowledge: Knowledge) -> Para | None:
    """That the shop sells no wheel of a size, with the two it sells next to it; None where no size is meant."""
    inducer = decode(wanted).inducer
    sold = sorted(set(knowledge.catalogue.candidates().facts["compressor inducer"].tolist()))
    if inducer is None or not sold:
        return None
    next_to = sorted(sorted(sold, key=lambda size: abs(size - inducer.mid))[:2])
    sizes = " and ".join(units.show(size, "mm", "length") for size in next_to)
    return Para(f"The catalogue has no wheel of {units.show(inducer, 'mm', 'length')}; next to it are {sizes}.", "warn")


def _not_these(wanted: str, codes: Sequence[str], consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    """Why none of several candidates was chosen: what rules out how many, then the best of them."""
    yield from heading(f"Why not {wanted.strip()}")
    best = consultation.recommended
    if best is not None and best.code in codes:
        yield Para(f"The one recommended is among them: {best.title} ({best.code}).", "option", 2)
        return
    out = {gone.code: gone.by for gone in consultation.ruled_out if gone.code in codes}
    yield Para(f"{len(codes)} in the catalogue, {len(out)} of them ruled out.", "", 2)
    turbos = dict.fromkeys(_turbo_of(code, knowledge) for code in codes)
    if len(turbos) > 1:
        yield Para(", ".join(turbos) + ". Which does he mean? why not with one of these says more.", "", 2, "They are ")
    because = {rule.name: rule.because for rule in knowledge.rules}
    for rule, count in Counter(rule for by in out.values() for rule in by).most_common(MOST_REASONS):
        words = because.get(rule, "")
        yield Para(f"{rule}: {words}" if words else rule, "", 4, f"{count} by ")
    first = codes[0]
    yield Para(f"{_titles(consultation)[first]} ({first}):", "option", 2, "The best of them: ")
    yield from _not_candidate(first, consultation, knowledge)


def _not_part(kind: str, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    """Why a kind of part is not on the list: no rule asks for it, or which condition of one is false or open."""
    codes = {code for code, part in knowledge.catalogue.fittings.items() if part.kind == kind}
    on_list = [part for part in consultation.parts if part.code in codes]
    for part in on_list:
        yield Para(f"It is on the parts list: {part.words} ({part.code}), {part.why}.", "", 2)
    if on_list:
        return
    adding = {r.name: [act.kind for act in r.then if isinstance(act, AddPart)] for r in knowledge.rules}
    rules = [name for name, kinds in adding.items() if kind in kinds]
    for name in rules:
        yield from _not_rule(name, consultation, knowledge)
    if not rules:
        yield Para("No joint of the turbo advised needs it, and no rule adds it.", "", 2)


def _figures(consultation: Consultation) -> Iterator[Figure]:
    yield from consultation.figures
    for option in shown(consultation):
        yield from option.figures


def _advice(consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    best = consultation.recommended
    yield Para(consultation.verdict_words, "", 2)
    if best is not None:
        yield from _option(best, consultation, knowledge)
    for one in consultation.rests_on:
        yield Para(one.text, "dim", 2, "rests on: ")
    for closer in consultation.unsettled:
        yield Para(closer.text, "dim", 2, "a closer figure would settle: ")


def _option(option: Option, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    place = next((i for i, (code, *_) in enumerate(consultation.kept, 1) if code == option.code), None)
    among = f", place {place} of {len(consultation.kept)} kept" if place else ""
    yield Para(f"{option.title} ({option.code}): {option.points:.0f} points{among}.", "option", 2)
    for label, sentences in (("for it: ", option.gains), ("against it: ", option.loses)):
        for sentence in sentences:
            yield Para(sentence, "", 4, label)
    for rule in option.ruled_out_by:
        yield Para(rule, "care", 4, "ruled out by: ")
    for sentence in option.hangs:
        yield Para(sentence, "care", 4, "hangs: ")
    row = row_of(consultation, option.code)
    for weighs, taken in weighing(consultation, knowledge):
        if row is not None and abs(taken[row]) >= A_TENTH:
            size = _points(weighs, taken, row, consultation).rstrip(",")
            yield Para(f"{weighs.because} [{weighs.name}]", "", 4, f"{size}: ")
    for figure in option.figures:
        yield Para(_figure_words(figure), "dim", 4)


def _figure(figure: Figure) -> Iterator[Block]:
    yield Para(_figure_words(figure), "", 2)
    if figure.over_text:
        yield Para(f"{figure.over_text}.", "", 4, "over what he gave as a range: ")
    if figure.band_text:
        words = surge_words(figure.band) if figure.name == "surge margin" and figure.band is not None else ""
        yield Para(f"{figure.band_text}{words}, with all that is assumed.", "dim", 4, "nine times in ten: ")
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
    if step.points:
        yield Para(step.points, "dim", indent + 2)
    for test in step.tests:
        yield Para(test.line, "dim", indent + 2 + 2 * test.depth, "- ")
    for below in step.rests_on:
        yield from _steps(below, depth + 1)


def _not_candidate(code: str, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    best = consultation.recommended
    if best is not None and code == best.code:
        yield Para("It is the one recommended.", "", 2)
        return
    for sentence in (words for option in shown(consultation) if option.code == code for words in option.hangs):
        yield Para(sentence, "care", 2, "Hangs on what he gave as a range: ")
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
    for rule, taken in weighing(consultation, knowledge):
        if abs(taken[row] - taken[best_row]) >= A_TENTH:
            named = ((at, whose) for at, whose in ((row, "this one"), (best_row, "the best")) if taken[at])
            said = "; ".join(f"{_points(rule, taken, at, consultation)} for {whose}" for at, whose in named)
            yield Para(f"{said}: {rule.because} [{rule.name}]", "", 4, "- ")
    theirs = consultation.candidate_facts.at(row)
    rows = []
    for figure in best.figures:
        value = theirs.value(figure.name)
        said = value_words(value, knowledge.vocabulary.get(figure.name)) if value is not None else ""
        if said and said != figure.text:
            rows.append((figure.name, figure.text, said))
    yield Table(("figure", "the best", "this one"), tuple(rows), frozenset({1, 2}), 4)


def weighing(consultation: Consultation, knowledge: Knowledge) -> Iterator[tuple[Rule, NDArray[np.float64]]]:
    """Every rule that weighs candidates, with the points that it takes from each (N,)."""
    rules = {rule.name: rule for rule in knowledge.rules}
    for firing in consultation.firings:
        if firing.mask is not None and firing.points is not None and firing.rule in rules:
            yield rules[firing.rule], np.broadcast_to(firing.points.sure, firing.mask.shape)


def _points(rule: Rule, taken: NDArray[np.float64], row: int, consultation: Consultation) -> str:
    """What a rule does to a candidate: "-6 points", "8 of 18 points off, at 1,340 °F,"."""
    if not rule.slopes:
        return f"{-float(taken[row]):+g} points"
    return f"{explain.points_words(rule, consultation.candidate_facts.at(row))},"


def _not_rule(name: str, consultation: Consultation, knowledge: Knowledge) -> Iterator[Block]:
    rule = next(rule for rule in knowledge.rules if rule.name == name)
    yield Para(f"{rule.name} ({rule.place}): {rule.because}", "", 2)
    yield from _open(name, consultation, knowledge)
    if any(firing.rule == name for firing in consultation.firings):
        yield Para("This rule did fire.", "", 4)
        return
    found = explain.why_not(rule, fact_base(consultation), knowledge.vocabulary)
    if not found.hindrances:
        yield Para("Its facts are not complete: nothing in it is false.", "", 4)
    for hindrance in found.hindrances:
        yield Para(hindrance.line, "", 4, "- ")
