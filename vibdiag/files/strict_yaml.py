"""YAML as people mean it: strict on the way in, faithful on the way out.

Plain YAML readers drop the first of two equal keys silently, read `no` as False and keep `1e3` as text. Here equal
keys are an error, `yes` and `no` are words, numbers are numbers as in the YAML 1.2 core schema, and every value
remembers its line. Anchors, aliases and tags are refused: a case or rule file has no use for them and they can blow up
in memory.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import yaml

from vibdiag.files.errors import InputError, Spot

__all__ = ["MAX_BYTES", "MAX_DEPTH", "Document", "dump", "parse"]

MAX_BYTES = 4_000_000
MAX_DEPTH = 40

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_INT = re.compile(r"[-+]?[0-9]+")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
# What YAML 1.1 and 1.2 do not count as printable (YAML 1.2.2, production 1).
_NO_TEXT = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_CONSTANTS: dict[str, Any] = {
    **dict.fromkeys(("null", "Null", "NULL", "~", ""), None),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}

Path = tuple[str | int, ...]


@dataclass
class Document:
    """The plain data of one YAML document and where each part of it stands."""

    data: Any
    spots: dict[Path, Spot] = field(default_factory=dict)

    def spot(self, path: Path) -> Spot | None:
        """The spot of `path`, or of the nearest part above it that exists."""
        while path and path not in self.spots:
            path = path[:-1]
        return self.spots.get(path)


def _scalar(text: str) -> Any:
    if text in _CONSTANTS:
        return _CONSTANTS[text]
    if _INT.fullmatch(text):
        return int(text) if len(text) < 300 else text
    if _FLOAT.fullmatch(text):
        return float(text)
    return text


def _spot(mark: Any) -> Spot:
    return Spot(mark.line + 1, mark.column + 1)


def _spot_after(text: str) -> Spot:
    """Where the character stands that follows `text`."""
    return Spot(text.count("\n") + 1, len(text) - text.rfind("\n"))


class _Builder:
    """Builds plain data from parser events without recursion, so that depth is limited by us and not by the stack."""

    def __init__(self, file: str | None) -> None:
        self.file = file
        self.spots: dict[Path, Spot] = {}
        self.stack: list[tuple[Any, Path]] = []
        self.keys: list[str | None] = []
        self.root: Any = None
        self.documents = 0

    def fail(self, message: str, mark: Any) -> InputError:
        return InputError(message, file=self.file, spot=_spot(mark))

    def path(self) -> Path:
        if not self.stack:
            return ()
        container, path = self.stack[-1]
        if isinstance(container, list):
            return (*path, len(container))
        return (*path, self.keys[-1] or "")

    def put(self, value: Any, mark: Any) -> None:
        path = self.path()
        self.spots.setdefault(path, _spot(mark))
        if not self.stack:
            self.root = value
            return
        container, _ = self.stack[-1]
        if isinstance(container, list):
            container.append(value)
        else:
            container[self.keys[-1]] = value
            self.keys[-1] = None

    def wants_key(self) -> bool:
        return bool(self.stack) and isinstance(self.stack[-1][0], dict) and self.keys[-1] is None

    def take_key(self, event: Any) -> None:
        container, path = self.stack[-1]
        key = event.value
        if key in container:
            first = self.spots[(*path, key)].line
            raise self.fail(f"'{key}' stands here and already in line {first}; keep one", event.start_mark)
        self.keys[-1] = key
        self.spots[(*path, key)] = _spot(event.start_mark)

    def handle(self, event: Any) -> None:
        mark = event.start_mark
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            raise self.fail("anchors and aliases (& and *) are not allowed; write the value out", mark)
        if getattr(event, "tag", None):
            raise self.fail(f"the tag {event.tag} is not allowed; write plain text or a number", mark)
        if isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                raise self.fail("a second document begins here ('---'); use one file for each", mark)
        elif isinstance(event, yaml.ScalarEvent):
            if self.wants_key():
                self.take_key(event)
            else:
                plain = event.style is None or event.style == ""
                value = _scalar(event.value) if plain and event.implicit[0] else event.value
                if isinstance(value, float) and not math.isfinite(value):
                    raise self.fail(f"{event.value} is too large a number", mark)
                self.put(value, mark)
        elif isinstance(event, yaml.MappingStartEvent | yaml.SequenceStartEvent):
            if self.wants_key():
                raise self.fail("a key must be a word, not a list or mapping", mark)
            if len(self.stack) >= MAX_DEPTH:
                raise self.fail(f"nested deeper than {MAX_DEPTH} levels", mark)
            path = self.path()
            fresh: Any = {} if isinstance(event, yaml.MappingStartEvent) else []
            self.put(fresh, mark)
            self.stack.append((fresh, path))
            self.keys.append(None)
        elif isinstance(event, yaml.MappingEndEvent | yaml.SequenceEndEvent):
            self.stack.pop()
            self.keys.pop()


def _events(text: str) -> Iterator[Any]:
    yield from yaml.parse(text, Loader=_LOADER)


def parse(text: str | bytes, *, file: str | None = None) -> Document:
    """Read one YAML document.

    Raises InputError, with file, line and column, for anything that is not one plain, unambiguous document of at most
    `MAX_BYTES` bytes and `MAX_DEPTH` levels.

    >>> parse("driven: rear\\nabs: no\\nratio: 3.9").data
    {'driven': 'rear', 'abs': 'no', 'ratio': 3.9}
    """
    if len(text) > MAX_BYTES:
        raise InputError(f"longer than {MAX_BYTES} bytes; this is not a case or rule file", file=file)
    if isinstance(text, bytes):
        try:
            text = text.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            spot = _spot_after(error.object[: error.start].decode("utf-8", "replace"))
            raise InputError("not UTF-8 text; save the file as UTF-8", file=file, spot=spot) from error
    if found := _NO_TEXT.search(text):
        sentence = f"the character U+{ord(found[0]):04X} does not belong in a text file; take it out"
        raise InputError(sentence, file=file, spot=_spot_after(text[: found.start()]))
    builder = _Builder(file)
    try:
        for event in _events(text):
            builder.handle(event)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        problem = " ".join(str(part) for part in (error.context, error.problem) if part)
        raise InputError(f"not readable as YAML: {problem}", file=file, spot=_spot(mark) if mark else None) from error
    except yaml.YAMLError as error:
        reason = getattr(error, "reason", None) or str(error).splitlines()[0]
        raise InputError(f"not readable as YAML: {reason}", file=file) from error
    except (UnicodeEncodeError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"not readable as YAML: {error}", file=file) from error
    return Document(builder.root, builder.spots)


class _Dumper(yaml.SafeDumper):
    """Quotes whatever `parse` would read as something other than text, and nothing else."""

    def ignore_aliases(self, data: Any) -> bool:
        del data
        return True

    def increase_indent(self, flow: bool = False, indentless: bool = False) -> None:
        del indentless  # lists are always indented below their key
        super().increase_indent(flow, False)


_Dumper.yaml_implicit_resolvers = {}
_Dumper.add_implicit_resolver("tag:yaml.org,2002:null", re.compile(r"(?:null|Null|NULL|~|)$"), ["n", "N", "~", ""])
_Dumper.add_implicit_resolver(
    "tag:yaml.org,2002:bool", re.compile(r"(?:true|True|TRUE|false|False|FALSE)$"), list("tTfF")
)
_Dumper.add_implicit_resolver("tag:yaml.org,2002:int", re.compile(rf"(?:{_INT.pattern})$"), list("-+0123456789"))
_Dumper.add_implicit_resolver("tag:yaml.org,2002:float", re.compile(rf"(?:{_FLOAT.pattern})$"), list("-+.0123456789"))


# Line ends of YAML 1.1 that PyYAML writes as they are and then folds when it reads them back.
_ODD_BREAKS = re.compile("[\x85\u2028\u2029]")
_NO_BLOCK = re.compile(r"[^\n\x20-\x7e\xa0-\ud7ff\ue000-\ufefe]|[ ]\n|^[ \n]")


def _text(dumper: yaml.SafeDumper, data: str) -> yaml.ScalarNode:
    style = None
    if _ODD_BREAKS.search(data):
        style = '"'
    elif "\n" in data and not _NO_BLOCK.search(data):
        style = "|"
    return dumper.represent_scalar("tag:yaml.org,2002:str", data, style=style)


_Dumper.add_representer(str, _text)


def dump(data: Any) -> str:
    """YAML text that `parse` reads back to equal data: keys and texts, finite numbers, true, false, null.

    Whole numbers of 300 digits and more come back as text; infinity and not-a-number are not readable.

    >>> print(dump({"words": "yes", "ratio": 3.9, "code": "007"}), end="")
    words: yes
    ratio: 3.9
    code: '007'
    """
    return str(yaml.dump(data, Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=110))
