"""The choices of a person about email."""

from fleet.models import Person


def choose_digest(person, *, wants_digest, email):
    """Store whether `person` gets the digest, and the address."""
    Person.objects.filter(pk=person.pk).update(wants_digest=wants_digest, email=email)
