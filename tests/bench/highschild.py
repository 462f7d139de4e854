"""HiGHS in a process of its own, which can be ended: it looks at the clock too seldom on large models.

    python -m tests.bench.highschild SECONDS THREADS SEED < model.npz

The model comes as arrays (:meth:`tests.bench.relaxed.Relaxation.arrays`). Prints a line `dual NUMBER` whenever the
bound is reported, and at the end `solved` or `infeasible` where that is known.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Sequence
from typing import Any

import highspy
import numpy as np


def lp_of(data: Any) -> highspy.HighsLp:
    """The arrays as HiGHS takes them; the first ``whole`` columns are binary, the others are at least 0."""
    lp = highspy.HighsLp()
    count, whole = len(data["cost"]), int(data["whole"])
    lp.num_col_, lp.num_row_ = count, len(data["low"])
    lp.col_cost_, lp.col_lower_ = data["cost"], np.zeros(count)
    lp.col_upper_ = np.where(np.arange(count) < whole, 1.0, highspy.kHighsInf)
    lp.row_lower_ = np.maximum(data["low"], -highspy.kHighsInf)
    lp.row_upper_ = np.minimum(data["high"], highspy.kHighsInf)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_, lp.a_matrix_.index_, lp.a_matrix_.value_ = data["start"], data["index"], data["value"]
    kinds = highspy.HighsVarType
    lp.integrality_ = [kinds.kInteger] * whole + [kinds.kContinuous] * (count - whole)
    return lp


def main(arguments: Sequence[str]) -> int:
    """Solve the model on the standard input."""
    seconds, threads, seed = float(arguments[0]), int(arguments[1]), int(arguments[2])
    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", threads)
    highs.setOptionValue("random_seed", seed)
    highs.setOptionValue("time_limit", seconds)
    highs.passModel(lp_of(np.load(io.BytesIO(sys.stdin.buffer.read()))))

    def on_log(event: Any) -> None:
        _say(f"dual {event.data_out.mip_dual_bound!r}")

    highs.cbMipLogging += on_log
    highs.run()
    status = highs.getModelStatus()
    if status == highspy.HighsModelStatus.kInfeasible:
        _say("infeasible")
        return 0
    _say(f"dual {highs.getInfo().mip_dual_bound!r}")
    if status == highspy.HighsModelStatus.kOptimal:
        _say("solved")
    return 0


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
