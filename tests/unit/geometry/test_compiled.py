"""Machine code where no folder for it can be written."""

import numba

from pourwell.geometry.kernels import compiled as making


def test_without_a_folder_for_the_cache_loops_are_compiled_afresh(monkeypatch):
    asked = []
    real = numba.njit

    def njit(**options):
        asked.append(dict(options))
        if options.pop("cache", False):
            raise RuntimeError("cannot cache function: no locator available")
        return real(**options)

    monkeypatch.setattr(making.numba, "njit", njit)

    def twice(x):
        return 2 * x

    assert making.compiled(twice)(21) == 42
    assert [options.get("cache", False) for options in asked] == [True, False]


def test_lean_loops_keep_their_flag_without_a_cache(monkeypatch):
    asked = []

    def njit(**options):
        asked.append(dict(options))
        if options.get("cache"):
            raise RuntimeError("no locator")
        return lambda function: function

    monkeypatch.setattr(making.numba, "njit", njit)
    making.compiled_lean(lambda x: x)
    assert [options["_nrt"] for options in asked] == [False, False]
