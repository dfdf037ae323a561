"""What holds for every test: how long an example takes to draw or to run on a busy machine is no fault."""

from hypothesis import HealthCheck, settings

settings.register_profile("any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any machine")
