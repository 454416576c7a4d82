"""What a week's firings do to each of their flasks, by every check of the burnout until its own pour; and which are typed alike."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from pourwell.findings import Finding, folded
from pourwell.steps.burnout.legs import legs_as_typed
from pourwell.steps.burnout.sizes import as_seen_by, findings_for, until_legs
from pourwell.steps.day.week_model import LoadTimes, Rota
from pourwell.steps.day.week_plan import Candidate, PlannedLoad


def fired_findings(candidates: Sequence[Candidate], rota: Rota, loads: Sequence[PlannedLoad]) -> tuple[Finding, ...]:
    """The findings of the burnout for the run that rules each load and all others in it, each kind once a load with its places."""
    found: list[Finding] = []
    for times, load in zip(rota.loads, loads, strict=True):
        told: set[tuple[str, str]] = set()
        here: list[Finding] = []
        for i in sorted(times.runs, key=lambda run: run != times.ruling):
            for finding in _of(candidates[i], times, load, until_min=rota.runs[i].pour_min - times.on_min):
                if (finding.code, finding.says) not in told:
                    told.add((finding.code, finding.says))
                    here.append(replace(finding, where=f"{load.kiln}, run {candidates[i].number}: {finding.where}"))
        found += folded(here)
    return tuple(found)


def _of(candidate: Candidate, times: LoadTimes, load: PlannedLoad, *, until_min: int) -> Iterator[Finding]:
    """The findings for one flask: the programme of its load, cut at its pour, run and judged for this flask."""
    case = candidate.fired[times.kiln].case
    legs = legs_as_typed(load.programme)
    same = candidate.number == load.ruling_run and until_legs(legs, until_min) == legs
    judged = load.programme if same else as_seen_by(case, load.programme, until_min=until_min)
    yield from findings_for(case, judged, own=candidate.own_programme)


def as_typed(load: PlannedLoad, loads: Sequence[PlannedLoad]) -> str:
    """Whether a firing is typed as an earlier one of its kiln, in words; empty for the first of a kiln."""
    earlier = [one for one in loads if one.kiln == load.kiln and one.number < load.number]
    alike = [one.number for one in earlier if _typed(one) == _typed(load)]
    return f"typed as firing {alike[0]}" if alike else "its own holds: type it anew" if earlier else ""


def _typed(load: PlannedLoad) -> list[tuple[float, float, int]]:
    return [(s.ramp_c_per_h, s.target_c, s.hold_min) for s in load.programme.segments]
