"""The steps of a test day in order, made from one site, and who is needed how long. What each step is stands in `commissioning.steps`."""

import re
from dataclasses import dataclass, replace

from helpers.studies.commissioning.crew.given_back import left_in_manual
from helpers.studies.commissioning.crew.lines import ReportLine, numbers_said
from helpers.studies.commissioning.crew.rounds import SHUT, CrewRounds
from helpers.studies.commissioning.crew.times import late_steps, quick_steps, timed
from helpers.studies.commissioning.hand_back import ALARM_ORDER, HELD_ALARM, alarm_again, hours_said, watch_said
from helpers.studies.commissioning.sheets import SEEN
from helpers.studies.commissioning.steps.at_doors import before_steps, open_steps, shut_steps
from helpers.studies.commissioning.steps.at_plant import all_laid, back_steps, panel_steps, power_steps, wire_steps
from helpers.studies.commissioning.steps.frame import (
    AS_FOUND,
    ELECTRICIAN,
    ENTERED,
    FORCES_OFF,
    IN_ORDER,
    LEAVES,
    LOCKED,
    NONE_LAID,
    PANEL,
    PEOPLE,
    SWITCH,
    WEATHER,
    against_step,
)
from helpers.studies.commissioning.steps.not_run import DECIDERS, NOT_RUN, by_the_record, is_entered
from helpers.studies.report import listed
from helpers.studies.status import SEVERITIES, word_of, worst_of

BELOW = 0  # no step has this number
SHIFT_MIN = 540.0  # of a crew that knows the building; common practice, no source
RELIEF_MIN = 240.0  # after which who only watches is relieved; common practice, no source
ONE_WEATHER = ("fan-off baseline", "steady speeds")  # parts whose pressures belong together
BEFORE_THE_DAY = "Before the day: the sheet of injected signals, written by `python -m helpers sheets`; its time is in none of these hours."
MEASURED_ALL_THE_SAME = (
    "The day is done all the same: it proves what stands there, as far as its steps are run. It accepts nothing until the design is "
    "corrected."
)


@dataclass(frozen=True)
class Procedure:
    """The steps of a day at one site; rounds: `CrewRounds`; first: what the record has to settle before the loop is run, "" for nothing."""

    rounds: CrewRounds
    steps: tuple
    first: str = ""

    @property
    def run(self):
        """The steps that are run."""
        return tuple(step for step in self.steps if not step.against)

    @property
    def in_hand_first(self):
        """All steps, those that are run before those that are NOT RUN: a crew works through the first."""
        return tuple(sorted(self.steps, key=lambda step: bool(step.against)))

    @property
    def in_the_list(self):
        """`in_hand_first`, and between two that are run the numbers left out there, as a tuple: a list says where these
        stand; before the first that is NOT RUN a tuple that begins with BELOW, since its number goes back."""
        found, last = [], 0
        for step in self.in_hand_first:
            if not step.against and step.number > last + 1:
                found.append(tuple(range(last + 1, step.number)))
            if step.against and found and not getattr(found[-1], "against", True):
                found.append((BELOW, *(one.number for one in self.steps if one.against)))
            last = last if step.against else step.number
            found.append(step)
        return tuple(found)

    def left_out_said(self, numbers):
        """Where the steps stand that a list leaves out between two that are run, in a line."""
        if numbers[0] == BELOW:
            return (
                f"Here the steps that are run end. Below, by their numbers, the {len(numbers) - 1} that are {NOT_RUN}, {numbers[1]} to "
                f"{numbers[-1]}: why stands above the steps, and each has its place in the day by its number."
            )
        barred = any(self.steps[number - 1].against for number in numbers)
        last = max(step.number for step in self.run)
        which = f"{numbers[0]} to {numbers[-1]}" if len(numbers) > 2 else ", ".join(map(str, numbers))
        return f"{which}:{f' {NOT_RUN},' * barred} see below step {last}, and why above the steps"

    @property
    def holders(self):
        """People who hold doors, one for each."""
        return len(self.rounds.rounds[-1].speeds_m_s)

    @property
    def minutes(self):
        """Minutes of the whole day, the steps that are run one after the other."""
        return sum(step.minutes for step in self.run)

    def by_crew(self):
        """{part of the crew: (people, minutes in which they are needed)}, those who are needed longest first."""
        parts = {name: sum(step.minutes for step in self.run if name in step.who) for step in self.run for name in step.who}
        people = {name: PEOPLE.get(name, self.holders) for name in parts}
        return {name: (people[name], parts[name]) for name in sorted(parts, key=parts.get, reverse=True)}

    def crew_lines(self):
        """Who is needed how long, a line each, then the whole day."""
        lines = [f"{name}: {people} {'person' if people == 1 else 'people'}, {hours_said(minutes)}"
                 for name, (people, minutes) in self.by_crew().items()]  # fmt: skip
        total = sum(people for people, _ in self.by_crew().values())
        more = len(self.relieved())
        relieve = f" and {more} who relieve them, {total + more} in all," if more else ""
        barred = len(self.steps) - len(self.run)
        steps = f"{len(self.steps)} steps{f' ({barred} {NOT_RUN})' * bool(barred)}"
        day = f"The day: {steps}, {hours_said(self.minutes)}, {total + more} people. Times are common practice, no source."
        few = (
            f"All {total} are needed, {PANEL} and {ELECTRICIAN} too,{relieve} besides whoever keeps the fire watch; the acceptance sheet "
            "by itself, its two rounds and no other step, does with fewer."
        )
        return (*lines, few, BEFORE_THE_DAY, *self.limits_said(), *self._all_said(), *self.evenings_said(), day)

    def evenings(self):
        """The steps that are run, evening by evening: those before the baseline and those that give back on each, no evening longer than
        SHIFT_MIN where a part allows it. Fan off and all steady speeds, of one weather, stay together; forces need not be of it.

        Limits: filled in the order of the steps, part by part, so an evening may end early."""
        frame = [step for step in self.run if step.part in (*IN_ORDER[:2], IN_ORDER[-1])]
        every, parts = sum(step.minutes for step in frame), {}
        for step in self.run:
            alone = {*step.judged} & {FORCES_OFF, LEAVES} and step.part in ONE_WEATHER
            key = step.number if alone else ONE_WEATHER if step.part in ONE_WEATHER else step.part
            if step not in frame:
                parts.setdefault(key, []).append(step)
        found = []
        for some in sorted(parts.values(), key=lambda some: some[0].number):
            if not found or every + sum(step.minutes for step in (*found[-1], *some)) > SHIFT_MIN:
                found.append([])
            found[-1] += some
        return tuple(tuple(sorted((*frame, *some), key=lambda step: step.number)) for some in found)

    def relieved(self):
        """Parts of the crew, one person each, who are relieved in an evening: a second of each is named before the start."""
        longest = max((sum(step.minutes for step in steps) for steps in self.evenings()), default=0.0)
        return (PANEL, SWITCH) if longest > RELIEF_MIN else ()

    def evenings_said(self):
        """Each evening's steps and hours, a line each, where the day is longer than a shift; and who is relieved when."""
        evenings = self.evenings()
        if self.minutes > SHIFT_MIN:
            for number, steps in enumerate(evenings, 1):
                minutes = sum(step.minutes for step in steps)
                over = ": longer than a shift, everybody is relieved in it" if minutes > SHIFT_MIN else ""
                yield f"Evening {number}: steps {numbers_said([step.number for step in steps])}, {hours_said(minutes)}{over}."
            yield (
                "Longer than a shift as one day. Fan off and all steady speeds are of one weather: on one evening; what is read on another "
                "goes into a book made for its weather."
            )
        if self.relieved():
            yield (
                f"{PANEL[0].upper()}{PANEL[1:]} and {SWITCH}: a second of each, named before the start, takes over after "
                f"{hours_said(RELIEF_MIN)} at the most, told what stands; nobody leaves the place before. Common practice, no source."
            )

    def _all_said(self):
        """Who and how long it takes where all that is NOT RUN is run by decision, in a sentence."""
        if len(self.run) == len(self.steps):
            return
        whole = Procedure(self.rounds, tuple(replace(step, against="") for step in self.steps))
        more = [f"{people} {name}" for name, (people, _) in whole.by_crew().items() if name not in self.by_crew()]
        total = sum(people for people, _ in whole.by_crew().values()) + len(whole.relieved())
        yield (f"With all that is {NOT_RUN}, were it so decided: {hours_said(whole.minutes)}, {total} people"
               f"{f', besides those above: {listed(more)}' if more else ''}.")  # fmt: skip

    def ceiling_said(self):
        """The day's ceiling of speed and how many steps are NOT RUN, in one sentence; `limits_said` says why."""
        barred = len(self.steps) - len(self.run)
        rest = f"; {barred} of {len(self.steps)} steps are {NOT_RUN} in this weather, why stands with who is needed" if barred else ""
        return f"Ceiling of the day: {self.rounds.ceiling.short}{rest}. {self.rounds.ceiling.as_drawn_said}".rstrip()

    def _ceiling_from(self):
        """Of which file the ceiling is, in a sentence: a building that was measured has its own."""
        site = self.rounds.site
        if found := site.leakage.factors_from:
            return f"It is of {site.name}'s file as found by the {found}."
        return (
            f"It is of {site.name}'s site file, its leakage as stated, no test day in it: where a day has been fitted, its file (name ends "
            "in _fitted.toml) replaces this one, and the lower ceiling counts."
        )

    def limits_said(self):
        """The day's ceiling of speed, and which steps are NOT RUN, a sentence each."""
        above = [str(step.number) for step in self.run if step.speed_hz is not None and self.rounds.ceiling.passed_by(step.speed_hz)]
        which = f"First the design record: steps {listed(above)} go above it" if above else "No step takes the fan above it"
        yield f"Ceiling of the day: {self.rounds.ceiling.said}. {which}. {self._ceiling_from()}"
        by_reason = {}
        for step in self.steps:
            if step.against:
                by_reason.setdefault(step.against, []).append(step.number)
        for why, numbers in by_reason.items():
            which = f"Steps {listed(map(str, numbers))} are" if len(numbers) > 1 else f"Step {numbers[0]} is"
            yield f"{which} {NOT_RUN} while {why}: {word_of('open')}, never {word_of('good')}."
        if by_reason:
            yield f"{DECIDERS} may decide otherwise in writing: then first what the step names to make it safe."


def goes_out_said(steps):
    """What is known of the doors before a crew goes out, in sentences: a day that is to be done is done, and proves what stands there;
    only what would endanger somebody comes first (`AcceptanceSheet.first`). steps: `Procedure`; where the loop is NOT RUN it says that no
    door is proved by its figures."""
    sheet = steps.rounds.sheet
    if sheet.first:
        return sheet.expected_said
    best = f" While {by_the_record(steps.first)}, the day is {word_of('attention')} at the best, whatever the counts." * bool(
        steps.first)  # fmt: skip
    fails = "wrong" in sheet.expected_states.values()
    counts = sheet.expected_counts
    if any(step.against and SHUT in step.judged for step in steps.steps):
        counts = f"The fan's own loop is {NOT_RUN} on this day, no door is proved by it. By its figures, {counts[0].lower()}{counts[1:]}"
    return f"{counts}{best}{f' {MEASURED_ALL_THE_SAME}' if fails else ''}"


def fails_said(count, where):
    """That the design record fails in some points, and what that is to a crew; where: they are listed, in words."""
    return f"The design record fails in {count} points, {where}: the designer has them before the day. {MEASURED_ALL_THE_SAME}"


def procedure(rounds, wires=(), first=None):
    """The `Procedure` of `CrewRounds`.

    wires: rows of the injection table (`InjectionRow`) with one wire off, which say what the drive must make of it; none: what the design
    lays down is asked for in words. first: what the design record has to settle before the loop is run, in words: then what needs it is NOT
    RUN; "" for nothing; None where no record was asked, as for figures alone: nobody is sent out with that.
    """
    drafted, laid = (*before_steps(rounds), *shut_steps(rounds, first), *open_steps(rounds), *panel_steps(rounds)), all_laid(rounds, wires)
    drafted += (*wire_steps(rounds, wires), *power_steps(rounds, laid), *back_steps(rounds, laid, first))
    steps, left = [], AS_FOUND
    for number, draft in enumerate(drafted, 1):
        step = draft.numbered(number, left, against_step(draft, rounds.ceiling, first))
        steps, left = [*steps, step], step.leaves
    steps = [replace(step, fails=_stops_said(step, steps)) for step in _with_alarm(steps)]
    watched = watch_said(sum(step.minutes for step in steps if step.away and not step.against))
    return Procedure(rounds, (replace(steps[0], do=f"{steps[0].do} {watched}"), *steps[1:]), first or "")


def _with_alarm(steps):
    """The steps, each that has the fan in hand, or pairs in the stair, with what a real alarm is: in full at the first of its part (one
    that is run, where there is one), at the others in few words."""
    before = [AS_FOUND, *(step.leaves for step in steps)]
    in_hand = [
        step for step, left in zip(steps, before, strict=False) if step.loop or step.away or left == LOCKED or WEATHER in step.judged
    ]
    full = {}
    for step in sorted(in_hand, key=lambda one: bool(one.against)):
        full.setdefault(step.part, step.number)
    held = {step.part for step in in_hand if step.loop}
    for step in steps:
        if step not in in_hand:
            yield step
        elif full[step.part] == step.number:
            told = (step.caution, *([HELD_ALARM] if step.part in held else []), ALARM_ORDER)
            yield replace(step, caution="; ".join(told))
        else:
            yield replace(step, caution=f"{step.caution}; {alarm_again(full[step.part])}")


def _stops_said(step, steps):
    """What to do where a step fails, with the later ones that it stops, in words."""
    numbers = [other.number for other in steps if other.stopped_by(step) and not other.against]
    if not numbers:
        return step.fails
    which = numbers_said(numbers)
    return f"{step.fails}: while it is otherwise, step{'s' * (len(numbers) > 1)} {which} {'are' if len(numbers) > 1 else 'is'} {NOT_RUN}"


def stopped_by(steps, seen):
    """{number of a step: the first step before it that came out otherwise and stops it}; seen: what was seen, by number of the step."""
    stopping = [step for step in steps if step.stops and seen.get(step.number) == SEEN[1]]
    found = {step.number: next((one for one in stopping if step.stopped_by(one)), None) for step in steps}
    return {number: one for number, one in found.items() if one is not None}


def stopped_said(step):
    """Why what a step stops is NOT RUN, in words."""
    return f"{NOT_RUN} while step {step.number}, {step.title}, is otherwise: {step.fails.partition(':')[0]}"


def entered(found):
    """Key of the status of the day's ceiling in the drive, by the Hz in its step's note and the speeds that were read: FAIL where one of
    them is above it, NOT YET without a figure in the note, PASS where no ceiling is entered."""
    ceiling, rounds = found.procedure.rounds.ceiling, found.procedure.rounds.rounds
    if not is_entered(ceiling):
        return "good"
    number = next(step.number for step in found.procedure.steps if ENTERED in step.judged)
    noted = [float(one) for one in re.findall(r"(\d+(?:\.\d+)?)\s*Hz\b", found.filled.value("steps", number, "note") or "")]
    speeds = [found.filled.value("fan", "speed", one.label) for one in rounds]
    if any(ceiling.passed_by(one) for one in (*noted, *speeds) if one is not None):
        return "wrong"
    return "good" if noted else "open"


def _run_without(step, unmet):
    """That a step was done though one that it waits for is not proved, in words; "" for none. unmet: (`DayStep`, key of its status)."""
    first = next(((one, state) for one, state in unmet if step.stopped_by(one)), None)
    if first is None:
        return ""
    one, state = first
    return f"run while step {one.number}, {one.title}, is {word_of(state)}: {word_of('attention')} at the best"


def step_lines(found, known):
    """A `ReportLine` of each step of a `DayFound`, by its tick and by what of it is judged: none is a PASS beside a figure past its limit,
    none on a tick alone where a figure is asked, none without its time, none out of its order, none before what it waits for; known: {what
    is judged: key of its status}."""
    ticked = {step.number: found.filled.value("steps", step.number, "done") for step in found.procedure.steps}
    stopped, late, quick, unmet = stopped_by(found.procedure.steps, ticked), late_steps(found), quick_steps(found), []
    for step in found.procedure.steps:
        seen, at, by, note = (found.filled.value("steps", step.number, column) for column in ("done", "time", "initials", "note"))
        state, untimed = timed("open" if seen is None or by is None else "good" if seen == SEEN[0] else "wrong", "", seen, at)
        own = {name: known[name] for name in step.judged if known.get(name, "good") != "good"}
        told = [f"{word_of(key)} {', '.join(name for name in own if own[name] == key)}" for key in SEVERITIES if key in own.values()]
        manual, unlaid = left_in_manual(step, note), step.limit == NONE_LAID
        barred = f"{NOT_RUN} while {step.against}" if step.against else ""
        if (first := stopped.get(step.number)) and not step.against:
            barred = f"{stopped_said(first)}; once mended, that step again"
        decided = "read the written decision, it is" if step.against else "what it says is"
        barred += f"; done all the same: {decided} {word_of('open')} at the best" if barred and seen else ""
        waits = "" if barred or seen is None else _run_without(step, unmet)
        doubts, opens = [one for one in (manual, late.get(step.number)) if one], unlaid or bool(barred)
        state = worst_of([state, *own.values(), *(["attention"] * bool(doubts)), *(["open"] * opens)])
        state, doubts = "attention" if waits and state == "good" else state, [*doubts, *([waits] if waits else [])]  # NOT YET stays it
        unmet += [(step, state)] if step.stops and state in ("wrong", "open") else []
        undone = barred or "not done" * (seen is None)
        words = "; ".join(filter(None, (undone, "nobody signed for it" if seen and by is None else "", untimed, note, *doubts,
                                        quick.get(step.number, ""),
                                        "nothing to be held against: lay it down first" if unlaid else "", *told)))  # fmt: skip
        past = "; ".join(filter(None, ("otherwise than it must be" * (seen == SEEN[1]), note if seen == SEEN[1] else "",
                                       *(one for one in told if one.startswith(word_of("wrong"))))))  # fmt: skip
        yield ReportLine("Steps", step.label, "", "", "", ", ".join(filter(None, (seen, at, by))), "", state, words, past=past)
