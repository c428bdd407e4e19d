"""The steps of a test day in order, made from one site, and who is needed how long. What each step is stands in `commissioning.steps`."""

from dataclasses import dataclass, replace

from helpers.studies.commissioning.crew.rounds import CrewRounds
from helpers.studies.commissioning.sheets import SEEN
from helpers.studies.commissioning.steps.at_doors import before_steps, open_steps, shut_steps
from helpers.studies.commissioning.steps.at_plant import all_laid, back_steps, panel_steps, power_steps, wire_steps
from helpers.studies.commissioning.steps.frame import AS_FOUND, ELECTRICIAN, PANEL, PEOPLE, against_step
from helpers.studies.commissioning.steps.not_run import DECIDERS, NOT_RUN
from helpers.studies.report import listed
from helpers.studies.status import word_of

SHIFT_MIN = 540.0  # of a crew that knows the building; common practice, no source
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
        lines = [f"{name}: {people} {'person' if people == 1 else 'people'}, {_hours(minutes)}"
                 for name, (people, minutes) in self.by_crew().items()]  # fmt: skip
        total = sum(people for people, _ in self.by_crew().values())
        long = (
            "Longer than a shift: stop at the end of a part, do the two last steps, and begin the next day with the parts before the "
            "baseline."
        )
        barred = len(self.steps) - len(self.run)
        steps = f"{len(self.steps)} steps{f' ({barred} {NOT_RUN})' * bool(barred)}"
        day = f"The day: {steps}, {_hours(self.minutes)}, {total} people. Times are common practice, no source."
        few = (
            f"All {total} are needed, {PANEL} and {ELECTRICIAN} too; the acceptance sheet by itself, its two rounds and no other step, "
            "does with fewer."
        )
        return (*lines, few, *self.limits_said(), f"{day} {long}" if self.minutes > SHIFT_MIN else day)

    def ceiling_said(self):
        """The day's ceiling of speed and how many steps are NOT RUN, in one sentence; `limits_said` says why."""
        barred = len(self.steps) - len(self.run)
        rest = f"; {barred} of {len(self.steps)} steps are {NOT_RUN}, why stands with who is needed" if barred else ""
        return f"Ceiling of the day: {self.rounds.ceiling.short}{rest}."

    def limits_said(self):
        """The day's ceiling of speed, and which steps are NOT RUN, a sentence each."""
        above = [str(step.number) for step in self.run if step.speed_hz is not None and self.rounds.ceiling.passed_by(step.speed_hz)]
        which = f"First the design record: steps {listed(above)} go above it" if above else "No step takes the fan above it"
        yield f"Ceiling of the day: {self.rounds.ceiling.said}. {which}."
        by_reason = {}
        for step in self.steps:
            if step.against:
                by_reason.setdefault(step.against, []).append(step.number)
        for why, numbers in by_reason.items():
            which = f"Steps {listed(map(str, numbers))} are" if len(numbers) > 1 else f"Step {numbers[0]} is"
            yield f"{which} {NOT_RUN} while {why}: {word_of('open')}, never {word_of('good')}."
        if by_reason:
            yield f"{DECIDERS} may decide otherwise in writing: then first what the step names to make it safe."


def _hours(minutes):
    whole = int(-(-minutes // 5)) * 5
    return f"{whole // 60} h {whole % 60:02d} min"


def goes_out_said(sheet):
    """What is known of the doors before a crew goes out, in sentences: a day that is to be done is done, and proves what stands there;
    only what would endanger somebody comes first (`AcceptanceSheet.first`)."""
    if sheet.first:
        return sheet.expected_said
    fails = "wrong" in sheet.expected_states.values()
    return f"{sheet.expected_counts}{f' {MEASURED_ALL_THE_SAME}' if fails else ''}"


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
    return Procedure(rounds, tuple(replace(step, fails=_stops_said(step, steps)) for step in steps), first or "")


def _stops_said(step, steps):
    """What to do where a step fails, with the later ones that it stops, in words."""
    numbers = [other.number for other in steps if other.stopped_by(step) and not other.against]
    if not numbers:
        return step.fails
    runs = [[numbers[0], numbers[0]]]
    for number in numbers[1:]:
        runs = [*runs[:-1], [runs[-1][0], number]] if number == runs[-1][1] + 1 else [*runs, [number, number]]
    which = listed([f"{low} to {high}" if high > low else f"{low}" for low, high in runs])
    return f"{step.fails}: while it is otherwise, step{'s' * (len(numbers) > 1)} {which} {'are' if len(numbers) > 1 else 'is'} {NOT_RUN}"


def stopped_by(steps, seen):
    """{number of a step: the first step before it that came out otherwise and stops it}; seen: what was seen, by number of the step."""
    stopping = [step for step in steps if step.stops and seen.get(step.number) == SEEN[1]]
    found = {step.number: next((one for one in stopping if step.stopped_by(one)), None) for step in steps}
    return {number: one for number, one in found.items() if one is not None}


def stopped_said(step):
    """Why what a step stops is NOT RUN, in words."""
    return f"{NOT_RUN} while step {step.number}, {step.title}, is otherwise: {step.fails.partition(':')[0]}"
