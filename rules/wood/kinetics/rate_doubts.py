"""How far each rate of the daily model is in doubt, and a set of rates with one of them moved by it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from rules.garden.species import Kinetics


@dataclass(frozen=True, kw_only=True)
class RateDoubt:
    """1 sd of one rate: `names` are multiplied or divided by `factor`, then moved by `step`.

    `chill` says that the chill need is meant, in whichever measure the species has one.
    """

    says: str
    names: Sequence[str] = ()
    factor: float = 1.0
    step: float = 0.0
    chill: bool = False


RATE_DOUBTS: Final = (
    RateDoubt(says="hardening", names=("ka_endo", "ka_eco"), factor=1.35),  # rows from memory: 0.08-0.16 round 0.12
    RateDoubt(says="frost stage", names=("frost_gain",), step=1.0),  # 1 to 3, assumed
    RateDoubt(
        says="softening", names=("kd_eco",), factor=1.6
    ),  # rows from memory: 0.06-0.20; measured slow to fast x 7
    RateDoubt(says="softening from", names=("tth_eco_c",), step=1.5),  # 5 °C published for grape, 10 the hard limit
    RateDoubt(says="readiness to wake", factor=1.25, step=15.0, chill=True),  # kaki: late November to late December
    RateDoubt(says="heat to leaf-out", names=("leaf_out_c_days",), factor=1.15),  # what leaving one place out moves it
)


def moved(kinetics: Kinetics, doubt: RateDoubt, way: float) -> Kinetics:
    """The rates with one of them `way` sd up, or down below 0."""
    if doubt.chill:
        return _chill_moved(kinetics, doubt.factor**way, doubt.step * way)
    values = {name: getattr(kinetics, name) * doubt.factor**way + doubt.step * way for name in doubt.names}
    return replace(kinetics, **values)


def _chill_moved(kinetics: Kinetics, factor: float, step_days: float) -> Kinetics:
    if kinetics.chill_portions:
        return replace(kinetics, chill_portions=kinetics.chill_portions * factor)
    if kinetics.chill_sum_c_days:
        return replace(kinetics, chill_sum_c_days=kinetics.chill_sum_c_days * factor)
    return replace(kinetics, half_ready_shift_days=kinetics.half_ready_shift_days + step_days)


def drawn(kinetics: Kinetics, ways: Sequence[float]) -> Kinetics:
    """The rates with each moved by its own number of sd, in the order of RATE_DOUBTS: wood that may be the true one."""
    for doubt, way in zip(RATE_DOUBTS, ways, strict=True):
        kinetics = moved(kinetics, doubt, way)
    return kinetics
