"""A page in inches of water names pascals in one place alone: where it says what a metric instrument's plate says, its inches beside."""

import re

PLATE = re.compile(r"(-?\d[\d.]* to -?|±)\d[\d.]* Pa \((-?\d\.\d+ to -?|±)\d\.\d+ in\. w\.c\.\)")


def without_plates(text):
    """The text without such plates."""
    return PLATE.sub("", text)
