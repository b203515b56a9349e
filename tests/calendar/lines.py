"""The lines of a calendar, checked by hand against RFC 5545: 3.1 (lines, folding), 3.3.11 (text), 3.6 (components)."""

import re

LONGEST_OCTETS = 75
_LINE = re.compile(r"([A-Z0-9-]+)((?:;[A-Z0-9-]+=[^;:\",]*)*):(.*)")
_STAMP = re.compile(r"\d{8}T\d{6}Z")
_DATE = re.compile(r"\d{8}")
_ESCAPE = re.compile(r"\\(.)")
_TEXTS = {"SUMMARY", "DESCRIPTION", "NAME", "UID", "CATEGORIES"}
_ONCE = {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "SEQUENCE", "LAST-MODIFIED", "STATUS", "CLASS", "TRANSP"}


def events_of(body: bytes) -> list[dict[str, str]]:
    """Give the events, each as its properties with their text unescaped; parameters stand behind the name.

    Fails where the bytes are not what the RFC says.
    """
    assert body.endswith(b"\r\n")
    assert b"\n" not in body.replace(b"\r\n", b""), "a bare line feed"
    assert b"\r" not in body.replace(b"\r\n", b""), "a bare carriage return"
    raw = body[:-2].split(b"\r\n")
    for line in raw:
        assert line, "an empty line"
        assert len(line) <= LONGEST_OCTETS, line
        line.decode("utf-8")  # no character is torn in two
        assert not any((octet < 0x20 and octet != 0x09) or octet == 0x7F for octet in line), line
    lines: list[str] = []
    for line in raw:
        if line[:1] in (b" ", b"\t"):
            assert lines, "the first line is folded"
            lines[-1] += line[1:].decode("utf-8")
        else:
            lines.append(line.decode("utf-8"))
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-1] == "END:VCALENDAR"
    assert lines.count("VERSION:2.0") == 1
    assert sum(line.startswith("PRODID:") for line in lines) == 1
    return _components(lines)


def _components(lines: list[str]) -> list[dict[str, str]]:
    events: list[dict[str, str]] = []
    opened: list[str] = []
    count = 0
    for line in lines:
        found = _LINE.fullmatch(line)
        assert found, line
        name, parameters, value = found.groups()
        if name == "BEGIN":
            opened.append(value)
            count += len(opened) > 1
            if value == "VEVENT":
                events.append({})
        elif name == "END":
            assert opened.pop() == value
        elif opened[-1] == "VEVENT":
            assert name not in events[-1] or name not in _ONCE, line
            events[-1][name] = _value(name, value)
            events[-1][f"{name};"] = parameters
    assert not opened
    assert count, "a calendar has a component"
    for event in events:
        _check(event)
    return events


def _check(event: dict[str, str]) -> None:
    assert event["UID"]
    for name in ("DTSTAMP", "LAST-MODIFIED", "CREATED"):
        assert _STAMP.fullmatch(event[name]), event[name]
    assert event["SEQUENCE"].isdecimal()
    shape = _DATE if event["DTSTART;"] == ";VALUE=DATE" else _STAMP
    assert shape.fullmatch(event["DTSTART"])
    if "DTEND" in event:
        assert event["DTEND;"] == event["DTSTART;"]
        assert shape.fullmatch(event["DTEND"])
        assert event["DTEND"] > event["DTSTART"]
    assert event["STATUS"] in ("CONFIRMED", "TENTATIVE", "CANCELLED")


def _value(name: str, value: str) -> str:
    if name not in _TEXTS:
        return value
    assert not re.search(r"(?<!\\)(?:\\\\)*[;,]", value), f"not escaped: {value}"
    assert all(each in "\\;,nN" for each in _ESCAPE.findall(value)), value
    return _ESCAPE.sub(lambda found: "\n" if found[1] in "nN" else found[1], value)
