"""Stands in for pydantic where there is no compiled half of it: in the browser alone, on the Pyodide that the registries can fill.

Only what the site files use, and strictly so: models with their fields in order, quantities and choices through their own `read`, numbers,
texts, lists, tables, tuples, one inner model; defaults, limits, unknown keys. Mistakes come as the same list that pydantic gives, for the
refusals are written from it. What it does not know it refuses when a model is defined, never while a file is read. That both judge alike
is tested with the site files' own tests (tests/test_runs_in_a_browser.py). The build puts this file into the page as `pydantic`,
with site_mistakes.py beside it.
"""

import inspect
import json
from types import NoneType, SimpleNamespace, UnionType
from typing import Annotated, ClassVar, Literal, Union, get_args, get_origin

from site_mistakes import ValidationError, Wrong

__all__ = ["AfterValidator", "BaseModel", "ConfigDict", "Field", "GetCoreSchemaHandler", "TypeAdapter", "ValidationError",
           "ValidationInfo", "core_schema"]  # fmt: skip

NOTHING = object()  # no value was given
KNOWN_SETTINGS = {"alias_generator", "validate_by_name", "validate_by_alias", "extra", "frozen", "strict"}
LIMITS = {"ge": "greater_than_equal", "le": "less_than_equal", "multiple_of": "multiple_of"}
PLAIN = {str: ("string_type", "a valid string"), int: ("int_type", "a valid integer"), bool: ("bool_type", "a valid boolean")}
ConfigDict = dict
GetCoreSchemaHandler = ValidationInfo = object  # only named in signatures
core_schema = SimpleNamespace(  # a quantity's or a choice's own `read`, brought to one signature
    with_info_plain_validator_function=lambda read: read, no_info_plain_validator_function=lambda read: lambda value, info: read(value)
)


class FieldInfo:
    """One field of a model: its annotation without what is said about it, that (`metadata`), and its default."""

    def __init__(self, default=NOTHING, default_factory=None, strict=None, **limits):
        unknown = set(limits) - set(LIMITS) - {"min_length", "max_length"}
        if unknown:
            raise TypeError(f"not known to the stand-in: {', '.join(sorted(unknown))}")
        self.default, self.default_factory, self.strict, self.limits = default, default_factory, strict, limits
        self.annotation, self.metadata, self.before, self.read = None, [], [], None

    def is_required(self):
        """Whether it must be given."""
        return self.default is NOTHING and self.default_factory is None

    def default_for(self, known):
        """What stands where it was not given; known: the fields before it."""
        if self.default_factory is None:
            return self.default
        return self.default_factory(known) if _asks(self.default_factory) else self.default_factory()


def _asks(factory):
    """Whether a factory must be given the fields before it; list and dict take something, and need nothing."""
    try:
        parameters = list(inspect.signature(factory).parameters.values())
    except ValueError:
        return False
    return len(parameters) == 1 and parameters[0].default is inspect.Parameter.empty


Field = FieldInfo


class AfterValidator:
    """Marks a function (value) that judges or changes what was read."""

    def __init__(self, func):
        self.func = func


def field_validator(name, mode):
    """Marks a function (value, info) that changes a field's raw value first."""
    assert mode == "before"
    return lambda function: SimpleNamespace(field=name, function=function)


def model_validator(mode):
    """Marks the method that judges the whole."""
    assert mode == "after"
    return lambda method: SimpleNamespace(field=None, function=method)


def reader(kind):
    """The function (value, info) that reads a value of an annotation, or raises Wrong."""
    origin, inner = get_origin(kind), get_args(kind)
    if origin is Annotated:
        return _annotated(inner[0], inner[1:])
    if origin in (Union, UnionType):
        if len(inner) != 2 or inner[1] is not NoneType:
            raise TypeError(f"not known to the stand-in: {kind}")
        read = reader(inner[0])
        return lambda value, info: None if value is None else read(value, info)
    if origin is Literal:
        return _literal(inner)
    if origin in (list, dict, tuple):
        return {list: _list, dict: _table, tuple: _tuple}[origin](*inner)
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return kind._read
    if kind in PLAIN:
        return _plain(kind)
    if kind is float:
        return lambda value, info: _float(value)
    raise TypeError(f"not known to the stand-in: {kind}")


def _annotated(kind, said):
    own = [one.__get_pydantic_core_schema__(kind, None) for one in said if hasattr(one, "__get_pydantic_core_schema__")]
    read = _sentence_of(own[-1]) if own else reader(kind)
    for limits in (one.limits for one in said if isinstance(one, FieldInfo)):
        read = _limited(read, limits) if limits else read
    for one in (one for one in said if isinstance(one, AfterValidator)):
        read = _sentence_of(_after(read, one.func))
    return read


def _after(read, judge):
    return lambda value, info: judge(read(value, info))


def _sentence_of(read):
    """A reader whose ValueError becomes the mistake."""

    def reading(value, info):
        try:
            return read(value, info)
        except ValueError as refusal:
            raise Wrong.one("value_error", f"Value error, {refusal}", value, error=refusal) from None

    return reading


def _limited(read, limits):
    def reading(value, info):
        good = read(value, info)
        if "min_length" in limits and len(good) < limits["min_length"]:
            raise _too_short(good, value, limits["min_length"])
        if "max_length" in limits and len(good) > limits["max_length"]:
            most = limits["max_length"]
            raise Wrong.one("string_too_long", f"String should have at most {most} characters", value, max_length=most)
        wrong = {"multiple_of": lambda limit: good % limit, "le": lambda limit: good > limit, "ge": lambda limit: good < limit}
        for name, beyond in wrong.items():
            if name in limits and beyond(limits[name]):
                raise Wrong.one(LIMITS[name], f"Input should be within {name} {limits[name]}", value, **{name: limits[name]})
        return good

    return reading


def _too_short(good, value, least):
    if isinstance(good, str):
        return Wrong.one("string_too_short", f"String should have at least {least} character", value, min_length=least)
    return Wrong.one("too_short", f"should have at least {least} items", value, min_length=least, actual_length=len(good))


def _plain(kind):
    name, allowed = PLAIN[kind]

    def reading(value, info):
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise Wrong.one(name, f"Input should be {allowed}", value)
        return value

    return reading


def _float(value):
    if not isinstance(value, (int, float)) or isinstance(value, bool):
        raise Wrong.one("float_type", "Input should be a valid number", value)
    return float(value)


def _literal(words):
    *most, last = map(repr, words)
    expected = f"{', '.join(most)} or {last}" if most else last

    def reading(value, info):
        if not any(type(value) is type(word) and value == word for word in words):
            raise Wrong.one("literal_error", f"Input should be {expected}", value, expected=expected)
        return value

    return reading


def _all_of(parts):
    """Read (key, value, reader) one after the other; all mistakes together."""
    good, mistakes = {}, []
    for key, read, value, info in parts:
        try:
            good[key] = read(value, info)
        except Wrong as wrong:
            mistakes += wrong.within(key)
    if mistakes:
        raise Wrong(mistakes)
    return good


def _list(kind):
    read = reader(kind)

    def reading(value, info):
        if not isinstance(value, list):
            raise Wrong.one("list_type", "Input should be a valid list", value)
        return list(_all_of((number, read, item, info) for number, item in enumerate(value)).values())

    return reading


def _table(key_kind, kind):
    assert key_kind is str
    read, read_key = reader(kind), reader(str)

    def reading(value, info):
        if not isinstance(value, dict):
            raise Wrong.one("dict_type", "Input should be a valid dictionary", value)
        for key in value:
            read_key(key, info)
        return _all_of((key, read, item, info) for key, item in value.items())

    return reading


def _tuple(*kinds):
    open_ended = kinds[-1] is Ellipsis
    reads = [reader(kind) for kind in (kinds[:1] if open_ended else kinds)]

    def reading(value, info):
        if not isinstance(value, (list, tuple)):
            raise Wrong.one("tuple_type", "Input should be a valid tuple", value)
        if not open_ended and len(value) > len(reads):
            raise Wrong.one("too_long", f"should have at most {len(reads)} items", value, max_length=len(reads), actual_length=len(value))
        each = reads * len(value) if open_ended else reads
        missing = [(number, _missing, value, info) for number in range(len(value), len(each))]
        return tuple(
            _all_of([*((n, read, item, info) for n, (read, item) in enumerate(zip(each, value, strict=False))), *missing]).values()
        )

    return reading


def _missing(value, info):
    raise Wrong.one("missing", "Field required", value)


class BaseModel:
    """A model: its class's annotations are its fields, in order, those it inherits first."""

    model_config: ClassVar[dict] = {}
    model_fields: ClassVar[dict] = {}
    _after: ClassVar[tuple] = ()

    def __init_subclass__(cls, **settings):
        super().__init_subclass__(**settings)
        cls.model_config = _settings(cls)
        marks = [one for one in vars(cls).values() if isinstance(one, SimpleNamespace)]
        own = {
            name: _field(cls, name, kind)
            for name, kind in inspect.get_annotations(cls).items()
            if get_origin(kind) is not ClassVar and not name.startswith("_")
        }
        cls.model_fields = cls.model_fields | own
        cls._after = (*cls._after, *(mark.function for mark in marks if mark.field is None))
        for mark in marks:
            if mark.field:
                cls.model_fields[mark.field].before.append(_sentence_of(mark.function))

    def __init__(self, **values):
        self.__dict__.update(_whole(type(self), values, by_alias=False)._values())

    @classmethod
    def model_validate(cls, values):
        """Read the model from a dict with the fields' own names. Raises ValidationError."""
        return _whole(cls, values, by_alias=False)

    @classmethod
    def _read(cls, value, info):
        if isinstance(value, cls):
            return value
        if not isinstance(value, dict):
            raise Wrong.one("model_type", f"Input should be a valid dictionary or instance of {cls.__name__}", value)
        keys = {name: cls.model_config["alias_generator"](name) if info.by_alias else name for name in cls.model_fields}
        good, mistakes = _fields(cls, keys, value, info)
        unknown = [key for key in value if key not in keys.values()]
        mistakes += [
            m for key in unknown for m in Wrong.one("extra_forbidden", "Extra inputs are not permitted", value[key], (key,)).mistakes
        ]
        if mistakes:
            raise Wrong(mistakes)
        return cls._judged(good, value)

    @classmethod
    def _judged(cls, good, value):
        model = object.__new__(cls)
        model.__dict__.update(good)
        for check in cls._after:
            _sentence_of(lambda whole, info, check=check: check(whole))(model, None)
        return model

    def _values(self):
        return self.__dict__

    def __iter__(self):
        yield from self.__dict__.items()

    def model_dump(self):
        """Its fields and all models within as dicts."""
        return {name: _dumped(value) for name, value in self}

    def model_dump_json(self):
        """The same as JSON; floats may be written in other digits than pydantic's."""
        return json.dumps(self.model_dump(), ensure_ascii=False, separators=(",", ":"))

    def model_copy(self, update=None):
        """A copy with some fields replaced, unjudged."""
        copy = object.__new__(type(self))
        copy.__dict__.update(self.__dict__ | (update or {}))
        return copy

    def __setattr__(self, name, value):
        raise ValidationError(type(self).__name__, Wrong.one("frozen_instance", "Instance is frozen", value, (name,)).mistakes)

    __delattr__ = __setattr__

    def __eq__(self, other):
        return type(other) is type(self) and other.__dict__ == self.__dict__

    def __hash__(self):
        return hash((type(self), *self.__dict__.values()))

    def __repr__(self):
        return f"{type(self).__name__}({', '.join(f'{name}={value!r}' for name, value in self.__dict__.items())})"


def _dumped(value):
    if isinstance(value, BaseModel):
        return value.model_dump()
    if isinstance(value, dict):
        return {key: _dumped(one) for key, one in value.items()}
    return type(value)(map(_dumped, value)) if isinstance(value, (list, tuple)) else value


def _settings(cls):
    settings = {name: value for base in reversed(cls.__mro__) for name, value in vars(base).get("model_config", {}).items()}
    if set(settings) - KNOWN_SETTINGS or not settings.get("frozen") or settings.get("extra") != "forbid":
        raise TypeError(f"not known to the stand-in: the settings {settings}")
    return settings


def _field(cls, name, kind):
    given = vars(cls).get(name, NOTHING)
    field = given if isinstance(given, FieldInfo) else FieldInfo(given)
    field.annotation = kind
    if get_origin(kind) is Annotated:
        field.annotation, *field.metadata = get_args(kind)
    field.read = reader(kind)
    return field


def _fields(cls, keys, value, info):
    """(good fields, mistakes). A default that follows from other fields is only asked while those are sound."""
    good, mistakes = {}, []
    for name, field in cls.model_fields.items():
        key = keys[name]
        if key not in value:
            if field.is_required():
                mistakes += Wrong.one("missing", "Field required", value, (key,)).mistakes
            elif not mistakes or not field.default_factory:
                good[name] = field.default_for(good)
            continue
        raw = value[key]
        try:
            for change in field.before:
                raw = change(raw, info)
            good[name] = field.read(raw, info)
        except Wrong as wrong:
            mistakes += wrong.within(key)
    return good, mistakes


def _whole(cls, values, by_alias):
    try:
        return cls._read(values, SimpleNamespace(context=None, by_alias=by_alias))
    except Wrong as wrong:
        raise ValidationError(cls.__name__, wrong.mistakes) from None


class TypeAdapter:
    """Reads a value of any annotation."""

    def __init__(self, kind, config=None):
        self._read, self._title = reader(kind), str(kind)

    def validate_python(self, value, by_alias, by_name, context):
        """The value read, with the keys of the file. Raises ValidationError."""
        assert by_alias is not by_name
        try:
            return self._read(value, SimpleNamespace(context=context, by_alias=by_alias))
        except Wrong as wrong:
            raise ValidationError(self._title, wrong.mistakes) from None
