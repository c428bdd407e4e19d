"""Sections of the design record about rule, transmitters, action, signal and injection; and the summary."""

import numpy as np

from helpers import units
from helpers.formulas import action as actions
from helpers.formulas import signals
from helpers.studies import picture_data
from helpers.studies.figures import Figure, Finding, Section, Table, figure, fine, range_text
from helpers.studies.sections_air import door_force

__all__ = ["action_section", "injection_section", "range_section", "rule_section", "signal_section", "summary"]

_NETWORK = "air network of this site"
MOST_DOORS_LISTED = 12


def summary(design, system):
    """What to buy, set and check, a sentence or two each."""
    control, count = design.site.control, len(design.site.transmitters)
    transmitters = "1 transmitter" if count == 1 else f"{count} transmitters"
    duty, place = design.duty, design.duty.design
    flow, pressure = (units.show(v[place], d, system) for v, d in ((duty.flow_m3_s, "flow"), (duty.pressure_pa, "pressure")))
    buy = (
        f"Buy {transmitters} of {design.range.chosen.text(system)}, {design.site.transmitters[0].signal}, and a fan for {flow} against "
        f"{pressure}; the motor on the plate is {'too small' if duty.motor_load > 1 else 'enough'}."
    )
    action = design.acting.action or "no action found yet: not to be"
    target = units.show(control.set_point_pa, "pressure", system)
    set_ = f"Set the {control.rule} reading to be held at {target}, {action} acting. {_set_points_said(design, system)}"
    check = f"Check the {len(design.injection.rows)} steps of the injection table, then on site {_worst_doors(design, system)}."
    return (buy, set_.strip(), check, _rule_verdict(design, system))


def _worst_doors(design, system):
    """The doors to measure first."""
    least, most = design.window.by_storey(design.tower.levels, "stair door")
    dp, opened = design.own.door_dp_pa, _open(design)
    low, high = np.where(opened, np.inf, dp - least), np.where(opened, np.inf, most - dp)
    told = []
    for room, word in ((low, "lowest"), (high, "highest")):
        if not np.isfinite(room).any():
            continue
        case, storey = np.unravel_index(np.argmin(room), room.shape)
        level, value = design.tower.levels[storey], units.show(dp[case, storey], "pressure", system)
        told.append(f"the pressure at level {level} ({word} to expect, {value} in {design.cases[case].name})")
        force = door_force(design, level) if word == "highest" else None
        if force:
            told.append(f"the force at the handle there (up to {units.show(force[0], 'force', system)})")
    return ", ".join(told) or "the pressure and the door force on every storey"


def _open(design):
    return np.array([np.isin(design.tower.levels, case.open_doors) for case in design.cases])


def _rule_verdict(design, system):
    own = design.own
    shut = [place for place, case in enumerate(design.cases) if case.shut]
    good = all(own.good[place] for place in shut)
    words = "keeps every door inside its window" if good else "does not keep every door inside its window"
    said = f"With doors shut the {own.rule} reading {words}"
    others = [place for place in range(len(design.cases)) if place not in shut and not own.good[place]]
    bad = [place for place in (shut if not good else others) if not own.good[place]]
    if not bad:
        return f"{said}, and with the doors of the other cases open as well."
    told = "; ".join(f"{design.cases[place].name}: {own.case_text(place, system)}" for place in bad)
    return f"{said}; but {told}." if good else f"{said}: {told}."


def rule_section(design, system):
    """The usual rules floor by floor, and which set points would do."""
    comparison, own = design.comparison, design.own
    figures = tuple(
        figure(f"Room left, {case.name}", own.margin_pa[place] if np.isfinite(own.margin_pa[place]) else None, "pressure",
               own.case_text(place, system), _NETWORK, system)
        for place, case in enumerate(design.cases)
    )  # fmt: skip
    tables = (_rules_table(design, system), _doors_table(design, system), *_set_points_tables(design, system))
    pictures = tuple(
        picture_data.pressure_profile(design.tower, design.window, comparison, result.rule, system) for result in comparison.results
    )
    notes = ("Steady pressures. The final exit is judged against still outdoor air: the site file does not say where it looks.",)
    verdict = " ".join((comparison.verdict(system), _set_points_said(design, system))).strip()
    return Section("rule", "Average, lowest or highest", verdict, figures, tables, tuple(_rule_findings(design, system)), pictures, notes)


def _rules_table(design, system):
    rows, states = [], []
    for result in design.comparison.results:
        for place, case in enumerate(design.cases):
            dp = np.where(_open(design)[place], np.nan, result.door_dp_pa[place])
            span = (
                " to ".join(units.show(end, "pressure", system) for end in (np.nanmin(dp), np.nanmax(dp))) if np.isfinite(dp).any() else ""
            )
            low, high = (sum(door.too == too for door in result.out_in(case)) for too in ("low", "high"))
            rows.append(
                (result.rule, case.name, str(result.state[place]), units.show(result.speed_hz[place], "frequency", system),
                 units.show(result.reading_pa[place], "pressure", system), span, str(low), str(high))
            )  # fmt: skip
            states.append("good" if result.good[place] else "wrong" if case.shut else "attention")
    columns = ("Rule", "Case", "Loop", "Speed", "Reading", "Shut stair doors", "Doors too low", "Doors too high")
    return Table("rules", "Every rule in every case", columns, tuple(rows), tuple(states))


def _doors_table(design, system):
    """Pressure across every stair door, rules and cases side by side; * where it is outside its window, "open" where it stands open."""
    results, opened = design.comparison.results, _open(design)
    columns = ["Level"] + [f"{result.rule}, {case.name}" for result in results for case in design.cases]
    rows = []
    for storey in reversed(range(len(design.tower.levels))):
        cells = [
            _door_cell(result, place, storey, opened[place, storey], system) for result in results for place in range(len(design.cases))
        ]
        rows.append((str(design.tower.levels[storey]), *cells))
    unit = units.unit_label("pressure", system)
    note = f"In {unit}. A number with * lies outside the door's window; L too low, H too high."
    return Table("doors", "Pressure across every stair door, floor by floor", tuple(columns), tuple(rows), note=note)


def _door_cell(result, place, storey, opened, system):
    if opened:
        return "open"
    text = units.show(result.door_dp_pa[place, storey], "pressure", system).removesuffix(units.unit_label("pressure", system)).strip()
    return text + (" *L" if result.low[place, storey] else " *H" if result.high[place, storey] else "")


def _set_points_tables(design, system):
    if not design.set_points:
        return ()
    shut, inner = design.shut_cases, design.inner_cases
    rows = tuple(
        (tried.rule, _works_text(tried.works(shut), system), _works_text(tried.works(inner), system)) for tried in design.set_points
    )
    columns = ("Rule", "Set points good with doors shut", "Set points good with stair doors open too")
    return (Table("set points", "Which set points work", columns, rows, note=f"Tried: {_tried(design, system)}."),)


def _tried(design, system):
    points = design.set_points[0].set_points_pa
    return f"{len(points)} from {units.show(points[0], 'pressure', system)} to {units.show(points[-1], 'pressure', system)}"


def _works_text(run, system):
    return "none" if run is None else range_text(*run, "pressure", system)


def _set_points_said(design, system):
    """What the site's own rule could be set to, in a sentence; nothing where nothing was tried."""
    own = next((tried for tried in design.set_points if tried.rule == design.site.control.rule), None)
    if own is None:
        return ""
    run = own.works(design.inner_cases) or own.works(design.shut_cases)
    if run is None:
        return f"No set point keeps every door inside its window with the {own.rule} reading."
    which = "stair doors shut or open" if own.works(design.inner_cases) else "doors shut"
    return f"With the {own.rule} reading, set points from {_works_text(run, system)} keep every shut door inside its window ({which})."


def _rule_findings(design, system):
    own, findings = design.own, []
    for place, case in enumerate(design.cases):
        if own.good[place]:
            continue
        doors = own.out_in(case)
        listed = "; ".join(door.text(system) for door in doors[:MOST_DOORS_LISTED]) or own.case_text(place, system)
        state = "" if own.state[place] == "held" else f" ({own.state[place]})"
        findings.append(
            Finding("wrong" if case.shut else "attention", f"{own.rule.capitalize()} reading, {case.name}{state}: not all is inside its window",
                    listed, "stack effect, wind and open doors spread the pressure over the storeys", _NETWORK, _remedy(design, system))
        )  # fmt: skip
    if not findings:
        findings.append(Finding("good", f"With the {own.rule} reading every shut door stays inside its window in all cases"))
    return [*findings, *_error_finding(design, system)]


def _error_finding(design, system):
    """Whether the room left with doors shut is more than what the transmitters may be off."""
    rooms = [design.own.margin_pa[place] for place, case in enumerate(design.cases) if case.shut and design.own.good[place]]
    room, off = min(rooms, default=np.inf), design.range.stated.accuracy_pa
    if room < off:
        yield Finding("attention", "Less room is left than a transmitter may be off", f"{fine(room, system)} of room, accuracy ±{fine(off, system)}",
                      "a reading that is off moves every door's pressure with it", "accuracy of span, site file",
                      "a set point in the middle of those that work, or a better transmitter")  # fmt: skip


def _remedy(design, system):
    """A rule and a set point that would do, if any was found."""
    for cases, words in ((design.inner_cases, "stair doors shut or open"), (design.shut_cases, "doors shut")):
        runs = [(tried.rule, tried.works(cases)) for tried in design.set_points]
        found = [f"{rule} at {_works_text(run, system)}" for rule, run in runs if run is not None]
        if found:
            return f"works with {words}: {' or '.join(found)}"
    return "no rule and set point found: more supply points, tighter doors, lighter closers or a lobby"


def range_section(design, system):
    """Which transmitter range to buy."""
    advice = design.range
    chosen, error = advice.chosen, advice.error
    spec = "accuracy in per cent of span, site file"
    figures = (
        Figure("Range to buy", None, chosen.text(system), "the smallest with nothing against it" if chosen.good else "the least bad", "common practice, no source"),
        Figure("Accuracy", chosen.accuracy_pa, f"±{fine(chosen.accuracy_pa, system)}", "the span is what costs accuracy", spec, "pressure"),
        Figure("Converter step", chosen.resolution_pa, units.show(chosen.resolution_pa, "pressure", system, 2 if system == "Pa" else 4), "what the drive can tell apart", "span over steps of the converter", "pressure"),
        Figure("Set point on the span", chosen.set_point_percent, f"{chosen.set_point_percent:.0f} %", "from 25 to 80 % is good", "common practice, no source"),
        figure("Highest peak", advice.peak_pa, "pressure", f"fan still at full speed as the last door shuts ({advice.peak_case})", _NETWORK, system),
        figure("Lowest reading", advice.lowest_pa, "pressure", f"fan at rest ({advice.lowest_case}){_below_zero(advice)}", _NETWORK, system),
        *_error_figures(error, system),
    )  # fmt: skip
    rows = tuple(_range_row(choice, advice, system) for choice in advice.choices)
    states = tuple("good" if choice.good else "attention" for choice in advice.choices)
    columns = ("Range", "Accuracy", "Step", "Set point", "Window", "Peak", "Against it")
    table = Table("ranges", "Usual ranges", columns, rows, states, "Places of set point, window and peak in per cent of the span.")
    pictures = (picture_data.range_chart(advice, system),)
    return Section(
        "range", "Transmitter range", advice.verdict(system), figures, (table,), tuple(_range_findings(advice, system)), pictures
    )


def _below_zero(advice):
    if advice.lowest_pa < 0 <= advice.chosen.low_pa:
        return "; this range shows 0 then, as it does with crossed tubes: start the fan and look"
    return ""


def _error_figures(error, system):
    source = "JCGM 100:2008 (memory); accuracy taken as a rectangular bound"
    yield Figure(f"Combined reading ({error.rule} of {error.count}), standard uncertainty", error.standard_pa, f"±{units.show(error.standard_pa, 'pressure', system, 2 if system == 'Pa' else 4)}", "errors of the transmitters taken as independent", source, "pressure")  # fmt: skip
    if error.bias_pa:
        side = "low, so the fan blows harder" if error.bias_pa < 0 else "high, so the fan blows less"
        text = units.show(error.bias_pa, "pressure", system, 2 if system == "Pa" else 4)
        reason = f"the {error.rule} of {error.count} readings of one pressure reads {side}: {abs(error.bias_pa / error.single_pa):.3f} standard deviations"
        yield Figure(
            "Combined reading, off on average by at most", error.bias_pa, text, reason, "order statistics, David (memory)", "pressure"
        )


def _range_row(choice, advice, system):
    def percent(value):
        return "" if value is None else f"{value:.0f} %"

    against = "; ".join(advice.objection(key, choice, system) for key in choice.objections)
    step = units.show(choice.resolution_pa, "pressure", system, 2 if system == "Pa" else 4)
    window = " to ".join(filter(None, (percent(choice.least_percent), percent(choice.most_percent))))
    return (choice.text(system), f"±{fine(choice.accuracy_pa, system)}", step, percent(choice.set_point_percent), window,
            percent(choice.peak_percent), against or "nothing")  # fmt: skip


def _range_findings(advice, system):
    stated, chosen = advice.stated, advice.chosen
    if stated.good and stated.span_pa <= 1.5 * chosen.span_pa:
        yield Finding("good", f"The range stated, {stated.text(system)}, suits", f"accuracy ±{fine(stated.accuracy_pa, system)}")
        return
    against = "; ".join(advice.objection(key, stated, system) for key in stated.objections) or "it is wider than it need be"
    yield Finding("attention", f"The range stated, {stated.text(system)}, is not the best", f"accuracy ±{fine(stated.accuracy_pa, system)}",
                  against, "common practice, no source", f"{chosen.text(system)}; change the gain with the span")  # fmt: skip


def action_section(design, system):
    """Reverse or direct, from the model's own answer."""
    found = design.acting
    rows = tuple(
        (case.name, units.show(found.slow_hz[i], "frequency", system), units.show(found.slow_pa[i], "pressure", system),
         units.show(found.fast_hz[i], "frequency", system), units.show(found.fast_pa[i], "pressure", system),
         {1: "rises", -1: "falls", 0: "hardly moves"}[int(found.answers[i])])
        for i, case in enumerate(design.cases)
    )  # fmt: skip
    columns = ("Case", "Slower", "Reading", "Faster", "Reading", "The reading")
    table = Table("action", "The reading's answer to the fan's speed", columns, rows)
    figures = (
        Figure("Action", None, found.action or "none found", "output against reading, so that the loop holds", _NETWORK),
        Figure("Action stated", None, found.stated, "what the loop is set to", "site file, control"),
    )
    return Section("action", "Reverse or direct", found.verdict(system), figures, (table,), tuple(found.findings(system)))


def signal_section(design, system):
    """The signal's scaling, and what a new span does to the gain."""
    site, advice = design.site, design.range
    figures, pictures = [], []
    for place, tap in enumerate(site.transmitters):
        _, _, unit = signals.SIGNALS[tap.signal]
        sent = float(signals.to_signal(site.control.set_point_pa, tap.signal, tap.range_low_pa, tap.range_high_pa))
        scaled = range_text(tap.range_low_pa, tap.range_high_pa, "pressure", system)
        figures.append(
            Figure(
                f"{tap.name}, signal at the set point",
                sent,
                f"{sent:.2f} {unit}",
                f"{tap.signal} stands for {scaled}",
                "IEC 60381-1 (memory)",
            )
        )
        pictures.append(picture_data.signal_ladder(tap, advice, place, system))
    span, control = advice.stated.span_pa, site.control
    gain = float(actions.gain_for_new_span(control.gain, span, advice.chosen.span_pa))
    reason = f"gain is per cent of speed per cent of span: with {advice.chosen.text(system)} instead of {advice.stated.text(system)} it must follow"
    figures.append(
        Figure(
            "Gain stated",
            control.gain,
            f"{control.gain:g} %/%",
            f"for a span of {units.show(span, 'pressure', system)}",
            "site file, control",
        )
    )
    figures.append(Figure("Gain for the range to buy", gain, f"{gain:.3g} %/%", reason, "arithmetic of per cent of span"))
    first = pictures[0]
    return Section("signal", "Scaling of the signal", f"{first.title}. {first.caption}", tuple(figures), findings=tuple(_signal_findings(site)), pictures=tuple(pictures))  # fmt: skip


def _signal_findings(site):
    dead = [tap.name for tap in site.transmitters if not signals.live_zero(tap.signal)]
    if dead:
        yield Finding("attention", f"A dead wire can not be told from a pressure of zero: {', '.join(dead)}", "",
                      "the signal starts at zero", "IEC 60381-1 (memory)", "a signal with a live zero: 4-20 mA, 2-10 V or 1-5 V")  # fmt: skip
    kinds = {(tap.range_low_pa, tap.range_high_pa) for tap in site.transmitters}
    if len(kinds) > 1:
        yield Finding("attention", "The transmitters have different ranges", "", "per cent of one is not per cent of the other",
                      "common practice, no source", "one range for all, or scale each input to pascals before they are combined")  # fmt: skip


def injection_section(design, system):
    """What every display must show, row by row."""
    table = design.injection
    names = [tap.name for tap in table.transmitters]
    others = [name for name in table.hypotheses if name != table.rule]
    columns = ("Step", *(f"Put on {name}" for name in names), *(f"{name} must show" for name in names), f"Combined ({table.rule}) must show", *(f"If it were {name}" for name in others), "What it proves")  # fmt: skip
    rows = tuple(_injection_row(number, row, table, others, system) for number, row in enumerate(table.rows, 1))
    tolerance, own = table.combined_tolerance_pa, table.combined_pressure_tolerance_pa
    figures = (
        *(Figure(f"{name}, tolerance", value, f"±{fine(value, system)}", "calibrator, analogue input and converter step, each at its worst", "common practice, no source: their data sheets decide", "pressure") for name, value in zip(names, table.tolerance_pa, strict=True)),
        Figure("Combined reading, tolerance", tolerance, f"±{fine(tolerance, system)}", "signal put on the drive's input", "sum of the parts", "pressure"),
        Figure("Combined reading, tolerance with a pressure on the transmitter", own, f"±{fine(own, system)}", "the transmitter's own accuracy counts too", "sum of the parts", "pressure"),
    )  # fmt: skip
    verdict = f"{len(rows)} steps. {_told_apart(table)}"
    findings = () if not table.not_told_apart else (Finding("attention", "Some combinations can not be told apart", _pairs(table)),)
    note = "Fan in manual. What the drive does on a lost signal is one of its settings: look it up, and see that it does it."
    return Section(
        "injection", "Injection table", verdict, figures, (Table("injection", "Injection table", columns, rows, note=note),), findings
    )


def _told_apart(table):
    if len(table.transmitters) == 1:
        return "With one transmitter they prove its scaling."
    if table.not_told_apart:
        return f"They do not tell apart {_pairs(table)}."
    return f"Together they tell the {table.rule} reading from {' and '.join(name for name in table.hypotheses if name != table.rule)}."


def _pairs(table):
    return "; ".join(f"{a} and {b}" for a, b in table.not_told_apart)


def _injection_row(number, row, table, others, system):
    put = [
        f"{percent:g} %, {value:.2f} {signals.SIGNALS[tap.signal][2]}" if percent is not None else "wire off"
        for percent, value, tap in zip(row.percents, row.signals, table.transmitters, strict=True)
    ]
    return (str(number), *put, *(_shown(value, system) for value in row.readings_pa), _shown(row.combined_pa, system, "no reading: alarm"),
            *(_shown(row.if_instead_pa[name], system) for name in others), row.purpose)  # fmt: skip


def _shown(value, system, none="failed"):
    return none if value is None else fine(value, system)
