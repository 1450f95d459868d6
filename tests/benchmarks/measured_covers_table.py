"""Measured covers beside computed ones: outside, inside measured and computed, doubt, what was assumed.

Run from the root: python -m tests.benchmarks.measured_covers_table
"""

import numpy as np

from tests.rules.heat.measured_covers import MEASURED, Reckoned, reckoned


def line(one: Reckoned) -> str:
    low, high = one.measured.inside_c
    told = f"{low:.1f}" if low == high else f"{low:.1f}…{high:.1f}"
    return (
        f"{one.measured.name:42}{one.measured.outside_c:7.1f}{told:>13}{one.inside_c:8.1f}{one.error_c:+7.1f}"
        f"{one.sd_c:6.1f}  {'' if one.sign_right else 'sign wrong; '}{one.measured.assumed}"
    )


def main() -> None:
    print(f"{'cover':42}{'out':>7}{'measured':>13}{'model':>8}{'error':>7}{'sd':>6}  assumed")
    found = [reckoned(one) for one in MEASURED]
    for one in found:
        print(line(one))
    errors = np.array([one.error_c for one in found])
    sds = np.array([one.sd_c for one in found])
    within, held = np.mean(np.abs(errors) <= 2.5), np.mean(np.abs(errors) <= 1.2816 * sds)
    wrong = sum(not one.sign_right for one in found)
    unsafe = [one.measured.name for one in found if one.error_c > 1.645 * one.sd_c]
    print(f"{len(found)} nights: bias {errors.mean():+.1f}, rms {np.sqrt((errors**2).mean()):.1f} °C")
    print(f"within 2.5 °C {within:.0%}, in the 80 % interval {held:.0%}, sign wrong {wrong}")
    print(f"too warm by more than 90 % of the doubt: {', '.join(unsafe) or 'none'}")


if __name__ == "__main__":
    main()
