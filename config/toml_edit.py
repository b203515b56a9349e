"""Small changes to the text of a TOML file that leave every other line as it is, comments and all. Pure.

A table is a stretch of lines from its header to the last line that says something. Lines are found and moved here; what
stands in them is read and written by libraries. Every change is read again before it is given out: where the new text
says anything but what was asked for, the layout is one that is left to a person with an editor.
"""

import copy
import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import tomlkit

from config.errors import StatedError

Path = tuple[str, ...]
Step = tuple[str, int]
"""A list of tables and the place in it, from 0: ("probe", 2)."""
_HEADER = re.compile(r"[ \t]*\[.*\][ \t]*(?:#.*)?")
_BY_HAND = "Make this change in site.toml with an editor; clutchwarden check tells whether it is right."


class _Block(NamedTuple):
    """A table in the text: its path, its header's line, and the line behind its last one that says something."""

    path: Path
    begin: int
    end: int


def append_table(text: str, within: Sequence[Step], name: str, table: Mapping[str, Any]) -> str:
    """Add a table at the end of a list of tables, such as `probe`, or ("person", 0) and `contact`.

    A list of tables in the table is written below it. Raises StatedError.
    """
    lines, newline = _lines(text)
    path = (*(step for step, _ in within), name)
    at = _end_of(lines, within, name)
    if not within and at is None:
        at = _content_end(lines, 0, len(lines))
    if at is None:
        raise _unusual()
    written = _written(path, table)
    ahead = [""] if at and any(line.strip() for line in lines[:at]) else []
    changed = [*lines[:at], *ahead, *written, *lines[at:]]

    def expected(document: Any) -> None:
        _table_at(document, within).setdefault(name, []).append(copy.deepcopy(dict(table)))

    return _checked(text, _joined(changed, newline, text), expected)


def remove_table(text: str, within: Sequence[Step], name: str, number: int) -> str:
    """Take a table out of a list, with all tables in it and the comments between its lines. Raises StatedError."""
    lines, newline = _lines(text)
    begin, end = _span(lines, (*within, (name, number)))
    if begin and not lines[begin - 1].strip():
        begin -= 1

    def expected(document: Any) -> None:
        holder = _table_at(document, within)
        del holder[name][number]
        if not holder[name]:
            del holder[name]

    return _checked(text, _joined([*lines[:begin], *lines[end:]], newline, text), expected)


def set_value(text: str, steps: Sequence[Step], key: str, value: Any) -> str:
    """Set a key of one table of a list; None removes the key. Raises StatedError."""
    lines, newline = _lines(text)
    begin, _ = _span(lines, steps)
    end = next(block.end for block in _blocks(lines) if block.begin == begin)
    changed = [*lines[:begin], *_with_value(lines[begin:end], key, value), *lines[end:]]

    def expected(document: Any) -> None:
        table = _table_at(document, steps)
        if value is None:
            table.pop(key, None)
        else:
            table[key] = value

    return _checked(text, _joined(changed, newline, text), expected)


def set_table(text: str, name: str, table: Mapping[str, Any] | None) -> str:
    """Give a single table, such as [quiet], these values; None removes it. Raises StatedError."""
    lines, newline = _lines(text)
    block = next((block for block in _blocks(lines) if block.path == (name,)), None)
    if block is None:
        if table is None:
            changed = lines
        else:
            at = _content_end(lines, 0, len(lines))
            changed = [*lines[:at], *([""] if at else []), *_written((name,), table, single=True), *lines[at:]]
    elif table is None:
        begin = block.begin - 1 if block.begin and not lines[block.begin - 1].strip() else block.begin
        changed = [*lines[:begin], *lines[block.end :]]
    else:
        part = lines[block.begin : block.end]
        for key, value in table.items():
            part = _with_value(part, key, value)
        changed = [*lines[: block.begin], *part, *lines[block.end :]]

    def expected(document: Any) -> None:
        if table is None:
            document.pop(name, None)
        else:
            document[name] = {**document.get(name, {}), **table}

    return _checked(text, _joined(changed, newline, text), expected)


def _with_value(part: list[str], key: str, value: Any) -> list[str]:
    """The lines of one table with a key set; a new key comes last."""
    document = tomlkit.parse("\n".join(part) + "\n")
    table = _innermost(document)
    if value is None:
        if key in table:
            table.remove(key)
        return tomlkit.dumps(document).split("\n")[:-1]
    if key in table:
        table[key] = value
        return tomlkit.dumps(document).split("\n")[:-1]
    return [*part, f"{key} = {_value(value)}"]


def _innermost(document: Any) -> Any:
    """The table whose header is the only one in a text."""
    inside = document
    while len(inside) == 1:
        only = next(iter(inside.values()))
        if isinstance(only, list) and only and isinstance(only[-1], dict):
            inside = only[-1]
        elif isinstance(only, dict):
            inside = only
        else:
            break
    return inside


def _lines(text: str) -> tuple[list[str], str]:
    """The lines and how they end. A file of mixed endings is none that this can keep as it is."""
    newline = "\r\n" if "\r\n" in text else "\n"
    lines = text.removeprefix("\ufeff").split(newline)
    if newline == "\r\n" and any("\n" in line for line in lines):
        raise _unusual()
    if lines[-1] == "":
        lines.pop()
    return lines, newline


def _joined(lines: Sequence[str], newline: str, before: str) -> str:
    mark = "\ufeff" if before.startswith("\ufeff") else ""
    return mark + "".join(f"{line}{newline}" for line in lines)


def _blocks(lines: Sequence[str]) -> list[_Block]:
    """Every table in the order of the text, each up to the next header.

    A line that looks like a header is one where the lines from the last header to here are TOML by themselves: inside
    a list or a text over several lines they are not.
    """
    headers: list[tuple[int, Path]] = []
    for at, line in enumerate(lines):
        path = _path_of(line) if _HEADER.fullmatch(line) else ()
        if path and _is_whole(lines[headers[-1][0] if headers else 0 : at]):
            headers.append((at, path))
    if not headers:
        return []
    ends = [*(at for at, _ in headers[1:]), len(lines)]
    return [_Block(path, at, _content_end(lines, at, end)) for (at, path), end in zip(headers, ends, strict=True)]


def _is_whole(lines: Sequence[str]) -> bool:
    try:
        tomllib.loads("\n".join(lines) + "\n")
    except tomllib.TOMLDecodeError:
        return False
    return True


def _path_of(header: str) -> Path:
    try:
        found: Any = tomllib.loads(header)
    except tomllib.TOMLDecodeError:
        return ()
    path: list[str] = []
    while isinstance(found, dict) and found:
        step, inside = next(iter(found.items()))
        path.append(step)
        found = inside[0] if isinstance(inside, list) and inside else inside
    return tuple(path)


def _content_end(lines: Sequence[str], begin: int, end: int) -> int:
    """Behind the last line that says something, and the comments that a blank line parts from what follows."""
    at = end
    while at > begin and (not lines[at - 1].strip() or lines[at - 1].lstrip().startswith("#")):
        at -= 1
    parted = next((number for number in range(at, end) if not lines[number].strip()), None)
    if parted is None:
        return end if end == len(lines) else at
    return parted if at > begin else at


def _span(lines: Sequence[str], steps: Sequence[Step]) -> tuple[int, int]:
    """From the header of one table of a list to the end of the last table in it. Raises StatedError."""
    blocks = _blocks(lines)
    first, last = 0, len(blocks)
    path: Path = ()
    for name, number in steps:
        path = (*path, name)
        heads = [at for at in range(first, last) if blocks[at].path == path]
        if number >= len(heads):
            raise _unusual()
        first = heads[number]
        behind = (at for at in range(first + 1, last) if not _is_inside(blocks[at].path, path))
        last = next(behind, last)
    return blocks[first].begin, blocks[last - 1].end


def _is_inside(path: Path, outer: Path) -> bool:
    return len(path) > len(outer) and path[: len(outer)] == outer


def _end_of(lines: Sequence[str], within: Sequence[Step], name: str) -> int | None:
    """Where a further table of a list belongs: behind the last one, or else behind the table that it is in."""
    blocks = _blocks(lines)
    if within:
        return _span(lines, within)[1]
    return max((block.end for block in blocks if block.path[0] == name), default=None)


def _written(path: Path, table: Mapping[str, Any], *, single: bool = False) -> list[str]:
    lines = [f"[{path[0]}]" if single else f"[[{'.'.join(path)}]]"]
    inside = []
    for key, value in table.items():
        if isinstance(value, list) and value and all(isinstance(each, dict) for each in value):
            inside += [line for each in value for line in ("", *_written((*path, key), each))]
        else:
            lines.append(f"{key} = {_value(value)}")
    return [*lines, *inside]


def _value(value: Any) -> str:
    return str(tomlkit.item(value).as_string())


def _table_at(document: Any, steps: Sequence[Step]) -> Any:
    for name, number in steps:
        document = document[name][number]
    return document


def _checked(before: str, after: str, change: Callable[[Any], None]) -> str:
    """Give the new text where it says what the old one said with this change, and nothing else."""
    try:
        wanted = tomllib.loads(before.removeprefix("\ufeff"))
        change(wanted)
        says = tomllib.loads(after.removeprefix("\ufeff"))
    except (tomllib.TOMLDecodeError, KeyError, IndexError, AttributeError, TypeError):
        raise _unusual() from None
    if says != wanted:
        raise _unusual()
    return after


def _unusual() -> StatedError:
    return StatedError("site.toml is laid out in a way that a page cannot change without harm", _BY_HAND)
