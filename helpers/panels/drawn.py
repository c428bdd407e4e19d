"""The picture for some data of a study, whatever kind they are."""

from helpers.panels.fan_chart import FanDrawing
from helpers.panels.flow_steps import FlowStepsDrawing
from helpers.panels.heat_map import HeatMapDrawing
from helpers.panels.ladder import LadderDrawing
from helpers.panels.picture import Picture
from helpers.panels.profile import ProfileDrawing
from helpers.panels.range_chart import RangeDrawing
from helpers.panels.trend import TrendDrawing
from helpers.studies import pictures

__all__ = ["picture_of"]

DRAWINGS = {
    pictures.PressureProfile: ProfileDrawing,
    pictures.FanChart: FanDrawing,
    pictures.FlowSteps: FlowStepsDrawing,
    pictures.RangeChart: RangeDrawing,
    pictures.SignalLadder: LadderDrawing,
    pictures.Trend: TrendDrawing,
    pictures.HeatMap: HeatMapDrawing,
}


def picture_of(data, **size):
    """A still picture of one of the data classes of studies.pictures; size: width_px, height_px of Picture."""
    return Picture(DRAWINGS[type(data)](), **size).show(data)
