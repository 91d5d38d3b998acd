"""What was signed, amended, voided and set of late, for those who check."""

from datetime import datetime, time

from django.utils import timezone

from inspections.models import Amendment, Inspection, LimitOverride


def start_of(day):
    """The first moment of a day in the zone of the page."""
    return timezone.make_aware(datetime.combine(day, time()))


def recently_signed(person, since):
    """Signed since a moment, the newest first."""
    signed = Inspection.objects.visible_to(person).with_signature().filter(signed_at__gte=since)
    return signed.order_by("-signed_at", "-pk")


def recently_voided(person, since):
    voided = Inspection.objects.visible_to(person).void().filter(voided_at__gte=since)
    return voided.order_by("-voided_at", "-pk")


def recently_amended(person, since):
    """Amendments since a moment to inspections that `person` may see, the newest first."""
    visible = Inspection.objects.visible_to(person)
    amended = Amendment.objects.filter(inspection__in=visible, at__gte=since)
    return amended.select_related("inspection__machine", "inspection__procedure", "by").order_by("-at", "-pk")


def recently_set_limits(person, since):
    return LimitOverride.objects.visible_to(person).with_target().filter(at__gte=since).order_by("-at", "-pk")
