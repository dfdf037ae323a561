"""How soon the advice settles, by the order in which questions are asked, and whether asking stops too early; run by
hand: python tests/benchmarks/bench_questions.py [CALLERS [PROCESSES [THINNED]]]

Generated callers (tests/invented.py) know all about themselves, with a fixed seed. They are asked
in order of worth, in the fixed order of the vocabulary, and at random (what no turbo can be proposed without first,
so that chance isn't made to look worse than it is), over a catalogue with one turbo in THINNED (1: all), so that a
walk of fifty answers takes seconds. What is asked in one breath is asked so in all three. Counted are the answers and
the questions, one for each breath, after which the turbo stays what it is with all answers given, and after which the
whole advice does (turbo and housing, verdict, and every caution of severity stop or danger). Who has a complaint and
wants no turbo is advised none: what must stay for him is what he is told to look at. The order of worth stops by
itself: a stop is too early when the turbo then differs from that of the full truth; such a caller counts with all his
questions.
"""

import random
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))

from calls import shop, thinned
from invented import hidden
from walks import AFTER_ADVICE

from advisor.course import infer
from advisor.hearing import understand
from advisor.inference.engines import agenda
from advisor.inference.facts import FactBase
from advisor.knowledge.conditions import facts_in
from advisor.knowledge.rules import Caution, NextStep, Recommend
from advisor.outcome import DIAGNOSED, Answer
from advisor.questions import COMPLAINT, applies, causes, still_open
from advisor.situation import ESSENTIAL

THINNED = 6
FIRST = ("call kind", "request", *ESSENTIAL)


def advice(course, knowledge):
    """What must no longer change: the verdict, the turbo and housing (or what a complaint's answers say to look at,
    while no turbo is in question), and the grave cautions."""
    turbo = None
    if course.diagnosing:
        asked = {*causes(course, knowledge), COMPLAINT}
        turbo = (frozenset(f.rule for f in course.firings if traces(knowledge.rule(f.rule), asked, knowledge)), None)
    elif course.best is not None and not course.now.missing:
        combination = course.weighed.candidates.combinations[course.best]
        turbo = (combination.turbo.code, combination.housing.code)
    grave = {
        firing.rule
        for firing in course.firings
        if firing.fired_for(course.best)
        and any(isinstance(a, Caution) and a.severity in ("stop", "danger") for a in knowledge.rule(firing.rule).then)
    }
    return course.verdict, turbo, frozenset(grave)


def traces(rule, asked, knowledge):
    """Whether a rule says what to look at for what is ``asked`` to trace a complaint, and reads nothing but answers."""
    read = [knowledge.vocabulary[name] for name in facts_in(rule.when)]
    told = {fact.name for fact in read if fact.topic == COMPLAINT}
    if any(fact.source != "asked" for fact in read):
        return False
    return bool(told) and told <= asked and any(isinstance(action, NextStep | Recommend) for action in rule.then)


def turbo_of(made):
    """The turbo of an advice, or what it says to look at; None without one."""
    return made[1] and made[1][0]


def given_away(made, course):
    """Points of the final course that the turbo of an advice gives away to the best one; None where it is out."""
    weighed = course.weighed
    alike = [float(weighed.points[row]) for row in weighed.order if weighed.turbo(row) == turbo_of(made)]
    return float(weighed.points[course.best]) - max(alike) if alike and course.best is not None else None


def walk_by_worth(known, knowledge, fires):
    """The facts in the order of worth until the questions stop, the advice after each, after how many of them the
    turbo was first said to stand (None: never), and how many breaths it takes to ask the first so many."""
    order, made, answers, stood, breaths = [], [], [], None, [0]
    while True:
        course = infer(answers, knowledge, fires)
        made.append(advice(course, knowledge))
        left = still_open(course, knowledge)
        stood = len(answers) if left.stands and stood is None else stood
        more = course.verdict == DIAGNOSED and not left.outlook.stands  # which turbo to take is then asked on request
        open_ = (q for q in left.questions if q.fact not in AFTER_ADVICE)
        question = next((q for q in open_ if q.settles != "detail" or (more and q.fact in left.outlook.worth)), None)
        if question is None:
            return order, made, stood, breaths
        asked = question.together or (question.fact,)
        for at, fact in enumerate(asked, 1):
            order.append(fact)
            answers.append(Answer(fact, known[fact]))
            breaths.append(breaths[-1] + (at == 1))
            if at < len(asked):
                made.append(advice(infer(answers, knowledge, fires), knowledge))


def in_breaths(order, knowledge):
    """An order with all that is asked in one breath at the place of its first."""
    groups = {}
    for fact in order:
        groups.setdefault(knowledge.vocabulary[fact].together or fact, []).append(fact)
    return [fact for group in groups.values() for fact in group]


def breaths_of(order, knowledge):
    """How many breaths it takes to ask the first 0, 1, 2, ... of an order."""
    groups = [knowledge.vocabulary[fact].together or fact for fact in order]
    return [len(set(groups[:count])) for count in range(len(order) + 1)]


def walk_in_order(names, known, knowledge):
    """The facts of a fixed order as far as they apply, and all answers to them."""
    order, answers = [], []
    left = list(names)
    said = FactBase()
    while True:
        fact = next((name for name in left if applies(knowledge.vocabulary[name], said)), None)
        if fact is None:
            return order, answers
        left.remove(fact)
        order.append(fact)
        answers.append(Answer(fact, known[fact]))
        heard = understand(knowledge.vocabulary[fact], known[fact]).fact
        said = said if heard is None else said.with_facts([heard])


def settled(answers, final, knowledge, fires):
    """After how many answers the turbo stays final, and the whole advice; looked for from the end."""
    same = None
    for count in range(len(answers) - 1, -1, -1):
        made = advice(infer(answers[:count], knowledge, fires), knowledge)
        if same is None and made != final:
            same = count + 1
        if turbo_of(made) != turbo_of(final):
            return count + 1, same
    return 0, same or 0


def first_of(made, right, most):
    """The first place from which on all are right; ``most`` where the last one isn't."""
    return next((n for n in range(len(made)) if all(right(one) for one in made[n:])), most)


def one(seed, thin):
    """What came of one caller, by name."""
    knowledge, fires = shop() if thin == 1 else thinned(thin), agenda("reference")
    known = hidden(seed, knowledge)
    definitions = sorted(knowledge.vocabulary.values(), key=lambda d: d.order)
    names = [d.name for d in definitions if d.name in known and d.name not in AFTER_ADVICE]
    shuffled = [name for name in names if name not in FIRST]
    random.Random(-seed - 1).shuffle(shuffled)
    fixed, all_answers = walk_in_order(in_breaths(names, knowledge), known, knowledge)
    course = infer(all_answers, knowledge, fires)
    final = advice(course, knowledge)
    order, made, stood, breaths = walk_by_worth(known, knowledge, fires)
    by_chance, answers = walk_in_order(in_breaths([*FIRST, *shuffled], knowledge), known, knowledge)
    turbo = first_of(made, lambda one: turbo_of(one) == turbo_of(final), len(fixed))
    whole = first_of(made, lambda one: one == final, len(fixed))
    counts = ((turbo, whole), settled(all_answers, final, knowledge, fires), settled(answers, final, knowledge, fires))
    rest = [name for name in fixed if name not in order]
    paths = ([*order, *rest], fixed, by_chance)
    every = (
        [*breaths, *(breaths[-1] + more for more in breaths_of(rest, knowledge)[1:])],
        breaths_of(fixed, knowledge),
        breaths_of(by_chance, knowledge),
    )
    found = {"asked": len(order), "breaths": breaths[-1], "all": len(fixed), "all breaths": every[1][-1]}
    for name, path, asked, (turbo, whole) in zip(("worth", "fixed", "random"), paths, every, counts, strict=True):
        seconds = sum(knowledge.vocabulary[fact].seconds for fact in path[:turbo])
        found |= {f"{name} turbo": turbo, f"{name} whole": whole, f"{name} seconds": seconds}
        found |= {f"{name} turbo asked": asked[turbo], f"{name} whole asked": asked[whole]}
    found["early"] = turbo_of(made[-1]) != turbo_of(final)
    found["stood"] = np.nan if stood is None else stood
    found["stood asked"] = np.nan if stood is None else breaths[stood]
    found["stood early"] = np.nan if stood is None else turbo_of(made[stood]) != turbo_of(final)
    away = given_away(made[-1], course)
    found["given away"] = np.nan if away is None else away
    return found


def main() -> None:
    count, processes, thin = (
        int(sys.argv[at]) if len(sys.argv) > at else usual for at, usual in ((1, 200), (2, 2), (3, THINNED))
    )
    with ProcessPoolExecutor(processes) as pool:
        rows = []
        for row in pool.map(partial(one, thin=thin), range(count), chunksize=2):
            rows.append(row)
            early = np.nanmean([each["stood early"] for each in rows])
            print(f"{len(rows)} callers, {early:.1%} stood too early", end="\r", file=sys.stderr, flush=True)
    found = {name: np.asarray([row[name] for row in rows], dtype=float) for name in rows[0]}
    candidates = len((shop() if thin == 1 else thinned(thin)).catalogue.candidates())
    print(f"{count} callers, {candidates} candidates")
    for name in ("worth", "fixed", "random"):
        for what, unit in (("", "answers"), (" asked", "questions")):
            turbo, whole = found[f"{name} turbo{what}"], found[f"{name} whole{what}"]
            print(
                f"{name:7s} {unit} until the turbo stays: median {np.median(turbo):.0f}, mean {turbo.mean():.1f}, "
                f"90 % {np.quantile(turbo, 0.9):.0f}; until the whole advice stays: median {np.median(whole):.0f}, "
                f"mean {whole.mean():.1f}"
            )
        print(f"{name:7s} {np.median(found[f'{name} seconds']):.0f} s of asking until the turbo stays (median)")
    print(
        f"asking stops after {np.median(found['asked']):.0f} of {np.median(found['all']):.0f} answers, "
        f"{np.median(found['breaths']):.0f} of {np.median(found['all breaths']):.0f} questions (median; mean "
        f"{found['breaths'].mean():.1f}, 90 % {np.quantile(found['breaths'], 0.9):.0f}); too early in "
        f"{found['early'].mean():.1%}, giving away at most {np.nanmax(found['given away']):.1f} points"
    )
    stood = ~np.isnan(found["stood"])
    print(
        f"the turbo is said to stand in {stood.mean():.0%}, after {np.nanmedian(found['stood']):.0f} answers, "
        f"{np.nanmedian(found['stood asked']):.0f} questions (median), too early in "
        f"{np.nanmean(found['stood early']):.1%}"
    )
    for name in ("fixed", "random"):
        sooner, later = (found["worth turbo"] < found[f"{name} turbo"]), found["worth turbo"] > found[f"{name} turbo"]
        print(f"worth against {name}: sooner in {np.mean(sooner):.0%}, later in {np.mean(later):.0%}")


if __name__ == "__main__":
    main()
