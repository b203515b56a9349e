"""Clutches of a site, from its journal, as `clutchwarden hatch SITE` shows them; also beside a running daemon."""

from config.plain import nearest
from daemon.clutches import register
from daemon.clutches.register import Clutch
from daemon.commands.hatch_text import Answer
from daemon.commands.site_folder import SiteFolder, fail
from daemon.development.basis import development_basis
from daemon.heat_now import HeatReader
from daemon.overview import ClutchNow
from daemon.overview_clutch import clutch_now
from daemon.overview_past import Past
from daemon.overview_past_reader import PastReader
from daemon.thermometers import AirChannels


def answers_of(whole: SiteFolder, label: str | None, now_ms: int) -> list[Answer]:
    """What is known of each clutch that was set up by now. Raises typer.Exit where there is none of that label."""
    if not whole.journal_path.exists():
        raise fail("This site has no journal yet, and so no clutch. Add one with: clutchwarden clutch add")
    with whole.journal() as journal, journal.read() as conn:
        lying = [clutch for clutch in register.clutches(conn) if clutch.placements[0].from_ms <= now_ms]
        wanted = [clutch for clutch in lying if label in {None, clutch.label}]
        if not wanted:
            hint = nearest(label, [clutch.label for clutch in lying]) if label and lying else ""
            what = "no clutch lies here" if label is None else f"no clutch {label!r} lies here"
            raise fail(f"At this moment {what}. {hint}".rstrip())
        air = AirChannels(whole.site)
        air.load(conn)
        bridge_ms = int(whole.settings.heat.longest_bridge_s * 1000)
        reader = HeatReader(conn, whole.site, whole.profiles, air, bridge_ms, now_ms)
        pasts = PastReader(whole.site, whole.profiles, bridge_ms, None).read(conn, wanted, reader, air, now_ms)
        return [_answer(whole, clutch, reader, pasts.get(clutch.clutch_id, Past()), now_ms) for clutch in wanted]


def _answer(whole: SiteFolder, clutch: Clutch, reader: HeatReader, past: Past, now_ms: int) -> Answer:
    profile = whole.profiles.get(clutch.species_id)
    now = clutch_now(clutch, profile, reader.heat_of(clutch), now_ms, past)
    return Answer(
        name=f"{now.species_name} ({profile.scientific_name})" if profile else f"{now.species_name} (no profile)",
        basis=development_basis(profile) if profile else None,
        laid_ms=(now.laid_from_ms, now.laid_to_ms),
        heat_ch=_heat_ch(now),
        share=now.share,
        window=now.window,
        caution=now.caution,
        zone=whole.zone,
        now_ms=now_ms,
        label=now.label,
        stage=now.stage,
        sex=now.sex,
        exposure_limits=now.exposure_limits,
    )


def _heat_ch(now: ClutchNow) -> tuple[float, float, float] | None:
    found = (now.degree_hours_low_ch, now.degree_hours_ch, now.degree_hours_high_ch)
    low_ch, best_ch, high_ch = found
    return None if low_ch is None or best_ch is None or high_ch is None else (low_ch, best_ch, high_ch)
