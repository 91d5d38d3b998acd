"""What inspections add to the machine page: due work, last outcomes, findings, review."""

from fleet.panels import register_machine_panel


def work_panel(request, machine):
    return "inspections/_machine_work.html", {"machine": machine}


def register():
    register_machine_panel(work_panel)
