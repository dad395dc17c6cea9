"""``python -m shop.serving demo|run``, as `.ci/serve` says it."""

import sys

from shop.serving.start import start

start(sys.argv[1] if len(sys.argv) == 2 else "")
