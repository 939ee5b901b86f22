"""Speed of pH: 10,000 blends as arrays against a loop over a scalar root finder.

python tests/bench/bench_ph.py
"""

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
from test_chemistry import random_blends, scalar_ph

from balancer.chemistry import acidity

COUNT, SAMPLE = 10_000, 200


def main() -> None:
    blends = random_blends(COUNT)
    start = time.perf_counter()
    found = acidity(blends).ph
    arrays = time.perf_counter() - start
    start = time.perf_counter()
    loop_ph = [scalar_ph(b) for b in blends[:SAMPLE]]
    loop = (time.perf_counter() - start) * COUNT / SAMPLE
    worst = max(abs(a - b) for a, b in zip(found[:SAMPLE], loop_ph, strict=True))
    print(f"{COUNT} blends: arrays {arrays:.2f} s, scalar loop {loop:.0f} s (from {SAMPLE}),")
    print(f"ratio {loop / arrays:.0f}, largest difference {worst:.1e} pH")


if __name__ == "__main__":
    main()
