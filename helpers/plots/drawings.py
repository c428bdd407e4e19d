"""The picture for some data of a study, whatever kind they are."""

from helpers.plots.fan import FanDrawing, FlowStepsDrawing
from helpers.plots.heat_map import HeatMapDrawing
from helpers.plots.picture import Picture
from helpers.plots.profile import ProfileDrawing
from helpers.plots.range import RangeDrawing
from helpers.plots.signal import LadderDrawing
from helpers.plots.trend import TrendDrawing
from helpers.studies import plot_data

__all__ = ["picture_of"]

DRAWINGS = {
    plot_data.PressureProfile: ProfileDrawing,
    plot_data.FanChart: FanDrawing,
    plot_data.FlowSteps: FlowStepsDrawing,
    plot_data.RangeChart: RangeDrawing,
    plot_data.SignalLadder: LadderDrawing,
    plot_data.Trend: TrendDrawing,
    plot_data.HeatMap: HeatMapDrawing,
}


def picture_of(data, **size):
    """A still picture of one of the data classes of studies.plot_data; size: width_px, height_px of Picture."""
    return Picture(DRAWINGS[type(data)](), **size).show(data)
