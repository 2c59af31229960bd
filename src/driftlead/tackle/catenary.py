"""The curve an evenly heavy rode hangs in between bow roller and anchor.

Statics of the catenary (any text on mechanics): with a = H/w, the horizontal pull over the
submerged weight per metre, and the vertex on the bottom, y = a (cosh(x/a) - 1) and the length
is a sinh(x/a). Friction of rode on the bottom, its stretch and the stream's push are left out.
"""

import math

from attrs import frozen

from driftlead.errors import UserInputError
from driftlead.tackle.checked import not_negative, positive

STANDARD_GRAVITY_MS2 = 9.80665  # 3rd CGPM, 1901
SEA_WATER_KG_PER_M3 = 1025.0
STEEL_KG_PER_M3 = 7850.0

# With a curve this tight the rode hangs up and down, to less than a micrometre.
_CALM_M = 1e-9


@frozen(kw_only=True)
class Catenary:
    """How a rode lies, from anchor to bow roller.

    ``reach_m`` is the level distance from anchor to bow roller; ``lying_m`` of the rode rest on
    the bottom. ``bow_tension_n`` pulls along the rode at the roller, ``bow_angle_deg`` below the
    horizontal; at the anchor the rode rises by ``anchor_angle_deg``, zero while any of it lies.
    """

    reach_m: float
    lying_m: float
    bow_tension_n: float
    bow_angle_deg: float
    anchor_angle_deg: float


def submerged_weight_n_per_m(
    mass_kg_per_m: float,
    *,
    rode_kg_per_m3: float = STEEL_KG_PER_M3,
    water_kg_per_m3: float = SEA_WATER_KG_PER_M3,
) -> float:
    """Return the weight in water of a metre of rode, in N/m, from its mass in air and density."""
    mass_kg_per_m = not_negative("The mass of a metre of rode in kg", mass_kg_per_m)
    density = positive("The density of the rode in kg/m3", rode_kg_per_m3)
    return mass_kg_per_m * STANDARD_GRAVITY_MS2 * (1.0 - water_kg_per_m3 / density)


def zero_lift_length_m(drop_m: float, pull_n: float, weight_n_per_m: float) -> float:
    """Return the shortest rode in metres that still pulls level at the anchor.

    L_min = sqrt(d (d + 2 H/w)), from length^2 = y (y + 2 a). ``drop_m`` is depth plus bow height,
    ``pull_n`` the horizontal pull, ``weight_n_per_m`` the rode's weight in water.
    """
    drop_m = not_negative("The drop from bow roller to bottom in metres", drop_m)
    pull_n = not_negative("The pull in newtons", pull_n)
    weight_n_per_m = positive("The rode's weight in water in N/m", weight_n_per_m)
    return math.sqrt(drop_m * (drop_m + 2.0 * pull_n / weight_n_per_m))


def hang(rode_m: float, drop_m: float, pull_n: float, weight_n_per_m: float) -> Catenary:
    """Return how ``rode_m`` of rode lies under a horizontal pull.

    Units as for ``zero_lift_length_m``. Rode beyond the zero lift length lies on the bottom;
    rode short of it lifts at the anchor, and then L^2 - d^2 = (2a sinh(x/2a))^2 gives the reach.
    Raises UserInputError if the rode is no longer than the drop, or for a negative measure.
    """
    least_m = zero_lift_length_m(drop_m, pull_n, weight_n_per_m)
    if not_negative("The rode in metres", rode_m) <= drop_m:
        raise UserInputError(
            f"{rode_m} m of rode does not reach the bottom {drop_m} m below the bow roller.",
            remedy="Give a rode longer than depth plus bow height.",
        )
    a_m = pull_n / weight_n_per_m
    if a_m < _CALM_M:
        return Catenary(
            reach_m=rode_m - drop_m,
            lying_m=rode_m - drop_m,
            bow_tension_n=weight_n_per_m * drop_m,
            bow_angle_deg=90.0,
            anchor_angle_deg=0.0,
        )
    if rode_m >= least_m:
        # a acosh(1 + d/a), in the form that does not lose digits where d is small beside a.
        hanging_m = 2.0 * a_m * math.asinh(math.sqrt(drop_m / (2.0 * a_m)))
        return Catenary(
            reach_m=rode_m - least_m + hanging_m,
            lying_m=rode_m - least_m,
            bow_tension_n=pull_n + weight_n_per_m * drop_m,
            bow_angle_deg=math.degrees(math.atan(least_m / a_m)),
            anchor_angle_deg=0.0,
        )
    half = math.asinh(math.sqrt((rode_m - drop_m) * (rode_m + drop_m)) / (2.0 * a_m))
    # d/L is the tanh of the curve's parameter half way between its ends.
    middle = math.atanh(drop_m / rode_m)
    return Catenary(
        reach_m=2.0 * a_m * half,
        lying_m=0.0,
        bow_tension_n=pull_n * math.cosh(middle + half),
        bow_angle_deg=math.degrees(math.atan(math.sinh(middle + half))),
        anchor_angle_deg=math.degrees(math.atan(math.sinh(middle - half))),
    )
