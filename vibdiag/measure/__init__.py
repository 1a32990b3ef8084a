"""What a measurement in the bay means: runout, hub or wheel, tyre or rim, balance, brake disc, fasteners.

Pure arithmetic: numpy, and scipy's assignment solver where tyres are paired with rims. No case, no rules, no
files. Every result carries a 95 % interval, and every sign (`within`, `over`, `cannot-tell`) follows from it.
"""

from vibdiag.measure.brake_disc import (
    BrakeDisc,
    MoreLikelyFelt,
    ThicknessVariation,
    brake_disc,
    thickness_readings,
    thickness_variation,
)
from vibdiag.measure.clock import (
    Turning,
    clock_hour,
    clock_text,
)
from vibdiag.measure.fasteners import (
    RE_TORQUE_CAUTION,
    FastenerTorque,
    fastener_torque,
    tightening_sequence,
)
from vibdiag.measure.force_speed import (
    TYRE_N_PER_MM,
    AtSpeed,
    ForceOverSpeed,
    force_over_speed,
)
from vibdiag.measure.force_variation import (
    ForceVariation,
    StatedForceVariation,
    force_readings,
    force_variation,
    stated_force_variation,
)
from vibdiag.measure.harmonics import (
    Drift,
    Harmonic,
    HarmonicFit,
    LocalRemainder,
    fit_harmonics,
)
from vibdiag.measure.hub_or_wheel import (
    HubOrWheel,
    hub_or_wheel,
    stud_angles_deg,
)
from vibdiag.measure.judgement import (
    Judgement,
    Limit,
    Sign,
    judge,
    judge_at_least,
)
from vibdiag.measure.limits import (
    LIMITS,
    RE_TORQUE_KM,
    LimitId,
    limit_for,
)
from vibdiag.measure.match_mounting import (
    Advice,
    AsPredicted,
    MatchMount,
    as_predicted,
    match_mount,
    predicted_left,
    rim_of,
    tyre_of,
)
from vibdiag.measure.mountings import (
    WheelOrMounting,
    wheel_or_mounting,
)
from vibdiag.measure.off_centre import (
    OffCentre,
    gap_for_unbalance,
    off_centre,
)
from vibdiag.measure.pairing import (
    FELT_AT,
    Pair,
    Pairing,
    Placing,
    pair_tyres_with_rims,
    place_on_axles,
)
from vibdiag.measure.permissible import (
    Permissible,
    ResidualJudged,
    judge_residual,
    permissible_residual,
)
from vibdiag.measure.picture import (
    polar_picture,
)
from vibdiag.measure.planes import (
    Plane,
    TwoPlanes,
    couple_and_static_to_planes,
    move_correction,
    to_static_and_couple,
    weight,
)
from vibdiag.measure.quantiles import (
    NORMAL_95,
    chi_square_quantile,
    largest_error_95,
    rice_cdf,
    rice_centre_limits,
    rice_length_limits,
    squared_length_quantile_95,
    student_t_95,
)
from vibdiag.measure.readings import (
    FEWEST_READINGS,
    MOST_READINGS,
    Readings,
    dial_readings,
    evenly_spaced_deg,
)
from vibdiag.measure.rounding import (
    Hidden,
    hidden_by_rounding,
)
from vibdiag.measure.runout import (
    Place,
    RimMaterial,
    Runout,
    limit_id_of,
    runout,
    tilt_deg,
)
from vibdiag.measure.separation import (
    Mounting,
    Separation,
    separate,
)
from vibdiag.measure.splitting import (
    Fitted,
    Pieces,
    best_pieces,
    split_in_stock,
    split_over_angles,
    spread_two_equal,
)
from vibdiag.measure.total_reading import (
    TotalReading,
    total_reading,
)
from vibdiag.measure.trim import (
    RunPair,
    StaticTrim,
    Trim,
    best_trim,
    static_trim,
)
from vibdiag.measure.uncertain import (
    UncertainVector,
    weighted_sum,
)
from vibdiag.measure.waves import (
    FIRST_HARMONIC_NEEDS,
    folding_harmonic,
    harmonics_carried,
    wave_columns,
    why_untrusted,
)
from vibdiag.measure.wheel_set import (
    PairDifference,
    WheelState,
    circumference_differences,
)

__all__ = [
    "FELT_AT",
    "FEWEST_READINGS",
    "FIRST_HARMONIC_NEEDS",
    "LIMITS",
    "MOST_READINGS",
    "NORMAL_95",
    "RE_TORQUE_CAUTION",
    "RE_TORQUE_KM",
    "TYRE_N_PER_MM",
    "Advice",
    "AsPredicted",
    "AtSpeed",
    "BrakeDisc",
    "Drift",
    "FastenerTorque",
    "Fitted",
    "ForceOverSpeed",
    "ForceVariation",
    "Harmonic",
    "HarmonicFit",
    "Hidden",
    "HubOrWheel",
    "Judgement",
    "Limit",
    "LimitId",
    "LocalRemainder",
    "MatchMount",
    "MoreLikelyFelt",
    "Mounting",
    "OffCentre",
    "Pair",
    "PairDifference",
    "Pairing",
    "Permissible",
    "Pieces",
    "Place",
    "Placing",
    "Plane",
    "Readings",
    "ResidualJudged",
    "RimMaterial",
    "RunPair",
    "Runout",
    "Separation",
    "Sign",
    "StatedForceVariation",
    "StaticTrim",
    "ThicknessVariation",
    "TotalReading",
    "Trim",
    "Turning",
    "TwoPlanes",
    "UncertainVector",
    "WheelOrMounting",
    "WheelState",
    "as_predicted",
    "best_pieces",
    "best_trim",
    "brake_disc",
    "chi_square_quantile",
    "circumference_differences",
    "clock_hour",
    "clock_text",
    "couple_and_static_to_planes",
    "dial_readings",
    "evenly_spaced_deg",
    "fastener_torque",
    "fit_harmonics",
    "folding_harmonic",
    "force_over_speed",
    "force_readings",
    "force_variation",
    "gap_for_unbalance",
    "harmonics_carried",
    "hidden_by_rounding",
    "hub_or_wheel",
    "judge",
    "judge_at_least",
    "judge_residual",
    "largest_error_95",
    "limit_for",
    "limit_id_of",
    "match_mount",
    "move_correction",
    "off_centre",
    "pair_tyres_with_rims",
    "permissible_residual",
    "place_on_axles",
    "polar_picture",
    "predicted_left",
    "rice_cdf",
    "rice_centre_limits",
    "rice_length_limits",
    "rim_of",
    "runout",
    "separate",
    "split_in_stock",
    "split_over_angles",
    "spread_two_equal",
    "squared_length_quantile_95",
    "stated_force_variation",
    "static_trim",
    "stud_angles_deg",
    "student_t_95",
    "thickness_readings",
    "thickness_variation",
    "tightening_sequence",
    "tilt_deg",
    "to_static_and_couple",
    "total_reading",
    "tyre_of",
    "wave_columns",
    "weight",
    "weighted_sum",
    "wheel_or_mounting",
    "why_untrusted",
]
