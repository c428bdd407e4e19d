"""What a review finds of a duct's set point that its strategy resets by the zones' requests: each finding by its cause, tried on the
model with that one entry mended and the others as entered.

Zones, set point and fan are played in time (`model.plants.reset`), as the record of a duct does it. Limits: those of that play; each
entry is mended alone; what it is mended with is ours, for the comparison, and no setting to be entered.
"""

from helpers.model.strategy import MODES
from helpers.record.review.kinds import Kind, attention, pa, wrong
from helpers.studies.low_demand.duct_reset import SHORT_SHARE, SWING_SHARE, reset_study
from helpers.studies.low_demand.reset_told import hunts, worst_said
from helpers.studies.report import time_text

PLAYED = "zones, set point and fan played in time; settings of the strategy; site file"
LENGTH_S = 3600.0  # of a play of the review; the second half is judged
FLOOR_SHARE, MOST_STEPS, SLOWER = 0.4, 3.0, 4.0  # mended alone, for the comparison: of the boxes' pressure; responses; times slower. Ours
HELD_UP = 1.25  # times the sound set point, from which zones that ask for ever hold it up; ours
NONE_STATED = "the strategy states no reset by requests: its set point stays"


def of(bench, **mended):
    """`DuctReset` of a bench's strategy with some entries mended, kept."""
    kept = bench.__dict__.setdefault("_resets", {})
    key = tuple(sorted(mended.items()))
    if key not in kept:
        site = bench.site.with_changes(control={"reset": mended}) if mended else bench.site
        kept[key] = reset_study(site, LENGTH_S)
    return kept[key]


def absent(bench):
    """Why there is nothing to look at, in words; "" where the strategy resets."""
    return "" if _entered(bench) is not None and bench.site.control.reset is not None else NONE_STATED


def _entered(bench):
    return getattr(bench.strategy, "reset", None)


def in_smoke_control(bench):
    """A set point that requests of zones move in smoke control."""
    if _entered(bench) is not None and (bench.strategy.mode == MODES[0] or bench.site.control.fire_mode):
        yield wrong(
            "Requests of zones move the set point in smoke control", "reset by requests, smoke control",
            "in smoke control no request and no saving moves a set point", "settings of the strategy", "leave the reset out in this mode",
        )  # fmt: skip


def _short_after(study):
    """(longest time some zone is short after a change of demand [s], which change) of a study."""
    found = study.changes
    at = int(found.short_s.argmax())
    return float(found.short_s[at]), f"{found.before[at]} to {found.after[at]}"


def _floor_pa(bench):
    """A lowest set point to try."""
    return min(FLOOR_SHARE * bench.site.boxes.pressure_pa, bench.site.control.reset.highest_pa)


def no_floor(bench):
    """No lowest set point: it is trimmed away while nobody asks, and a change finds nothing in the duct."""
    entered = _entered(bench)
    if entered.lowest_pa is not None:
        return
    own, floor = of(bench), _floor_pa(bench)
    mended = of(bench, lowest_pa=floor)
    (late, change), (then, _) = _short_after(own), _short_after(mended)
    low = own.sound.lowest_pa.min()
    told = f"trimmed to {pa(low)}; {change}: zones short for {time_text(late)}, with {pa(floor)} as the lowest {time_text(then)}"
    yield wrong(
        "The reset has no lowest set point", told, "at every step nobody asks it goes down, below what transmitters and boxes work with",
        PLAYED, "a lowest set point that transmitters' error and the boxes' controllers can work with, tried on site",
    )  # fmt: skip


def no_limit(bench):
    """A response without a limit: many that ask at once send the set point up in one step."""
    entered, reset = _entered(bench), bench.site.control.reset
    if entered.respond_most_pa is not None:
        return
    own, most = of(bench), MOST_STEPS * reset.respond_pa
    mended = of(bench, respond_most_pa=most)
    asked = float(own.sound.asking.max())
    step = min(max(asked - reset.ignored, 0.0) * reset.respond_pa, reset.highest_pa - reset.lowest_pa)
    swings = [f"{pa(one.sound.swing_pa.max())}, fan {one.sound.swing_hz.max():.1f} Hz" for one in (own, mended)]
    told = (
        f"{asked:.0f} zones ask at the most, up by {pa(step)} in one step; to and fro {swings[0]}; limited to {pa(most)} a step {swings[1]}"
    )
    heard = own.sound.swing_hz.max() > SWING_SHARE * bench.site.fan.highest_speed_hz
    yield (wrong if heard else attention)(
        "The reset responds without a limit", told, "a start or a sensor that jumps sends the set point through its range at once", PLAYED,
        "a most response in one step",
    )  # fmt: skip


def trims_too_fast(bench):
    """Trims so far in one step that zones go short, or the set point hunts, and does not when it trims more slowly; with a lowest set point
    where none is entered, since that is another finding."""
    floor = {} if _entered(bench).lowest_pa is not None else {"lowest_pa": _floor_pa(bench)}
    own, reset = of(bench, **floor), bench.site.control.reset
    slower = reset.trim_pa / SLOWER
    bad, mended = _bad(own), of(bench, trim_pa=slower, **floor)
    left = set(bad) - set(_bad(mended))
    if not left:
        return
    airs = [f"{worst_said(one.sound, one)}, to and fro {pa(one.sound.swing_pa.max())}" for one in (own, mended)]
    yield (wrong if "short" in left else attention)(
        "The reset trims too fast",
        f"{pa(reset.trim_pa)} each {time_text(reset.interval_s)}: {airs[0]}; with {pa(slower)} {airs[1]}",
        "it has passed what the zones need before their dampers have opened and their requests are counted",
        PLAYED, "a smaller trim, or a longer interval",
    )  # fmt: skip


def _bad(study):
    """What is wrong with a play without any trouble: zones short, a set point that hunts."""
    return tuple(what for what, is_so in (("short", study.sound.share.min() < SHORT_SHARE), ("hunts", hunts(study, study.sound))) if is_so)


def held_up(bench):
    """One zone that is never satisfied holds the set point up: none is ignored."""
    reset = bench.site.control.reset
    if reset.ignored:
        return
    own = of(bench)
    stuck, sound = own.one_more, own.likely
    ratio = stuck.set_point_pa / sound.set_point_pa
    if ratio.max() < HELD_UP:
        return
    at = int(ratio.argmax())
    mended = of(bench, ignored=1).as_ignored
    told = (
        f"{own.demands[at]}: with one zone that never stops asking {pa(stuck.set_point_pa[at])}, {stuck.power_w[at]:.0f} W; without it "
        f"{pa(sound.set_point_pa[at])}, {sound.power_w[at]:.0f} W; one ignored {pa(mended.set_point_pa[at])}, {mended.power_w[at]:.0f} W"
    )
    yield attention(
        "One zone that is never satisfied holds the set point up", told, "a box too small, a damper that is stuck or a sensor in the sun "
        "asks all day, and every fan hour pays for it", PLAYED, "a few requests ignored, and a list of the zones that ask for longest",
    )  # fmt: skip


KINDS = (
    Kind("reset in fire", "a set point reset by requests in smoke control", in_smoke_control),
    *(
        Kind(key, title, look, absent=absent)
        for key, title, look in (
            ("reset floor", "a reset without a lowest set point", no_floor),
            ("reset limit", "a reset that responds without a limit", no_limit),
            ("reset trim", "a reset that trims too fast", trims_too_fast),
            ("reset held up", "one zone that holds the set point up", held_up),
        )
    ),
)
