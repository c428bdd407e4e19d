"""What the site files of buildings, ducts and garages share beside the parts of a stair's: types of fields and checks of the fan."""

from typing import Annotated

from helpers.model.site.quantities import Quantity, Section
from helpers.model.site.schema import AccuracyOfSpan, Bore, ConverterBits, Delay, Pressure, SignalName, Text, Time, TubeLength

__all__ = ["Concentration", "PressureTransmitter", "Ratio", "ShareOfFull", "one_share_each", "place_is_there", "with_effect"]

Concentration = Annotated[float, Quantity("concentration", "25 ppm", low=0, high=100_000)]
Ratio = Annotated[float, Quantity("ratio", "1.5", low=0, high=1000)]
ShareOfFull = Annotated[float, Quantity("ratio", "0.6", low=0, high=1)]


class PressureTransmitter(Section):
    """A pressure transmitter and how the drive reads it; where its tubes end is said by each kind of site."""

    name: Text
    range_low_pa: Pressure
    range_high_pa: Pressure
    signal: SignalName
    accuracy_percent_span: AccuracyOfSpan
    converter_bits: ConverterBits = 12
    filter_s: Time = 0.0
    response_s: Delay | None = None
    damping_s: Delay | None = None
    tube_length_m: TubeLength | None = None
    tube_bore_m: Bore | None = None


def with_effect(effect, why):
    """The check that the fan has the effect that this kind of site needs."""

    def fan_has_its_effect(draft):
        fan = draft.sections.get("fan")
        if fan is not None and fan.effect != effect:
            yield ("fan", "effect"), f"must be {effect!r}: {why}; got {fan.effect!r}"

    return fan_has_its_effect


def place_is_there(section, key, places):
    """The check that each transmitter's place is one of a list's named parts (`section`: a section or zone by `key`)."""

    def transmitters_have_a_place(draft):
        names = [part.name for _, part in draft.items(places)]
        for number, transmitter in draft.items(section):
            if draft.whole(places) and getattr(transmitter, key) not in names:
                known = ", ".join(map(repr, names))
                yield (section, number, key), f"must be one of the {places} ({known}); got {getattr(transmitter, key)!r}"

    return transmitters_have_a_place


def one_share_each(table, key, places):
    """The check that every named state of a table states one figure for each of the places."""

    def states_are_complete(draft):
        count = len(draft.items(places))
        for name, state in draft.items(table) if draft.whole(places, table) else []:
            if len(getattr(state, key)) != count:
                yield (table, name, key), f"must hold one value for each of the {count} {places}; got {len(getattr(state, key))}"

    return states_are_complete
