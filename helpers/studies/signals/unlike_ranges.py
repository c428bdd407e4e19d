"""Transmitters of one site whose ranges are not the same: each keeps its own, which everything entered, injected and shown is for."""

from dataclasses import replace

from helpers.formulas import signals
from helpers.studies.report import Finding, Value, fine, finest, listed
from helpers.studies.signals.plates import plate_text, span_text
from helpers.studies.signals.range_choice import combined_error, judge_range
from helpers.studies.status import worst_of
from helpers.units.said import three

EACH_SCALED = "each input scaled to its own range in pressure before they are combined"


def by_range(taps):
    """{(low, high) [Pa]: transmitters of that range}, in the order of the site file."""
    found = {}
    for tap in taps:
        found.setdefault((tap.range_low_pa, tap.range_high_pa), []).append(tap)
    return found


def unlike(site):
    """Whether the transmitters of a site have more than one range."""
    return len(by_range(site.transmitters)) > 1


def plates_said(taps):
    """The range of every transmitter, those of one range together, in words."""
    return listed(f"{listed(tap.name for tap in own)} {plate_text(*ends)}" for ends, own in by_range(taps).items())


def accuracy_pa(taps):
    """The most that any of some transmitters may be off [Pa], each by its own span and per cent."""
    return max(float(signals.accuracy(tap.range_low_pa, tap.range_high_pa, tap.accuracy_percent_span)) for tap in taps)


def judged(advice, taps):
    """[(transmitters of one range, `RangeChoice`)]: every range as `RangeAdvice` judges a stated one. Peak and lowest reading are those of
    all transmitters together, so each is judged by at least what it meets."""

    def one(ends, own):
        return judge_range(ends, own[0], advice.set_point_pa, advice.window_pa, advice.peak_pa, advice.lowest_held_pa)

    return [(own, one(ends, own)) for ends, own in by_range(taps).items()]


def state(advice, taps):
    """The worst status of the ranges that some transmitters have."""
    return worst_of([advice.state(choice) for _, choice in judged(advice, taps)])


def as_the_widest(advice, site):
    """The combined reading's error with every transmitter as far off as the least accurate: its own spread is no more, and of the lowest or
    the highest of unlike normal errors the bias is no more than of as many like the largest."""
    return replace(
        advice,
        error=combined_error(accuracy_pa(site.transmitters), site.control.rule, len(site.transmitters), site.control.weights),
    )


def figures(advice, taps):
    """Accuracy, step and place of the set point of every range, for the record's table."""
    for own, choice in judged(advice, taps):
        names, step = listed(tap.name for tap in own), finest(choice.resolution_pa)
        why = f"{choice.text()}: set point at {choice.set_point_percent:.0f} % of the span, A/D converter step {step}"
        yield Value(f"Accuracy of {names}", choice.accuracy_pa, f"±{fine(choice.accuracy_pa)}", why, "site file, % of span", "pressure")


def findings(advice, taps):
    """One finding a range: whether it suits its own transmitters."""
    for own, choice in judged(advice, taps):
        names, against = listed(tap.name for tap in own), advice.against(choice)
        suits = f"The range of {names}, {choice.text()}, {'suits' if choice.good else 'does not suit'}"
        remedy = f"{advice.mends(choice) or 'another range or set point'}; then displays and injected signals anew" if against else ""
        source = "common practice, no source" if against else ""
        yield Finding(advice.state(choice), suits, f"accuracy ±{fine(choice.accuracy_pa)}", against, source, remedy)


def bought_said(taps):
    """How many transmitters of which range, in words."""
    return listed(f"{len(own)} of {plate_text(*ends)}" for ends, own in by_range(taps).items())


def gain_said(site):
    """Whose span a gain in per cent of span is of, where they differ; "" where they do not."""
    if not unlike(site):
        return ""
    (name, first), *others = [(own[0].name, high - low) for (low, high), own in by_range(site.transmitters).items()]
    spans = dict.fromkeys(span for _, span in others if span != first)
    told = listed(f"{three(span / first)} times the gain on {span_text(span)}" for span in spans)
    return f"; the span is {name}'s{f': a drive that reckons by another one needs {told}' * bool(spans)}"
