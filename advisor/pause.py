"""The collector of circular garbage, kept from looking over what is read again and again: nearly all of it stays."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """Within it nothing is collected; after it everything is as before. Serves as a decorator too."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
