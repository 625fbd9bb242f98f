"""
The compiler behind the search, and what happens without it.

With numba the kernels run compiled, from a cache on disk after the first time, without holding the interpreter lock.
Without it the same code runs as plain Python, some two hundred times slower, and says so once.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, TypeVar

Kernel = TypeVar("Kernel", bound=Callable[..., Any])

try:
    import numba
except ImportError:  # pragma: no cover - needs an installation without numba
    COMPILED = False
    warnings.warn(
        "numba is not installed: day plans are searched in plain Python, about 200 times slower; install numba",
        RuntimeWarning,
        stacklevel=2,
    )
else:
    COMPILED = not getattr(numba.config, "DISABLE_JIT", 0)


def kernel(function: Kernel) -> Kernel:
    """Compile a function of numbers and arrays on its first call, if a compiler is there."""
    if not COMPILED:
        return function
    compiled: Any = numba.njit(cache=True, nogil=True, error_model="numpy")(function)
    # The cache on disk looks at the function's own file alone, and would keep a kernel whose callees have changed.
    compiled._cache._cache_file._source_stamp = _stamp()
    kept: Kernel = compiled
    return kept


@cache
def _stamp() -> str:
    """One word for the sources of all kernels."""
    folder = Path(__file__).parent
    sources = (path.read_bytes() for path in sorted(folder.glob("*.py")))
    return sha256(b"".join(source for source in sources if b"import kernel" in source)).hexdigest()
