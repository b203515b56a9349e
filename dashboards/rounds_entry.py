"""What is sent of a box, read into an entry: as JSON from a page with scripts, or from its plain form. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from enum import StrEnum
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, ConfigDict, Field

from daemon.clutches.egg_rules import stated_as
from daemon.clutches.eggs import EggState, Reason, Stated
from daemon.clutches.errors import RegisterError
from daemon.rounds.entries import LONGEST_LINE, LONGEST_REMARK
from daemon.rounds.values import LID_WORDS, MEDIUM_WORDS, WHERE_WORDS, EggsSeen, Entry, Finding, Lid, Medium, Where
from daemon.rounds.values import Refused as NotStored

_MOST_EGGS = 300
_LONGEST_ID = 36
_MOST_DIGITS = 12
_Line = Annotated[str, Field(max_length=LONGEST_LINE + 1)]
_Remark = Annotated[str, Field(max_length=LONGEST_REMARK + 1)]
_Id = Annotated[str, Field(max_length=_LONGEST_ID)]
_Mark = Annotated[str, Field(max_length=20)]
Given = TypeVar("Given", bound=StrEnum)


class EggsSent(BaseModel):
    """Some eggs of the box: which, by mark or number, or how many; and what they are."""

    model_config = ConfigDict(extra="forbid")
    state: EggState
    reason: Reason | None = None
    note: _Line = ""
    which: Annotated[list[_Mark], Field(max_length=_MOST_EGGS)] | Annotated[int, Field(ge=0, le=100_000)]

    def seen(self) -> EggsSeen:
        """Give it as the round takes it."""
        which = self.which if isinstance(self.which, int) else tuple(self.which)
        return EggsSeen(Stated(self.state, self.reason, self.note), which)


class EntrySent(BaseModel):
    """One entry as a browser keeps and sends it. `clutch_id`: what the page showed, 0 for an empty box.

    `who` made it; `seen_by` is who saw it, where somebody else takes it over. `waited`: it was made without a
    connection, so that whoever made it may be gone when it arrives.
    """

    model_config = ConfigDict(extra="forbid")
    id: _Id
    round: Annotated[int, Field(ge=0, lt=10**12)]
    box: Annotated[str, Field(max_length=200)]
    who: _Line
    seen_by: _Line = ""
    waited: bool = False
    device: Annotated[str, Field(max_length=64)] = ""
    seq: Annotated[int, Field(ge=0, lt=10**15)] = 0
    made_ms: Annotated[int, Field(ge=0, lt=10**14)] | None = None
    clutch_id: Annotated[int, Field(ge=0, lt=10**12)] | None = None
    medium: Medium | None = None
    lid: Lid | None = None
    wiped: bool = False
    water_ml: Annotated[float, Field(allow_inf_nan=False)] | None = None
    water_where: Where | None = None
    looked_at_eggs: bool = False
    eggs: Annotated[list[EggsSent], Field(max_length=_MOST_EGGS)] = []
    treated: _Line = ""
    remark: _Remark = ""
    skipped: _Line = ""
    all_well: bool = False
    through_lid: bool = False
    trained_handler: bool = False
    corrects: _Id = ""

    def entry(self) -> Entry:
        """Give it as the round takes it. Whoever takes over what another one saw says so in the remark."""
        remark = self.remark
        if self.seen_by and not (self.corrects and not self._says_anything()):
            remark = f"{remark} (Seen by {self.seen_by}, sent by {self.who}.)".strip()
        return Entry(
            entry_id=self.id,
            box=self.box,
            who=self.who,
            device=self.device,
            seq=self.seq,
            made_ms=self.made_ms,
            medium=self.medium,
            lid=self.lid,
            wiped=self.wiped,
            water_ml=self.water_ml,
            water_where=self.water_where,
            looked_at_eggs=self.looked_at_eggs,
            eggs=tuple(each.seen() for each in self.eggs),
            treated=self.treated,
            remark=remark,
            skipped=self.skipped,
            all_well=self.all_well,
            through_lid=self.through_lid,
            trained_handler=self.trained_handler,
            corrects=self.corrects,
        )

    def _says_anything(self) -> bool:
        given = self.model_dump(
            exclude={"id", "round", "box", "who", "seen_by", "waited", "device", "seq", "made_ms", "clutch_id"}
        )
        return any(value for name, value in given.items() if name not in ("corrects", "trained_handler"))


def entry_of_form(
    form: Mapping[str, Sequence[str]], box: str, who: str, *, through_lid: bool
) -> Entry | dict[str, str]:
    """Read the plain form of a box; gives what is wrong with its fields where something is.

    `through_lid`: the box is not to be opened, so that all well is what is seen through its lid.
    """

    def one(name: str) -> str:
        return form.get(name, [""])[-1].strip()

    made = Entry(entry_id=one("entry_id"), box=box, who=who)
    if one("take_back"):
        return replace(made, corrects=one("take_back"))
    is_well = one("press") == "all-well"
    wrong: dict[str, str] = {}
    water_ml = _number(one("water_ml"))
    if one("water_ml") and water_ml is None:
        wrong["water_ml"] = f"{one('water_ml')[:20]!r} is no number of ml. Write it in digits, such as 40."
    eggs = _eggs_of_form(form, wrong)
    if wrong:
        return wrong
    return replace(
        made,
        all_well=is_well,
        through_lid=is_well and through_lid,
        medium=_one_of(Medium, one("medium")),
        lid=_one_of(Lid, one("lid")),
        wiped=bool(one("wiped")),
        water_ml=water_ml or None,
        water_where=_one_of(Where, one("water_where")) if water_ml else None,
        looked_at_eggs=bool(one("looked_at_eggs")),
        eggs=eggs,
        treated=one("treated"),
        remark=one("remark"),
        skipped=one("skipped"),
        trained_handler=bool(one("trained_handler")),
    )


def clutch_of_form(form: Mapping[str, Sequence[str]]) -> int | None:
    """Give the clutch that the page of a form showed, 0 for an empty box; None where the form does not say."""
    text = form.get("clutch_id", [""])[-1]
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= _MOST_DIGITS else None


def _eggs_of_form(form: Mapping[str, Sequence[str]], wrong: dict[str, str]) -> tuple[EggsSeen, ...]:
    named = tuple(each for each in form.get("egg", ()) if each)
    count, state = form.get("egg_count", [""])[-1].strip(), form.get("egg_state", [""])[-1]
    if not state:
        if named or count:
            wrong["eggs"] = "Say what these eggs are: on watch, sound, removed, pipped or hatched."
        return ()
    if named and count:
        wrong["eggs"] = "Say which eggs, or how many of them, not both."
        return ()
    if not named and not (count.isascii() and count.isdecimal()):
        wrong["eggs"] = "Say which eggs, or write how many of them in digits."
        return ()
    reason = form.get("egg_reason", [""])[-1] if state == EggState.REMOVED else ""
    try:
        stated = stated_as(f"{state}:{reason}" if reason else state, form.get("egg_note", [""])[-1])
    except RegisterError as error:
        wrong["eggs"] = f"{error.reason}. {error.hint}"
        return ()
    return (EggsSeen(stated, named or int(count[:6])),)


def _number(text: str) -> float | None:
    try:
        return float(text.replace(",", ".")) if text else None
    except ValueError:
        return None


def _one_of(kind: type[Given], text: str) -> Given | None:
    return kind(text) if text in set(kind) else None


def refused_fields(refused: NotStored) -> dict[str, str]:
    """Give what the form shows beside the field that it is about; beside none: of the whole."""
    return {refused.field: f"{refused.reason[:1].upper()}{refused.reason[1:]}. {refused.hint}"}


def entry_json(finding: Finding, *, is_corrected: bool) -> dict[str, Any]:
    """Give an entry on record as the script of the page reads it; what is not stated is left out."""
    entry = finding.entry
    said = {
        name: value
        for name, value in asdict(replace(entry, eggs=())).items()
        if value and name not in ("entry_id", "box", "device", "made_ms", "seq", "eggs")
    }
    eggs = [
        {
            "state": done.seen.stated.state,
            "reason": done.seen.stated.reason,
            "which": done.seen.which,
            "names": done.names,
            "refused": done.refused,
        }
        for done in finding.eggs
    ]
    words = entry_words(finding)
    return {"id": entry.entry_id, **said, "eggs": eggs, "words": words, "at_ms": finding.at_ms, "gone": is_corrected}


def entry_words(finding: Finding) -> str:
    """Say in a line what an entry states."""
    entry = finding.entry
    if entry.skipped:
        return f"left out: {entry.skipped}"
    water = "" if entry.water_ml is None else f"water {entry.water_ml:g} ml"
    if entry.water_where is not None:
        water += f" {WHERE_WORDS[entry.water_where]}"
    parts = [
        "all well" if entry.all_well else "",
        "through the lid only" if entry.through_lid else "",
        "" if entry.medium is None else f"medium {MEDIUM_WORDS[entry.medium]}",
        "" if entry.lid is None else f"lid {LID_WORDS[entry.lid]}",
        "lid wiped" if entry.wiped else "",
        water,
        "eggs looked at, nothing found" if entry.looked_at_eggs else "",
        *(eggs_words(done.seen, done.names, done.refused) for done in finding.eggs),
        f"treated: {entry.treated}" if entry.treated else "",
        entry.remark,
    ]
    return "; ".join(part for part in parts if part) or "an entry was taken back"


def eggs_words(seen: EggsSeen, names: Sequence[str], refused: str) -> str:
    """Say what was said of eggs."""
    which = names or (() if isinstance(seen.which, int) else seen.which)
    many = ", ".join(which) if which else f"{seen.which} of them"
    words = f"egg{'' if len(which) == 1 else 's'} {many}: {seen.stated.words}"
    return f"{words} (not taken: {refused})" if refused else words
