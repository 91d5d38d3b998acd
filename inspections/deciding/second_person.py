"""Which decisions need a second person, and why: the rules of each site, and those that hold everywhere."""

from fleet.models import MachineStatus, Site
from fleet.web.at_site import day_words
from inspections.deciding.repair_people import why_not_who_repaired
from inspections.errors import SecondPersonNeeded

WHY_SECOND_FOR_INTERVAL = (
    "Every later inspection of these machines follows the interval, and a hidden failure stands for as long: a person "
    "who did not draft the dossier must approve it."
)
WHY_SECOND_FOR_POLICY = (
    "Every dossier drafted from now on may leave as much open: another person than who proposes the policy must "
    "confirm it."
)
WHY_SECOND_FOR_PROCEDURE = (
    "Every later inspection of the hospital follows the new version: a person who did not write in the draft must "
    "approve it."
)


def refuse_alone(why, *, by, proposed_by):
    """Raise SecondPersonNeeded if there is a reason `why` and no other person proposed it."""
    if why and (proposed_by is None or proposed_by.pk == by.pk):
        raise SecondPersonNeeded(f"{why} Make a proposal; another person confirms it.")


def why_second_for_amendment(inspection):
    site = inspection.machine.site
    return f"{site} requires a second person for every amendment." if site.two_for_amendment else ""


def why_second_for_release(machine, retest, findings, by):
    """Why `by` may not release alone on `retest`; `findings` are the essential ones that the release closes."""
    site = machine.site
    if site.two_for_release:
        return f"{site} requires a second person for every release."
    if why := why_not_who_repaired(machine, retest, by):
        return why
    if findings and retest.signed_by_id == by.pk and not site.signer_may_release:
        return (
            f"You signed {retest} yourself, and machine {machine} failed an essential test: a person who did not "
            "sign the retest must decide about the release."
        )
    return ""


def why_second_for_closing(finding, evidence):
    """Why one person may not close `finding`; `evidence` is the passing retest that it rests on, or None.

    Only essential findings need one. On a machine in service they rest on a retest, or on a second person's judgement.
    """
    if not finding.is_essential:
        return ""
    site = finding.machine.site
    if site.two_for_finding:
        return f"{site} requires a second person for closing every essential finding."
    if evidence is None and finding.machine.status == MachineStatus.IN_SERVICE:
        return (
            f"No signed inspection since {day_words(finding.opened_at)} repeated what “{finding}” is about and passed, "
            f"and machine {finding.machine} is in service: closing it needs the judgement of a second person."
        )
    return ""


def why_second_for_limit(*, machine_model, site):
    """A limit of a machine model reaches every site that has one of its machines; the strictest of them counts."""
    reached = Site.objects.filter(areas__machines__model=machine_model) if machine_model else Site.objects
    reached = reached.filter(pk=site.pk) if site else reached
    strict = reached.filter(two_for_limit=True).first()
    return f"{strict} requires a second person for every change of a limit." if strict else ""
