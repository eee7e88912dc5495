"""hourmark: the minute and the mark of a timed injection, computed, checked and shown with its working."""

__version__ = "0.1.0"
