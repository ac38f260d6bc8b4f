"""wearfit: when will each injection mould wear out, calibrated with its own history."""

__version__ = "0.1.0"
