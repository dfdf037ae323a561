"""What is wrong inside the measured maps of a shop, at file, line and column."""

from collections.abc import Iterator, Mapping

from advisor.knowledge import Fault, Place
from advisor.matching.measured import MapError, read_map


def map_faults(maps: Mapping[str, str]) -> Iterator[Fault]:
    """The faults of maps, given as CSV text by name."""
    for name, text in maps.items():
        try:
            read_map(text, name)
        except MapError as error:
            for fault in error.faults:
                yield Fault(Place(f"maps/{name}.csv", fault.line, fault.column), fault.what, fault.mend)
