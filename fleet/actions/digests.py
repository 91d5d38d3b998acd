"""What a person chooses about mail."""

from fleet.models import Person


def choose_digest(person, *, wants_digest, email):
    """Keep whether `person` gets the digest, and the address."""
    Person.objects.filter(pk=person.pk).update(wants_digest=wants_digest, email=email)
