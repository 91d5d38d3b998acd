"""The list of tokens of programs."""

import django_tables2 as tables
from django.urls import reverse

from fleet.models import ApiToken
from fleet.tables.cells import link
from fleet.tables.columns import ActionColumn, DayColumn


class TokenTable(tables.Table):
    start = tables.Column("Begins with", attrs={"td": {"class": "code"}})
    standing = tables.Column("Status", empty_values=(), orderable=False)
    expires_on = DayColumn("Last day")
    last_used_on = DayColumn("Last used")
    revoke = ActionColumn()

    class Meta:
        model = ApiToken
        fields = ("name", "start", "owner", "group", "standing", "expires_on", "last_used_on", "added_by")
        order_by = ()
        empty_text = "No program has a token. Request one to let a program read the register or enter readings."

    def __init__(self, *args, today, **kwargs):
        self.today = today
        super().__init__(*args, **kwargs)

    def render_standing(self, record):
        if record.is_revoked:
            return "Revoked"
        if record.is_expired(self.today):
            return "Expired"
        if not record.owner_in_group or not record.owner.is_active:
            return "Owner left the group"
        if record.is_confirmed:
            return "Active"
        return "Active, never confirmed" if record.predates_confirmation else "Awaiting its owner"

    def render_revoke(self, record):
        if record.is_revoked:
            return ""
        url = reverse("fleet:api_token_revoke", args=[record.pk])
        return link(url, "Revoke", hidden=record.name)


class OwnTokenTable(TokenTable):
    """One's own tokens, with the actions of the owner."""

    confirm = ActionColumn()

    class Meta(TokenTable.Meta):
        fields = ("name", "start", "group", "standing", "expires_on", "last_used_on", "added_by")
        sequence = (*fields, "confirm", "revoke")
        exclude = ("owner",)
        empty_text = "No program acts with your rights."

    def render_confirm(self, record):
        if not record.awaits_owner or record.is_expired(self.today):
            return ""
        url = reverse("fleet:own_token_confirm", args=[record.pk])
        return link(url, "Confirm", hidden=record.name)

    def render_revoke(self, record):
        if record.is_revoked:
            return ""
        url = reverse("fleet:own_token_revoke", args=[record.pk])
        return link(url, "Revoke", hidden=record.name)
