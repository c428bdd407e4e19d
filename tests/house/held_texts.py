"""What any thing says: every text that a record, a paper or a table holds, for tests that look at all of them."""

import dataclasses

__all__ = ["texts_in"]


def texts_in(thing):
    """Every text in what holds texts (tuples, lists, mappings, dataclasses)."""
    if isinstance(thing, str):
        yield thing
    elif isinstance(thing, dict):
        yield from texts_in(list(thing.values()))
    elif dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        yield from texts_in([getattr(thing, field.name) for field in dataclasses.fields(thing)])
    elif isinstance(thing, list | tuple):
        for one in thing:
            yield from texts_in(one)
