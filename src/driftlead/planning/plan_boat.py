"""The boat and her rode as the plan reckons with them, with nothing left open."""

from attrs import frozen

from driftlead.errors import UserInputError
from driftlead.planning.plan_settings import PlanSettings
from driftlead.tackle.catenary import submerged_weight_n_per_m
from driftlead.tackle.chain import chain_of
from driftlead.tackle.checked import positive
from driftlead.tackle.design_load import Hull
from driftlead.tackle.mixed_rode import RodePart, total_length_m
from driftlead.tackle.rope import rope_density_kg_per_m3, rope_weight_n_per_m
from driftlead.tackle.snubber import Snubber
from driftlead.tackle.wind_load import usual_drag_area_m2


@frozen(kw_only=True)
class PlanBoat:
    """The boat's measures in SI. ``rode`` is all of it, the chain at the anchor first."""

    name: str
    length_m: float | None
    beam_m: float | None
    hull: Hull
    draught_m: float | None
    bow_height_m: float
    clearance_m: float
    drag_area_m2: float
    chain_m: float
    rode: tuple[RodePart, ...]
    snubber: Snubber | None

    @property
    def aboard_m(self) -> float:
        """All the rode there is, in metres."""
        return total_length_m(self.rode)


def plan_boat(settings: PlanSettings) -> PlanBoat:
    """Make it of the settings. Raises UserInputError for what is missing, all of it at once."""
    missing = [
        f"{what} ({key})"
        for what, key, known in (
            ("her length", "length", (settings.length_m, settings.drag_area_m2)),
            ("the height of the bow roller", "bow-height", (settings.bow_height_m,)),
            ("the rode aboard", "chain and rope", (settings.chain_m, settings.rope_m)),
        )
        if all(value is None for value in known)
    ]
    if missing:
        raise UserInputError(
            f"Not known: {', '.join(missing)}.",
            remedy="Give them as options, such as --length 9.6m --bow-height 1.1m --chain 45m "
            "--chain-size 8mm, or write them in [boat] and [tackle] of the configuration.",
        )
    return PlanBoat(
        name=settings.name,
        length_m=settings.length_m,
        beam_m=settings.beam_m,
        hull=settings.hull,
        draught_m=settings.draught_m,
        bow_height_m=settings.bow_height_m or 0.0,
        clearance_m=settings.clearance_m,
        drag_area_m2=_drag_area_m2(settings),
        chain_m=settings.chain_m or 0.0,
        rode=_rode(settings),
        snubber=_snubber(settings),
    )


def _drag_area_m2(settings: PlanSettings) -> float:
    if settings.drag_area_m2 is not None:
        return positive("The drag area in m2", settings.drag_area_m2)
    area_m2 = usual_drag_area_m2(settings.length_m or 0.0)
    if area_m2 is None:
        raise UserInputError(
            "There is no usual drag area for a boat of more than 60 ft.",
            remedy="Give her drag area, drag coefficient times area, in m2 (drag-area).",
        )
    return area_m2


def _rode(settings: PlanSettings) -> tuple[RodePart, ...]:
    parts = []
    if settings.chain_m:
        parts.append(
            RodePart(length_m=settings.chain_m, weight_n_per_m=_chain_weight_n_per_m(settings))
        )
    if settings.rope_m:
        parts.append(
            RodePart(length_m=settings.rope_m, weight_n_per_m=_rope_weight_n_per_m(settings))
        )
    if not parts:
        raise UserInputError(
            "There is no rode aboard at all.", remedy="Give the chain or the rope there is."
        )
    return tuple(parts)


def _chain_weight_n_per_m(settings: PlanSettings) -> float:
    if settings.chain_kg_per_m is not None:
        mass_kg_per_m = positive("The mass of a metre of chain in kg", settings.chain_kg_per_m)
        return submerged_weight_n_per_m(mass_kg_per_m)
    if settings.chain_size_m is None:
        raise UserInputError(
            "Not known: what the chain weighs.",
            remedy="Give the diameter of its wire, such as --chain-size 8mm, or its mass as "
            "--chain-kg-per-m 1.4.",
        )
    return submerged_weight_n_per_m(chain_of(settings.chain_size_m).mass_kg_per_m)


def _rope_weight_n_per_m(settings: PlanSettings) -> float:
    if settings.rope_kg_per_m is not None:
        mass_kg_per_m = positive("The mass of a metre of rope in kg", settings.rope_kg_per_m)
        density = rope_density_kg_per_m3(settings.rope_kind)
        return submerged_weight_n_per_m(mass_kg_per_m, rode_kg_per_m3=density)
    if settings.rope_size_m is None:
        # Rope of unknown size counts as weightless, which is nearly true and never too hopeful.
        return 0.0
    return rope_weight_n_per_m(settings.rope_kind, settings.rope_size_m)


def _snubber(settings: PlanSettings) -> Snubber | None:
    if not settings.snubber_m:
        return None
    if settings.snubber_size_m is None:
        raise UserInputError(
            "Not known: how thick the snubber is.",
            remedy="Give its diameter, such as --snubber-size 12mm.",
        )
    return Snubber(length_m=settings.snubber_m, diameter_m=settings.snubber_size_m)
