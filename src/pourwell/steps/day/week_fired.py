"""What a week's firings do to each of their flasks: every check of the burnout, for each flask as it stands until its own pour."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from pourwell.findings import Finding
from pourwell.steps.burnout import checks
from pourwell.steps.burnout.legs import Leg, legs_as_typed
from pourwell.steps.burnout.plan import built, frame_of
from pourwell.steps.day.week_model import LoadTimes, Rota
from pourwell.steps.day.week_plan import Candidate, PlannedLoad


def fired_findings(candidates: Sequence[Candidate], rota: Rota, loads: Sequence[PlannedLoad]) -> tuple[Finding, ...]:
    """The findings of the burnout for the run that rules each load and for all others in it, each told once a load."""
    found: list[Finding] = []
    for times, load in zip(rota.loads, loads, strict=True):
        told: set[tuple[str, str]] = set()
        for i in sorted(times.runs, key=lambda run: run != times.ruling):
            for finding in _of(candidates[i], times, load, until_min=rota.runs[i].pour_min - times.on_min):
                if (finding.code, finding.says) not in told:
                    told.add((finding.code, finding.says))
                    found.append(replace(finding, where=f"{load.kiln}, run {candidates[i].number}: {finding.where}"))
    return tuple(found)


def _of(candidate: Candidate, times: LoadTimes, load: PlannedLoad, *, until_min: int) -> Iterator[Finding]:
    """The findings for one flask: the programme of its load, cut at its pour, run and judged for this flask."""
    own, case = candidate.fired[times.kiln].programme, candidate.fired[times.kiln].case
    assert case.pattern_material is not None
    legs = legs_as_typed(load.programme)
    until = until_legs(legs, until_min)
    same = candidate.number == load.ruling_run and until == legs
    programme = load.programme if same else built(until, replace(case, flask_c=until[-1].target_c), frame_of(own, case))
    yield from checks.findings(
        checks.Facts(
            programme=programme,
            investment=case.investment,
            pattern_material=case.pattern_material,
            flask=case.flask,
            flask_c=case.flask_c,
            kiln=case.kiln,
            stones=case.stones,
            own=candidate.own_programme,
            library=case.library,
        )
    )


def until_legs(legs: Sequence[Leg], minutes: int) -> tuple[Leg, ...]:
    """The legs until a moment of one of their holds; a moment after their end leaves them as they are."""
    out: list[Leg] = []
    left = minutes
    for leg in legs:
        out.append(replace(leg, hold_min=min(leg.hold_min, max(0, left - leg.ramp_min))))
        left -= leg.minutes
        if left <= 0:
            break
    return tuple(out)
