"""What the page that closes a finding shows."""

from fleet.place_format import NEUTRAL, using
from inspections.bench.serialise import result_from_dict
from inspections.result_display import ShownResult


@using(NEUTRAL)
def finding_grounds(finding, evidence):
    """Describe a finding and the passing retest that its closing would rest on, None if there is none."""
    return {
        f"Finding {finding.pk}": {
            **finding_lines(finding),
            "Description": finding.description,
            "State": "open" if finding.is_open else f"closed {finding.closed_at.isoformat()}: {finding.closing_note}",
        },
        "Machine": {"Machine": str(finding.machine), "Status": finding.machine.status},
        "Passing retest": {"Retest": f"{evidence}, signed by {evidence.signed_by}" if evidence else "none"},
    }


@using(NEUTRAL)
def finding_lines(finding):
    """What any page shows of a finding."""
    result = finding.result
    value = ShownResult(result_from_dict(result.content)).full_value if result else ""
    return {
        "Finding": finding.title,
        "Severity": finding.severity,
        "Opened": finding.opened_at.isoformat(),
        "Result": f"{result.label}: {value}, {result.decision_words}" if result else "",
    }
