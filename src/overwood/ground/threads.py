"""One parallel kernel at a time: some of the compiler's threading layers end the process where two start together."""

from __future__ import annotations

import threading

# Held around every call of a kernel that runs on all cores; a second caller waits, and would have had no core to itself
# anyway.
ONE_KERNEL = threading.Lock()
