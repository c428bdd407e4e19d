"""The design record of a site: every choice with its figures, reasons and sources, ready to be shown, printed and signed."""

__all__ = ["Design", "design_record"]


class Design:
    """All studies of a site under one choice of set point, rule and transmitters, in SI; solved once, written in any system of units."""

    @classmethod
    def of(cls, site, set_point_pa=None, rule=None, transmitters=None, weather=None, open_doors=None, open_exits=None):
        raise NotImplementedError

    def record(self, system="Pa"):
        raise NotImplementedError


def design_record(site, set_point_pa=None, rule=None, transmitters=None, weather=None, open_doors=None, open_exits=None, system="Pa"):
    """The design record of a site. Returns `helpers.studies.figures.Record`."""
    raise NotImplementedError
