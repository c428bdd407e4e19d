"""The door that every spreadsheet from outside goes through before its cells are asked for: what it unpacks to is counted, not believed.

A file of some kilobytes can name thousands of sheets, all of them one part, or unpack to millions of empty words: a reader then works for
minutes. Source of the parts of a workbook: ECMA-376, Office Open XML (from memory, not verified; held against what openpyxl writes).
"""

import re
import struct
import zipfile
import zlib
from io import BytesIO
from typing import NamedTuple
from xml.etree import ElementTree

from helpers.model.files import FileTextError

# What a spreadsheet that is none, or a damaged one, ends in: on its way through the door, and behind it.
NO_BOOK = (zipfile.BadZipFile, zlib.error, struct.error, KeyError, ValueError, TypeError, AttributeError, IndexError,
           SyntaxError, OSError, EOFError, OverflowError, RuntimeError)  # fmt: skip

FREE_BYTES, MOST_TIMES = 10_000_000, 100  # unpacked: what is not looked at; how many times what lies there. A long log comes to some 20
CHUNK, OVERLAP = 1_000_000, 64
_PREFIX = rb"<(?:[^\s<>/:!?]+:)?"  # of a namespace: letters of any script, and signs, not those of a program's name alone
_SHEET, _ROOT = re.compile(_PREFIX + rb"sheet[\s/>]"), re.compile(_PREFIX + rb"(?:work|chart|dialog|macro)sheet[\s/>]")
_TEXT = re.compile(_PREFIX + rb"si[\s/>]")
MANIFEST = "[Content_Types].xml"  # which part is of which kind
# Parts that a reader makes one tree of, whatever of it is wanted, and looks at element by element: some twenty microseconds for each.
WHOLE = {MANIFEST, "xl/workbook.xml", "xl/styles.xml", "xl/theme/theme1.xml", "docProps/core.xml", "docProps/custom.xml"}
WHOLE_KINDS = ("main+xml", "comments+xml", "externalLink+xml")
MOST_WHOLE = 100_000  # elements in all of them: some 60,000 looks of cells, as many as any book may have, are some seconds
_OTHER_LETTERS = (b"\xff\xfe", b"\xfe\xff")  # as a text in UTF-16 begins
_OWN_ENTITIES = (b"<!DOCTYPE", b"<!ENTITY")


class BookLimits(NamedTuple):
    """The most of a spreadsheet: bytes unpacked, parts, sheets, shared texts, and elements in all (a cell with a number has four)."""

    unpacked: int
    parts: int
    sheets: int
    texts: int
    elements: int


def refuse_endless(path, raw, limits: BookLimits):
    """Look through the bytes of a spreadsheet once. Raises FileTextError, with a sentence, for one beyond its limits, one that names more
    sheets than it has, one with entities of its own or with letters that no spreadsheet is written in; one of `NO_BOOK` for none."""
    with zipfile.ZipFile(BytesIO(raw)) as packed:
        parts = packed.infolist()
        unpacked = sum(part.file_size for part in parts)
        most = min(limits.unpacked, max(FREE_BYTES, MOST_TIMES * len(raw)))
        if unpacked > most:
            raise FileTextError(path, f"must unpack to {most} bytes at the most, got {unpacked}: store it as .csv")
        if len(parts) > limits.parts:
            raise FileTextError(path, f"must hold {limits.parts} parts at the most, got {len(parts)}")
        if any(part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for part in parts):
            raise FileTextError(path, "is packed in another way than spreadsheets are: store it anew")
        named = has = texts = elements = beside = 0
        whole = _read_whole(path, packed)
        for part in parts:
            for begin, piece in _pieces(packed, part):
                if begin:
                    _refuse_letters(path, piece)
                    has += bool(_ROOT.search(piece))
                named += len(_SHEET.findall(piece))
                texts += len(_TEXT.findall(piece))
                elements += piece.count(b"<")
                beside += piece.count(b"<") if part.filename in whole or part.filename.endswith(".rels") else 0
                if beside > MOST_WHOLE:
                    raise FileTextError(path, f"must hold {MOST_WHOLE} elements beside its cells at the most, got more: store it as .csv")
                if any(word in piece for word in _OWN_ENTITIES):
                    raise FileTextError(path, "declares entities of its own, which no spreadsheet does")
                for got, what in ((named, "sheets"), (texts, "texts"), (elements, "elements")):
                    if got > (most := getattr(limits, what)):
                        raise FileTextError(path, f"must hold {most} {what} at the most, got more: store what is wanted alone, or as .csv")
        if named > has:
            raise FileTextError(path, f"names {named} sheets and has {has}")


def _read_whole(path, packed):
    """Names of the parts that a reader makes one tree of, by their fixed names and by the kinds that the book says its parts are of."""
    about = packed.getinfo(MANIFEST)
    raw = packed.read(about) if about.file_size <= CHUNK else b""
    if not raw or raw[:2] in _OTHER_LETTERS or any(word in raw for word in _OWN_ENTITIES):
        raise FileTextError(path, f"must say in {CHUNK} bytes at the most, and without entities of its own, which parts it has")
    said = ((one.get("PartName", "").lstrip("/"), one.get("ContentType", "")) for one in ElementTree.fromstring(raw))
    return WHOLE | {name for name, kind in said if kind.endswith(WHOLE_KINDS)}


def _pieces(packed, part):
    """(whether the first, bytes) of a part, cut before a "<" so that no element lies in two; none of a part that is no XML."""
    with packed.open(part) as file:
        piece = file.read(CHUNK)
        begin = piece.replace(b"\x00", b"").removeprefix(b"\xef\xbb\xbf").lstrip()[:1]
        if begin not in (b"<", b"") and piece[:2] not in _OTHER_LETTERS:
            return
        first = True
        while piece:
            more = file.read(CHUNK)
            cut = piece.rfind(b"<") if more and piece.rfind(b"<") >= len(piece) - OVERLAP else len(piece)
            yield first, piece[:cut]
            piece, first = piece[cut:] + more if more else b"", False


def _refuse_letters(path, piece):
    if b"\x00" in piece[:4] or piece[:2] in _OTHER_LETTERS:
        raise FileTextError(path, "is written in other letters than UTF-8, which no spreadsheet is: store it anew")
