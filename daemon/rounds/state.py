"""Pure: what all entries for one box come to, whatever the order in which they arrived and however often."""

from collections.abc import Iterable, Mapping, Sequence

from daemon.rounds.entries import says_something, stated
from daemon.rounds.values import (
    LID_WORDS,
    MEDIUM_WORDS,
    BoxState,
    Disagreement,
    Entry,
    Finding,
    Remark,
    Water,
)


def in_order(findings: Iterable[Finding]) -> list[Finding]:
    """Give entries in the order in which they were made.

    By the moment that counts; the entries of one device stay in the order of its own numbers, also where its clock was
    set back between two of them. A correction stands where the entry stood that it corrects, if that is on record.
    """
    once = _once(findings)
    latest_ms: dict[str, int] = {}
    moments: dict[str, int] = {}
    for each in sorted(once.values(), key=lambda one: (one.entry.seq, one.at_ms, one.entry.entry_id)):
        device, at_ms = each.entry.device, each.at_ms
        if device and each.entry.corrects not in once:
            at_ms = latest_ms[device] = max(at_ms, latest_ms.get(device, at_ms))
        moments[each.entry.entry_id] = at_ms

    def place(each: Finding) -> tuple[int, str, int, str]:
        entry = each.entry
        return moments[_first_of(once, each).entry.entry_id], entry.device, entry.seq, entry.entry_id

    return sorted(once.values(), key=place)


def corrected_ids(findings: Iterable[Finding]) -> frozenset[str]:
    """Give the ids of the entries that no longer count. Of several that correct one and the same, the last counts."""
    once = _once(findings)
    last: dict[str, str] = {}
    gone: set[str] = set()
    for each in sorted(once.values(), key=_made):
        target = each.entry.corrects
        if not target or target == each.entry.entry_id:
            continue
        if target in last:
            gone.add(last[target])
        last[target] = each.entry.entry_id
        if target in once:
            gone.add(target)
    return frozenset(gone)


def _once(findings: Iterable[Finding]) -> dict[str, Finding]:
    return {each.entry.entry_id: each for each in findings}


def _made(each: Finding) -> tuple[int, str, int, str]:
    """When it was made, as far as that can be true; a correction counts from earlier."""
    entry = each.entry
    made_ms = each.received_ms if entry.made_ms is None else min(entry.made_ms, each.received_ms)
    return made_ms, entry.device, entry.seq, entry.entry_id


def _first_of(once: Mapping[str, Finding], each: Finding) -> Finding:
    """Give the entry that this one corrects in the end, through all corrections between; itself where there is none."""
    met: set[str] = set()
    while each.entry.corrects in once and each.entry.entry_id not in met:
        met.add(each.entry.entry_id)
        each = once[each.entry.corrects]
    return each


def state_of(box: str, findings: Iterable[Finding]) -> BoxState:
    """Give what stands of a box in one round."""
    ordered = in_order(findings)
    corrected = corrected_ids(ordered)
    counting = [each for each in ordered if each.entry.entry_id not in corrected]
    seen = [(each, stated(each.entry)) for each in counting]
    looked = [(each, entry) for each, entry in seen if not entry.skipped.strip() and _says(entry)]
    skipped = next((entry.skipped.strip() for _, entry in reversed(seen) if entry.skipped.strip()), "")
    newest = [each for each, _ in looked] or [each for each, entry in seen if entry.skipped.strip()]
    return BoxState(
        box=box,
        findings=tuple(ordered),
        corrected=corrected,
        medium=next((entry.medium for _, entry in reversed(looked) if entry.medium is not None), None),
        lid=next((entry.lid for _, entry in reversed(looked) if entry.lid is not None), None),
        wiped=any(entry.wiped for _, entry in looked),
        water=tuple(Water(entry.water_ml, entry.water_where, entry.who) for _, entry in looked if entry.water_ml),
        looked_at_eggs=any(entry.looked_at_eggs or entry.eggs for _, entry in looked),
        eggs=tuple(done for each, _ in looked for done in each.eggs),
        treated=tuple(entry.treated.strip() for _, entry in looked if entry.treated.strip()),
        remarks=tuple(Remark(e.remark.strip(), e.who, each.at_ms) for each, e in seen if e.remark.strip()),
        skipped="" if looked else skipped,
        all_well=bool(looked) and all(entry.all_well for _, entry in looked),
        through_lid_only=bool(looked) and all(entry.through_lid for _, entry in looked),
        disagreements=_disagreements(looked),
        at_ms=_first_of(_once(ordered), newest[-1]).at_ms if newest else 0,
        who=tuple(dict.fromkeys(entry.who for _, entry in seen)),
        late=any(each.late for each in counting),
    )


def says_anything(findings: Sequence[Finding]) -> bool:
    """Tell whether anything stands of a box: what was seen, or why it was left out. As `at_ms` of its state does."""
    corrected = corrected_ids(findings)
    counting = (each.entry for each in findings if each.entry.entry_id not in corrected)
    return any(entry.all_well or entry.skipped.strip() or _says(entry) for entry in counting)


def _says(entry: Entry) -> bool:
    # Whoever writes a remark has looked at the box.
    return says_something(entry) or bool(entry.remark.strip())


def _disagreements(looked: Sequence[tuple[Finding, Entry]]) -> tuple[Disagreement, ...]:
    """Where two people saw the newest two things differently, and nobody did anything about it in between."""
    found = []
    for what in ("medium", "lid"):
        said: list[tuple[str, str]] = []
        for _, entry in looked:
            # What was done by the time of an entry explains what the next one sees.
            if (entry.water_ml and what == "medium") or (entry.wiped and what == "lid"):
                said.clear()
                continue
            if what == "medium" and entry.medium is not None:
                said.append((MEDIUM_WORDS[entry.medium], entry.who))
            if what == "lid" and entry.lid is not None:
                said.append((LID_WORDS[entry.lid], entry.who))
        if len(said) > 1:
            (earlier, first), (later, second) = said[-2:]
            if earlier != later and first != second:
                found.append(Disagreement(what, earlier, first, later, second))
    return tuple(found)
