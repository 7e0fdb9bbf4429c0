"""Guarded operators over numpy arrays, to the bits that `steps.operators` gives one by one."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from rungproof.logic.steps.operators import INT_LIMIT, REAL_LIMIT

Reals = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


def divide(a: Any, b: Any, out: Reals) -> None:
    """Real quotient: x/0 is sign(x)*1e300, 0/0 is 0, clamped to +-1e300. `out` is neither operand."""
    zero = np.equal(b, 0.0)
    with np.errstate(all="ignore"):
        np.divide(a, b, out=out)
    np.minimum(out, REAL_LIMIT, out=out)
    np.maximum(out, -REAL_LIMIT, out=out)
    if np.any(zero):
        np.copyto(
            out, np.where(np.greater(a, 0.0), REAL_LIMIT, np.where(np.less(a, 0.0), -REAL_LIMIT, 0.0)), where=zero
        )


def div(a: Any, b: Any, out: Ints) -> None:
    """Int quotient toward zero: x/0 is sign(x)*2^53, 0/0 is 0. `out` is neither operand."""
    zero = np.equal(b, 0)
    np.floor_divide(np.abs(a), np.abs(np.where(zero, 1, b)), out=out)
    np.negative(out, out=out, where=np.not_equal(np.less(a, 0), np.less(b, 0)))
    if np.any(zero):
        np.copyto(out, np.sign(a) * INT_LIMIT, where=zero)


def root(a: Any, out: Reals) -> None:
    """Square root; 0 for a negative number. `out` is not `a`."""
    with np.errstate(invalid="ignore"):
        np.sqrt(a, out=out)
    np.copyto(out, 0.0, where=np.less(a, 0.0))


def nearest(a: Any, out: Ints) -> None:
    """Nearest int, half to even."""
    np.copyto(out, np.rint(a), casting="unsafe")
