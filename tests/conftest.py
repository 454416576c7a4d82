"""What all tests share: how hypothesis looks for counter-examples.

`make test` looks at the same examples every time, so that a red run means a changed program; `make long` looks at many new ones.
"""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "everyday",
    deadline=None,
    derandomize=True,
    database=None,
    max_examples=40,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("long", settings.get_profile("everyday"), derandomize=False, max_examples=1500, print_blob=True)
settings.load_profile("everyday")
