"""A dashboard, command line and summary for the analysts of a joint-replacement registry office."""

__version__ = "0.1.0"
