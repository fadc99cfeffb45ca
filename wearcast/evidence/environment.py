"""Program, packages and machine a pack was worked out on."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version

from wearcast.version import __version__

PACKAGES = (
    "bagit", "cryptography", "jinja2", "numpy", "openpyxl", "pandas", "plotly", "scipy", "scikit-learn",
    "sqlalchemy", "statsmodels",
)  # fmt: skip


def environment_text() -> str:
    """One name and version a line."""
    return "".join(f"{name}: {value}\n" for name, value in environment().items())


def environment() -> dict[str, str]:
    """Names and versions: the program first, the machine last."""
    found = {
        "wearcast": __version__,
        "Python": f"{platform.python_implementation()} {platform.python_version()}",
    }
    for package in PACKAGES:
        try:
            found[package] = version(package)
        except PackageNotFoundError:
            continue  # an installation may do without it
    return {
        **found,
        "system": f"{platform.system()} {platform.machine()}",
        "libc": "-".join(platform.libc_ver()),
    }


def differences(recorded: str) -> tuple[str, ...]:
    """Where a recorded environment differs from this one, in sentences."""
    then = dict(line.split(": ", 1) for line in recorded.splitlines() if ": " in line)
    now = environment()
    return tuple(
        f"{name}: the pack was made with {then.get(name, 'none')}, this is {now.get(name, 'none')}."
        for name in dict.fromkeys((*then, *now))
        if then.get(name) != now.get(name)
    )
