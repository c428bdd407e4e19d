"""Widgets and the kernel they live in, where the kernel comes to be after they were imported."""

from ipywidgets import load_ipython_extension
from ipywidgets.widgets.widget import _instances

__all__ = ["connect", "made"]


def connect(shell):
    """Let pages ask a kernel that has just begun for the states of its widgets, as the import does where the kernel is there before it.

    shell: the kernel's.
    """
    load_ipython_extension(shell)


def made():
    """How many widgets there are in this process."""
    return len(_instances)
