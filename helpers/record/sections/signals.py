"""Sections of the design record about transmitter range, action, signal and injection."""

from collections import Counter
from dataclasses import replace

from helpers.formulas import signals
from helpers.record import plot_builders
from helpers.record.standing import NOT_LAID_DOWN, SET_POINT
from helpers.studies.commissioning.fields import plan_said
from helpers.studies.commissioning.hand_back import injection_caution
from helpers.studies.duty.fan_needed import WRONG_WAY
from helpers.studies.readings.failures import blind_wires
from helpers.studies.report import (
    NETWORK,
    PRACTICE,
    SITE_FILE,
    Finding,
    Section,
    Table,
    Value,
    figure,
    fine,
    finest,
    listed,
)
from helpers.studies.signals import unlike_ranges
from helpers.studies.signals.plates import plate_text, span_text
from helpers.units.said import three, with_unit

D2 = "half of d2, Joglekar, Statistical Methods for Six Sigma, app. G (checked in public text by a reviewer in 2026)"
_GUM = "JCGM 100:2008 (from memory, not verified); accuracy taken as a rectangular bound"


def range_section(design):
    """Which transmitter range to buy."""
    advice, chosen, unlike = design.range, design.range.chosen, unlike_ranges.unlike(design.site)
    which = "the one stated" if chosen == advice.stated else "the smallest"
    why = f"{which}; {advice.against(chosen) or 'nothing speaks against it'}"
    place, first = chosen.set_point_percent, design.standing.first(SET_POINT)
    figures = (
        Value(
            "One range for all" if unlike else "Range for the file's set point" if first else "Range chosen",
            None,
            chosen.text(),
            f"{first}; {why}" if first else why,
            PRACTICE,
        ),
        _pressure("Accuracy", chosen.accuracy_pa, f"±{fine(chosen.accuracy_pa)}", "grows with the span", f"{SITE_FILE}, % of span"),
        _pressure("A/D converter step", chosen.resolution_pa, finest(chosen.resolution_pa), "least the drive sees", "span over steps"),
        Value("Set point on the span", place, f"{place:.0f} %", "from 25 to 80 % is good", PRACTICE),
        figure("Highest peak", advice.peak_pa, "pressure", f"as the open doors shut, fan not yet slower: {advice.peak_case}", NETWORK),
        figure("Lowest reading", advice.lowest_pa, "pressure", f"fan at rest: {advice.lowest_case}{_below_zero(advice)}", NETWORK),
        *(unlike_ranges.figures(advice, design.site.transmitters) if unlike else ()),
        *_error_figures(advice.error, "as large as the least accurate one's and " * unlike),
    )
    rows = tuple(_range_row(choice, advice) for choice in advice.choices)
    states = tuple(advice.state(choice) for choice in advice.choices)
    columns = ("Range", "Accuracy", "Step", "Set point", "Window", "Peak", "Against it")
    note = (
        "Set point, window and peak in per cent of the span. A range with odd ends in the units shown is sold in the other units: enter "
        "the ends on its plate."
    )
    table = Table("ranges", "Usual ranges", columns, rows, states, note)
    pictures = (plot_builders.range_chart(advice),)
    said = design.standing.what_if(advice.verdict(), SET_POINT)
    if unlike:
        kept = f"{unlike_ranges.plates_said(design.site.transmitters)}: schedule, sheets and loop have each its own"
        said = f"Unlike ranges are stated, {kept}. If one range is to be bought for all instead: {said}"
    findings = unlike_ranges.findings(advice, design.site.transmitters) if unlike else (_range_finding(design),)
    return Section("range", "Transmitter range", said, figures, (table,), tuple(findings), pictures)


def _pressure(label, value, text, reason, source):
    return Value(label, float(value), text, reason, source, "pressure")


def _below_zero(advice):
    if advice.lowest_pa < 0 <= advice.chosen.low_pa:
        return "; this range shows 0 then, as it does with reversed tubes: start the fan and look"
    return ""


def _error_figures(error, taken=""):
    label = f"Combined reading ({error.rule} of {error.count})" if error.count > 1 else "Reading"
    text = f"±{finest(error.standard_pa)}"
    why = f"errors of the transmitters taken as {taken}independent"
    yield _pressure(f"{label}, standard uncertainty", error.standard_pa, text, why, _GUM)
    if error.bias_pa:
        side = "low, so the fan blows harder" if error.bias_pa < 0 else "high, so the fan blows less"
        reason = f"reads {side}: {abs(error.bias_pa / error.single_pa):.3f} standard deviations where all see one pressure"
        text = finest(error.bias_pa)
        yield _pressure(f"{label}, off on average by up to about", error.bias_pa, text, reason, D2)


def _range_row(choice, advice):
    def percent(value):
        return "" if value is None else f"{value:.0f} %"

    against = advice.against(choice)
    window = " to ".join(filter(None, (percent(choice.least_percent), percent(choice.most_percent))))
    places = percent(choice.set_point_percent), window, percent(choice.peak_percent)
    return (choice.text(), f"±{fine(choice.accuracy_pa)}", finest(choice.resolution_pa), *places, against or "nothing")


def transmitters_said(design):
    """How many transmitters of which range, signals and accuracy are bought, in words."""
    taps, chosen = design.built.transmitters, design.range.chosen
    kinds, mends = Counter(tap.signal for tap in taps), design.range.mends(chosen)
    signals_said = next(iter(kinds)) if len(kinds) == 1 else listed(f"{count} with {signal}" for signal, count in kinds.items())
    better = f"; {mends}" if chosen.objections == ("accuracy",) else ""
    if unlike_ranges.unlike(design.built):
        return f"{unlike_ranges.bought_said(taps)} as the file states, {signals_said}"
    return f"{len(taps)} of {chosen.text()}, {signals_said}{better}"


def _range_finding(design):
    """What hangs on a set point that does not stand, or hides reversed tubes, is no pass."""
    advice = design.range
    stated, chosen = advice.stated, advice.chosen
    text = f"accuracy ±{fine(stated.accuracy_pa)}"
    if stated == chosen and stated.good:
        first, hides = design.standing.first(SET_POINT), advice.reversal()
        if not (first or hides or advice.against(stated)):
            return Finding("good", f"The range stated, {stated.text()}, suits", text)
        what = f"The range stated, {stated.text()}, suits the file's set point"
        hides = f"{hides[:1].lower()}{hides[1:].rstrip('.')}"
        why = "; ".join(filter(None, (first, hides, advice.against(stated))))
        mends = advice.mends(stated) if not hides or stated.reservations else ""
        by_hand = "the tubes proved with the fan in manual, until such a range hangs there" if hides else ""
        remedy = "the range again, once the set point is laid down" if first else "; ".join(filter(None, (by_hand, mends)))
        return Finding("attention", what, text, why, PRACTICE, remedy)
    against, fails = advice.against(stated) or "it is wider than it need be", "attention" if stated.good else "wrong"
    if stated == chosen:
        what = f"{advice.none_said}; the one stated, {stated.text()}, is the least bad"
        remedy = advice.mends(stated) if stated.objections == ("accuracy",) else "another set point or transmitter"
        return Finding(fails, what, text, against, PRACTICE, remedy)
    what, remedy = f"The range stated, {stated.text()}, is not the best", f"{chosen.text()}; change the gain with the span"
    what = what if stated.good else f"The range stated, {stated.text()}, does not suit: schedule and sheets are for {chosen.text()}"
    return Finding(fails, what, text, against, PRACTICE, remedy)


def action_section(design):
    """Reverse or direct, from the model's own answer."""
    found = design.acting
    rows = tuple((case.name, *_answer_cells(found, place)) for place, case in enumerate(design.cases))
    columns = ("Case", "Slower", "Reading then", "Faster", "Reading then", "With more speed it")
    table = Table("action", "The reading's answer to the fan's speed", columns, rows)
    figures = (
        Value("Action", None, found.action or "none found", "output against reading, so that the loop holds", NETWORK),
        Value("Action stated", None, found.stated, "what the loop is to be set to", f"{SITE_FILE}, control"),
    )
    findings = found.findings()
    if design.duty.needed.wrong_way and not found.agrees:  # the fan first: with another one the action stated may be right
        first = f"first {WRONG_WAY}; with the fan as stated "
        findings = tuple(replace(one, caused_by="fan", remedy=first + one.remedy) if one.severity == "wrong" else one for one in findings)
    return Section("action", "Reverse or direct", found.verdict(), figures, (table,), findings)


def _answer_cells(found, place):
    arrays = (found.slow_hz, found.slow_pa, found.fast_hz, found.fast_pa)
    kinds = ("frequency", "pressure", "frequency", "pressure")
    shown = [with_unit(array[place], kind) for array, kind in zip(arrays, kinds, strict=True)]
    return (*shown, {1: "rises", -1: "falls", 0: "hardly moves"}[int(found.answers[place])])


def signal_section(design):
    """The signal's scaling, and what a new span does to the gain."""
    site, advice = design.built, design.range
    pictures = tuple(plot_builders.signal_ladder(tap, advice, place) for place, tap in enumerate(site.transmitters))
    scaled = [_scaling_figure(tap, site.control.set_point_pa) for tap in site.transmitters]
    figures = (*scaled, *_gain_figures(design))
    verdict = " ".join(plot_builders.ladder_said(own[0], advice) for own in unlike_ranges.by_range(site.transmitters).values())
    return Section("signal", "Scaling of the signal", verdict, figures, (), tuple(_signal_findings(design.site)), pictures)


def _gain_figures(design):
    """The gain stated, and what it becomes with the range chosen where that is another."""
    advice, gain, new = design.range, design.site.control.gain, design.built.control.gain
    span = span_text(advice.stated.span_pa)
    why = f"for the file's own span of {span}{unlike_ranges.gain_said(design.site)}"
    yield Value("Gain stated", gain, f"{three(gain)} %/%", why, f"{SITE_FILE}, control")
    if advice.chosen.span_pa != advice.stated.span_pa and design.other_range():
        reason = f"per cent of speed per cent of span: it follows the span from {advice.stated.text()} to {advice.chosen.text()}"
        yield Value("Gain for the range chosen", new, f"{three(new)} %/%", reason, "arithmetic of per cent of span")


def _scaling_figure(tap, set_point_pa):
    sent = float(signals.to_signal(set_point_pa, tap.signal, tap.range_low_pa, tap.range_high_pa))
    reason = f"{tap.signal} stands for {plate_text(tap.range_low_pa, tap.range_high_pa)}"
    return Value(
        f"{tap.name}, signal at the set point",
        sent,
        f"{sent:.2f} {signals.SIGNALS[tap.signal][2]}",
        reason,
        "IEC 60381 (from memory, not verified)",
    )


def _signal_findings(site):
    dead = blind_wires(site.transmitters)
    if dead:
        what, remedy = (
            f"A dead wire cannot be told from no pressure: {listed(dead)}",
            "a signal with a live zero: 4-20 mA, 2-10 V or 1-5 V",
        )
        yield Finding(
            "wrong",
            what,
            "",
            "the signal starts at zero, so no fallback begins",
            "IEC 60381 (from memory, not verified)",
            remedy,
            possible=True,
        )
    if unlike_ranges.unlike(site):
        remedy = f"one range for all, or {unlike_ranges.EACH_SCALED}, proved input by input"
        why = "the same per cent of signal is not the same pressure"
        plates = unlike_ranges.plates_said(site.transmitters)
        yield Finding("attention", "The transmitters have different ranges", plates, why, PRACTICE, remedy)


def injection_section(design):
    """What every display must show, row by row."""
    table, names = design.injection, [tap.name for tap in design.injection.transmitters]
    others = [name for name in table.hypotheses if name != table.rule]
    rows = tuple(_injection_row(number, row, table, others) for number, row in enumerate(table.rows, 1))
    columns = (
        "Step",
        "Drive stands in",
        *(f"Put on {name}" for name in names),
        *(f"{name} must show" for name in names),
        f"Combined ({table.rule}) must show",
        *(f"If it were {name}" for name in others),
        "What it proves",
        "And must do",
    )
    ends = "Signals stay off the ends of the range: an input that clips hides an offset there."
    note = f"{injection_caution(design.site)} {_automatic_said(table)} {ends}"
    verdict = f"{len(rows)} steps, one plan: {plan_said(table)}. {_told_apart(table)}"
    pairs = "; ".join(listed(pair) for pair in table.not_told_apart)
    findings = (Finding("attention", "Some combinations cannot be told apart", pairs),) if pairs else ()
    note += _apart_said(design)
    sheet = Table("injection", "Injection table", columns, rows, note=note)
    return Section("injection", "Injection table", verdict, tuple(_tolerance_figures(table)), (sheet,), findings)


def _automatic_said(table):
    """Which steps are in AUTO, by their numbers, and when to leave it."""
    numbers = [str(number) for number, row in enumerate(table.rows, 1) if row.fan == "AUTO"]
    if not numbers:
        return "All of these steps are in MANUAL."
    which = f"step{'s' if len(numbers) > 1 else ''} {listed(numbers)}"
    return (
        f"In AUTO: {which}, all others in MANUAL. In AUTO, if the fan goes faster than the step says, or does not come to rest in the time "
        "the step says: MANUAL at once, stop the test, and write down what was seen."
    )


def _apart_said(design):
    """That the difference alarm takes both readings away in some steps, and what to do about it; "" where it does not."""
    if not design.standing.stands:  # its figures hang on a set point that is not laid down
        compared = "a function that believes neither of two readings that differ is off for these steps, and on again after them"
        return f" The steps hold readings apart: {compared}." if len(design.built.transmitters) > 1 else ""
    try:
        limits = design.fallback.alarm_limits
    except ValueError:  # no door has a limit: the section on failed readings says so
        return ""
    beyond = None if limits is None or limits.deviation_pa is None else design.injection.apart(limits.deviation_pa)
    if beyond is None:
        return ""
    numbers, apart = beyond
    wait = limits.wait_text(limits.deviation_after_s)
    ends, limit = (with_unit(value, "pressure") for value in (apart, limits.deviation_pa))
    return (
        f" Steps {listed(str(number) for number in numbers)} hold two readings up to {ends} apart. Where the drive believes neither of two "
        f"that differ by more than {limit} for {wait}, they fail after that time through no fault of the wires: "
        "first switch that function off, and write it down; after these steps switch it on again, before the alarms are proved."
    )


def _tolerance_figures(table):
    parts = "calibrator, analogue input and A/D converter step, each at its worst"
    for tap, value in zip(table.transmitters, table.tolerance_pa, strict=True):
        yield _pressure(f"{tap.name}, tolerance", value, f"±{fine(value)}", parts, f"{PRACTICE}: the data sheets decide")
    combined = (
        ("Combined reading, tolerance", table.combined_tolerance_pa, "signal put on the drive's input"),
        (
            "Combined reading, tolerance by pressure",
            table.combined_pressure_tolerance_pa,
            "pressure put on the transmitters: theirs on top",
        ),
    )
    yield from (_pressure(label, value, f"±{fine(value)}", reason, "sum of the parts") for label, value, reason in combined)


def _told_apart(table):
    if len(table.transmitters) == 1:
        return "With one transmitter they prove its scaling."
    unclear = {name for pair in table.not_told_apart if table.rule in pair for name in pair} - {table.rule}
    clear = [name for name in table.hypotheses if name not in unclear | {table.rule}]
    told = f"Together they tell the {table.rule} reading from {listed(clear)}."
    return f"{told} They do not tell it from {listed(sorted(unclear))}." if unclear else told


def _injection_row(number, row, table, others):
    put = [
        "wire off" if percent is None else f"{percent:.4g} %, {value:.2f} {signals.SIGNALS[tap.signal][2]}"
        for percent, value, tap in zip(row.percents, row.signals, table.transmitters, strict=True)
    ]
    displays = [_shown(value) for value in row.readings_pa]
    combined, other = (NOT_LAID_DOWN.strip(" :"),) * 2 if row.open_after_loss else ("no reading: alarm", "failed")
    instead = [_shown(row.if_instead_pa[name], other) for name in others]
    return (str(number), row.fan, *put, *displays, _shown(row.combined_pa, combined), *instead, row.purpose, row.must)


def _shown(value, none="failed"):
    return none if value is None else fine(value)
