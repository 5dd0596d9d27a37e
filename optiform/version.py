"""Tells the version of this package as it is installed."""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("optiform")
except PackageNotFoundError:  # a source tree that was never installed
    __version__ = "0+source"
