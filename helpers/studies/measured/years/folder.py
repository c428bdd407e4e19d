"""The folder of a stair's years: a file for every test day, and beside them the log of the self-tests. What cannot be used is named.

Several people may keep a folder each. A link is followed and only read; what lies in folders within is not looked at. Limits: as many
files as MOST_FILES, since a building is fitted to each.
"""

import os
from collections import Counter
from pathlib import Path

from helpers.model.files import MOST_BYTES, FileTextError, shown_name, text_of
from helpers.model.site.errors import SiteFileError
from helpers.model.site.file import raw_site
from helpers.model.test_day import date_of, not_after, read_test_day
from helpers.studies.measured.fitted import fit_building
from helpers.studies.measured.readings import readings_of
from helpers.studies.measured.remarks import doubt_said, misfits_named, twice_said
from helpers.studies.measured.years.building import Years
from helpers.studies.measured.years.self_tests import LOG, read_self_tests

MOST_FILES, MOST_ENTRIES = 200, 20_000  # of all folders together; looked at in one folder
ENDING = ".toml"


def read_years(site, *folders, today=None):
    """All tests of a site in some folders. Returns `Years`.

    A fitted site file, such as `fit` writes beside its day, is none of them. A day that stands in several folders counts once; two
    unlike ones of one date both count and are told. A file that cannot be used is named with its sentence and left out; what does not
    fit, and what was read twice, stands in the notes; of a day that no building can be fitted to, or whose fit is not to be believed,
    its devices and leaves still count; a day or a self-test after today, a `date` (None: no clock
    is asked), is named and left out. Raises ValueError for what is no folder or cannot be read, for more than MOST_FILES days,
    and where no test of this site is left, naming the first that was left out.
    """
    files, logs = [], []
    for folder in map(Path, folders):
        names = _names(folder)
        files += [folder / name for name in names if name.lower().endswith(ENDING)]
        logs += [folder / name for name in names if name.lower() == LOG]
    if len(files) > MOST_FILES:
        raise ValueError(f"folder must hold {MOST_FILES} test days at the most, all folders together; got {len(files)} files {ENDING}")
    days, fits, left_out, notes = [], [], [], []
    for file in files:
        if is_fitted(file):
            continue
        try:
            day = read_test_day(file)
            _not_after(day, today)
            readings = readings_of(site, day)
            if day in days:
                continue
            days.append(day)
            fit = fit_building(readings)
            left_out += [(shown_name(file), sentence) for sentence in fit.slips]
            notes += [f"{shown_name(file)}: {sentence}" for sentence in (*misfits_named(fit), *twice_said(day))]
            if doubt := doubt_said(fit):
                raise ValueError(doubt)
            fits.append(fit)
        except (SiteFileError, ValueError) as refusal:
            left_out.append((shown_name(file), str(refusal).splitlines()[0]))
    if not fits:
        first = f"; {left_out[0][0]}: {left_out[0][1]}" if left_out else ""
        raise ValueError(f"folder must hold at least one test day of {site.name}, got none{first}")
    days.sort(key=lambda day: day.date)
    log, told = _log(logs, date_of(days[-1].date), today)
    ordered = sorted(fits, key=lambda fit: fit.readings.day.date)
    return Years(site, tuple(ordered), tuple(days), (*left_out, *told), (*_twice(ordered), *notes), log)


def _not_after(day, today):
    try:
        not_after(date_of(day.date), today)
    except ValueError as refusal:
        raise ValueError(f"date {refusal}") from None


def is_fitted(path):
    """Whether a file says of itself that it is a site as a test day found it: what `fit` wrote."""
    try:
        leakage = raw_site(text_of(path, MOST_BYTES)).get("leakage")
    except (FileTextError, SiteFileError):
        return False
    return isinstance(leakage, dict) and "factors_from" in leakage


def _twice(fits):
    """That several unlike tests were made on one date, a sentence each."""
    for date, count in Counter(fit.readings.day.date for fit in fits).items():
        if count > 1:
            yield f"{'two' if count == 2 else count} unlike tests of {date}: {'both' if count == 2 else 'all'} are counted"


def _log(paths, until, today):
    """(`SelfTestLog` or None, what of it could not be used) of some files."""
    try:
        log = read_self_tests(paths, until, today) if paths else None
    except ValueError as refusal:
        return None, ((LOG, str(refusal)),)
    return log, tuple((LOG, sentence) for sentence in log.left_out) if log else ()


def _names(folder):
    """Names in a folder in their order, so many at most. Raises ValueError where it is none or cannot be read."""
    try:
        with os.scandir(folder) as entries:
            names = [entry.name for entry, _ in zip(entries, range(MOST_ENTRIES + 1), strict=False)]
    except (NotADirectoryError, FileNotFoundError, ValueError):
        raise ValueError(f"folder must be one with test days, got {folder.name!r:.60}") from None
    except OSError as trouble:
        raise ValueError(f"folder {folder.name!r:.60} cannot be read: {trouble.strerror}") from None
    if len(names) > MOST_ENTRIES:
        raise ValueError(f"folder {folder.name!r:.60} must hold {MOST_ENTRIES} files at the most, got more")
    return sorted(names)
