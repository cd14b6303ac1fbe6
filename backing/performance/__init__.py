"""A performance: chart, style and settings become bars of notes."""

from backing.performance.performance import Performance as Performance
from backing.performance.performance import PlayedBar as PlayedBar
from backing.performance.settings import DEFAULT_CHORUSES as DEFAULT_CHORUSES
from backing.performance.settings import MOST_CHORUSES as MOST_CHORUSES
from backing.performance.settings import Settings as Settings
from backing.performance.settings import check_settings as check_settings
