"""What every test shares: repeatable Hypothesis examples, and a verifier that looks at every answer of every test."""

from functools import wraps

from hypothesis import HealthCheck, settings

from service.fit import engine
from service.fit.answer import Answer
from service.fit.build import Build
from service.fit.graph import ConstraintGraph
from tests.oracles.verifier import verify

settings.register_profile("check", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("check")

_unverified = engine.fit


@wraps(_unverified)
def verified_fit(graph: ConstraintGraph, build: Build, *, explain: bool = False, diagnose: bool = True) -> Answer:
    """The engine's answer, after an independent verifier has found nothing wrong with it."""
    answer = _unverified(graph, build, explain=explain, diagnose=diagnose)
    wrong = verify(graph.snapshot, build, answer)
    assert not wrong, wrong
    return answer


# Before any test or any part of the service takes the name: every answer of every test passes through it.
engine.fit = verified_fit
