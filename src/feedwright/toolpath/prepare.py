"""``python -m feedwright.toolpath.prepare``: compile the reader once, while setting up."""

import sys

from feedwright.toolpath.compiled import prepare

if __name__ == "__main__":
    prepare(lambda words: print(words, file=sys.stderr, flush=True))  # noqa: T201  a setup step speaks for itself
