"""The door that every spreadsheet from outside goes through before its cells are asked for: what it unpacks to is counted, not believed.

A file of some kilobytes can name thousands of sheets, all of them one part, or unpack to millions of empty words: a reader then works for
minutes. Source of the parts of a workbook: ECMA-376, Office Open XML (from memory, not verified; held against what openpyxl writes).
"""

import re
import zipfile
from io import BytesIO
from typing import NamedTuple

from helpers.model.files import FileTextError

FREE_BYTES, MOST_TIMES = 10_000_000, 100  # unpacked: what is not looked at; how many times what lies there. A long log comes to some 20
CHUNK, OVERLAP = 1_000_000, 64
_SHEET, _ROOT = re.compile(rb"<(?:\w+:)?sheet[\s/>]"), re.compile(rb"<(?:\w+:)?(?:work|chart|dialog|macro)sheet[\s/>]")
_TEXT = re.compile(rb"<(?:\w+:)?si[\s/>]")
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
    sheets than it has, one with entities of its own or with letters that no spreadsheet is written in; what `zipfile` raises for none."""
    with zipfile.ZipFile(BytesIO(raw)) as packed:
        parts = packed.infolist()
        unpacked = sum(part.file_size for part in parts)
        most = min(limits.unpacked, max(FREE_BYTES, MOST_TIMES * len(raw)))
        if unpacked > most:
            raise FileTextError(path, f"must unpack to {most} bytes at the most, got {unpacked}: store it as .csv")
        if len(parts) > limits.parts:
            raise FileTextError(path, f"must hold {limits.parts} parts at the most, got {len(parts)}")
        named = has = texts = elements = 0
        for part in parts:
            for begin, piece in _pieces(packed, part):
                if begin:
                    _refuse_letters(path, piece)
                    has += bool(_ROOT.search(piece))
                named += len(_SHEET.findall(piece))
                texts += len(_TEXT.findall(piece))
                elements += piece.count(b"<")
                if any(word in piece for word in _OWN_ENTITIES):
                    raise FileTextError(path, "declares entities of its own, which no spreadsheet does")
                for got, what in ((named, "sheets"), (texts, "texts"), (elements, "elements")):
                    if got > (most := getattr(limits, what)):
                        raise FileTextError(path, f"must hold {most} {what} at the most, got more: store what is wanted alone, or as .csv")
        if named > has:
            raise FileTextError(path, f"names {named} sheets and has {has}")


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
