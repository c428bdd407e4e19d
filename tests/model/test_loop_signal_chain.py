"""The way of a pressure to the controller, and everything that can be wrong on it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers.formulas import signals
from helpers.formulas.combining import RULES, combine
from helpers.model.loop.arithmetic import ManyRuns, OneRun
from helpers.model.loop.events import FAULTS, TapFault
from helpers.model.loop.signal_chain import Combiner, Inputs, SignalChain
from helpers.model.site.schema import Transmitter

QUICK = dict(sample_s=0.1, lag_s=0.0)


def transmitter(**changes):
    usual = {"range_low_pa": 0.0, "range_high_pa": 100.0, "signal": "4-20 mA", "accuracy_percent_span": 1.0, "converter_bits": 24}
    return Transmitter(name="PT", level=0, **{**usual, **changes})


PAIR = (transmitter(), transmitter())


def settled(chain, pressures, samples=3, dt=0.1):
    """What the chain reads when the pressures have been there for some samples."""
    rows = None
    for k in range(samples):
        rows = chain.read(list(pressures), k * dt)
    return rows


def read_with(fault, pressures=(40.0, 60.0), transmitters=PAIR, inputs=None):
    return settled(SignalChain(transmitters, inputs, (fault,), **QUICK), pressures)


def test_without_lag_filter_and_fault_the_controller_reads_the_pressure():
    assert settled(SignalChain(PAIR, **QUICK), (40.0, 60.0)) == pytest.approx([40.0, 60.0], abs=1e-4)


@pytest.mark.parametrize("signal", signals.SIGNALS)
def test_the_reading_is_that_of_the_signal_formulas_whatever_the_signal(signal):
    one = transmitter(signal=signal, range_low_pa=-25.0, range_high_pa=100.0, converter_bits=10)
    (reading,) = settled(SignalChain([one], **QUICK), [31.7])
    sent = signals.to_signal(31.7, signal, -25.0, 100.0)
    step = signals.resolution(-25.0, 100.0, 10, signal)
    assert reading == pytest.approx(signals.to_units(sent, signal, -25.0, 100.0), abs=0.5 * step + 1e-9)
    high = signals.SIGNALS[signal][1]
    assert reading == pytest.approx(signals.to_units(np.round(sent * 1024 / high) * high / 1024, signal, -25.0, 100.0))


@pytest.mark.parametrize(("signal", "most", "least"), [("4-20 mA", 103.125, -1.25), ("0-10 V", 100.0, 0.0)])
def test_a_transmitter_measures_no_further_than_its_signal_goes_and_that_is_no_failure(signal, most, least):
    # 3.8 and 20.5 mA: NAMUR NE 43.
    one = transmitter(signal=signal)
    assert settled(SignalChain([one], **QUICK), [500.0]) == pytest.approx([most], abs=1e-3)
    assert settled(SignalChain([one], **QUICK), [-500.0]) == pytest.approx([least], abs=1e-3)


def test_lag_and_filter_are_two_first_order_lags():
    chain = SignalChain([transmitter(filter_s=0.5)], sample_s=0.1, lag_s=0.2)
    chain.read([0.0], 0.0)
    got = [chain.read([50.0], 0.1 * k)[0] for k in range(1, 40)]
    sensed = filtered = 0.0
    for reading in got:
        sensed = sensed + (50.0 - sensed) * (1 - np.exp(-0.1 / 0.2))
        filtered = filtered + (sensed - filtered) * (1 - np.exp(-0.1 / 0.5))
        assert reading == pytest.approx(filtered, abs=1e-3)


def test_a_dead_wire_is_told_by_a_live_zero_only():
    assert np.isnan(read_with(TapFault(0, "open wire"))[0])
    assert read_with(TapFault(0, "open wire"))[1] == pytest.approx(60.0, abs=1e-4)
    volts = (transmitter(signal="0-10 V"), transmitter())
    assert read_with(TapFault(0, "open wire"), transmitters=volts)[0] == 0.0  # taken for no pressure at all


def test_a_short_fails_a_current_loop_high_and_leaves_a_voltage_at_nothing():
    assert np.isnan(read_with(TapFault(0, "short"))[0])
    assert np.isnan(read_with(TapFault(0, "short"), transmitters=(transmitter(signal="0-20 mA"), transmitter()))[0])
    assert np.isnan(read_with(TapFault(0, "short"), transmitters=(transmitter(signal="2-10 V"), transmitter()))[0])
    assert read_with(TapFault(0, "short"), transmitters=(transmitter(signal="0-10 V"), transmitter()))[0] == 0.0


def test_a_transmitter_that_sends_no_number_is_left_out_and_spoils_nothing_afterwards():
    chain = SignalChain([transmitter(filter_s=0.3)] * 2, None, (TapFault(0, "no number", at_s=0.5, ends_s=1.0),), **QUICK)
    got = np.array([chain.read([40.0, 60.0], 0.1 * k) for k in range(20)])
    assert np.isnan(got[5:10, 0]).all()
    assert np.isfinite(got[:, 1]).all()
    assert got[[4, 10, 19], 0] == pytest.approx(40.0, abs=1e-4)


def test_a_filter_that_begins_without_a_number_begins_with_the_first_good_one():
    chain = SignalChain([transmitter(filter_s=5.0)], None, (TapFault(0, "open wire", ends_s=1.0),), **QUICK)
    got = [chain.read([40.0], 0.1 * k)[0] for k in range(12)]
    assert np.isnan(got[:10]).all()
    assert got[10:] == pytest.approx([40.0, 40.0], abs=1e-4)


def test_a_stuck_transmitter_goes_on_showing_what_it_showed():
    chain = SignalChain(PAIR, None, (TapFault(0, "stuck", at_s=0.5),), **QUICK)
    got = np.array([chain.read([10.0 + k, 60.0], 0.1 * k) for k in range(10)])
    assert got[4:, 0] == pytest.approx([14, 15, 15, 15, 15, 15], abs=1e-4)


def test_a_drifting_transmitter_creeps_by_so_much_a_minute():
    chain = SignalChain(PAIR, None, (TapFault(0, "drift", at_s=30.0, amount=-6.0),), **QUICK)
    got = np.array([chain.read([40.0, 60.0], time) for time in (0.0, 30.0, 45.0, 90.0)])
    assert got[:, 0] == pytest.approx([40.0, 40.0, 38.5, 34.0], abs=1e-3)


def test_a_tube_off_reads_no_difference_and_a_tube_swapped_the_wrong_sign():
    assert read_with(TapFault(0, "tube off"))[0] == pytest.approx(0.0, abs=1e-4)
    two_sided = (transmitter(range_low_pa=-100.0), transmitter())
    assert read_with(TapFault(0, "tube swapped"), transmitters=two_sided)[0] == pytest.approx(-40.0, abs=1e-4)
    assert read_with(TapFault(0, "tube swapped"))[0] == pytest.approx(-1.25, abs=1e-3)  # a one-sided range shows next to nothing


def test_a_wrong_range_scales_every_reading():
    assert read_with(TapFault(0, "wrong range entered", amount=250.0))[0] == pytest.approx(100.0, abs=1e-3)


@pytest.mark.parametrize(
    ("own", "entered", "reading"),
    # By hand: 40 % is 10.4 mA, 5.2 V across 500 ohm, 4 V of 0-10 V, 2 V of 0-5 V.
    [
        ("4-20 mA", "0-20 mA", 52.0),
        ("4-20 mA", "0-10 V", 52.0),
        ("0-10 V", "2-10 V", 25.0),
        ("0-5 V", "0-10 V", 20.0),
        ("0-10 V", "0-5 V", 80.0),
    ],
)
def test_a_wrong_signal_type_reads_by_a_wrong_line(own, entered, reading):
    pair = (transmitter(signal=own), transmitter())
    assert read_with(TapFault(0, "wrong signal type", signal=entered), transmitters=pair)[0] == pytest.approx(reading, abs=1e-3)


def test_a_wrong_signal_type_may_look_like_a_failed_signal():
    pair = (transmitter(signal="0-10 V"), transmitter())
    assert np.isnan(read_with(TapFault(0, "wrong signal type", signal="4-20 mA"), (10.0, 60.0), pair)[0])  # 1 V is 2 mA


def test_an_input_set_wrong_from_the_start_is_the_same_as_the_fault():
    given = Inputs.matching(PAIR)
    wrong = Inputs(("0-20 mA", "4-20 mA"), given.low_pa, given.high_pa, given.bits, given.filter_s)
    assert settled(SignalChain(PAIR, wrong, **QUICK), (40.0, 60.0)) == pytest.approx([52.0, 60.0], abs=1e-3)


def test_swapped_inputs_read_each_others_pressure_through_their_own_range():
    pair = (transmitter(), transmitter(range_high_pa=200.0))
    assert read_with(TapFault(0, "swapped inputs"), transmitters=pair) == pytest.approx([30.0, 80.0], abs=1e-3)


def test_faults_begin_and_end_when_they_are_said_to():
    for kind in FAULTS:
        amount = 250.0 if kind == "wrong range entered" else 600.0
        chain = SignalChain(PAIR, None, (TapFault(0, kind, at_s=1.0, ends_s=2.0, amount=amount, signal="0-20 mA"),), **QUICK)
        got = np.array([chain.read([40.0 + k, 70.0], 0.1 * k)[0] for k in range(30)])
        assert got[[9, 20, 29]] == pytest.approx([49.0, 60.0, 69.0], abs=1e-3), kind
        assert not abs(got[18] - 58.0) < 2.0, kind


def test_a_run_alone_is_number_zero_and_has_the_faults_of_that_number():
    assert read_with(TapFault(1, "stuck high", runs=(0,))) == pytest.approx([40.0, PAIR[1].range_high_pa], abs=1e-3)
    assert read_with(TapFault(1, "stuck high", runs=())) == pytest.approx([40.0, 60.0], abs=1e-3)
    with pytest.raises(ValueError, match="runs must be"):
        read_with(TapFault(1, "stuck high", runs=(1,)))


def test_one_fault_in_one_of_many_runs_touches_no_other_run():
    for kind in FAULTS:
        amount = 250.0 if kind == "wrong range entered" else 600.0
        fault = TapFault(1, kind, at_s=0.2, amount=amount, signal="0-20 mA", runs=(1,))
        many, alone = (
            SignalChain(PAIR, None, (fault,), **QUICK, arithmetic=ManyRuns(3)),
            SignalChain(PAIR, None, (TapFault(1, kind, at_s=0.2, amount=amount, signal="0-20 mA"),), **QUICK),
        )
        for k in range(8):
            rows, lone = many.read(np.array([[40.0 + k] * 3, [60.0] * 3]), 0.1 * k), alone.read([40.0 + k, 60.0], 0.1 * k)
            assert rows[:, [0, 2]] == pytest.approx(np.array([[40.0 + k] * 2, [60.0] * 2]), abs=1e-3), kind
            assert rows[:, 1] == pytest.approx(lone, nan_ok=True), kind


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: SignalChain(PAIR, sample_s=0.0), "sample_s must be above 0, got 0"),
        (lambda: SignalChain(PAIR, sample_s=-0.1), "sample_s must be above 0, got -0.1"),
        (lambda: SignalChain(PAIR, lag_s=-1.0), "lag_s must be 0 or more, got -1"),
        (lambda: SignalChain([transmitter(filter_s=30.0)], length_s=20.0), "filter_s must be shorter than the run of 20 s, got 30"),
        (lambda: SignalChain(PAIR, faults=(TapFault(2, "stuck"),)), "transmitter must be one whole number from 0 to 1, got 2"),
        (lambda: SignalChain(PAIR[:1], faults=(TapFault(0, "swapped inputs"),)), "swapped inputs must have two transmitters, got one"),
        (lambda: SignalChain(PAIR, faults=(TapFault(0, "stuck", at_s=30.0),), length_s=20.0), "within the run of 20 s, got 30"),
        (lambda: SignalChain(PAIR, faults=(TapFault(0, "stuck", runs=(1,)),)), "runs must be one whole number from 0 to 0"),
        (lambda: SignalChain(PAIR, faults=(TapFault(0, "wrong range entered"),)), "end of a range that begins at 0 Pa, above it; got 0"),
        (lambda: TapFault(0, "broken"), "kind must be one of open wire, short"),
        (lambda: TapFault(0, "stuck", at_s=-1.0), "at_s must be 0 or more, got -1"),
        (lambda: TapFault(0, "stuck", at_s=5.0, ends_s=5.0), "ends_s must be one time after the fault begins at 5 s, got 5"),
        (lambda: TapFault(0, "drift", amount=float("nan")), "amount must be a finite number, got nan"),
        (lambda: TapFault(0, "wrong signal type", signal="0-1 V"), "signal must be one of"),
    ],
)
def test_a_chain_that_cannot_be_is_refused_in_a_sentence(make, sentence):
    with pytest.raises(ValueError, match=sentence.replace("(", r"\(")):
        make()


@settings(max_examples=60, derandomize=True, deadline=None)
@given(st.lists(st.one_of(st.floats(-50, 150), st.just(float("nan"))), min_size=1, max_size=5), st.sampled_from(RULES), st.integers(0, 3))
def test_the_loop_combines_as_the_combining_formulas_do(readings, rule, heavy):
    weights = [1.0 + (k == heavy) for k in range(len(readings))]
    expected = combine(readings, rule, weights=weights)
    one = Combiner(rule, weights, len(readings))
    value, lost = one.combine(list(readings), doubtful=True)
    many = Combiner(rule, weights, len(readings), arithmetic=ManyRuns(2))
    values, lost_in = many.combine(np.array([readings, readings]).T, doubtful=True)
    assert lost == lost_in[0] == np.isnan(expected)
    assert (0.0 if lost else expected) == pytest.approx(value)
    assert values == pytest.approx([value, value])
    if not np.isnan(readings).any():
        assert one.combine(list(readings), doubtful=False)[0] == pytest.approx(expected)
        assert many.combine(np.array([readings, readings]).T, doubtful=False)[0] == pytest.approx([expected] * 2)


def test_a_weighted_reading_whose_heavy_transmitters_are_gone_is_no_reading():
    combiner = Combiner("weighted", (1.0, 0.0), 2)
    assert combiner.combine([40.0, 60.0]) == (40.0, False)
    assert combiner.combine([float("nan"), 60.0]) == (40.0, True)  # the last there was


def test_all_must_be_good_where_one_will_not_do():
    combiner = Combiner("average", None, 2, any_will_do=False)
    assert combiner.combine([40.0, 60.0]) == (50.0, False)
    assert combiner.combine([float("nan"), 60.0]) == (50.0, True)
    assert combiner.combine([40.0, 50.0]) == (45.0, False)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(st.floats(-1e3, 1e3), st.floats(-1e3, 0), st.floats(0, 1e3), st.booleans())
def test_one_run_and_many_reckon_alike(value, low, high, flag):
    one, many = OneRun(), ManyRuns(2)
    array = np.array([value, value])
    assert many.within(array, low, high) == pytest.approx([one.within(value, low, high)] * 2)
    assert many.choose(np.array([flag, flag]), array, low) == pytest.approx([one.choose(flag, value, low)] * 2)
    assert many.rounded(array) == pytest.approx([one.rounded(value)] * 2)
    table = np.arange(12.0).reshape(4, 3, 1) ** 1.5
    place = abs(value) / 1e3 * 3
    looked = many.looked_up(many.lines(table), np.array([place, place]))
    assert looked == pytest.approx(np.array([one.looked_up(one.lines(table), place)] * 2).T)
    assert one.looked_up(one.passing_lines(lambda nodes: table[nodes], 4), place) == pytest.approx(looked[:, 0])
