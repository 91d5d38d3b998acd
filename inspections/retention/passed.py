"""Which attached files have passed their period: one condition for each event that a rule names."""

from django.db.models import DateField, Exists, OuterRef, Q
from django.db.models.functions import Coalesce, TruncDate

from fleet.models import Machine, StatusChange
from inspections.models import Attachment, ProcedureVersion
from inspections.models.querysets.attachments import MACHINE_OF
from inspections.retention.rules import RULE_OF, RULES


def passed(files, today, rules=RULES):
    """Keep the files whose period is over on the date `today`; removed ones are none."""
    over = Q(pk__in=[])
    for rule in rules:
        for subject in rule.subjects:
            over |= _is_over(subject, rule, rule.last_event(today))
    return files.with_content_there().filter(over)


def has_passed(attachment, today):
    return passed(Attachment.objects.filter(pk=attachment.pk), today, [RULE_OF[attachment.of]]).exists()


def _is_over(subject, rule, day):
    if rule.event == "retired":
        return Q(**{f"{MACHINE_OF[subject]}__in": _retired_by(day)})
    if rule.event == "instrument retired":
        return Q(calibration__instrument__is_retired=True, calibration__due_on__lte=day)
    if rule.event == "closed":
        return Q(notice__closed_at__date__lte=day)
    return Q(version__in=_replaced_by(day))


def _retired_by(day):
    retired = StatusChange.objects.filter(machine=OuterRef("pk"), status="retired", changed_on__lte=day)
    return Machine.objects.filter(Exists(retired), status="retired").values("pk")


def _replaced_by(day):
    begun = Coalesce("from_date", TruncDate("loaded_at"), output_field=DateField())
    later = ProcedureVersion.objects.filter(procedure=OuterRef("procedure"), number__gt=OuterRef("number"))
    return ProcedureVersion.objects.filter(Exists(later.annotate(begun=begun).filter(begun__lte=day))).values("pk")
