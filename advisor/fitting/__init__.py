"""Whether a turbo can be joined to this vehicle, with what, and the complete list of parts."""
