"""A verdict in words first: a mark, a word and a sentence. Colour and border only repeat them."""

from dataclasses import dataclass
from html import escape

from ipywidgets import HTML, Layout

from helpers.studies.status import STATUSES
from helpers.units import one_stop

__all__ = ["KINDS", "Kind", "Verdict", "VerdictLine", "verdict_html"]


@dataclass(frozen=True)
class Kind:
    """Looks of one kind of verdict."""

    mark: str
    word: str
    ink: str
    paper: str
    border: str


_LOOKS = {
    "good": ("✔", "#0b3c6f", "#e8f1f9", "solid"),
    "attention": ("▲", "#6b4a00", "#fdf3d6", "dashed"),
    "wrong": ("✖", "#8a0f31", "#fbe6eb", "double"),
    "open": ("○", "#3a3f45", "#eef0f2", "dotted"),
}
# What is no judgement of a limit has words of its own, in the looks of the nearest status: an answer that is right, something done, a note,
# an entry that cannot be used.
_OTHERS = {
    "right": ("✔", "RIGHT", "good"),
    "missed": ("▲", "NOT SO", "attention"),
    "done": ("✔", "DONE", "good"),
    "note": ("▲", "NOTE", "attention"),
    "entry": ("?", "NOT USED", "open"),
}
KINDS = {key: Kind(mark, STATUSES[key].word, *looks) for key, (mark, *looks) in _LOOKS.items()}
KINDS |= {key: Kind(mark, word, *_LOOKS[like][1:]) for key, (mark, word, like) in _OTHERS.items()}


@dataclass(frozen=True)
class Verdict:
    """What a picture comes to, in sentences. kind: one of KINDS, a status of studies.status or one of the words that judge no limit."""

    kind: str
    words: str

    def __post_init__(self):
        if self.kind not in KINDS:
            raise ValueError(f"kind must be one of {', '.join(KINDS)}; got {self.kind!r:.60}")
        object.__setattr__(self, "words", one_stop(self.words))

    def __str__(self):
        return f"{KINDS[self.kind].word}: {self.words}"

    def _repr_mimebundle_(self, include=None, exclude=None):
        return {"text/html": verdict_html(self), "text/plain": str(self)}


def verdict_html(verdict):
    """The verdict as a line of a page; what it says is shown as text, whatever signs are in it."""
    kind = KINDS[verdict.kind]
    looks = f"color:{kind.ink};background:{kind.paper};border:0 {kind.border} {kind.ink};border-left-width:7px"
    return (
        f'<div class="verdict" style="{looks};padding:6px 12px;font-size:16px;line-height:1.4;white-space:pre-line">'
        f"<b>{kind.mark} {kind.word}</b>&ensp;{escape(verdict.words)}</div>"
    )


class VerdictLine:
    """The verdict under a live picture. Screen readers hear it as it changes, and with it the picture in words."""

    def __init__(self):
        self.verdict = None
        self.widget = HTML(layout=Layout(width="auto", min_height="64px", margin="2px 0 0 0"))

    def say(self, verdict, picture_words=""):
        """Show a verdict; picture_words are read out and not shown."""
        self.verdict = verdict
        unseen = "position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)"
        read_out = f'<span style="{unseen}">{escape(picture_words)}</span>'
        self.widget.value = f'<div role="status" aria-live="polite">{verdict_html(verdict)}{read_out}</div>'
