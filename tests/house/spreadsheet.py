"""A small reader of spreadsheets: works the formulas of a file out as ECMA-376 says, for the few functions that the sheets use.

AND, OR and the other functions take all their arguments before they answer, as spreadsheets do; an error is an error of the cell. A blank
is 0 in arithmetic and "" beside a text; a text is above any number.
"""

import re

import openpyxl

TOKEN = re.compile(
    r'\s*(?:("(?:[^"]|"")*")|(\$?[A-Z]{1,2}\$?\d+(?::\$?[A-Z]{1,2}\$?\d+)?)|(\d+\.?\d*(?:[eE][-+]?\d+)?)|([A-Z]+)\(|(<=|>=|<>|[-+*/(),=<>]))'
)


class Error(Exception):
    """What a cell shows instead of a value."""


class Book:
    """The first sheet of a file, or of a book that has not been written yet, with cells that may be typed into."""

    def __init__(self, path, book=None):
        self.page = (openpyxl.load_workbook(path) if book is None else book).active
        self.known = {}

    def type(self, cell, value):
        """Put something into an open cell."""
        assert not self.page[cell].protection.locked, f"{cell} is locked"
        self.page[cell].value, self.known = value, {}

    def __getitem__(self, cell):
        cell = cell.replace("$", "")
        if cell not in self.known:
            found = self.page[cell]
            formula = isinstance(found.value, str) and found.data_type == "f"
            self.known[cell] = _Formula(self, found.value[1:]).value() if formula else found.value
        return self.known[cell]

    def cells(self, span):
        """Values of a span of cells, row by row."""
        rows = self.page[span.replace("$", "")]
        rows = rows if isinstance(rows, tuple) else ((rows,),)
        return [self[cell.coordinate] for row in rows for cell in row]

    def find(self, text, column="A"):
        """The row whose cell begins with a text."""
        return next(row for row in range(1, self.page.max_row + 1) if str(self.page[f"{column}{row}"].value or "").startswith(text))


class _Formula:
    def __init__(self, book, text):
        self.book, self.text, self.at = book, text, 0

    def value(self):
        found = self._compared()
        assert self.at == len(self.text), f"left over: {self.text[self.at :]!r} of {self.text!r}"
        return found

    def _look(self):
        found = TOKEN.match(self.text, self.at)
        return found, found and found[5]

    def _take(self, *signs):
        found, sign = self._look()
        if sign not in signs:
            return None
        self.at = found.end()
        return sign

    def _compared(self):
        left = self._sum()
        while sign := self._take("=", "<>", "<", ">", "<=", ">="):
            left = _compare(sign, left, self._sum())
        return left

    def _sum(self):
        left = self._product()
        while sign := self._take("+", "-"):
            right = _number(self._product())
            left = _number(left) + (right if sign == "+" else -right)
        return left

    def _product(self):
        left = self._one()
        while sign := self._take("*", "/"):
            right = _number(self._one())
            left = _number(left) * right if sign == "*" else _number(left) / right
        return left

    def _one(self):
        if self._take("-"):
            return -_number(self._one())
        if self._take("("):
            found = self._compared()
            assert self._take(")"), self.text
            return found
        found, _ = self._look()
        assert found, f"cannot be read: {self.text[self.at :]!r}"
        text, cells, number, name = found.group(1, 2, 3, 4)
        self.at = found.end()
        if name:
            arguments = [self._argument()]
            while self._take(","):
                arguments.append(self._argument())
            assert self._take(")"), self.text
            return _FUNCTIONS[name](*arguments)
        if cells:
            return self.book.cells(cells) if ":" in cells else self.book[cells]
        return text[1:-1].replace('""', '"') if text is not None else float(number)

    def _argument(self):
        return self._compared()


def _number(value):
    if value is None or isinstance(value, bool | int | float):
        return float(value or 0)
    raise Error("#VALUE!")


def _compare(sign, left, right):
    left, right = (("" if isinstance(other, str) else 0) if one is None else one for one, other in ((left, right), (right, left)))
    keys = [(isinstance(one, str), one.lower() if isinstance(one, str) else float(one)) for one in (left, right)]
    a, b = keys
    return {"=": a == b, "<>": a != b, "<": a < b, ">": a > b, "<=": a <= b, ">=": a >= b}[sign]


def _numbers(arguments):
    flat = [one for part in arguments for one in (part if isinstance(part, list) else [part])]
    return [float(one) for one in flat if isinstance(one, int | float) and not isinstance(one, bool)]


_FUNCTIONS = {
    "IF": lambda test, yes, no: yes if test else no,
    "AND": lambda *tests: all(_number(test) for test in tests),
    "OR": lambda *tests: any(_number(test) for test in tests),
    "NOT": lambda test: not _number(test),
    "ISNUMBER": lambda value: isinstance(value, int | float) and not isinstance(value, bool),
    "N": lambda value: float(value) if isinstance(value, int | float) else 0.0,
    "ABS": lambda value: abs(_number(value)),
    "MAX": lambda *parts: max(_numbers(parts), default=0.0),
    "MIN": lambda *parts: min(_numbers(parts), default=0.0),
    "SUM": lambda *parts: sum(_numbers(parts)),
    "AVERAGE": lambda *parts: sum(_numbers(parts)) / len(_numbers(parts)),
    "MEDIAN": lambda *parts: sorted(_numbers(parts))[len(_numbers(parts)) // 2],
    "CHOOSE": lambda number, *words: words[int(number) - 1],
    "COUNTIF": lambda cells, word: sum(isinstance(one, str) and one.lower() == word.lower() for one in cells),
    "COUNTA": lambda cells: sum(one is not None for one in cells),
    "LEN": lambda text: len(str("" if text is None else text)),
    "TRIM": lambda text: " ".join(str("" if text is None else text).split(" ")).strip(" "),
}
