"""Benches, each run as a module from the root of the project: one thread is one thread."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded
