"""Pure: what whoever opens a box has to mind, each with where it comes from."""

from dataclasses import dataclass

from config.species import SpeciesProfile

PRACTICE = "common practice, no source"
VENOMOUS = "Venomous: trained handlers only"
"""Without a full stop, as it stands in the text of an alert too."""
_WASH = (
    "Wash your hands with soap afterwards: any reptile, egg, box or medium may carry Salmonella. Keep them out of "
    "kitchens, and away from small children and from people whose health is weak."
)
_WASH_SOURCE = "recommendations of the American Academy of Pediatrics (Pediatrics); poster of the US CDC; Swedish SVA"
_MAINS = (
    "Mains heat in damp air: only behind a ground-fault breaker (RCD or GFCI) whose test button has been tried. "
    "Dry hands before you touch a plug."
)
_MAINS_SOURCE = "electrical safety pages of the University of Nebraska-Lincoln, of ESFI and of Oregon OSHA"
_DUST = "Disinfectant and powder: by their labels and by what a veterinarian says. Do not breathe the dust."
_VERMICULITE = "Dampen vermiculite before you stir it, and air the room: do not breathe its dust."
_VERMICULITE_SOURCE = "US EPA, release of 22 August 2000 on vermiculite in garden products"
_PROTOCOL = (
    "Hatchlings are to be taken for venomous from the start. Work by your written protocol and never alone; nothing "
    "here asks you to open this box."
)
_PROTOCOL_SOURCE = "no universal standard exists, each keeper writes one: Krebs and Krupp, Toxinology series, Springer"
_PROTECTED = "Protected species: local law says what may be kept, bred, moved and passed on."


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution. `first`: to be shown before everything else on the page."""

    text: str
    source: str
    first: bool = False


def cautions(profile: SpeciesProfile | None, *, venomous: bool, protected: str = "") -> tuple[Caution, ...]:
    """Give what to mind with a box, the most dangerous first. `protected`: the keeper's own words on the law."""
    found: list[Caution] = []
    if venomous:
        found += [
            Caution(f"{VENOMOUS}.", "as the clutch or the profile of its species says", first=True),
            Caution(_PROTOCOL, _PROTOCOL_SOURCE, first=True),
        ]
    elif profile is not None and profile.caution:
        found.append(Caution(profile.caution, f"profile of {profile.scientific_name}", first=True))
    found += [
        Caution(_WASH, _WASH_SOURCE),
        Caution(_MAINS, _MAINS_SOURCE),
        Caution(_DUST, PRACTICE),
        Caution(_VERMICULITE, _VERMICULITE_SOURCE),
    ]
    law = f"{_PROTECTED} Noted for this clutch: {protected.strip()}" if protected.strip() else _PROTECTED
    return (*found, Caution(law, "the law at your place"))
