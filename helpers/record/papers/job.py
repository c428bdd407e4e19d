"""The papers of one job or of several side by side: a folder for each site file; what cannot be written is named, and the rest is done."""

import os
from dataclasses import dataclass
from pathlib import Path

from helpers.model.answers import AnswersFile, read_answers
from helpers.model.files import safe_name, shown_name
from helpers.model.plants.kinds import read_any_site
from helpers.model.site.errors import SiteFileError
from helpers.model.site.schema import Site
from helpers.record.design import Design
from helpers.record.papers.folder import Folder, allowed, write_folder

NO_STAIR = "is no stair: no paper is written for it yet, neither sequence, points, alarms, causes nor schedules"


@dataclass(frozen=True)
class Job:
    """One site whose papers are to be written: the site, the folder, the choices of `Design`, `AnswersFile` or None, the size of paper."""

    site: Site
    folder: Path
    rule: str | None = None
    set_point: str | None = None
    units: str = "Pa"
    answers: AnswersFile | None = None
    paper_size: str = "A4"

    def write(self, told=print):
        """Write the folder; told: called with the path of each file. Returns (state line of the papers, why nothing could print or "").

        Raises ValueError where the record lays nothing down, or a file cannot be written."""
        made = Folder.of(Design(self.site, rule=self.rule, set_point=self.set_point, units=self.units), self.answers)
        trouble = write_folder(made, self.folder, self.paper_size, told)
        return made.stamp.state, trouble


def folder_name(site):
    """Name of the folder of a site's papers; one as a test day found it has a folder of its own."""
    return f"{safe_name(site.file_title).lower()}_papers"


def job_of(file, out, force=False, answers=None, **choices):
    """The `Job` of a site file, its folder in `out`; answers: path of a file of answers. Raises ValueError, or SiteFileError, a sentence,
    for a site without papers, a folder that is not to be written into, and files that cannot be read."""
    site = read_any_site(file)
    if not isinstance(site, Site):
        raise ValueError(f"{site.name} {NO_STAIR}")
    folder = allowed(Path(out) / folder_name(site), site.title, force)
    return Job(site, folder, answers=None if answers is None else read_answers(answers, site.name), **choices)


def jobs_of(files, out, force=False, answers=None, **choices):
    """({file: Job}, {file: why not}) of one site file or several. Two sites of one name would have one folder: the later is refused.

    Raises ValueError as `job_of` where there is one file alone, and for answers, which are of one site, beside several."""
    if len(files) == 1:
        return {files[0]: job_of(files[0], out, force, answers, **choices)}, {}
    if answers is not None:
        raise ValueError("answers must be those of one site: give --answers with one site file alone")
    jobs, refused = {}, {}
    for file in files:
        try:
            job = job_of(file, out, force, **choices)
        except (OSError, ValueError) as trouble:
            refused[file] = refusal_of(trouble)
            continue
        twice = [known for known, other in jobs.items() if other.folder == job.folder]
        if twice:
            refused[file] = f"its site has the folder of {shown_name(twice[0])}: give each site a name of its own"
        else:
            jobs[file] = job
    return jobs, refused


def refusal_of(trouble):
    """A refusal in one sentence, of a site file its first mistake."""
    return str(trouble).splitlines()[0] if isinstance(trouble, SiteFileError) else str(trouble)


def write_side_by_side(jobs, told=print, workers=None):
    """Write several `Job`s in processes side by side, the tallest stair first, one alone in this process. told: called with the path of
    each file; workers: how many at most, as many as there are processors where it is not said. Yields (file, state, trouble, why not) as
    each is done: the state line of its papers, why nothing could print, why none were written; "" where there is nothing to say.
    Raises ValueError as `Job.write` for one alone."""
    if len(jobs) == 1:
        for file, job in jobs.items():
            yield file, *job.write(told), ""
        return
    order = sorted(jobs, key=lambda file: -len(jobs[file].site.storeys))
    from concurrent.futures import ProcessPoolExecutor  # no processes in the page without a server: there nobody writes several sites

    with ProcessPoolExecutor(min(max(len(jobs), 1), workers or os.cpu_count() or 1)) as pool:
        started = {file: pool.submit(_written, jobs[file]) for file in order}
        for file in jobs:
            paths, said = started[file].result()
            for path in paths:
                told(path)
            yield file, *said


def _written(job):
    """In a process of its own: (paths written, (state, trouble, why not))."""
    paths = []
    try:
        return paths, (*job.write(paths.append), "")
    except (OSError, ValueError) as trouble:
        return paths, ("", "", refusal_of(trouble))
