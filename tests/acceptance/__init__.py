"""Musicianship measured from written files, against figures with their sources.

The ears are those of the tests of the band, and the reader of files that of the tests of output.
"""

import sys
from pathlib import Path

_TESTS = Path(__file__).parents[1]
sys.path += [
    folder for folder in map(str, (_TESTS / "band", _TESTS / "out")) if folder not in sys.path
]
