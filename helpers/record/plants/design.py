"""The design record of a plant other than a stair: the site's settings, with what the record lays down beside them, judged on its bench."""

from dataclasses import replace
from functools import cached_property, partial

from helpers import require
from helpers.model.plants.duct import DuctSite
from helpers.model.plants.kinds import plant_of
from helpers.model.site.schema import Site
from helpers.record.design import Design
from helpers.record.plants import rushes, sections
from helpers.record.plants.both_gases import has_two, set_points_said
from helpers.record.plants.laid import kind_of, laid_down, with_choices
from helpers.record.plants.schedule import plant_board, plant_schedule
from helpers.record.review.failures import good_speeds
from helpers.record.review.study import reviewed
from helpers.record.sections.signed import site_hash
from helpers.studies.low_demand.duct_reset import reset_study
from helpers.studies.low_demand.reset_told import reset_section
from helpers.studies.report import PRACTICE, Record, Section, Written, range_text
from helpers.studies.status import fails_said
from helpers.studies.tuning.two_loops import two_loops
from helpers.units import SYSTEMS, parse
from helpers.units.said import written_out

CAUTIONS = (
    "A plant for comfort or for a gas: the figures here teach and pre-check; the local code, the approved design, the authority having "
    "jurisdiction and a licensed (UK: competent) engineer decide.",
    "Nothing here is for smoke control. A fan that serves it never stops for low demand, and no request of a zone moves its set point; "
    "what the fire alarm does with this fan is agreed before, and outranks the loop.",
    "Electrical work, injected signals included, is for qualified people, with the drive isolated and locked out while wires are moved. "
    "While a signal is injected the fan stays in MANUAL: a low signal sends it to an end of its speed.",
    "Computed air is steady air through ducts, leaks and shares as the site file states them. Measure before anyone relies on it.",
)
OF_GAS = (
    "Gas kills without smell: set points, alarms, the least flow and whether a garage's fan may stop at all are the code's and the "
    "authority's to say.",
)
AT_THE_RESET = ("never stops", "cycles")  # kinds that hang on the speed at the set point: of a duct with a reset its study judges them


class PlantDesign:
    """A duct, a building with a relief fan or a garage as its file has it, and the record of it; each part made when first asked for.

    site: with the choices made; units: the system in which it is written, one of `units.SYSTEMS`.
    """

    def __init__(self, site, *, rule=None, set_point=None, units="Pa"):
        """A design of a plant's site; rule, set_point (text with its unit, or a number [Pa or ppm]): in place of the file's.

        Raises ValueError for a stair, and for choices that cannot be."""
        dimension = "concentration" if kind_of(site).unit == "ppm" else "pressure"
        point = parse(set_point, dimension, "set_point") if isinstance(set_point, str) else set_point
        self.site, self.units, self._sections = with_choices(site, rule, point), require.one_of(SYSTEMS, units=units), {}

    @property
    def gas(self):
        """Whether its readings are of a gas."""
        return kind_of(self.site).unit == "ppm"

    @property
    def called(self):
        """What such a plant is called."""
        return kind_of(self.site).called

    @cached_property
    def plant(self):
        """The plant's air."""
        return plant_of(self.site)

    @cached_property
    def strategy(self):
        """The site's settings with the fallback speed and the alarms that are laid down."""
        return laid_down(self.site)

    @cached_property
    def review(self):
        """The `Review` of these settings, for any system of units."""
        made = reviewed(self.strategy, self.site)
        left = tuple(one for one in made.found if one.key not in AT_THE_RESET or not self.has_reset)
        return replace(made, found=left)

    @property
    def has_reset(self):
        """Whether its set point is reset by requests."""
        return isinstance(self.site, DuctSite) and self.site.control.reset is not None

    @property
    def bench(self):
        """The bench on which they were looked at."""
        return self.review.bench

    @cached_property
    def reset(self):
        """`DuctReset` of a duct whose set point is reset by requests, with the gain that is laid down; None of any other plant."""
        return reset_study(self.site.with_changes(control={"gain": self.strategy.loop.gain})) if self.has_reset else None

    @property
    def reset_findings(self):
        """Findings of that study, none without it."""
        return () if not self.has_reset else self.marked("reset").findings

    @cached_property
    def stop_findings(self):
        """What a stop for low demand does to a gas while the fan stands; none without a stop, and of what holds a pressure."""
        return tuple(rushes.stop_findings(self)) if self.gas and self.site.control.low_demand is not None else ()

    @cached_property
    def rush(self):
        """`GasRush` of a garage, with the gain that is laid down; None of any other plant."""
        return rushes.rush_of(self) if self.gas else None

    @cached_property
    def loops(self):
        """`TwoLoops` of a garage of two gases, with the gain that is laid down; None of any other plant."""
        return two_loops(self.bench.stated, self.strategy.loop.controller_gain) if has_two(self) else None

    @cached_property
    def rush_findings(self):
        """What traffic that turns at once does to a gas with the fan running; none of what holds a pressure."""
        return tuple(rushes.rush_findings(self)) if self.gas else ()

    def where(self, number):
        """Where a transmitter reads, in words."""
        tap = self.site.transmitters[number]
        if self.gas:
            return f"zone {tap.zone}{f', {tap.gas or self.site.gas}' if has_two(self) else ''}"
        if isinstance(self.site, DuctSite):
            return f"section {tap.section}: high side in the duct, low side in the rooms"
        return f"storey {tap.level}: high side indoors, low side outdoors, its end looks to {tap.outside_deg:g}° by compass"

    @property
    def set_point_said(self):
        """The set point, in words; of a duct with a reset between which ends it moves."""
        if has_two(self):
            return set_points_said(self)
        said, reset = self.bench.show(self.bench.set_point), self.site.control.reset if self.has_reset else None
        if reset is None:
            return said
        return f"moved by requests, {range_text(reset.lowest_pa, reset.highest_pa, 'pressure')}; {said} where the reset is off"

    @property
    def speeds_said(self):
        """Which speeds suit every place, in words."""
        return good_speeds(self.bench)

    @property
    def alarms_why(self):
        """What the alarm limits rest on, in words."""
        if self.gas:
            beyond = "even a reading too high by all its error is then at the most that a zone may have; the loop holds less"
            return f"{beyond}; {rushes.alarm_said(self)}; the code decides; {PRACTICE}"
        return f"beyond the readings of the cases that the loop holds, those at an end of its speed left out; {PRACTICE}"

    @cached_property
    def lines(self):
        """The `Setting`s of its schedule, for any system of units."""
        return plant_schedule(self, site_hash(self.site)[:16])

    @property
    def writers(self):
        """{key of a section: what writes it}."""
        more = {} if not self.has_reset else {"reset": lambda design: reset_section(design.reset)}
        own, last = dict(sections.WRITERS), {key: sections.WRITERS[key] for key in sections.SIGNED}
        return {key: write for key, write in own.items() if key not in last} | more | last

    def section(self, key, system=None) -> Section:
        """A section of the record by its key, written out; kept. Raises ValueError for a key that is not there, naming those that are."""
        wanted = require.one_of(self.writers, key=key), self.units if system is None else system
        if wanted not in self._sections:
            self._sections[wanted] = written_out(self.marked(key), wanted[1])
        return self._sections[wanted]

    def marked(self, key) -> Section:
        """The same for any system of units."""
        if key not in self._sections:
            self._sections[key] = self.writers[key](self)
        return self._sections[key]

    def fails(self):
        """What fails, a line each, for any system of units."""
        return fails_said(finding for key in self.writers if key not in sections.SIGNED for finding in self.marked(key).findings)

    def record(self, system=None) -> Record:
        """Everything written down in a system of units (default: its own), each section when first asked for."""
        system = require.one_of(SYSTEMS, system=self.units if system is None else system)
        keys = tuple(self.writers)
        every = Written((partial(self.section, key, system) for key in keys), keys)
        summary = Written(partial(lambda key: f"{self.marked(key).title}: {self.marked(key).verdict}", key) for key in keys).in_system(
            system
        )
        boards = Written((partial(plant_board, self),)).in_system(system)
        title = f"Design record: {self.site.title}"
        cautions = (*CAUTIONS, *OF_GAS * self.gas)
        return Record(title, self.site.name, system, summary, every, cautions, boards=boards, site_title=self.site.title)


def design_of(site, **choices):
    """The design of a site of any kind: a `Design` of a stair, a `PlantDesign` of another plant. choices: rule, set_point, units."""
    return Design(site, **choices) if isinstance(site, Site) else PlantDesign(site, **choices)
