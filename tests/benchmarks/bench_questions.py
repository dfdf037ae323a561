"""How soon the advice settles, by the order in which questions are asked; run by hand:
python tests/benchmarks/bench_questions.py [CALLERS [PROCESSES]]

Generated callers know all about themselves: every answer is drawn from its prior with a fixed seed. They are asked
in order of worth, in the fixed order of the vocabulary, and at random (what no turbo can be proposed without
first, so that chance isn't made to look worse than it is), over a catalogue with one turbo in six, so that a walk of
fifty questions takes seconds. Counted is the question after
which the advice (turbo and housing, and every caution of severity stop or danger) stays what it is with all
answers given. The order of worth stops by itself; a caller for whom it stopped too early counts with all his
questions, and is counted.
"""

import random
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))

from calls import thinned
from walks import AFTER_ADVICE, hidden

from advisor.conclusion import fired_for
from advisor.consultation import questions_of
from advisor.course import infer
from advisor.hearing import understand
from advisor.inference.agenda import agenda
from advisor.inference.facts import FactBase
from advisor.knowledge.rules import Caution
from advisor.outcome import Answer
from advisor.questions import applies
from advisor.situation import ESSENTIAL

THINNED = 6
CLOSE = 2.0
FIRST = ("call kind", "request", *ESSENTIAL)


def advice(course, knowledge):
    """What must no longer change."""
    turbo = None
    if course.best is not None and not course.now.missing:
        combination = course.weighed.candidates.combinations[course.best]
        turbo = (combination.turbo.code, combination.housing.code)
    grave = {
        firing.rule
        for firing in course.firings
        if fired_for(firing, course.best)
        and any(isinstance(a, Caution) and a.severity in ("stop", "danger") for a in knowledge.rule(firing.rule).then)
    }
    return course.verdict, turbo, frozenset(grave)


def as_good(made, course, final):
    """Whether an advice is as good as the final one, by the points of the final course."""
    if (made[0], made[2]) != (final[0], final[2]) or (made[1] is None) != (final[1] is None):
        return False
    if made[1] in (None, final[1]):
        return True
    weighed = course.weighed
    every = ((row, weighed.candidates.combinations[row]) for row in weighed.order)
    alike = [float(weighed.points[row]) for row, one in every if (one.turbo.code, one.housing.code) == made[1]]
    return bool(alike) and float(weighed.points[course.best]) - max(alike) <= CLOSE


def walk_by_worth(known, knowledge, fires):
    """The facts in the order of worth until the questions stop, and the advice after each."""
    order, made, answers = [], [], []
    while True:
        course = infer(answers, knowledge, fires)
        made.append(advice(course, knowledge))
        fact = next((q.fact for q in questions_of(course, knowledge) if q.fact not in AFTER_ADVICE), None)
        if fact is None:
            return order, made
        order.append(fact)
        answers.append(Answer(fact, known[fact]))


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
    """After how many answers the advice stays final, and stays as good; looked for from the end."""
    course = infer(answers, knowledge, fires)
    same = None
    for count in range(len(answers) - 1, -1, -1):
        made = advice(infer(answers[:count], knowledge, fires), knowledge)
        if same is None and made != final:
            same = count + 1
        if not as_good(made, course, final):
            return same, count + 1
    return same or 0, 0


def one(seed):
    """(questions until the advice stays, and until it stays as good: by worth, fixed, at random; seconds of each;
    asked by worth, asked in all; whether worth ended with the same advice, with one as good)."""
    knowledge, fires = thinned(THINNED), agenda("reference")
    known = hidden(seed, knowledge)
    names = [d.name for d in sorted(knowledge.vocabulary.values(), key=lambda d: d.order) if d.name in known]
    shuffled = [name for name in names if name not in FIRST]
    random.Random(-seed - 1).shuffle(shuffled)
    fixed, all_answers = walk_in_order(names, known, knowledge)
    course = infer(all_answers, knowledge, fires)
    final = advice(course, knowledge)
    order, made = walk_by_worth(known, knowledge, fires)
    by_worth = []
    for right in (lambda one: one == final, lambda one: as_good(one, course, final)):
        stays = next((n for n in range(len(made)) if all(right(one) for one in made[n:])), None)
        by_worth.append(len(fixed) if stays is None else stays)
    by_chance, answers = walk_in_order([*FIRST, *shuffled], known, knowledge)
    counts = (by_worth, settled(all_answers, final, knowledge, fires), settled(answers, final, knowledge, fires))
    paths = ([*order, *(name for name in fixed if name not in order)], fixed, by_chance)
    seconds = [
        sum(knowledge.vocabulary[name].seconds for name in path[: count[0]])
        for path, count in zip(paths, counts, strict=True)
    ]
    ended = (made[-1] == final, as_good(made[-1], course, final))
    return (*(n for count in counts for n in count), *seconds, len(order), len(fixed), *ended)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    processes = int(sys.argv[2]) if len(sys.argv) > 2 else 2
    with ProcessPoolExecutor(processes) as pool:
        found = np.asarray(list(pool.map(one, range(count), chunksize=5)), dtype=float)
    print(f"{count} callers, {len(thinned(THINNED).catalogue.candidates())} candidates")
    for at, name in enumerate(("worth", "fixed", "random")):
        same, good, seconds = found[:, 2 * at], found[:, 2 * at + 1], found[:, 6 + at]
        print(
            f"{name:7s} until the advice stays: median {np.median(same):.0f}, mean {same.mean():.1f}, "
            f"90 % {np.quantile(same, 0.9):.0f} questions, {np.median(seconds):.0f} s of asking; "
            f"until it stays as good: median {np.median(good):.0f}, mean {good.mean():.1f}"
        )
    print(f"worth asks {found[:, 9].mean():.1f} of {found[:, 10].mean():.1f} questions and stops")
    print(f"the advice then is as with all answers in {found[:, 11].mean():.1%}, as good in {found[:, 12].mean():.1%}")
    for at, name in ((2, "fixed"), (4, "random")):
        print(
            f"worth against {name}: sooner in {np.mean(found[:, 0] < found[:, at]):.0%}, "
            f"later in {np.mean(found[:, 0] > found[:, at]):.0%}; as good sooner in "
            f"{np.mean(found[:, 1] < found[:, at + 1]):.0%}"
        )


if __name__ == "__main__":
    main()
