"""A site file of one's own without an editor: every key of the schema as an answer to be typed, and a file in which each key is explained.

A form begins with a demo building's figures, or with a file that is opened again. Each figure of a demo building is marked until it is
edited, in the file too, so that nobody takes an invented figure for a measured one. What nobody knows yet is left out and stays behind a #:
the model then takes it within limits, and tells. Nothing that was typed is lost: what cannot be stays, with the schema's sentence.
"""

import re
from contextlib import suppress
from dataclasses import replace
from datetime import date

from helpers.model.files import MOST_BYTES, bytes_of, free_path, named_path, printable, shown_name, text_of, texts, write_new, write_whole
from helpers.model.site.entries import MEND, KeyTable, in_labels, is_table, sections, shown, tables_of, within, written
from helpers.model.site.errors import SiteFileError, lines_of
from helpers.model.site.file import SITES_FOLDER, demo_sites, levels_of, raw_site, read_site_text, toml_key

TEMPLATE, COMMENT_AT, RULER = "Larkfield House", 38, 125
MARKED, TAKEN = re.compile(r"(demo|copied)(?:; |$)"), "taken over from the demo, "  # the latter with its date: one click is no measurement
COMMENTED = re.compile(r"""((?:[^"'#]|"(?:[^"\\]|\\.)*"|'[^']*')*)#\s?(.*)""")
UNSTATED, UNSTATED_TABLE = re.compile(r"#\s*([\w-]+)\s*="), re.compile(r"#\s*\[([\w.]+)\]$")
SPELLING = {" without quotation marks": "", "text in quotation marks": "a text", "must be true or false": "must be yes or no",
            "where the site has no [lift]": "until Lift shaft, below the storeys, is filled in"}  # fmt: skip
SPELT = re.compile("|".join(map(re.escape, SPELLING)))  # what a file asks for and an entry does not
DROPPED = "; empty its entry under More, and the file is written without it"  # of a key that nobody knows
OVERRULED = ((("temperatures", "stair"), ("weather", "stair")), (("leakage", "exterior_wall"), ("storeys", "wall_tightness")))
UNCOUNTED = (("site", "kind"), ("site", "invented"))
STILL_DEMO = re.compile(r"\s*\d+ of \d+ figures of this file are still a demo building's\b.*")  # at the end of a note
OLDER_PAGE = "Written by the guided page; figures that were not asked for are those of a demo site"  # note of files written before


class SiteForm:
    """All answers of a site file. An answer's address is (section, item, key): item is None, a number of a list, or a name.

    parts: by section, a KeyTable, a list of them or a dict of them, as sections() says; `head`, `tail`: lines around all of them.
    """

    def __init__(self, text=None, demo=False):
        """Raises SiteFileError for a text whose tables are not those of a stair site; what is in them may be wrong."""
        own = text is not None
        text = text if own else demo_sites()[TEMPLATE].read_text(encoding="utf-8")
        data = raw_site(text)
        self.parts, self.head, self.tail, self.names = {}, [], [], {}
        for section in sections().values():
            raw = {key: value for key, value in data.items() if not is_table(key)} if section.name == "site" else within(data, section)
            self.parts[section.name] = tables_of(section, raw)
        if own:
            self._read_notes(text)
            self._without_still_demo()
            older = str(self.table("site").get("note", "")).startswith(OLDER_PAGE)
            if demo or older:
                self._mark_demo(None if demo else SiteForm())
            return
        for told in texts("site_file")["left_open"]:
            section, key = told.rsplit(".", 1)
            for table in self.tables(section).values():
                table.pop(key, None)
        self.table("site").update(name="My building", invented=False)
        self.table("site").pop("note", None)
        self._mark_demo()

    def tables(self, section):
        """{item: KeyTable} of a section; of a section of one table the item is None."""
        part = self.parts[section]
        return {None: part} if isinstance(part, KeyTable) else dict(enumerate(part)) if isinstance(part, list) else part

    def table(self, section, item=None):
        """One table of a section."""
        return self.tables(section)[item]

    def answer(self, section, item, key):
        """What stands there, as it is typed; an empty text where nothing is stated."""
        return shown(self.table(section, item).get(key))

    def put(self, section, item, key, text):
        """Type an answer; an empty text leaves the key out. What is the same as before stays what it was, a demo building's too."""
        table, text = self.table(section, item), printable(text)
        if text.strip() == shown(table.get(key)):
            return
        table.demo.discard(key)
        table.copied.discard(key)
        table.notes |= {key: re.sub(rf"{TAKEN}[\d-]+(; )?", "", table.notes[key])} if key in table.notes else {}
        entry = sections()[section].entries.get(key)
        value = entry.read(text) if entry else text.strip() or None
        if value is None:
            table.pop(key, None)
        else:
            table[key] = value
        off = table.unstated.pop(key, None) if value is not None else None
        if off and (found := COMMENTED.match(off.lstrip("# "))):
            table.notes.setdefault(key, found[2])

    def accept(self, section, item, key):
        """A demo building's figure, or a copied one, is so here too, as somebody says on this day; of a demo's that stands beside it."""
        table, entry = self.table(section, item), sections()[section].entries.get(key)
        note = table.notes.get(key, entry.comment if entry else "")
        table.notes |= {key: f"{TAKEN}{date.today()}{note and '; '}{note}"} if key in table.demo else {}
        table.demo.discard(key)
        table.copied.discard(key)

    def add(self, section):
        """One more of several: a copy of the last, marked so, to be changed where it differs; of storeys one that states nothing yet."""
        part = self.parts[section]
        if section == "storeys":
            part.append(KeyTable())
            return
        last = list(self.tables(section).values())[-1] if part else KeyTable()
        made = KeyTable({key: value for key, value in last.items() if key not in ("level", "name")})
        made.demo = {key for key in last.demo if key in made}
        made.copied = set(made) - made.demo
        if isinstance(part, dict):
            names = (f"{sections()[section].one} {number}" for number in range(len(part) + 1, len(part) * 2 + 2))
            part[next(name for name in names if name not in part)] = made
            return
        part.append(made)
        if section == "transmitters":
            made["name"] = f"PDT-{len(part)}"
        self._share(section, len(part) - 1)

    def remove(self, section, item):
        """One less of several."""
        before = len(self.parts[section])
        del self.parts[section][item]
        self.names.pop((section, item), None)
        self._share(section, before)

    def rename(self, section, item, name):
        """Give one of several named tables another name; a kind of door in all storeys too. A name that cannot be is kept and told."""
        part, name = self.parts[section], printable(name).strip()
        self.names.pop((section, item), None)
        if name == item:
            return
        if not name or name in part:
            self.names[section, item] = name
            return
        self.parts[section] = {name if key == item else key: table for key, table in part.items()}
        for storey in self.parts["storeys"] if section == "doors" else ():
            storey.update({key: name for key, value in storey.items() if value == item and key.endswith("_door")})
            if isinstance(others := storey.get("other_stair_doors"), dict):
                storey["other_stair_doors"] = {name if kind == item else kind: count for kind, count in others.items()}

    def above(self, item, key):
        """What an earlier group of storeys says of a key for levels of a group, as it is typed; an empty text for nothing."""
        with suppress(ValueError):
            own = set(levels_of(self.table("storeys", item).get("levels")))
            for number in range(item - 1, -1, -1):
                table = self.table("storeys", number)
                if key in table and own & set(levels_of(table.get("levels"))):
                    return shown(table[key])
        return ""

    def stated(self):
        """Addresses of all answers that are stated; what a file is needs no answer."""
        return [(name, item, key) for name in sections() for item, table in self.tables(name).items()
                for key in table if (name, key) not in UNCOUNTED]  # fmt: skip

    def is_demo(self, section, item, key):
        """Whether this figure is still a demo building's."""
        return key in self.table(section, item).demo

    def is_copied(self, section, item, key):
        """Whether this is what the one before it says, and nobody has looked at it since."""
        return key in self.table(section, item).copied

    def overruled(self):
        """(section, sentence) of each answer of one's own that does not count, because another one for a part is stated."""
        for (section, key), (part, own) in OVERRULED:
            table = self.table(section)
            there = [(item, one) for item, one in self.tables(part).items() if own in one]
            if key in table and key not in table.demo and there:
                figures = [f"{self.said(part, item)} {shown(one[own])}{' (demo)' if own in one.demo else ''}" for item, one in there]
                what, label = f"{self.said(section, None, key)}, {shown(table[key])}", sections()[part].entries[own].label
                yield section, f"{what}: does not count where {label} is stated: {'; '.join(figures)}. Empty it there, and this counts"

    def mistakes(self):
        """[(address or None, sentence)] of all that cannot be: what the schema refuses of the file as it is. No mistakes: it is a site."""
        told = [((section, item, None), f"{self.said(section, item)}: the name must be given, and no other one's; got {name!r:.60}")
                for (section, item), name in self.names.items()]  # fmt: skip
        try:
            read_site_text(self.text(), "new site")
        except SiteFileError as refusal:
            for mistake in refusal.mistakes:
                address = self.address(mistake.place) if mistake.place else None
                told.append((address, self._sentence(mistake, address)))
        return told

    def _sentence(self, mistake, address):
        """A mistake of the file in the words of the page."""
        if address is None:
            return SPELT.sub(lambda found: SPELLING[found[0]], str(mistake))
        section, _, key = address
        spelt = in_labels(section, SPELT.sub(lambda found: SPELLING[found[0]], mistake.sentence))
        unknown = key is not None and key not in sections()[section].entries
        return f"{self.said(*address)}: {spelt}{DROPPED if unknown else ''}"

    def address(self, place):
        """The address of a place of the file; None for one that no answer has. The key is None for a whole table."""
        for section in sorted(sections().values(), key=lambda section: -len(section.path)):
            depth = len(section.path) + (section.kind != "one")
            if place[: len(section.path)] != section.path or (section.name == "site" and len(place) > 1 and is_table(place[0])):
                continue
            item = place[depth - 1] if section.kind != "one" and len(place) >= depth else None
            if section.kind != "one" and item not in self.tables(section.name):
                return section.name, None, None
            return section.name, item, place[depth] if len(place) > depth else None
        return None

    def said(self, section, item=None, key=None):
        """An address in words."""
        told = sections()[section]
        if item is None:
            one = told.title if section != "site" else ""
        elif section == "storeys":
            one = f"Storeys {self.table(section, item).get('levels', '?')}"
        elif section == "transmitters":
            one = f"Transmitter {self.table(section, item).get('name', item + 1)}"
        else:
            one = f"{told.one.capitalize()} {item + 1 if isinstance(item, int) else item}"
        label = told.entries[key].label if key in told.entries else key or ""
        return ", ".join(filter(None, [one, label]))

    def text(self):
        """The text of the file, every key explained."""
        lines = [*(self.head or texts("site_file")["head"].strip().split("\n")), ""]
        for section in sections().values():
            seen = set()
            for number, (item, table) in enumerate(self.tables(section.name).items()):
                lines += self._heading(section, item, table, number)
                lines += self._keys(section, table, number, seen)
        return "\n".join([*lines, *self.tail]) + "\n"

    def _heading(self, section, item, table, number):
        if section.name == "site":
            return []
        own = table.before.get(None, [])
        ruled = number > 0 or any("-----" in line for line in own)
        name = ".".join(map(toml_key, [*section.path, item] if section.kind == "named" else section.path))
        heading = f"[[{name}]]" if section.kind == "list" else f"[{name}]"
        off = "" if table or section.kind != "one" or section.needed else "# "
        return ["", *([] if ruled else _intro(section)), *own, _beside(off + heading, table.notes.get(None, ""))]

    def _keys(self, section, table, number, seen):
        for key in dict.fromkeys([*section.entries, *table]):
            entry = section.entries.get(key)
            comment = entry.comment if entry and key not in seen else ""
            yield from table.before.get(key, ())
            if key in table:
                mark = "demo" if key in table.demo else "copied" if key in table.copied else ""
                note = "; ".join(filter(None, [mark, table.notes.get(key, comment)]))
                seen.add(key)
                still = self._still_demo() if (section.name, key) == ("site", "note") and isinstance(table[key], str) else ""
                yield _beside(f"{toml_key(key)} = {written(f'{table[key]} {still}' if still else table[key])}", note)
            elif (section.name, key) == ("site", "note") and (still := self._still_demo()):
                yield _beside(f"note = {written(still)}", comment)
            elif key in table.unstated:
                yield table.unstated[key]
            elif number == 0 and entry and (not table or not (entry.needed or entry.usual)):
                yield _beside(f"# {key} = {written(entry.read(entry.example))}", comment)

    def _still_demo(self):
        """What the records of a building say of figures that are not its own; nothing for a building that is invented itself."""
        every = self.stated()
        still = sum(self.is_demo(*one) for one in every)
        own = still and self.table("site").get("invented") is not True
        return f"{still} of {len(every)} figures of this file are still a demo building's, marked as demo in it: check them." if own else ""

    def _share(self, section, before):
        """Equal shares stay equal when there is one more or less, where nobody has typed one."""
        part = self.parts[section]
        own = any("share" in table and "share" not in table.demo | table.copied for table in part)
        equal = all(shown(table.get("share")) == shown(1 / (before or 1)) for table in part if "share" in table)
        if section == "supplies" and part and equal and not own:
            for table in part:
                table["share"] = 1 / len(part) if len(part) > 1 else 1

    def _without_still_demo(self):
        """Take the sentence of _still_demo off the note."""
        site = self.table("site")
        if isinstance(site.get("note"), str):
            site["note"] = STILL_DEMO.sub("", site["note"])
            if not site["note"]:
                del site["note"]

    def _mark_demo(self, like=None):
        """Mark what is stated as a demo building's; like: only what is as in this form."""
        for section, item, key in self.stated():
            table = self.table(section, item)
            if like is None or (item in like.tables(section) and like.table(section, item).get(key) == table[key]):
                table.demo.add(key)

    def _read_notes(self, text):
        """Take over the comments of a file, each with the key that it stands at."""
        places = {number: self.address(place) for place, number in lines_of(text).items()}
        standard = {line for one in sections().values() for line in _intro(one)}
        section, table, key, waiting = "site", self.table("site"), None, []
        for number, line in enumerate(text.split("\n"), 1):
            plain, note = line.strip(), COMMENTED.fullmatch(line.rstrip())
            if address := places.get(number):
                if number == min(places):
                    self.head, waiting = _trimmed(waiting), []
                section, item, key = address
                table = self.tables(section).get(item, self.table("site"))
                table.before |= {key: waiting} if waiting else {}
                waiting = []
                if note:
                    was = MARKED.match(note[2])
                    if was and key in table:
                        (table.demo if was[1] == "demo" else table.copied).add(key)
                    table.notes |= {key: note[2][was.end() if was else 0 :]}
            elif plain.startswith("#"):
                off, whole = UNSTATED.match(plain), UNSTATED_TABLE.match(plain)
                if whole and whole[1] in sections() and self.parts[whole[1]] == {}:
                    section, table = whole[1], self.table(whole[1])
                    table.before |= {None: waiting} if waiting else {}
                    waiting = []
                elif plain in standard:
                    continue
                elif off and off[1] in sections()[section].entries and off[1] not in table:
                    table.unstated[off[1]] = plain
                else:
                    waiting.append(plain)
            elif not plain:
                waiting += [""] if waiting and waiting[-1] else []
            elif note and note[1].strip():  # within a list of several lines
                table.notes[key] = " ".join(filter(None, [table.notes.get(key), note[2]]))
        self.tail = _trimmed(waiting)


def form_bytes(form):
    """The bytes of a form's file. Raises ValueError, with the sentence, for one that is longer than any file that is read."""
    data = form.text().encode()
    if len(data) > MOST_BYTES:
        raise ValueError(f"the answers come to {len(data)} bytes and a site file has {MOST_BYTES} at the most; shorten the notes")
    return data


def write_new_site(form, path, over=False):
    """Write a form's file as it stands. over: a file that is there goes beside the new one, under a name that was free; without it no file
    is ever written over. Returns (path, where the older one went or None).

    Raises ValueError for a path that cannot be written, with the sentence.
    """
    target, data = named_path(path), form_bytes(form)
    if target.suffix != ".toml":
        raise ValueError(f"path must end in .toml, got {target.name!r:.60}")
    try:
        write_new(target, data)
    except FileExistsError:
        if not over:
            raise ValueError(f"path must be that of a new file; {target.name} is there already and is left as it is") from None
        return _written_over(target, data)
    except OSError as trouble:
        raise ValueError(f"path must be that of a file that can be written; {shown_name(target)}: {trouble.strerror}") from None
    except ValueError:  # a null, or half a sign of two
        raise ValueError(f"path must be that of a file; no file can have the name {shown_name(target)}") from None
    return target, None


def _written_over(target, data):
    """The file new, the older one beside it."""
    if target.resolve().parent == SITES_FOLDER:
        raise ValueError(f"path must not be that of a demo site, {target.name}: the pages need it as it is")
    try:
        older = bytes_of(target, MOST_BYTES)
    except OSError as trouble:
        raise ValueError(f"path must be that of a file that can be read; {shown_name(target)}: {trouble.strerror}") from None
    kept = write_whole(free_path(target.with_name(f"{target.stem}_before.toml.old")), older)
    return write_whole(target, data), kept


def open_site(path):
    """The form of a file that is there, a demo building's figures marked. Raises FileTextError or SiteFileError where it cannot be one."""
    target = named_path(path)
    try:
        return SiteForm(text_of(target, MOST_BYTES), demo=target.resolve().parent == SITES_FOLDER)
    except SiteFileError as refusal:
        told = [replace(one, sentence=one.sentence if MEND in one.sentence else f"{one.sentence}{MEND}") for one in refusal.mistakes]
        raise SiteFileError(shown_name(target), told) from None


def _trimmed(lines):
    """Lines without an empty one at their end."""
    return lines[:-1] if lines and not lines[-1] else lines


def _intro(section):
    """The lines over a section's first table."""
    return [f"# {section.title.lower()} ".ljust(RULER, "-"), *([f"# {section.intro}"] if section.intro else [])]


def _beside(line, note):
    """A line with what stands beside it."""
    return f"{line:<{COMMENT_AT - 1}} # {note}" if note else line
