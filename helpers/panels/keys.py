"""Keys typed into a list, a slider or a tick stay there.

The notebook reads letters as commands wherever nothing can be written: an "a" typed to choose in a list would put in a cell, an "r" would
take the panel out of its own. A picture of one pixel, once it stands in the page, keeps them inside its container.
"""

__all__ = ["PIXEL", "keys_held"]

PIXEL = "data:image/gif;base64,R0lGODlhAQABAAAAACH5BAEKAAEALAAAAAABAAEAAAICTAEAOw=="
# The widget may be loaded a little before it stands in the page: it looks again until it does, for a minute. Keys with Ctrl, Alt or the
# command key, and Shift-Enter, which runs the cell, go on to the notebook.
_HOLD = """const spark = this; let looks = 600; const begin = () => { const held = spark.closest('.CONTAINER');
if (!held) { if (looks--) setTimeout(begin, 100); return; }
held.addEventListener('keydown', event => { if (!event.ctrlKey && !event.altKey && !event.metaKey
&& !(event.shiftKey && event.key === 'Enter')) event.stopPropagation(); }); }; begin();"""


def keys_held(css_class):
    """HTML that keeps what is typed inside the container of this class; to be put into it once."""
    script = " ".join(_HOLD.replace("CONTAINER", css_class).split())
    return f'<img src="{PIXEL}" alt="" style="display:none" onload="{script}">'
