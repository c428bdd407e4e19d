"""The papers of one job, of several side by side, or of a campus on a cluster: a folder for each site file; what cannot be written is
named, and the rest is done."""

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory

from helpers.model.answers import AnswersFile, read_answers
from helpers.model.files import safe_name, shown_name
from helpers.model.plants.kinds import read_any_site
from helpers.model.site.file import units_of_file
from helpers.model.site.schema import Site, WholeSite
from helpers.plots.printer import keep_browser
from helpers.record.papers.cluster import on_cluster, refusal_of, side_by_side
from helpers.record.papers.folder import BEGUN, Folder, allowed, answered_by, chosen_line, lying_in, write_files, write_folder, written_of
from helpers.record.papers.paper import DRAFT, HASH_SHOWN, Stamp, markdown_line
from helpers.record.plants.design import design_of
from helpers.record.sections.signed import site_hash
from helpers.units import SYSTEMS
from helpers.units.said import written_out

MOST_NAMED = 10  # files of a folder that are not taken, named one by one


@dataclass(frozen=True)
class Job:
    """One site whose papers are to be written: the site, the folder, the choices of `Design`, `AnswersFile` or None, the size of paper."""

    site: WholeSite
    folder: Path
    rule: str | None = None
    set_point: str | None = None
    units: str = "Pa"
    answers: AnswersFile | None = None
    paper_size: str = "A4"

    def write(self, told=print):
        """Write the folder; told: called with the path of each file. Returns (state line of the papers, why nothing could print or "").

        Raises ValueError where a file cannot be written."""
        made = Folder.of(self._design(), self.answers)
        trouble = write_folder(made, self.folder, self.paper_size, told)
        return made.stamp.state, trouble

    def files(self):
        """The same for a disk elsewhere: ({name: bytes} of the folder, state line of the papers, why nothing could print or "")."""
        with TemporaryDirectory() as here:
            paths = []
            said = replace(self, folder=Path(here) / "papers").write(paths.append)
            return {path.name: path.read_bytes() for path in paths}, *said

    def found(self):
        """What lies in the folder: `BEGUN` for papers whose writing was stopped, the state line of papers made from the same site, choices
        and answers, in the same units, by this release; "" for anything else. That the record fails is believed to the contents; that it
        does not is asked of the record itself."""
        design, (line, chosen, state, many) = self._design(), lying_in(self.folder) or ("", "", "", 0)
        if line == BEGUN:
            return BEGUN
        draft = Stamp(design.site.title, site_hash(design.site)[:HASH_SHOWN], self.units, ("some",), ())
        same = (line, chosen) == (markdown_line(draft.line()), chosen_line(self.paper_size, answered_by(self.answers)))
        if not same or many != len(written_of(design)[1]):
            return ""
        known = draft.state if state == draft.state else Folder.of(design, self.answers).stamp.state
        return known if state == known else ""

    def _design(self):
        return design_of(self.site, rule=self.rule, set_point=self.set_point, units=self.units)


def storeys_of(site):
    """How many storeys a site has; a plant other than a stair is done in no time, whatever it has."""
    return len(site.storeys) if isinstance(site, Site) else 0


def folder_name(site):
    """Name of the folder of a site's papers; one as a test day found it has a folder of its own."""
    return f"{safe_name(site.file_title).lower()}_papers"


def job_of(file, out, force=False, resume=False, answers=None, **choices):
    """The `Job` of a site file, its folder in `out`; answers: path of a file of answers; units None: those of the site file; resume: papers
    that lie there may stay, or be written anew where they are not finished. Raises ValueError, or SiteFileError, a sentence, for a folder
    that is not to be written into, and files that cannot be read."""
    site = read_any_site(file)
    choices["units"] = choices.get("units") or units_of_file(file)
    given = None if answers is None else read_answers(answers, site.name, date.today())
    job = Job(site, Path(out) / folder_name(site), answers=given, **choices)
    allowed(job.folder, site.title, force or (resume and job.found() != ""))
    return job


def jobs_of(files, out, force=False, resume=False, answers=None, **choices):
    """({file: Job}, {file: why not}) of one site file or several. Two sites of one name would have one folder: the later is refused.

    Raises ValueError as `job_of` where there is one file alone, and for answers, which are of one site, beside several."""
    if len(files) == 1:
        return {files[0]: job_of(files[0], out, force, resume, answers, **choices)}, {}
    if answers is not None:
        raise ValueError("answers must be those of one site: give --answers with one site file alone")
    jobs, refused = {}, {}
    for file in files:
        try:
            job = job_of(file, out, force, resume, **choices)
        except (OSError, ValueError) as trouble:
            refused[file] = refusal_of(trouble)
            continue
        twice = [known for known, other in jobs.items() if other.folder == job.folder]
        if twice:
            refused[file] = f"its site has the folder of {shown_name(twice[0])}: give each site a name of its own"
        else:
            jobs[file] = job
    return jobs, refused


def site_files(named, left=lambda line: None):
    """Paths of site files: what was named, and for a folder (a campus) every .toml in it, by name, in small letters or large; left: called
    with a line of what else lies in a folder. Raises ValueError where it has none."""
    found = []
    for name in named:
        lying = sorted(Path(name).iterdir()) if Path(name).is_dir() else [Path(name)]
        inside = [path for path in lying if path.suffix.lower() == ".toml"] if Path(name).is_dir() else lying
        if not inside:
            raise ValueError(f"{shown_name(name, whole=True)} must hold a site file at least, a .toml; it holds none")
        if others := [shown_name(path) for path in lying if path not in inside]:
            more = f" and {len(others) - MOST_NAMED} more" if len(others) > MOST_NAMED else ""
            left(f"{shown_name(name, whole=True)}: not taken, no .toml: {', '.join(others[:MOST_NAMED])}{more}")
        found += map(str, inside)
    return found


def write_papers(named, out, say=print, remark=print, cluster=None, resume=False, **choices):
    """Write the papers of sites and of folders of them. named: paths; say, remark: called with a line of what is done, and of what is not;
    cluster: address of a Dask scheduler, None for processes here; resume: sites whose folder has all papers of the same file are left as
    they are; choices: as `jobs_of`. Returns how many sites have their papers, how many of these are drafts whose record fails, and how many
    have none. Raises ValueError as `jobs_of` and `on_cluster`, and for one site alone that cannot be written."""
    files, units = site_files(named, remark), choices.get("units") or SYSTEMS[0]
    jobs, refused = jobs_of(files, out, resume=resume, **choices)
    for file, why in refused.items():  # before the work, which may take hours
        remark(f"not written: {shown_name(file)}: {written_out(why, units)}")
    there = {file: job.found() for file, job in jobs.items()} if resume else {}
    there = {file: state for file, state in there.items() if state not in ("", BEGUN)}
    for file, state in there.items():
        say(f"{shown_name(file)}: has its papers already, of the same figures. {state}")
    asked = {file: job for file, job in jobs.items() if file not in there}
    drafts = sum(state.startswith(DRAFT) for state in there.values())
    if asked:
        remark("the records that the papers quote")

    def told(path):
        say(shown_name(path, whole=True))

    done = write_elsewhere(asked, cluster, told, remark) if cluster and asked else write_side_by_side(asked, told)
    for number, (file, state, trouble, why) in enumerate(done, 1):
        if trouble:
            remark(trouble)
        if why and len(files) == 1:
            raise ValueError(why)
        if why:
            refused[file] = why
            remark(f"not written: {shown_name(file)}: {written_out(why, units)}")
        else:
            drafts += state.startswith(DRAFT)
            say(f"{shown_name(file)}: {state} ({number} of {len(asked)})" if len(files) > 1 else state)
    return len(files) - len(refused), drafts, len(refused)


def write_elsewhere(jobs, address, told=print, remark=print):
    """Write several `Job`s on the cluster of this address, the tallest stair first. The workers send the papers back, and they are written
    here: no disk needs to be shared. Yields as `write_side_by_side`, in the order in which they are done; raises as `on_cluster`."""
    order = sorted(jobs, key=lambda file: -storeys_of(jobs[file].site))
    tasks = {file: replace(jobs[file], folder=PurePosixPath("papers")) for file in order}  # a path of here means nothing there
    for file, made, why in on_cluster(Job.files, tasks, address, remark):
        if why:
            yield file, "", "", why
            continue
        files, state, trouble = made
        try:
            write_files(files, jobs[file].folder, told)
        except (OSError, ValueError) as refusal:
            yield file, "", "", refusal_of(refusal)
        else:
            yield file, state, trouble, ""


def write_side_by_side(jobs, told=print, workers=None):
    """Write several `Job`s in processes side by side, the tallest stair first, one alone in this process. told: called with the path of
    each file; workers: how many at most, as many as there are processors where it is not said. Yields (file, state, trouble, why not) as
    each is done: the state line of its papers, why nothing could print, why none were written; "" where there is nothing to say."""
    if len(jobs) == 1:  # each file is told as it is written
        for file, job in jobs.items():
            yield file, *_written(job, told)
        return
    order = sorted(jobs, key=lambda file: -storeys_of(jobs[file].site))
    for file, made, why in side_by_side(_with_paths, jobs, order, workers):
        paths, said = ((), ("", "", why)) if made is None else made
        for path in paths:
            told(path)
        yield file, *said


def _with_paths(job):
    """In a process that writes job after job: (paths written, (state, trouble, why not))."""
    keep_browser()
    paths = []
    said = _written(job, paths.append)
    return paths, said


def _written(job, told):
    """(state, trouble, why not) of one job."""
    try:
        return *job.write(told), ""
    except (OSError, ValueError) as trouble:
        return "", "", refusal_of(trouble)
