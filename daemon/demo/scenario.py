"""The invented site and its clutches, written into a folder as a keeper would have it."""

from dataclasses import dataclass
from pathlib import Path

from daemon.clutches.register import NewClutch

DAY_MS = 86_400_000
HISTORY_DAYS = 40
HISTORY_EVERY_S = 300.0
SEED = 20_260_601
SET_POINTS_C = {"north": 28.3, "warm": 31.2}
FAILING_INCUBATOR = "warm"


@dataclass(frozen=True, slots=True)
class _Invented:
    label: str
    species_id: str
    place: str
    eggs: int
    set_up_days_ago: float


CLUTCHES = (
    _Invented("Juniper", "elaphe-taeniura", "north/top/N1", 9, 39.4),
    _Invented("Bracken", "elaphe-carinata", "north/top/N2", 11, 33.1),
    _Invented("Sorrel", "pituophis-melanoleucus-sayi", "north/top/N3", 8, 36.6),
    _Invented("Clover", "pantherophis-guttatus", "north/bottom/N4", 17, 21.8),
    _Invented("Tansy", "elaphe-taeniura", "north/bottom/N5", 7, 12.3),
    _Invented("Saffron", "python-regius", "warm/shelf/W1", 6, 38.2),
    _Invented("Ginger", "morelia-spilota", "warm/shelf/W2", 18, 27.5),
    _Invented("Mallow", "centrochelys-sulcata", "warm/shelf/W3", 14, 39.8),
    _Invented("Thistle", "crocodylus-palustris", "warm/shelf/W4", 5, 16.7),
)


def write_site(folder: Path, page_port: int, broker_port: int) -> None:
    """Write `site.toml` and `settings.toml` of the invented site into a folder."""
    text = (Path(__file__).parent / "site.toml").read_text(encoding="utf-8")
    (folder / "site.toml").write_text(text.replace("PORT", str(page_port)), encoding="utf-8")
    (folder / "settings.toml").write_text(
        f"[broker]\nembedded = true\nprotocol = '3.1.1'\nport = {broker_port}\n\n[web]\nport = {page_port}\n",
        encoding="utf-8",
    )


def invented_clutches(now_ms: int) -> list[NewClutch]:
    """The clutches of the scenario, as they would have been entered."""
    found = []
    for one in CLUTCHES:
        set_up_ms = now_ms - int(one.set_up_days_ago * DAY_MS)
        laid_to_ms = set_up_ms - DAY_MS // 3
        found.append(
            NewClutch(
                label=one.label,
                species_id=one.species_id,
                population=None,
                laid_from_ms=laid_to_ms - DAY_MS,
                laid_to_ms=laid_to_ms,
                egg_count=one.eggs,
                note="invented",
                place=one.place,
                from_ms=set_up_ms,
            )
        )
    return found
