"""Who is told before a stair's system is in hand, and how it is given back: in which order, and what is not left in AUTOMATIC. Stated once,
for the sheets of injected signals and of doors, the procedure and the report of a test day, the design record.

The order is common practice, no source: what can run the fan by a false signal comes out first, then the fan runs under watch, then it is
left. Limits: words for a crew; the local code, the approved design and the authority having jurisdiction decide.
"""

from helpers.model.files import texts
from helpers.studies.commissioning.steps.not_run import NOT_RUN, UNLESS_DECIDED, by_the_record
from helpers.studies.duty.permissible_speed import ceiling_of
from helpers.studies.report import listed
from helpers.studies.status import word_of

_WORDS = texts("on_site")


def _alarm_order(words):
    """What is done in a real alarm, numbered; words: which of the two wordings of each step."""
    alarm = _WORDS["real_alarm"]
    return f"{alarm['head']}: " + "; ".join(f"{number} {step[words]}" for number, step in enumerate(alarm["steps"], 1))


# Where it begins in a caution, so that a page can set it apart.
ALARM_BEGINS = f"; {_WORDS['real_alarm']['head']}: "
# What is done in a real alarm, in this order, wherever a step has the fan in hand: one list for procedure, sheets and pages.
ALARM_ORDER = _alarm_order("does")
ALARM_IN_SHORT = _alarm_order("brief")
# The same where it is first told, with what is decided before anything starts.
REAL_ALARM = f"{_WORDS['real_alarm']['before']}; {ALARM_ORDER}"


def alarm_box():
    """REAL_ALARM as a box of a page in Markdown, a line for each step, and under it for each person who has one of their own: nobody looks
    for it in the middle of a paragraph."""
    before, steps = _WORDS["real_alarm"]["before"], _WORDS["real_alarm"]["steps"]
    first = f"> **{_WORDS['real_alarm']['head'].upper()}.** {before[0].upper()}{before[1:]}. Then:"
    numbered = (f"> {number}. {step['does']}".replace("; ", "\n>    - ") for number, step in enumerate(steps, 1))
    return "\n".join([first, ">", *numbered])


# What a real alarm is while the test holds one itself, so that nobody waits for a panel that is in alarm already. Ours.
HELD_ALARM = (
    "while an alarm is held or smoke control is played, whatever the lead has not named at the panel, and any shout, is a real alarm: the "
    "person at the alarm panel watches for it"
)
FIRE_SERVICE = "fire service, or the alarm receiving centre that calls it,"
# What comes first: nothing is started before. Without every line of it a sheet's verdict stays NOT YET.
# Signed before the fan is taken out of readiness: the first step is no PASS without it.
FIRE_WATCH = "fire watch, or what the authority having jurisdiction asks for so long, agreed in writing: name, from and to, two times"
ALARM_DECISION = "written decision on a real alarm during the test: date, where it lies"  # without it no test starts
BEFORE = (
    "building told before start that the stair is not protected: time, name",
    "alarm service told before start and before smoke is used: time, name",
    f"{FIRE_SERVICE} told before start: time, name",
    FIRE_WATCH,
    ALARM_DECISION,
    "people: who measures at each end, who holds doors",
    "person at the manual switch: name",
    "instruments, certificates",
)
DECIDED = "what is not proved or not laid down: nothing; or who decided how the fan is left, and the measures until then"
# The long ones of these beside a narrow field of a page, whose tooltip and printed sheet have them whole: the first door or step stands in
# the first screen.
BRIEFLY = {
    BEFORE[2]: "fire service, or alarm receiving centre, told before start: time, name",
    FIRE_WATCH: "fire watch, or what the authority asks: name, from and to",
    DECIDED: 'not proved or not laid down: write "nothing", or what it is, who decided how the fan is left, what is done until then',
}
COUNTED = "overrides, forced values, jumpers and test plugs: how many went in, how many came out"
LEFT = "fan left in AUTOMATIC, the last of all: nobody leaves before"
TIME, NAME = "time", "name"
SWITCHED_OFF = "switch at OFF and the fan seen to stop, before anything is isolated"
READY = "isolator closed, standby source on automatic"
NORMAL = "fire service's panel in AUTO, fire alarm and intake detector normal"
IN_AUTOMATIC, ANSWERED = "drive in automatic", "smoke-control signal given and answered"
# What gives the building back: line of the sheet, and what is done, "" where the line says it. Without every one of them a sheet's verdict
# stays NOT YET.
_GIVING_BACK = {
    SWITCHED_OFF: "switch OFF, the fan seen to stop, settings back while the drive has power; then isolated, locked out, left until "
    "discharged, proved dead",
    "wires and tubes back": "wires and tubes back",
    COUNTED: "every override, forced value, jumper and test plug out, counted against the list made when they went in; covers on, lock "
    "off, then power on, the fan OFF, each reading seen to answer",
    READY: "isolator seen closed, no lock on it, standby source back on automatic",
    "relief damper and doors clear": "relief damper, where there is one, its blade seated and free, no hand, tool or wedge in it, "
    "and doors shut, nobody in the swing of a leaf",
    NORMAL: "fire service's panel in AUTO, fire alarm and intake detector normal",
    IN_AUTOMATIC: "AUTOMATIC, with somebody at the manual switch",
    ANSWERED: "a smoke-control signal: the fan comes to its set point and is watched for the first "
    "minutes, then reset",
    DECIDED: "what is not proved or not laid down is written down, with who decided it",
    "building told": "", "alarm service told": "", f"{FIRE_SERVICE} told": "building, alarm service and fire service told",
    LEFT: "left in AUTOMATIC with time, name and signature, the last line of all: nobody leaves before it",
    TIME: "", NAME: "",
}  # fmt: skip
CLOSING = tuple(_GIVING_BACK)
CEILING_BACK = (  # where one was entered
    "day's ceiling out of the drive, yes or no; the highest speed that is in the drive now, in Hz, read back"
)
CEILING_BACK_EARLIER = "day's ceiling out of the drive: the highest speed that stood there entered again and read back"
CEILING_STAYS = _WORDS["ceiling"]["stays"].format(unless=UNLESS_DECIDED)
# An old highest speed over a day that fails is a speed at which a door may not open: it goes back by decision, not by habit. Ours.
CEILING_KEPT = (
    "The speed that stood there goes back only where the record fails in nothing and no line of the day is past a limit or left open. "
    f"{CEILING_STAYS}; until then nobody leaves, and the fire service knows that the fan gives no more"
)
ISOLATED, RUN = CLOSING[:3], CLOSING[3:]  # with the drive locked out, and with the fan


def closing_lines(ceiling):
    """CLOSING of a test day, with the line of its `Ceiling` where one is entered in the drive, before anything is isolated."""
    return (CLOSING[0], CEILING_BACK, *CLOSING[1:]) if ceiling.lower and ceiling.hz == ceiling.hz else CLOSING  # a NaN is not itself


BY_THE_LOOP = (IN_AUTOMATIC, ANSWERED, LEFT)  # of RUN, which run the fan by its loop or leave it there
ADDED = (FIRE_WATCH, SWITCHED_OFF, READY, NORMAL)  # lines that earlier sheets lack
WORDED = (COUNTED, DECIDED, TIME, NAME)  # of CLOSING, which ask for more than a yes
NOT_LEFT = f"not left in AUTOMATIC {UNLESS_DECIDED}"  # of what is not laid down
WATCHED = _WORDS["given_back"]["watched"]
LAST = _WORDS["given_back"]["left"].format(watched=WATCHED, unless=UNLESS_DECIDED)
QUOTED = {"unless": UNLESS_DECIDED}  # for papers that are told
UNLESS = f"{LAST}. {_WORDS['given_back']['until']}"


def alarm_again(number):
    """ALARM_ORDER in few words, for a step whose part has it in full at the step of this number."""
    return f"{ALARM_IN_SHORT}; as step {number} has it"


def watch_said(minutes):
    """What is agreed before the fan is off or by hand for some time [min], in sentences. Ours; how a watch is kept is local law."""
    return (
        f"By the steps that are run the fan is not in AUTOMATIC for {hours_said(minutes)}: before it is switched to OFF or MANUAL a fire "
        "watch, or the temporary measures that the authority having jurisdiction asks for so long, is agreed in writing with owner and "
        "fire service, with names, and stands until the stair is given back."
    )


def hours_said(minutes):
    """Minutes as hours and minutes, up to the next five.

    >>> hours_said(92.0)
    '1 h 35 min'
    """
    whole = int(-(-minutes // 5)) * 5
    return f"{whole // 60} h {whole % 60:02d} min"


NOT_PROVED = f"A door that is {word_of('wrong')}, or is not measured, is not proved either"  # the safe side: ours


def order_said(lines=CLOSING):
    """What is done at some lines of CLOSING, in their order, in words.

    >>> order_said(ISOLATED[1:2])
    'wires and tubes back'
    """
    return "; then ".join(order_steps(lines))


def order_steps(lines=CLOSING):
    """The same, a step each, for a page on which they are numbered."""
    return tuple(done for line, done in _GIVING_BACK.items() if line in lines and done)


def given_back_said(first=""):
    """How a stair is given back, in sentences; first: as of `stopped_before`."""
    stop = stopped_before(first)
    return f"{f'{stop}. ' * bool(stop)}In this order: {order_said()}. {UNLESS}."


def stopped_before(first):
    """That a stair whose record fails is given back without AUTOMATIC, in sentences; first: what it fails in, in words, "" for nothing."""
    if not first:
        return ""
    return (
        f"Here: stop before AUTOMATIC, which is {NOT_RUN} while {by_the_record(first)}. No smoke-control signal; the fan is {NOT_LEFT}. "
        f"These lines are answered no, {NOT_RUN}: {listed(BY_THE_LOOP)}"
    )


_LOW = "not above the highest manual speed of this building"
INJECTION_CAUTION = (
    "Qualified people only, in this order. (1) Tell building, alarm service and fire service, below; nobody in the stair, doors shut; at "
    "the fan nobody but who is at the manual switch. (2) Isolate, lock out, wait until the drive is discharged, prove it dead; then put "
    "calibrator and test plugs into the loops, their outputs outside the panel; close it, power on with the fan in MANUAL, the manual "
    f"speed set low, {_LOW}. (3) MANUAL or AUTO is said at each step; in AUTO the fan moves. One person stands in front of the closed "
    "panel, display in view and manual switch in reach, all the time, and goes to MANUAL at once where the step says so. (4) A wire off: "
    "the fan as the step says first, then open the loop at the test plug or the calibrator's output, outside the panel; no wire is moved "
    "in a live panel. The other inputs hold the signals of the step: a source for each. After it MANUAL, the signal back, acknowledge and "
    f"reset what has latched, then the next step. (5) Given back, in this order: {order_said()}. {UNLESS}. Stair pressurisation is life "
    "safety: the local code, the approved design, the authority having jurisdiction and a licensed (UK: competent) engineer decide."
)


def injection_caution(site):
    """INJECTION_CAUTION with the speed of a site above which a door is past its limit or a final exit may stay ajar, in its own step."""
    ceiling = ceiling_of(site)
    by_hand = ceiling.by_hand_said
    low = (
        f"not above {by_hand}{ceiling.by_hand_blank}, in any weather"
        if by_hand
        else "and not run in manual: no speed of this drive is borne by its doors"
    )
    return INJECTION_CAUTION.replace(_LOW, low)
