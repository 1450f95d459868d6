"""Leaves in autumn: when they are gone, and how light and frost let wood harden."""

import numpy as np
import pytest

from rules.wood.kinetics.leaves import AutumnDays, hardening_by_stage, leaf_share


def autumn(mean_c: float, night_c: float, days: int = 30, light: float = 1.0) -> AutumnDays:
    return AutumnDays(mean_c=np.full(days, mean_c), night_c=np.full(days, night_c), light=light)


@pytest.mark.parametrize(
    ("night_c", "leafless", "shut_in_leaf"), [(2.0, 1.0, 0.533), (-1.5, 2.0, 1.533), (-3.0, 3.0, 3.0)]
)
def test_leafless_wood_hardens_at_once_and_leafy_wood_in_the_dark_only_in_frost(
    night_c: float, leafless: float, shut_in_leaf: float
) -> None:
    # By hand from m = 1 - leaves (1 - d)(1 - light/0.3), F = -night/3, (m + (1 - m) F)(1 + 2 F); d 0.3, light 0.1.
    bare = AutumnDays(mean_c=np.full(1, 5.0), night_c=np.array([night_c]), off_day=0)
    assert hardening_by_stage(bare)[0] == pytest.approx(leafless)
    full = AutumnDays(mean_c=np.full(1, 9.0), night_c=np.array([night_c]), light=0.1, evergreen=True)
    assert hardening_by_stage(full)[0] == pytest.approx(shut_in_leaf, abs=0.001)


def test_frost_takes_the_leaves_and_mild_days_leave_them() -> None:
    assert leaf_share(autumn(12.0, 5.0))[-1] == 1.0
    frosted = autumn(12.0, 5.0)
    frosted.night_c[10] = -3.0
    assert list(leaf_share(frosted)[[9, 10, 29]]) == [1.0, 0.0, 0.0]


def test_cool_days_and_the_dark_thin_leaves_and_mid_november_ends_them() -> None:
    assert leaf_share(autumn(6.0, 2.0))[-1] == pytest.approx(0.96**30)
    assert leaf_share(autumn(12.0, 5.0, light=0.1))[-1] == pytest.approx(0.95**30)
    assert list(leaf_share(autumn(12.0, 5.0, days=80))[[68, 69]]) == [1.0, 0.0]  # 14 and 15 November


def test_leaves_seen_off_are_off_and_an_evergreen_keeps_its_own() -> None:
    seen = AutumnDays(mean_c=np.full(20, 12.0), night_c=np.full(20, 5.0), off_day=7)
    assert list(leaf_share(seen)[[6, 7]]) == [1.0, 0.0]
    olive = AutumnDays(mean_c=np.full(90, 2.0), night_c=np.full(90, -6.0), evergreen=True)
    assert leaf_share(olive).min() == 1.0


def test_a_night_nobody_knows_calls_no_frost() -> None:
    unknown = AutumnDays(mean_c=np.full(1, 5.0), night_c=np.array([np.nan]))
    assert hardening_by_stage(unknown)[0] == 1.0
