"""Questions about proposals, as QuerySet methods that read as English."""

from django.db.models import Q

from fleet.acting.querysets import JournaledQuerySet


class ProposalQuerySet(JournaledQuerySet):
    def visible_to(self, person):
        """Those of the sites that `person` may see, and one's own.

        What reaches every site, a limit of a machine model or a procedure, is only for who sees every site.
        """
        return self.filter(Q(site__in=person.site_ids) | Q(proposed_by=person)) if person.site_ids else self

    def waiting(self):
        return self.filter(state="waiting")

    def confirmable_by(self, person):
        """Waiting for a person like this one, who may do it, and neither proposed nor wrote it."""
        acts = [act for act, permission in self.model.PERMISSIONS.items() if person.has_perm(permission)]
        others = self.visible_to(person).waiting().filter(act__in=acts).exclude(proposed_by=person)
        return others.exclude(draft__writers__person=person).exclude(dossier__drafted_by=person)
