"""Overwood: from a forester's records to the next step of an upland-oak stand, with reasons, doubts and papers."""

__version__ = "0.1.0"
