"""Spoilt site and strategy files: bytes, lines and the tree of tables changed at random, and files that only mean harm."""

import json
import re
import tomllib
from functools import cache
from pathlib import Path

DATA = Path(__file__).parents[2] / "data"
SITES = sorted((DATA / "sites").glob("*.toml"))
STRATEGIES = sorted((DATA / "strategies").glob("*.toml"))

ODD_LETTERS = (
    "\0",
    "\x01",
    "\x1b[2J",
    "\x7f",
    "\u200b",
    "\u200f",
    "\u202e",
    "\u2028",
    "\x85",
    "\ufeff",
    "\ud7ff",
    "\U0001f525",
    "é",
    "٣",
    "−",
    "\r",
    "\x0c",
)
VALUES = (
    "0", "-1", "1", "1e400", "-1e308", "1e-320", "nan", "inf", "-inf", "true", "false", '""', '" "', "[]", "{}", "[[]]", "[[[1]]]",
    "[{}]", "{a=1}",
    "1000000000", "9" * 400, "-" + "9" * 400, "0x" + "f" * 900, "1_000", "0.1", "2026-11-25", "07:32:00", "1979-05-27T07:32:00Z",
    '"0 m"', '"-3 m"',
    '"1e300 m2"', '"1e-300 m"', '"1e308 Pa"', '"1e9 s"', '"1e-9 s"', '"999999999999999999999999 m3/s"', '"nan Pa"', '"inf Pa"', '"2.9"',
    '"2.9 furlongs"',
    '"40 °F"', '"0.1 in. w.c."', '"30 lbf"', '"12 ft"', '"3,5 m"', '"1 m 2"', '"0..1000000000"', '"-9999..9999"', '"5..1"', '"0..300"',
    '"\\u202e5 m"',
    '"\\u0000"', '"../../etc/passwd"', '"CON"', '"<script>alert(1)</script>"', '"=1+1"', '"$\\\\frac{$"', "'''a\nb'''",
    '"' + "x" * 900 + '"', '"1e5 %"',
    '"stair"', '"duct"', '"garage"', '"weighted"', '"middle"', '"direct"', "[1, 2, 3, 4]", '["1 m2", "2 m2", "3 m2", "4 m2"]',
    '"3 m\\n"', '"1' + "0" * 400 + ' Pa"',
)  # fmt: skip
SIZES = (0, -1, 1e-12, 1e-6, 1e-3, 0.1, 0.5, 0.9, 1.1, 2, 10, 1000, 1e6, 1e12, 1e30, 1e300)
NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?")


def spoilt(text, rng):
    """The text of a file, spoilt in one to three ways; bytes, as they would lie on a disk."""
    raw = text.encode()
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        way = rng.choice((of_numbers, of_numbers, of_numbers, of_values, of_values, of_lines, of_tree, of_bytes))
        raw = way(raw, rng)
    return raw


def of_bytes(raw, rng):
    """Some bytes changed, put in, left out, doubled or written in another way."""
    at, until = rng.randrange(len(raw) + 1), rng.randrange(len(raw) + 1)
    way = rng.randrange(7)
    if way == 0:
        return raw[:at] + bytes([rng.randrange(256)]) + raw[at + 1 :]
    if way == 1:
        return raw[:at] + rng.choice(ODD_LETTERS).encode("utf-8", "surrogatepass") * rng.choice((1, 1, 40)) + raw[at:]
    if way == 2:
        return raw[:at] + raw[at + rng.randrange(30) :]
    if way == 3:
        return raw[:at]
    if way == 4:
        return raw[:at] + raw[min(at, until) : max(at, until)] + raw[at:]
    if way == 5:
        return raw.decode("utf-8", "replace").encode(rng.choice(("utf-16", "utf-8-sig", "utf-32")), "replace")
    return raw.replace(b"\n", rng.choice((b"\r\n", b"\r", b"\n\n")))


def of_lines(raw, rng):
    """Lines left out, doubled, swapped, glued together, cut short or put into another table."""
    lines = raw.decode("utf-8", "replace").split("\n")
    one, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    way = rng.randrange(7)
    if way == 0:
        del lines[one]
    elif way == 1:
        lines.insert(other, lines[one])
    elif way == 2:
        lines[one], lines[other] = lines[other], lines[one]
    elif way == 3:
        lines[one] += lines[other]
        del lines[other]
    elif way == 4:
        lines[one] = lines[one][: rng.randrange(len(lines[one]) + 1)]
    elif way == 5:
        lines.insert(
            one,
            rng.choice(
                ("[fan]", "[[storeys]]", "[doors.x]", "unknown = 1", "a.b.c.d = 2", "[[]]", '"" = 1', '"a\\nb" = 1', "[control.low_demand]")
            ),
        )
    else:
        lines = lines[: min(one, other)] + lines[max(one, other) :]
    return "\n".join(lines).encode()


def of_values(raw, rng):
    """The value of a key or two replaced by another one, or the key by one that nobody knows."""
    lines = raw.decode("utf-8", "replace").split("\n")
    for _ in range(rng.choice((1, 1, 2))):
        places = [at for at, line in enumerate(lines) if re.match(r"\s*[\w.-]+\s*=", line)]
        if places:
            at = rng.choice(places)
            key = lines[at].partition("=")[0]
            key = rng.choice((key, key, key, key, "nobody_knows ", key.strip()[:-1] + "x "))
            lines[at] = f"{key}= {rng.choice(VALUES)}"
    return "\n".join(lines).encode()


def of_numbers(raw, rng):
    """A number made larger or smaller, so that what comes out is often a file that can be read, of a site that nobody builds."""
    text = raw.decode("utf-8", "replace")
    found = [one for one in NUMBER.finditer(text) if len(one[0]) < 30]
    if not found:
        return raw
    one, size = rng.choice(found), rng.choice(SIZES)
    number = float(one[0]) * size
    return (
        text[: one.start()] + (f"{number:.6g}" if "." in one[0] or rng.random() < 0.5 else f"{number:.0f}") + text[one.end() :]
    ).encode()


def of_tree(raw, rng):
    """A branch of the tree of tables swapped with another one, nested, emptied, doubled or of another type."""
    try:
        tree = tomllib.loads(raw.decode())
    except ValueError:
        return raw
    places = list(_places(tree))
    if not places:
        return raw
    holder, key = rng.choice(places)
    other_holder, other_key = rng.choice(places)
    way = rng.randrange(6)
    if way == 0:
        holder[key] = other_holder[other_key]
    elif way == 1:
        holder[key] = [holder[key]]
    elif way == 2:
        holder[key] = {rng.choice(("a", key if isinstance(key, str) else "b", "", "\n", "x" * 300)): holder[key]}
    elif way == 3:
        holder[key] = rng.choice(([], {}, "", 0, [holder[key]] * 30, 1e308, -5, True, [[], {}], 10**30))
    elif way == 4 and isinstance(holder, dict):
        holder[str(key) + rng.choice(ODD_LETTERS[2:])] = holder.pop(key)
    else:
        holder[key] = str(holder[key]) if rng.random() < 0.5 else [str(holder[key])] * 4
    try:
        return written(tree).encode("utf-8", "replace")
    except RecursionError:  # a branch was hung into itself
        return raw


def _places(tree):
    for key, value in tree.items() if isinstance(tree, dict) else enumerate(tree):
        yield tree, key
        if isinstance(value, (dict, list)):
            yield from _places(value)


def written(value):
    """A tree as the text of a TOML file, inner tables inline."""
    return "".join(f"{_text(str(key))} = {_inline(part)}\n" for key, part in value.items())


def _inline(value):
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_text(str(key))} = {_inline(part)}" for key, part in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_inline, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return _text(value) if isinstance(value, str) else str(value)


def _text(text):
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


@cache
def harmful():
    """Files that only mean harm, by what they try, as bytes."""
    storey = '[[storeys]]\nlevels = "0"\n'
    many = 100_000
    files = {
        "lists a hundred thousand deep": "a = " + "[" * many,
        "lists a few hundred deep": "a = " + "[" * 300 + "]" * 300,
        "inline tables a thousand deep": "a = " + "{a = " * 1000 + "1" + "}" * 1000,
        "a dotted key of a hundred thousand parts": ".".join(["a"] * many) + " = 1",
        "a thousand dotted keys of two hundred parts": "\n".join(".".join([f"a{n}"] * 200) + " = 1" for n in range(1000)),
        "a dotted key of a hundred thousand quoted parts": ".".join(['"a"'] * many) + " = 1",
        "a heading of a hundred thousand parts": "[" + ".".join(["a"] * many) + "]",
        "a dotted key within an inline table": "a = {" + ".".join(["a"] * many) + " = 1}",
        "a dotted key over spaces": " . ".join(["a"] * many) + " = 1",
        "a whole number of a million digits": "a = " + "9" * 1_000_000,
        "a hexadecimal number of a million digits": "gain = 0x" + "f" * 1_000_000,
        "a fraction of a million digits": "gain = 0." + "1" * 1_000_000,
        "a text of a million digits": 'height = "' + "1" * 1_000_000 + ',"',
        "a text of twenty thousand digits in a storey": '[[storeys]]\nlevels = "0"\nheight = "' + "1" * 20_000 + ',"',
        "a text of a million letters": 'name = "' + "x" * 1_000_000 + '"',
        "a hundred thousand unknown keys": "\n".join(f"key{n} = 1" for n in range(many)),
        "forty thousand unknown keys in a storey": storey + "\n".join(f"k{n} = 1" for n in range(40_000)),
        "a hundred thousand unknown tables": "\n".join(f"[t{n}]" for n in range(many)),
        "thirty thousand storeys of one level": storey * 20_000,
        "thirty thousand supplies": "[[supplies]]\n" * 30_000,
        "a thousand groups of all levels": '[[storeys]]\nlevels = "-20..300"\nheight = "3 m"\n' * 1000,
        "twenty thousand inputs of one name": 'kind = "strategy"\n' + '[[inputs]]\nname = "a"\n' * 20_000,
        "a hundred thousand doors": "\n".join(f"[doors.d{n}]" for n in range(30_000)),
        "ten to the ninth storeys": '[[storeys]]\nlevels = "0..1000000000"\n',
        "ten to the ninth doors on a storey": '[[storeys]]\nlevels = "0"\nstair_door_count = 1000000000\n',
        "a hundred thousand values": "[fan]\nflows = [" + "1, " * many + "]",
        "brackets without end": "[" + "]" * many,
        "brackets and spaces": ("[a" + "] " * many + "x"),
        "quotes without end": '"' * many,
        "a list over several lines": "faces = [\n[1, 2],\n[ 3 ]\n]\n",
        "a key within a text of several lines": "note = '''\n[fan]\na b = 1\n'''\n\"\"\"x = 1",
        "a hundred thousand line ends": "\n" * many,
        "keys just within the limits": "\n".join(f"key{n} = 1" for n in range(7_900)),
        "keys of a storey just within the limits": storey + "\n".join(f"k{n} = 1" for n in range(7_900)),
        "tables just within the limits": "\n".join(f"[t{n}]" for n in range(7_900)),
        "storeys just within the limits": storey * 399,
        "groups of all levels just within the limits": '[[storeys]]\nlevels = "-20..300"\nheight = "3 m"\n' * 62,
        "supplies just within the limits": "[[supplies]]\n" * 7_900,
        "inputs of one name just within the limits": 'kind = "strategy"\n' + '[[inputs]]\nname = "a"\n' * 3_900,
        "doors just within the limits": "\n".join(f"[doors.d{n}]" for n in range(7_900)),
        "values just within the limits": "[fan]\nflows = [\n" + ("1, " * 900 + "\n") * 16 + "]",
        "texts just within the limits": "[fan]\nflows = [\n" + ('"1 m3/s", ' * 250 + "\n") * 59 + "]",
        "dotted keys just within the limits": "\n".join(".".join([f"a{n}", *"bcd"]) + " = 1" for n in range(7_900)),
        "inline tables just within the limits": "transmitters = [" + ("{" + ", ".join(f"k{n} = 1" for n in range(200)) + "},\n") * 30 + "]",
        "no bytes at all": "",
        "only a byte order mark": "\ufeff",
    }  # fmt: skip
    return {name: text.encode() for name, text in files.items()} | {"noise": bytes(range(256)) * 40, "half a letter": b'name = "\xc3"'}
