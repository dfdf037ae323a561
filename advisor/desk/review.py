"""All that `advisor check` says of a shop's knowledge: what the files show by themselves, and what only shows
beside the figures, the measured maps and rules that are fired over situations.
"""

from collections.abc import Iterator
from pathlib import Path

from advisor.desk.charts import map_faults
from advisor.desk.needed import lacking
from advisor.desk.phrases import shared_phrases
from advisor.desk.ranges import Memory, ranges
from advisor.desk.unknown_texts import unknown_in_texts
from advisor.knowledge import Fault, Knowledge, examine, read_maps
from advisor.knowledge.accepted import grave_first, idle_answers, unanswered, with_answer
from advisor.knowledge.places import did_you_mean
from advisor.pause import uncollected
from advisor.supplied import COMPUTED, COMPUTED_AT_TIMES, HEARD, of_candidates


@uncollected()
def review(folder: Path, memory: Memory | None = None) -> tuple[Fault, ...]:
    """Everything to mend and to note in a folder, the grave first; without what is answered there. The `memory` of an
    earlier review, of this folder or another, saves what hangs on nothing that changed."""
    knowledge, found = examine(folder, also=lacking)
    faults = [*found, *map_faults(read_maps(folder, []))]
    if knowledge is not None:
        faults += [*_not_supplied(knowledge), *shared_phrases(knowledge.vocabulary)]
        faults += unknown_in_texts(knowledge.vocabulary, knowledge.rules)
        faults += ranges(knowledge, (*COMPUTED_AT_TIMES, *HEARD), memory)
        open_ = [with_answer(fault, knowledge.entries) for fault in unanswered(faults, knowledge.entries)]
        faults = [*open_, *idle_answers(faults, knowledge.entries)]
    return grave_first(faults)


def _not_supplied(knowledge: Knowledge) -> Iterator[Fault]:
    """Figures in the vocabulary that the program doesn't have."""
    names = {
        "heard": HEARD,
        "computed": frozenset((*COMPUTED, *COMPUTED_AT_TIMES)),
        "candidate": of_candidates(knowledge.catalogue.candidates().facts),
    }
    for definition in knowledge.vocabulary.values():
        there = names.get(definition.source)
        if there is not None and definition.name not in there:
            mend = did_you_mean(definition.name, there, "use a figure that there is, or let rules set the fact")
            yield Fault(definition.place, f"nothing computes '{definition.name}'", mend)
