"""The digest: the contents of Home for a person, as plain text by email, at most once a day."""

from datetime import time

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.db import IntegrityError, transaction
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from config.home import home_parts
from fleet.errors import Refused
from fleet.jobs import Result, job_kind
from fleet.jobs.periodic import run_daily
from fleet.models import Digest, Person

DIGEST = "digest"
DAILY = {"planner", "technician"}
MONTHLY = {"manager"}  # once, with the first digest of the month


class MailRefused(Refused):
    """The mail server refused the mail."""


def recipients():
    """People who may get a digest: active, with an address, in a group that gets a digest, not opted out."""
    people = Person.objects.filter(is_active=True, wants_digest=True, groups__name__in=DAILY | MONTHLY)
    return people.exclude(Q(email="")).distinct().order_by("pk").prefetch_related("groups", "sites")


def digest_of(person, now, today):
    """Return the subject, the text and whether the month is included; None if there is nothing to send."""
    groups = {group.name for group in person.groups.all()}
    first = today.replace(day=1)
    month = bool(groups & MONTHLY) and not Digest.objects.of(person).with_month().since(first).exists()
    parts = home_parts(person, (groups & DAILY) | (MONTHLY if month else set()), now, today)
    told = [(part.title, [item for item in part.items if item.number]) for part in parts]
    told = [(title, items) for title, items in told if items]
    if not told:
        return None
    urgent = sum(item.is_urgent for _, items in told for item in items)
    subject = f"Bobbin, {today:%-d %B %Y}" + (f": {urgent} urgent" if urgent else "")
    return subject, _text(told), month


def _text(told):
    lines = []
    for title, items in told:
        lines += [title, "-" * len(title), ""]
        for item in items:
            lines += _item_lines(item)
    preferences = settings.BASE_URL + reverse("fleet:digest")
    return "\n".join([*lines, f"Home: {settings.BASE_URL}{reverse('home')}", f"Stop these emails: {preferences}", ""])


def _item_lines(item):
    mark = "! " if item.is_urgent else "  "
    lines = [f"{mark}{item.number} {item.text}"]
    lines += [f"    {label}" for label, _ in item.examples]
    if item.more:
        lines.append(f"    and {item.more} more")
    if item.url:
        lines.append(f"    {settings.BASE_URL}{item.url}")
    return [*lines, ""]


@job_kind(DIGEST, "Email digests")
def send_digests(run):
    """Send today's digest to everybody who has not had it. The log and the result hold numbers only, no address."""
    today = timezone.localdate(run.started_at)
    people = list(recipients())
    sent = failed = 0
    with _connection() as connection:
        for person in run.each(people, "Sending digests"):
            accepted = send_digest(person, run.clock(), today, connection) if person.email else None
            sent += accepted is True
            failed += accepted is False
    words = f"{sent} digest{'' if sent == 1 else 's'} sent."
    if failed:
        words += f" {failed} could not be sent: the mail server did not accept them."
    return Result(words)


def send_digest(person, now, today, connection):
    """Send one digest. Return whether the server accepted it, None if it is empty or was begun before."""
    digest = digest_of(person, now, today)
    if digest is None:
        return None
    subject, text, month = digest
    try:
        with transaction.atomic():
            row = Digest.objects.create(person=person, on=today, tells_month=month, begun_at=now)
    except IntegrityError:
        return None
    try:
        EmailMessage(subject, text, to=[person.email], connection=connection).send()
    except OSError:  # what smtplib raises is an OSError; its text may hold the address and is not stored
        return False
    Digest.objects.filter(pk=row.pk).update(sent_at=now)
    return True


def _connection():
    connection = get_connection()
    try:
        connection.open()
    except OSError as error:
        raise MailRefused(
            f"The mail server does not respond ({type(error).__name__}). No digest was sent. Check EMAIL_URL."
        ) from None
    return connection


run_daily(DIGEST, "Send the digests", at=time(6, 0), is_wanted=lambda: bool(settings.EMAIL_URL))
