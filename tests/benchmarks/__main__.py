"""Entry of ``python -m tests.benchmarks``."""

from tests.benchmarks.table import main

main()
