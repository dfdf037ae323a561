"""Rule-based consultation for the turbocharger sales desk of a diesel shop."""

__version__ = "0.1.0"
