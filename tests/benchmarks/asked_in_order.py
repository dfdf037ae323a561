"""What generated callers are asked, question by question, as lines of JSON: the same for the same answers, whatever the
hash seed, the Python and the numpy. By hand, with two interpreters that have what the advisor needs:

diff <(python3.11 tests/benchmarks/asked_in_order.py 1 2 3) <(python3.13 tests/benchmarks/asked_in_order.py 1 2 3)
"""

import json
import sys
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from calls import thinned
from invented import hidden
from walks import AFTER_ADVICE, REFERENCE

from advisor.course import infer
from advisor.outcome import Answer
from advisor.questions import still_open

SHOP = thinned(20)


def asked(seed: int) -> Iterator[str]:
    """All that is open before each question of one caller: facts, what they settle, worth and reason; the chance that
    the turbo changes; and what is said once it stands."""
    known, answers = hidden(seed, SHOP), list[Answer]()
    while True:
        left = still_open(infer(answers, SHOP, REFERENCE), SHOP)
        open_ = [(q.fact, q.settles, q.worth, q.together, q.asked_by, q.reason) for q in left.questions]
        yield json.dumps([len(answers), open_, left.outlook.change, left.stands])
        worthy = (q for q in left.questions if q.settles != "detail" and q.fact not in AFTER_ADVICE)
        question = next(worthy, None)
        if question is None:
            return
        answers += [Answer(fact, known[fact]) for fact in question.together or (question.fact,)]


if __name__ == "__main__":
    for seed in sys.argv[1:]:
        for line in asked(int(seed)):
            print(line)
