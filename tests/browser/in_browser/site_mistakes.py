"""The mistakes of the page's own reader of site files (site_models.py), as pydantic gives them."""


class ValidationError(ValueError):
    """All mistakes of a value, each with its place."""

    def __init__(self, title, mistakes):
        self.title, self._mistakes = title, mistakes
        places = [f"{'.'.join(map(str, mistake['loc']))}: {mistake['msg']}" for mistake in mistakes]
        super().__init__("\n".join([f"{len(mistakes)} mistakes in {title}", *places]))

    def errors(self):
        """The mistakes as a list."""
        return self._mistakes


class Wrong(Exception):
    """Mistakes on their way up to the value that holds the wrong one."""

    def __init__(self, mistakes):
        super().__init__(mistakes)
        self.mistakes = mistakes

    @classmethod
    def one(cls, kind, msg, value, loc=(), **ctx):
        """A single mistake."""
        return cls([{"type": kind, "loc": loc, "msg": msg, "input": value} | ({"ctx": ctx} if ctx else {})])

    def within(self, part):
        """The same mistakes, seen from outside."""
        return [mistake | {"loc": (part, *mistake["loc"])} for mistake in self.mistakes]
