"""wearcast: wear rates, hours to the replacement limit and decisions for bearing shells of sister engines.

Readings suggest; they never decide. The maker's instructions, class, local codes and licensed engineers
govern, and no forecast extends a limit or an interval.
"""

from wearcast.version import __version__

__all__ = ["__version__"]
