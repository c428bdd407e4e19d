"""Something to read whose figures are computed, as the last line of a cell."""

from dataclasses import dataclass

__all__ = ["Card"]


@dataclass(frozen=True)
class Card:
    """HTML, and the same in plain text where there is no HTML."""

    html: str
    text: str

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {"text/html": self.html, "text/plain": self.text}
