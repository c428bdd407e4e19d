"""Lesson 08's exercises on a change on site: another display, range, band or integral time, and what the loop is like after it."""

from helpers.formulas import action
from helpers.teaching.questions import Chosen, Exercise, Measured, Slip
from helpers.units.said import three

COOLER, HOTTER, SAME = "slower and calmer", "quicker and nearer to swinging", "just as before"


def another_display(draw):
    """An integral time on a display that wants repeats."""
    integral = draw.one_of((0.4, 0.5, 0.6, 0.8, 1.2, 1.5, 2.0, 2.5, 3.0, 12.0, 15.0, 20.0))
    gain = draw.one_of((0.3, 0.4, 0.6, 0.7, 1.2, 1.6, 2.2))
    found = 60 / integral
    question = (
        f"A loop runs well with a gain of {gain:.1f} %/% and an integral time of {integral:g} s. Another drive takes its place. It wants "
        "the same gain, but instead of an integral time it asks for repeats per minute: how often in a minute the integral part adds "
        "the proportional part once more. What do you enter?"
    )
    slips = (
        Slip(
            "time for rate",
            "That is the integral time in minutes. Repeats per minute are the other way up: short time, many repeats.",
            integral / 60,
        ),
        Slip("seconds for minutes", "That is how often in a second. The display asks for a minute.", 1 / integral),
        Slip("gain mixed in", "The gain is entered by itself; repeats of the proportional part do not depend on it.", gain * found),
    )
    way = (f"One repeat takes {integral:g} s.", f"A minute has 60 s: 60 / {integral:g} = {three(found)} repeats.")
    more = (
        Slip("gain divided out", "You divided by the gain. It is entered by itself; the repeats do not depend on it.", found / gain),
        Slip("time as it stands", "That is the integral time. The new drive asks how often in a minute.", integral),
        Slip("times sixty", "You multiplied by sixty. The longer the integral time, the fewer repeats in a minute.", 60 * integral),
        Slip("gain mixed into the time", "You multiplied the time by the gain. They are two entries.", gain * integral),
        Slip("gain over time", "You divided the gain by the time. The gain is an entry of its own, and a minute has sixty seconds.",
             gain / integral),
        Slip("in an hour", "That is how often in an hour. The display asks for a minute.", 60 * found),
    )  # fmt: skip
    # One division of round numbers: half a per cent for the rounding of what is written down.
    return Exercise(question, Measured(found, "number", 0.005 * found, counted_in="per minute"), slips, way, more=more)


def what_happens(draw):
    """What a change on site does to the loop."""
    told, right, because = draw.one_of(_changes(draw))
    slips = tuple(Slip(f"says: {wrong}", hint, wrong) for wrong, hint in _HINTS.items() if wrong != right)
    way = (because, _WHY[right])
    question = f"{told} Nothing else is changed. After the next door event, what is the loop like?"
    return Exercise(question, Chosen(right, (COOLER, HOTTER, SAME)), slips, way)


_HINTS = {
    COOLER: "Ask how many hertz the fan now moves for the same change of pressure, and how late: is that less, or more, or no change?",
    HOTTER: "Follow one change of pressure round the loop: how many per cent of span, how many per cent of speed? Did the strength "
    "grow at all?",
    SAME: "A figure that is left alone does not mean that the loop is. Which part of the chain from pressure to speed was changed?",
}
_WHY = {
    COOLER: "For the same change of pressure the fan moves less than before, or it adds up more slowly: slower, and further from swinging.",
    HOTTER: "For the same change of pressure the fan moves more than before, or it adds up sooner: nearer to swinging.",
    SAME: "What the building feels, hertz for the same change of pressure and the times, is what it was.",
}


def _changes(draw):
    """(what is changed, what comes of it, why): every one strong enough to leave no doubt."""
    old = draw.end(draw.one_of((100.0, 125.0, 150.0)))
    wide, narrow = (draw.as_written(times * old, "pressure") for times in (2.0, 0.5))
    gain = draw.whole(6, 15) / 10
    at = f"A loop on a range of 0 to {draw.say(old, 'pressure')} has a gain of {gain:.1f} %/%."
    fitted = "is fitted, and the drive is told so"
    return (
        (f"{at} A transmitter of 0 to {draw.say(wide, 'pressure')} range {fitted}.", COOLER,
         "The same pressure is half as many per cent."),
        (f"{at} A transmitter of 0 to {draw.say(narrow, 'pressure')} range {fitted}.", HOTTER,
         "The same pressure is twice as many per cent."),
        (f"{at} A transmitter of 0 to {draw.say(wide, 'pressure')} range {fitted}; the gain is set to {2 * gain:.1f} %/%.", SAME,
         "The same pressure is half as many per cent, and each per cent moves the fan twice as far."),
        (f"{at} The proportional band is set to twice what it was.", COOLER, "Twice the band is half the gain."),
        (f"{at} The proportional band is set to half of what it was.", HOTTER, "Half the band is twice the gain."),
        (f"{at} The display is changed to proportional band, and {action.proportional_band(gain):.1f} % is entered.", SAME,
         "100 divided by the gain is the band: the same strength in other words."),
        (f"{at} The integral time, which was about the lag, is set to a quarter of that.", HOTTER,
         "An error that stays is added up four times as fast."),
        (f"{at} The integral time, which was about the lag, is set to four times that.", COOLER,
         "An error that stays is added up a quarter as fast."),
    )  # fmt: skip
