"""The engineering: what an engine asks of a turbocharger, and what each machine does on it."""
