"""Setting a limit and ending one, as decisions that may need two persons; see inspections.proposals.acts."""

from datetime import date

from fleet.models import MachineModel, Site
from fleet.place_format import NEUTRAL, using
from inspections.actions.limits import (
    check_limit,
    confirm_limit,
    confirmation_fields,
    end_limit_override,
    refuse_unnamed,
    set_limit_override,
    withdraw_confirmation,
)
from inspections.at_bench.limit_texts import limit_text, override_text, result_text
from inspections.at_bench.limits_of_site import find_limit_of_site
from inspections.deciding.limit_effects import LimitChange, hold_limits, inspections_judged_by, limit_grounds
from inspections.deciding.second_person import why_second_for_limit
from inspections.errors import Refused
from inspections.models import LimitConfirmation, LimitOverride, Proposal

RENAMED = {"outcome_key": "result_key"}  # in proposals of earlier versions


class SettingLimit:
    act = Proposal.Act.LIMIT

    def __init__(self, fields):
        self.fields = {name: value for name, value in fields.items() if name != "reason"}
        self.machine_model, self.site = fields.get("machine_model"), fields.get("site")
        self.change = LimitChange(
            fields["test_code"], fields["result_key"], fields["from_date"], self.machine_model, self.site
        )
        target = self.machine_model or self.site
        test, result = result_text(fields["test_code"], fields["result_key"])
        demand = _demand(LimitOverride(**self.fields, reason="-"))
        self.subject = f"limit {self.change.test_code} {self.change.result_key} {target._meta.model_name} {target.pk}"
        self.title = f"{test}, {result.lower()}: {demand} for {target} from {self.change.day.isoformat()}"[:300]
        self.links = {}
        own = {"machine_model": self.machine_model and self.machine_model.pk, "site": self.site and self.site.pk}
        self.asked = {**self.fields, **own, "from_date": self.change.day.isoformat()}

    @classmethod
    def of(cls, proposal):
        asked = {RENAMED.get(name, name): value for name, value in proposal.asked.items()}
        model, site = asked.pop("machine_model"), asked.pop("site")
        asked["from_date"] = date.fromisoformat(asked["from_date"])
        asked["machine_model"] = MachineModel.objects.get(pk=model) if model else None
        asked["site"] = Site.objects.get(pk=site) if site else None
        return cls(asked)

    def hold(self):
        """Lock the limits of this target and the inspections in progress that the limit would judge."""
        hold_limits(self.change)

    def grounds(self):
        return limit_grounds(self.change, inspections_judged_by(self.change), f"{self.title}; {self.fields['source']}")

    def check(self):
        check_limit(**self.fields)

    def why_second(self, by):
        return why_second_for_limit(machine_model=self.machine_model, site=self.site)

    def do(self, *, reason, by, at, proposed_by=None):
        set_limit_override(**self.fields, reason=reason[:300], by=by, at=at, proposed_by=proposed_by)


class EndingLimit:
    act = Proposal.Act.LIMIT_END

    def __init__(self, limit, *, until_date):
        self.limit, self.site, self.machine_model = limit, limit.site, limit.machine_model
        self.until_date = until_date
        self.change = LimitChange(
            limit.test_code, limit.result_key, until_date, limit.machine_model, limit.site, ends=limit
        )
        test, result = result_text(limit.test_code, limit.result_key)
        target = limit.machine_model or limit.site
        self.subject = f"end of limit {limit.pk}"
        what = f"{test}, {result.lower()}: {_demand(limit)} for {target}"
        self.title = f"End on {until_date.isoformat()}: {what}"[:300]
        self.links = {"limit": limit}
        self.asked = {"until_date": until_date.isoformat()}

    @classmethod
    def of(cls, proposal):
        return cls(proposal.limit, until_date=date.fromisoformat(proposal.asked["until_date"]))

    def hold(self):
        hold_limits(self.change)
        self.limit.refresh_from_db()

    def grounds(self):
        return limit_grounds(self.change, inspections_judged_by(self.change), self.title)

    def check(self):
        if self.limit.until_date is not None:
            raise Refused(f"The limit {self.limit} already has an end date. Set a new limit if another should apply.")

    def why_second(self, by):
        return why_second_for_limit(machine_model=self.machine_model, site=self.site)

    def do(self, *, reason, by, at, proposed_by=None):
        end_limit_override(self.limit, until_date=self.until_date, reason=reason, by=by, at=at, proposed_by=proposed_by)


class ConfirmingLimit:
    """Confirms one limit of a site; `code` as in limits_of_site."""

    act = Proposal.Act.CONFIRM
    links = {}

    def __init__(self, site, code, *, edition):
        self.site, self.code, self.edition = site, code, edition
        self.found = find_limit_of_site(site, code)
        if self.found is None:
            raise Refused(f"This limit does not judge at {site} any more. Confirm one of those listed now.")
        test, spec, limit = self.found.test, self.found.spec, self.found.limit
        self.change = LimitChange(test.code, spec.key, date.min, site=site)
        self.subject = f"confirmation {site.pk} {code}"
        self.title = f"Confirm for {site}: {test.title}, {spec.label.lower()}: {limit.title}"[:300]
        self.asked = {"code": code, "edition": edition}

    @classmethod
    def of(cls, proposal):
        return cls(proposal.site, proposal.asked["code"], edition=proposal.asked["edition"])

    def hold(self):
        hold_limits(self.change)

    def grounds(self):
        demand = "" if self.found.is_made else limit_in_words(self.found.limit)
        words = f"{self.title}; {demand}; {self.found.limit.source}; looked up in {self.edition}"
        return limit_grounds(self.change, inspections_judged_by(self.change), words)

    def check(self):
        refuse_unnamed(self.edition, "publication, edition and page in which it was looked up")
        if LimitConfirmation.objects.in_force().filter(site=self.site, **self._fields).exists():
            raise Refused(f"{self.found.limit.title} is already confirmed for {self.site}.")

    @property
    def _fields(self):
        return confirmation_fields(self.found.test.code, self.found.limit)

    def why_second(self, by):
        return why_second_for_limit(machine_model=None, site=self.site)

    def do(self, *, reason, by, at, proposed_by=None):
        common = {"edition": self.edition, "reason": reason[:300], "by": by, "at": at, "proposed_by": proposed_by}
        confirm_limit(self.site, self.found.test.code, self.found.limit, **common)


class WithdrawingConfirmation:
    act = Proposal.Act.UNCONFIRM
    asked = {}

    def __init__(self, confirmation):
        self.confirmation, self.site = confirmation, confirmation.site
        self.change = LimitChange(confirmation.test_code, confirmation.result_key, date.min, site=self.site)
        self.subject = f"withdrawal of confirmation {confirmation.pk}"
        test, result = result_text(confirmation.test_code, confirmation.result_key)
        self.title = f"Withdraw for {self.site} the confirmation of {test}, {result.lower()}: {confirmation.rule}"[:300]
        self.links = {"confirmation": confirmation}

    @classmethod
    def of(cls, proposal):
        return cls(proposal.confirmation)

    def hold(self):
        hold_limits(self.change)
        self.confirmation.refresh_from_db()

    def grounds(self):
        return limit_grounds(self.change, inspections_judged_by(self.change), self.title)

    def check(self):
        if self.confirmation.withdrawn_at is not None:
            raise Refused(f"The confirmation of {self.confirmation} was withdrawn already.")

    def why_second(self, by):
        return why_second_for_limit(machine_model=None, site=self.site)

    def do(self, *, reason, by, at, proposed_by=None):
        withdraw_confirmation(self.confirmation, reason=reason[:300], by=by, at=at, proposed_by=proposed_by)


@using(NEUTRAL)
def limit_in_words(limit):
    """What a limit demands, as a proposal keeps it."""
    return limit_text(limit)


@using(NEUTRAL)
def _demand(limit):
    """What a limit demands, for the title that is stored with the proposal."""
    return override_text(limit)
