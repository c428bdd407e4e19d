"""What stands in reserve of a stair's fan, as the site file says it: a second source of power, a second fan; and within what limits the
seconds and leaks of both are known where the file leaves them out.

A figure is a field, its words, its dimension, low, likely and high, and the source of these three.
"""

from typing import Literal

from helpers.model.site import field_types as of

MEMORY = "from memory, not verified"
PRACTICE = "common practice, no source"

_DRIVE = ("drive_s", "drive charged, wheel caught", "time", (0.5, 2.0, 8.0), PRACTICE)
_AT_ONCE = (
    ("detection_s", "time to notice that the mains are gone", "time", (0.5, 2.0, 5.0), PRACTICE),
    ("start_s", "start", "time", (0.0, 0.0, 0.0), PRACTICE),
    ("transfer_s", "transfer", "time", (0.1, 1.0, 5.0), PRACTICE),
    _DRIVE,
)
OF_STANDBY = {
    "generator": (
        ("detection_s", "time to notice that the mains are gone", "time", (1.0, 3.0, 5.0), PRACTICE),
        ("start_s", "start", "time", (5.0, 10.0, 60.0), f"10 s or 60 s by the type of the set, NFPA 110; {MEMORY}"),
        ("transfer_s", "transfer", "time", (0.1, 1.0, 5.0), PRACTICE),
        _DRIVE,
    ),
    "second supply": _AT_ONCE,
    "battery": _AT_ONCE,
}
OF_SECOND_FAN = (
    ("noticed_s", "time until the loss of the first is noticed", "time", (1.0, 3.0, 10.0), PRACTICE),
    ("damper_travel_s", "travel of its shut-off damper", "time", (0.0, 15.0, 75.0), f"75 s at the most, UL 555S; {MEMORY}"),
    ("damper_leak", "leak of the idle fan's shut damper, share of the fan's full flow at its pressure without flow", "ratio",
     (0.01, 0.02, 0.05), PRACTICE),
    ("stuck_open_leak", "the same with its damper stuck open", "ratio", (0.2, 0.5, 1.0), PRACTICE),
)  # fmt: skip


class Standby(of.SiteTable):
    """Where the fan's power comes from when the mains fail: until that is noticed, the source runs, the
    load is on it, and the drive is charged and has caught the wheel. `waiver`: who waived it where there is none, in which letter, when."""

    source: Literal["none", "generator", "second supply", "battery"]
    detection_s: of.Delay | None = None
    start_s: of.Delay | None = None
    transfer_s: of.Delay | None = None
    drive_s: of.Delay | None = None
    waiver: of.Text | None = None


class SecondFan(of.SiteTable):
    """A fan like the first beside it, with a drive and a shut-off damper of its own, both into one duct: one runs, the other stands by.

    `noticed_s` until the loss of the first is noticed, `damper_travel_s` until the second one's damper is open. `damper_leak` is what an
    idle fan's shut damper lets back, `stuck_open_leak` what a damper stuck open and the idle wheel let back: shares of the fan's full flow
    at its pressure without flow, by the root of the pressure. `allowed_short_s`: how long a shut door may be short of pressure meanwhile,
    as agreed."""

    duty: Literal["standby"]
    noticed_s: of.Delay | None = None
    damper_travel_s: of.Delay | None = None
    damper_leak: of.ShareOrThree | None = None
    stuck_open_leak: of.ShareOrThree | None = None
    allowed_short_s: of.Delay | None = None


def allowed_told(site):
    """(key of the file, sentence) where nobody has said how long doors may be short of pressure while a second fan takes over."""
    second = getattr(site, "second_fan", None)
    if second is not None and second.allowed_short_s is None:
        yield (
            "second_fan.allowed_short",
            "Second fan, how long a shut door may be short of pressure while it takes over: not stated; such seconds are never PASS.",
        )
