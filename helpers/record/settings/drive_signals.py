"""The two analogue signals between controller and drive, of the speed command and of the fan's speed: type, ends, from where each is cut.

    signal = low end + (high end - low end) speed / full speed

No site file states either. A live zero alone tells a wire that is cut from a fan that stands; by another low end than standstill the loop's
per cent would be another speed. Both are our own choice until somebody has answered. Limits: a bus in place of the two wires is left out.
"""

from helpers.formulas import signals
from helpers.studies.report import Setting

COMMAND, BACK = ("fan", "signal of the speed command"), ("fan", "signal of the fan's speed")
TYPE = "4-20 mA"
WHY = "our own choice; the lowest speed is a clamp of controller and drive and no end of the signal; read back at both ends and half way"


def signal_lines(full_hz, lowest_hz, asked, does):
    """The `Setting`s of both signals; full_hz, lowest_hz: speed at the whole output and the least one [Hz]; asked: words "to be agreed"
    with the place where it is asked, before which nothing is known; does: what the drive then does with a command that is cut, in words."""
    low, high, unit = signals.SIGNALS[TYPE]
    fails = [low + (high - low) * percent / 100 for percent in (signals.FAILED_LOW_PERCENT, signals.FAILED_HIGH_PERCENT)]
    ends = f"{TYPE}: 0 Hz, standstill, at {low:g} {unit}, {full_hz:g} Hz at {high:g} {unit}, in a straight line"
    clamp = f"least {lowest_hz:g} Hz while run is commanded"
    cut = f"below {fails[0]:.2f} {unit} the drive counts it as cut, {does}"
    yield Setting(*COMMAND, f"{asked}; until then: {ends}; {clamp}; {cut}", WHY)
    none = f"below {fails[0]:.2f} or above {fails[1]:.2f} {unit} the speed has no number"
    yield Setting(*BACK, f"{asked}; until then: {ends}; {none}", f"{WHY}; a cut wire that read standstill would stop a fan that runs")
