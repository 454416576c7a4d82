"""What one firing does in each of the different flasks that stand in it: hours, heat, limits and findings of each."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from pourwell.findings import Finding
from pourwell.steps.burnout.legs import Case
from pourwell.steps.burnout.load import Served, Wanted
from pourwell.steps.burnout.model import Band, Programme, Verdict
from pourwell.steps.burnout.sizes import as_seen_by, findings_for


@dataclass(frozen=True, slots=True, kw_only=True)
class OfSize:
    """What the programme is for one of the flasks, until it comes out."""

    label: str
    count: int
    """So many flasks of this size and temperature."""
    core_passes_100_min: Band
    dry_min: Band
    heat_kwh: Band
    """For each of them."""
    verdicts: tuple[Verdict, ...]


def of_sizes(
    load: Sequence[Wanted], programme: Programme, out: Iterable[Served], *, own: bool
) -> tuple[tuple[OfSize, ...], tuple[Finding, ...]]:
    """Each size and temperature of a load in the order in which they come out, and what there is to know of each."""
    cases: dict[str, Case] = {one.label: replace(one.case, flasks_count=len(load)) for one in load}
    leaves = {one.label: one.out_min for one in out}
    sizes, findings = [], []
    for label, until_min in leaves.items():
        seen = as_seen_by(cases[label], programme, until_min=until_min)
        assert seen.inside is not None
        sizes.append(
            OfSize(
                label=label,
                count=sum(one.label == label for one in load),
                core_passes_100_min=seen.inside.core_passes_100_min,
                dry_min=seen.inside.dry_min,
                heat_kwh=seen.inside.heat_kwh,
                verdicts=seen.verdicts,
            )
        )
        findings += [replace(f, where=f"flask {label}: {f.where}") for f in findings_for(cases[label], seen, own=own)]
    return tuple(sizes), tuple(findings)


def unsaid(findings: Iterable[Finding], said: Iterable[Finding]) -> tuple[Finding, ...]:
    """Those of the findings that say what no other said, each once."""
    told, out = {(f.code, f.says) for f in said}, []
    for finding in findings:
        if (finding.code, finding.says) not in told:
            told.add((finding.code, finding.says))
            out.append(finding)
    return tuple(out)


def drawn(programme: Programme, sizes: Sequence[OfSize]) -> Programme:
    """The programme with what the kiln draws for all the flasks, each with its own heat."""
    assert programme.inside is not None
    one = programme.inside.heat_kwh
    more = {end: sum(s.count * (getattr(s.heat_kwh, end) - getattr(one, end)) for s in sizes) for end in ("low", "likely", "high")}
    return replace(
        programme,
        energy_kwh=programme.energy_kwh + more["likely"],
        energy_low_kwh=programme.energy_low_kwh + more["low"],
        energy_high_kwh=programme.energy_high_kwh + more["high"],
    )
