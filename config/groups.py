"""Who may do what: the permissions of the groups, set from this table after every migration.

An auditor reads everything and changes nothing; every group reads what an auditor reads. A planner-in-chief manages
accounts and nothing else; somebody who also plans is in both groups.
"""

from django.contrib.auth.models import Group, Permission

READS = [
    "fleet.view_machine",
    "fleet.view_instrument",
    "fleet.view_money",
    "fleet.view_alterationplan",
    "fleet.export_register",
    "inspections.view_inspection",
    "inspections.view_finding",
    "inspections.view_procedure",
    "inspections.view_review",
    "inspections.view_safetynotice",
    "inspections.view_seriousincident",
    "inspections.view_attachment",
    "inspections.view_decommissioninganswer",
    "inspections.make_devicebook",
]

GROUPS = {
    "auditor": READS,
    "technician": [
        *READS,
        "inspections.enter_reading",
        "inspections.add_attachment",
        "inspections.change_decommissioninganswer",
        "inspections.sign_inspection",
        "inspections.countersign_inspection",
        "inspections.amend_inspection",
        "inspections.add_attempt",
        "inspections.add_finding",
        "inspections.close_finding",
        "inspections.triage_faultreport",
        "inspections.replace_machinelabel",
        "inspections.change_noticeitem",
        "inspections.add_seriousincident",
        "inspections.change_seriousincident",
        "fleet.withdraw_machine",
        "fleet.release_machine",
        "fleet.add_featurestate",
        "fleet.add_component",
        "fleet.compute_circuitcover",
        "fleet.change_alterationofmachine",
    ],
    "planner": [
        *READS,
        "fleet.view_job",
        "fleet.change_job",
        "fleet.add_machine",
        "fleet.change_machine",
        "fleet.import_register",
        "fleet.withdraw_machine",
        "fleet.add_featurestate",
        "fleet.add_component",
        "fleet.compute_circuitcover",
        "fleet.add_alterationplan",
        "fleet.change_alterationofmachine",
        "fleet.add_instrument",
        "fleet.add_calibration",
        "fleet.add_site",
        "fleet.change_site",
        "fleet.add_area",
        "fleet.change_area",
        "fleet.add_machinemodel",
        "fleet.change_machinemodel",
        "inspections.plan_inspection",
        "inspections.add_attachment",
        "inspections.remove_attachment",
        "inspections.change_decommissioninganswer",
        "inspections.void_inspection",
        "inspections.countersign_inspection",
        "inspections.add_attempt",
        "inspections.add_finding",
        "inspections.close_finding",
        "inspections.triage_faultreport",
        "inspections.replace_machinelabel",
        "inspections.add_safetynotice",
        "inspections.change_noticeitem",
        "inspections.add_seriousincident",
        "inspections.change_seriousincident",
        "inspections.add_limitoverride",
        "inspections.change_procedure",
        "inspections.add_procedureversion",
    ],
    "planner-in-chief": [*READS, "fleet.manage_people"],
    "manager": [
        *READS,
        "fleet.compute_circuitcover",
        "fleet.add_alterationplan",
        "fleet.retire_machine",
        "inspections.add_attachment",
        "inspections.remove_attachment",
        "inspections.change_decommissioninganswer",
        "fleet.enter_money",
        "inspections.judge_review",
        "inspections.add_seriousincident",
        "inspections.change_seriousincident",
        "inspections.weigh_review",
        "inspections.choose_fleet",
        "inspections.add_procedureversion",
        "inspections.add_evidencepolicy",
        "inspections.add_finding",
    ],
}


def groups_of(person):
    """Return the names of the groups whose work the person does; a superuser may do that of all."""
    return set(GROUPS) if person.is_superuser else set(person.groups.values_list("name", flat=True))


def sync_groups(using="default", **kwargs):
    """Create the groups and give each exactly the permissions of the table. Safe to repeat."""
    by_name = {
        f"{p.content_type.app_label}.{p.codename}": p
        for p in Permission.objects.using(using).select_related("content_type")
    }
    for name, wanted in GROUPS.items():
        group, _ = Group.objects.using(using).get_or_create(name=name)
        group.permissions.set([by_name[code] for code in wanted if code in by_name])
